"""A path in steps leads to the same points in less text."""

import pytest
from drawn import points
from hypothesis import given
from hypothesis import strategies as st

from benchproof.showing.figures.slimpath import slim_path

place = st.floats(-900, 900).map(lambda x: round(x, 4))
pair = st.tuples(place, place)
curve = st.sampled_from("LQC").flatmap(
    lambda c: st.tuples(
        st.just(c),
        st.lists(pair, min_size="LQC".index(c) + 1, max_size="LQC".index(c) + 1),
    )
)


@given(pair, st.lists(curve, max_size=20), st.booleans())
def test_every_point_stays_within_half_a_tenth(start, steps, is_closed):
    path = " ".join(
        [f"M {start[0]} {start[1]}"]
        + [c + " ".join(f"{x} {y}" for x, y in ps) for c, ps in steps]
        + ["z"] * is_closed
    )
    wanted = [start, *(p for _, ps in steps for p in ps)]
    found = points(slim_path(path))
    # A line that stays in its rounded place says nothing and is left out.
    at = 0
    for point in wanted:
        ahead = found[at] if at < len(found) else found[-1]
        if ahead != pytest.approx(point, abs=0.0501):
            assert found[at - 1] == pytest.approx(point, abs=0.0501)
        else:
            at += 1
    assert at >= len(found) - 1


def test_rounding_does_not_add_up():
    path = "M 0 0 " + " ".join(f"L {0.14 * i:.2f} {i % 2}" for i in range(1, 1001))
    assert points(slim_path(path))[-1] == pytest.approx((140, 0), abs=0.0501)


def test_a_line_along_an_axis_takes_one_number():
    assert slim_path("M 68.4 249.12 L 561.6 249.12 L 561.6 40.32") == (
        "M68.4 249.1h493.2v-208.8"
    )


def test_a_point_alone_stays_a_line_of_no_length_so_that_its_round_end_is_drawn():
    assert slim_path("M 1 1 L 1 1") == "M1 1h0"


def test_a_path_goes_on_from_where_it_was_closed():
    assert points(slim_path("M 1 1 L 3 1 L 3 3 z M 5 5 L 6 6")) == [
        (1, 1), (3, 1), (3, 3), (5, 5), (6, 6),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "path", ["M 0 0 A 1 1 0 0 1 2 2", "M 0 0 L 1", "0 0 L 1 1", ""]
)
def test_what_is_not_known_is_left_alone(path):
    assert slim_path(path) == path
