"""Callouts read on any ground and stay inside the picture."""

import numpy as np
import pytest
from PIL import Image

from benchproof.keeping.callouts import draw_callouts
from benchproof.values.errors import InputError

CORNERS = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)]


def drawn(callouts, ground=128, size=(800, 600)):
    image = Image.new("RGB", size, (ground,) * 3)
    draw_callouts(image, callouts, "photos/x.jpg")
    return np.asarray(image)[:, :, 0].astype(int)


def letters(ground_pixels, ground):
    """Return where something was drawn."""
    rows, columns = np.nonzero(np.abs(ground_pixels - ground) > 60)
    return rows, columns


@pytest.mark.parametrize("ground", [0, 128, 255])
def test_black_and_white_both_stand_on_any_ground(ground):
    pixels = drawn([(0.5, 0.5, "fuse F1, 2 A")], ground)
    assert (pixels < 40).sum() > 300
    assert (pixels > 215).sum() > 300


@pytest.mark.parametrize("corner", CORNERS)
def test_a_label_at_a_corner_is_whole(corner):
    def ink(at):
        pixels = drawn([(*at, "R12, 4.7 kΩ")])
        return (pixels > 240).sum()

    # As many white pixels as in the middle, less three quarters of the ring and
    # what the line is shorter.
    assert ink(corner) > 0.75 * ink((0.5, 0.5))


@pytest.mark.parametrize("corner", CORNERS)
def test_nothing_but_the_ring_touches_the_edge(corner):
    rows, columns = letters(drawn([(*corner, "a long label that has to break")]), 128)
    x, y = corner[0] * 799, corner[1] * 599
    away = np.hypot(rows - y, columns - x) > 40
    assert rows[away].min() > 0
    assert columns[away].min() > 0
    assert rows[away].max() < 599
    assert columns[away].max() < 799


def test_two_labels_at_one_place_do_not_cover_each_other():
    one = (drawn([(0.5, 0.5, "fuse F1")]) > 240).sum()
    two = (drawn([(0.5, 0.5, "fuse F1"), (0.52, 0.5, "fuse F1")]) > 240).sum()
    assert two > 1.8 * one


def test_a_label_grows_with_its_picture():
    small = (drawn([(0.5, 0.5, "F1")], size=(400, 300)) > 240).sum()
    large = (drawn([(0.5, 0.5, "F1")], size=(1400, 1050)) > 240).sum()
    assert large > 5 * small


@pytest.mark.parametrize("point", [(-0.1, 0.5), (0.5, 1.01), (350, 200)])
def test_a_point_outside_the_picture_is_refused(point):
    with pytest.raises(InputError, match=r"photos/x.jpg, callout 1: .* 0 to 1"):
        drawn([(*point, "x")])


def test_an_empty_label_is_refused():
    with pytest.raises(InputError, match="callout 2: say what is there"):
        drawn([(0.1, 0.1, "x"), (0.2, 0.2, " ")])
