"""A photo is shown upright and small, and tells nothing beside its pixels."""

import base64
import io
import re
from html import unescape

import numpy as np
import pytest
from PIL import Image, ImageCms, PngImagePlugin

from benchproof.keeping.photos import LONGEST_SIDE, photo_of, told_beside
from benchproof.showing.page.outputs import render_output
from benchproof.values.errors import FileError, InputError

SECRET = "Nowhere-Street 12"
GPS, ORIENTATION, MAKE, DESCRIPTION = 0x8825, 0x0112, 0x010F, 0x010E
XMP = f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{SECRET}</x:xmpmeta>".encode()


def told_exif(orientation=1):
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[MAKE] = "Invented Camera"
    exif[DESCRIPTION] = SECRET
    exif.get_ifd(GPS)[2] = (12.0, 34.0, 56.0)
    return exif


def red_corner(size=(400, 200)):
    """Make a grey picture whose upper left corner is red, as the sensor saw it."""
    image = Image.new("RGB", size, (128, 128, 128))
    image.paste((220, 30, 30), (0, 0, size[0] // 4, size[1] // 4))
    return image


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "photos").mkdir()
    red_corner().save(
        tmp_path / "photos" / "board.jpg",
        exif=told_exif(6),
        icc_profile=ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
        comment=SECRET.encode(),
        xmp=XMP,
    )
    return tmp_path


def shown(folder, name="photos/board.jpg", **more):
    return photo_of(folder, name, caption="The board.", alt="A green board", **more)


def reopened(photo):
    return Image.open(io.BytesIO(photo.jpeg))


def is_red(pixel):
    return pixel[0] > 180 and pixel[1] < 80


def test_the_original_of_these_tests_does_tell_its_place(folder):
    content = (folder / "photos" / "board.jpg").read_bytes()
    assert SECRET.encode() in content
    assert {"APP1", "APP2", "a comment"} <= set(told_beside(content))


def test_nothing_is_told_beside_the_picture(folder):
    photo = shown(folder)
    image = reopened(photo)
    assert dict(image.getexif()) == {}
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert told_beside(photo.jpeg) == []
    for secret in (SECRET.encode(), b"Invented Camera", b"Exif", b"xmpmeta"):
        assert secret not in photo.jpeg


# The eight ways a camera may have been held (Exif 2.3, tag 274), and where its red
# upper left corner then belongs: row, column as fractions.
@pytest.mark.parametrize(
    ("held", "row", "column"),
    [(1, 0, 0), (2, 0, 1), (3, 1, 1), (4, 1, 0), (5, 0, 0), (6, 0, 1), (7, 1, 1),
     (8, 1, 0)],
)  # fmt: skip
def test_the_picture_stands_upright(folder, held, row, column):
    red_corner().save(folder / "photos" / "held.jpg", exif=told_exif(held))
    image = reopened(shown(folder, "photos/held.jpg"))
    assert image.size == ((400, 200) if held < 5 else (200, 400))
    at = (column * (image.width - 11) + 5, row * (image.height - 11) + 5)
    assert is_red(image.getpixel(at))
    opposite = (image.width - 1 - at[0], image.height - 1 - at[1])
    assert not is_red(image.getpixel(opposite))


def test_a_large_photo_is_made_small_and_a_small_one_is_left(folder):
    red_corner((4000, 3000)).save(folder / "photos" / "large.jpg")
    assert reopened(shown(folder, "photos/large.jpg")).size == (LONGEST_SIDE, 1050)
    assert reopened(shown(folder)).size == (200, 400)


def test_the_original_is_not_touched(folder):
    path = folder / "photos" / "board.jpg"
    before = path.read_bytes()
    shown(folder, callouts=[(0.5, 0.5, "here")])
    assert path.read_bytes() == before


def test_a_png_with_texts_and_clear_parts_is_shown_on_white(folder):
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", SECRET)
    clear = Image.new("RGBA", (60, 40), (0, 0, 0, 0))
    clear.save(folder / "photos" / "clear.png", pnginfo=text)
    photo = shown(folder, "photos/clear.png")
    assert SECRET.encode() not in photo.jpeg
    assert min(reopened(photo).getpixel((30, 20))) > 250


def test_colours_of_another_profile_are_converted(folder):
    usual = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    names = {b"rXYZ": b"gXYZ", b"gXYZ": b"rXYZ"}
    swapped = re.sub(rb"[rg]XYZ", lambda m: names[m.group()], usual)
    path = folder / "photos" / "swapped.png"
    Image.new("RGB", (20, 20), (200, 40, 40)).save(path, icc_profile=swapped)
    red, green, _ = reopened(shown(folder, "photos/swapped.png")).getpixel((10, 10))
    assert green > 150 > red


def test_the_same_photo_gives_the_same_bytes(folder):
    marks = [(0.5, 0.5, "fuse F1")]
    assert shown(folder, callouts=marks).jpeg == shown(folder, callouts=marks).jpeg


def test_a_photo_shows_its_picture_its_description_and_its_caption(folder):
    photo = photo_of(
        folder, "photos/board.jpg", caption="Fuse <F1> & $5", alt='A "board" <1>'
    )
    data, metadata = photo._repr_mimebundle_()
    (alt,) = re.findall(r'alt="([^"]*)"', data["text/html"])
    assert unescape(alt) == 'A "board" <1>'
    assert "Fuse &lt;F1&gt; &amp; &#36;5" in data["text/html"]
    (code,) = re.findall(r"data:image/jpeg;base64,([^\"]+)", data["text/html"])
    assert base64.b64decode(code) == photo.jpeg
    assert metadata["text/html"]["alt"] == 'A "board" <1>'


def test_the_write_up_keeps_photo_description_and_caption(folder):
    data, metadata = shown(folder)._repr_mimebundle_()
    output = {"output_type": "execute_result", "data": data, "metadata": metadata}
    page = render_output(output, place="code cell 1")
    assert '<img alt="A green board" src="data:image/jpeg;base64,' in page
    assert "<figcaption>The board.</figcaption>" in page


def test_a_copy_without_the_originals_says_so(tmp_path):
    photo = shown(tmp_path)
    assert photo.jpeg == b""
    assert "photos/board.jpg is not in this copy of the case" in repr(photo)
    data, _ = photo._repr_mimebundle_()
    assert "<img" not in data["text/html"]
    assert "A green board" in data["text/html"]


@pytest.mark.parametrize("missing", ["caption", "alt"])
def test_a_photo_without_words_is_refused(folder, missing):
    words = {"caption": "x", "alt": "y"} | {missing: " "}
    with pytest.raises(InputError, match=f"photos/board.jpg: give {missing}="):
        photo_of(folder, "photos/board.jpg", **words)


@pytest.mark.parametrize(
    "name", ["../board.jpg", "/board.jpg", "photos\\..\\..\\x.jpg"]
)
def test_a_name_that_leads_out_of_the_case_is_refused(folder, name):
    with pytest.raises(InputError, match="a file inside the case"):
        shown(folder, name)


@pytest.mark.parametrize("content", [b"", b"no picture", b"\xff\xd8\xff\xe0\x00\x10JF"])
def test_a_file_that_is_no_picture_is_refused_by_name(folder, content):
    (folder / "photos" / "x.jpg").write_bytes(content)
    with pytest.raises(FileError, match=r"photos/x.jpg: not a picture .* JPEG or PNG"):
        shown(folder, "photos/x.jpg")


def test_a_picture_that_was_cut_off_is_refused(folder):
    path = folder / "photos" / "board.jpg"
    path.write_bytes(path.read_bytes()[:-500])
    with pytest.raises(FileError, match="not a picture that can be read"):
        shown(folder)


def test_sixteen_bits_a_pixel_are_shown_by_the_upper_eight(folder):
    deep = np.full((20, 20), 200 * 256, dtype=np.uint16)
    Image.fromarray(deep).save(folder / "photos" / "deep.png")
    pixel = reopened(shown(folder, "photos/deep.png")).getpixel((10, 10))
    assert all(abs(value - 200) <= 2 for value in pixel)
