"""Small pictures drawn anew from kept photos, so that a page can show what was photographed and never the upload."""

from __future__ import annotations

from io import BytesIO
from typing import IO

from PIL import Image, ImageOps

MEDIA_TYPE = "image/jpeg"
LONGER_SIDE = 960
"""Pixels: sharp on a phone's screen, some 100 kB."""

MOST_PIXELS = 64_000_000
"""What a large phone camera takes; beyond it a small file could ask for gigabytes. Chosen here, no source."""

READ = ("JPEG", "PNG", "WEBP")
PAPER = (255, 255, 255)


def redrawn(file: IO[bytes]) -> bytes | None:
    """A JPEG of at most ``LONGER_SIDE`` pixels, upright and without what a camera notes; None for what can't be read.

    Place, device and time that a photo carries stay behind. What shines through is laid on white.
    """
    try:
        with Image.open(file, formats=READ) as photo:
            if photo.width * photo.height > MOST_PIXELS:
                return None
            photo.draft("RGB", (LONGER_SIDE, LONGER_SIDE))
            small = ImageOps.exif_transpose(photo)
            small.thumbnail((LONGER_SIDE, LONGER_SIDE))
            seen = small.convert("RGBA")
    except (Image.DecompressionBombError, OSError, SyntaxError, ValueError):
        return None
    sheet = Image.new("RGB", seen.size, PAPER)
    sheet.paste(seen, mask=seen.getchannel("A"))
    drawn = BytesIO()
    sheet.save(drawn, "JPEG", quality=82, optimize=True)
    return drawn.getvalue()
