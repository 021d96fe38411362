"""What an uploaded file is, told from its first bytes and never from its name alone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePosixPath

from makers.rules.reading import Refusal, quoted

MOST_BYTES = 10_000_000
"""10 MB: a certificate of a few pages or a phone's photo. Chosen here, no source."""

HEAD_BYTES = 4096
"""How much of a file ``file_kind`` wants to see."""


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of file that is kept."""

    name: str
    media_type: str
    ending: str


PDF = FileKind("PDF", "application/pdf", ".pdf")
JPEG = FileKind("JPEG photo", "image/jpeg", ".jpg")
PNG = FileKind("PNG picture", "image/png", ".png")
WEBP = FileKind("WebP picture", "image/webp", ".webp")

_BY_NAME = {
    ".docx": "a Word file",
    ".xlsx": "an Excel file",
    ".pptx": "a PowerPoint file",
    ".odt": "a Writer file",
    ".ods": "a Calc file",
    ".doc": "a Word file",
    ".xls": "an Excel file",
}

_OTHER_HEADS: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "a zip file"),
    (b"\xd0\xcf\x11\xe0", "an old Word or Excel file"),
    (b"GIF8", "a GIF picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"BM", "a BMP picture"),
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
    (b"{\\rtf", "a rich text file"),
    (b"Rar!", "a RAR file"),
    (b"7z\xbc\xaf", "a 7z file"),
    (b"%!PS", "a PostScript file"),
)


def file_kind(head: bytes, name: str, size: int, *, most: int = MOST_BYTES) -> FileKind | Refusal:
    """The kind of a file that may be kept, or why it isn't.

    head: its first bytes, up to ``HEAD_BYTES``. name: as it was uploaded. size: in bytes.
    """
    limit = f"{most // 1_000_000} MB at most"
    if size <= 0 or not head:
        return Refusal("This file is empty. Take the PDF or photo again.")
    if size > most:
        return Refusal(f"This file has {-(-size // 100_000) / 10:.1f} MB; {limit}. Make it smaller.")
    kind = _kept(head)
    if kind is not None:
        return kind
    return Refusal(f"This is {_described(head, name)}. Keep certificates as PDF or photo, {limit}.")


def _kept(head: bytes) -> FileKind | None:
    if head.startswith(b"%PDF-"):
        return PDF
    if head.startswith(b"\xff\xd8\xff"):
        return JPEG
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return PNG
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return WEBP
    return None


def _described(head: bytes, name: str) -> str:
    """What a file that isn't kept is, in words."""
    ending = PurePosixPath(name.replace("\\", "/")).suffix.casefold()
    if head[4:8] == b"ftyp":
        return "a HEIC photo or a film; set the camera to “most compatible” (JPEG)"
    for magic, words in _OTHER_HEADS:
        if head.startswith(magic):
            return _BY_NAME.get(ending, words)
    start = head[:600].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<!doctype html", b"<html", b"<script")):
        return "a web page"
    if b"<svg" in start:
        return "an SVG drawing"
    try:
        head.decode("utf-8")
    except UnicodeDecodeError:
        return f"a file of an unknown kind, {quoted(ending or name)}"
    return "a text file"
