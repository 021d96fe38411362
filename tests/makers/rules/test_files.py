"""Telling what an uploaded file is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from makers.rules.files import JPEG, MOST_BYTES, PDF, PNG, WEBP, FileKind, file_kind
from makers.rules.reading import Refusal


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"%PDF-1.7\n", PDF),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", JPEG),
        (b"\x89PNG\r\n\x1a\n\x00", PNG),
        (b"RIFF\x10\x00\x00\x00WEBPVP8 ", WEBP),
    ],
)
def test_papers_and_photos_are_known_by_their_first_bytes(head: bytes, kind: FileKind) -> None:
    """The signatures are those of ISO 32000, ITU T.81, the PNG specification and the WebP container."""
    assert file_kind(head, "whatever.exe", len(head)) == kind


@pytest.mark.parametrize(
    ("head", "name", "words"),
    [
        (b"PK\x03\x04....", "certificate.docx", "This is a Word file."),
        (b"PK\x03\x04....", "certificate.pdf", "This is a zip file."),
        (b"<!doctype html><p>", "certificate.pdf", "This is a web page."),
        (b"<?xml version='1.0'?><svg xmlns=''>", "x.png", "This is an SVG drawing."),
        (b"MZ\x90\x00", "certificate.pdf", "This is a program."),
        (b"just words", "note.txt", "This is a text file."),
        (b"\x00\x00\x00\x18ftypheic", "IMG_1.HEIC", "This is a HEIC photo"),
    ],
)
def test_another_kind_of_file_is_named_whatever_its_ending(head: bytes, name: str, words: str) -> None:
    found = file_kind(head, name, len(head))
    assert isinstance(found, Refusal)
    assert found.sentence.startswith(words)
    assert found.sentence.endswith("Keep certificates as PDF or photo, 10 MB at most.")


def test_ten_megabytes_fit_and_one_byte_more_does_not() -> None:
    assert file_kind(b"%PDF-1.7", "a.pdf", MOST_BYTES) == PDF
    found = file_kind(b"%PDF-1.7", "a.pdf", MOST_BYTES + 1)
    assert found == Refusal("This file has 10.1 MB; 10 MB at most. Make it smaller.")


def test_an_empty_file_is_refused() -> None:
    assert isinstance(file_kind(b"", "a.pdf", 0), Refusal)


@given(st.binary(max_size=64), st.text(max_size=20))
def test_no_file_raises(head: bytes, name: str) -> None:
    assert isinstance(file_kind(head, name, len(head)), (FileKind, Refusal))
