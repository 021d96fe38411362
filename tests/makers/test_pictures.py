"""Small pictures drawn anew: what a page shows of a photo, checked by reading them with the general library Pillow."""

from __future__ import annotations

import zlib
from io import BytesIO
from struct import pack

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import ExifTags, Image

from makers.actions.house import file_document
from makers.http import address
from makers.pictures import LONGER_SIDE, redrawn
from tests.cast import Cast
from tests.world import PAPER

ON_ITS_SIDE = 6
"""Exif orientation 6: the camera was turned a quarter; JEITA CP-3451, tag 0x0112."""


def photo(wide: int, high: int, kind: str = "JPEG", mode: str = "RGB", **more: object) -> BytesIO:
    """A plain picture as a file."""
    file = BytesIO()
    Image.new(mode, (wide, high), 0).save(file, kind, **more)
    file.seek(0)
    return file


def read(drawn: bytes | None) -> Image.Image:
    """What was drawn, as a picture."""
    assert drawn is not None
    return Image.open(BytesIO(drawn))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_large_photo_becomes_a_small_jpeg_of_the_same_shape(kind: str) -> None:
    small = read(redrawn(photo(3000, 2000, kind)))
    assert (small.format, small.size) == ("JPEG", (LONGER_SIDE, LONGER_SIDE * 2 // 3))


def test_a_small_one_is_not_blown_up() -> None:
    assert read(redrawn(photo(40, 30))).size == (40, 30)


def test_it_stands_upright_and_keeps_nothing_that_the_camera_noted() -> None:
    notes = Image.Exif()
    notes[ExifTags.Base.Orientation] = ON_ITS_SIDE
    notes[ExifTags.Base.Model] = "Pinhole"
    notes.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitudeRef] = "N"
    small = read(redrawn(photo(300, 200, exif=notes)))
    assert small.size == (200, 300)
    assert dict(small.getexif()) == {}
    assert b"Pinhole" not in (redrawn(photo(300, 200, exif=notes)) or b"")


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "L", "1", "I;16"])
def test_every_kind_of_picture_is_drawn_and_what_shines_through_is_white(mode: str) -> None:
    small = read(redrawn(photo(8, 8, "PNG", mode)))
    shown = small.convert("RGB").getpixel((4, 4))
    assert shown == ((255, 255, 255) if "A" in mode else (0, 0, 0))


def bomb(wide: int, high: int) -> BytesIO:
    """A PNG of some kilobytes that claims so many black and white dots."""
    rows = zlib.compress(bytes(high * (1 + (wide + 7) // 8)), 9)
    parts = ((b"IHDR", pack(">IIBBBBB", wide, high, 1, 0, 0, 0, 0)), (b"IDAT", rows), (b"IEND", b""))
    file = b"\x89PNG\r\n\x1a\n"
    for name, body in parts:
        file += pack(">I", len(body)) + name + body + pack(">I", zlib.crc32(name + body))
    return BytesIO(file)


@pytest.mark.parametrize("side", [8_001, 20_000])
@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_a_picture_of_too_many_dots_is_left_alone(side: int) -> None:
    file = bomb(side, side)
    assert len(file.getvalue()) < 100_000
    assert redrawn(file) is None


@pytest.mark.parametrize(
    "content",
    [
        b"",
        PAPER,
        b"\xff\xd8\xff",
        b"\x89PNG\r\n\x1a\n",
        b"RIFF0000WEBP",
        b"<svg/>",
        photo(400, 400).getvalue()[:400],
    ],
)
def test_what_cannot_be_read_gives_nothing(content: bytes) -> None:
    assert redrawn(BytesIO(content)) is None


@pytest.mark.django_db
def test_a_page_gets_the_small_picture_and_never_the_upload(cast: Cast, client: Client) -> None:
    """Drawn anew, for members alone, asked for again without being sent again; a paper that is none answers 404."""
    content = photo(1200, 900).getvalue()
    kept = file_document(cast.owner, SimpleUploadedFile("dish.jpg", content, "image/jpeg"), "photo")
    paper = file_document(cast.owner, SimpleUploadedFile("sheet.pdf", PAPER, "application/pdf"), "other")
    torn = file_document(cast.owner, SimpleUploadedFile("torn.jpg", content[:300], "image/jpeg"), "photo")
    where = address(cast.maker, "house:picture", uuid=kept.uuid)

    client.force_login(cast.reader.user)
    got = client.get(where)
    assert (got.status_code, got["Content-Type"], got["X-Content-Type-Options"]) == (
        200,
        "image/jpeg",
        "nosniff",
    )
    assert got["Cache-Control"] == "private, no-cache"
    assert got.content != content
    assert read(got.content).size == (960, 720)
    again = client.get(where, headers={"if-none-match": got["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    for other in (paper, torn):
        assert client.get(address(cast.maker, "house:picture", uuid=other.uuid)).status_code == 404

    client.force_login(cast.stranger.user)
    assert client.get(where).status_code == 404
