"""Copies that leave the house: zips that name the digest of each of their parts, so that changes show."""

from __future__ import annotations

import hashlib
import json
import lzma
import shutil
import tomllib
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from django.conf import settings

from makers.actions.by import Refused

MANIFEST = "manifest.json"
EDITION = 1
WRITTEN = (1980, 1, 1, 0, 0, 0)
CHUNK = 1 << 20
RECORDS, BACKUP = "records", "backup"
DAMAGE = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, OSError, RuntimeError, UnicodeDecodeError,
)  # fmt: skip
"""What reading a damaged zip raises. RuntimeError: a part marked as encrypted, and, as NotImplementedError below
it, one packed in a way that zipfile doesn't know; both stand in its documentation. The rest comes from the unpackers
and from names: zlib, lzma, bz2 (OSError), a part that is cut off (EOFError), a name that is no UTF-8."""


def generator() -> str:
    """Which program wrote a copy, with its version."""
    text = (Path(settings.ROOT) / "pyproject.toml").read_text(encoding="utf-8")
    return f"Stillroom {tomllib.loads(text)['project']['version']}"


def canonical(value: Any) -> str:
    """The one way in which the manifest is written for its own digest."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def seal_of(manifest: dict[str, Any]) -> str:
    """The digest over a manifest without its seal."""
    rest = {key: value for key, value in manifest.items() if key != "seal"}
    return hashlib.sha256(canonical(rest).encode()).hexdigest()


class Part:
    """A part of a copy while it is written; counts and digests what goes through."""

    def __init__(self, stream: IO[bytes]) -> None:
        self.stream = stream
        self.digest = hashlib.sha256()
        self.size = 0

    def write(self, data: bytes) -> None:
        """Add bytes."""
        self.stream.write(data)
        self.digest.update(data)
        self.size += len(data)

    def text(self, text: str) -> None:
        """Add text as UTF-8."""
        self.write(text.encode())


class SealedWriter:
    """Writes a copy part by part; the manifest comes last."""

    def __init__(self, target: IO[bytes]) -> None:
        self.zip = zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, allowZip64=True)
        self.parts: dict[str, dict[str, Any]] = {}

    @contextmanager
    def part(self, name: str, *, packed: bool = True) -> Iterator[Part]:
        """Open one part. ``packed`` is for text; pictures and PDFs don't get smaller."""
        info = zipfile.ZipInfo(name, WRITTEN)
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        info.external_attr = 0o600 << 16
        with self.zip.open(info, "w", force_zip64=True) as stream:
            part = Part(stream)
            yield part
        self.parts[name] = {"sha256": part.digest.hexdigest(), "size": part.size}

    def copy(self, name: str, source: IO[bytes], *, packed: bool = False) -> str:
        """Add a file as it is; returns its SHA-256."""
        with self.part(name, packed=packed) as part:
            while data := source.read(CHUNK):
                part.write(data)
        return str(self.parts[name]["sha256"])

    def finish(self, kind: str, **facts: Any) -> dict[str, Any]:
        """Write the manifest and close; returns it."""
        manifest = {"kind": kind, "edition": EDITION, "generator": generator(), **facts, "parts": self.parts}
        manifest["seal"] = seal_of(manifest)
        text = json.dumps(manifest, ensure_ascii=False, indent=1, sort_keys=True)
        self.zip.writestr(zipfile.ZipInfo(MANIFEST, WRITTEN), text.encode(), zipfile.ZIP_DEFLATED)
        self.zip.close()
        return manifest


class SealedCopy:
    """A copy that was opened and found whole."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.name = path.name
        try:
            self.zip = zipfile.ZipFile(path)
        except FileNotFoundError as gone:
            raise Refused(f"There is no file {path}.") from gone
        except DAMAGE as damage:
            raise Refused(
                f"{self.name} is not a whole zip file: it is cut off or damaged. Take another copy."
            ) from damage
        try:
            self.manifest = self.read_manifest()
        except BaseException:
            self.zip.close()
            raise

    def __enter__(self) -> SealedCopy:
        return self

    def __exit__(self, *exc: object) -> None:
        self.zip.close()

    @property
    def kind(self) -> str:
        """``records`` of one maker, or ``backup`` of everything."""
        return str(self.manifest["kind"])

    def read_manifest(self) -> dict[str, Any]:
        """The list of what is inside; refuses what this program can't read."""
        strange = f"{self.name} is a zip file, but neither an export nor a backup made by Stillroom."
        if MANIFEST not in self.zip.namelist():
            raise Refused(strange)
        try:
            text = self.zip.read(MANIFEST)
        except DAMAGE as damage:
            raise Refused(f"{self.name} is damaged in its list of parts. Take another copy.") from damage
        try:
            found = json.loads(text)
        except ValueError as damage:
            raise Refused(strange) from damage
        if not isinstance(found, dict) or found.get("kind") not in {RECORDS, BACKUP}:
            raise Refused(strange)
        edition = found.get("edition")
        if not isinstance(edition, int) or edition > EDITION:
            raise Refused(
                f"{self.name} was written by a newer Stillroom (edition {edition} of the copies; this one "
                f"reads up to {EDITION}). Update Stillroom first."
            )
        if found.get("seal") != seal_of(found) or not isinstance(found.get("parts"), dict):
            raise Refused(f"The list of parts in {self.name} was changed afterwards. Take another copy.")
        return found

    def verify(self) -> None:
        """Read every part once; refuses a copy with a part that is missing, added, damaged or changed."""
        listed = self.manifest["parts"]
        inside = Counter(self.zip.namelist())
        for name in listed:
            if name not in inside:
                raise Refused(f"{self.name} lacks its part {name}. Take another copy.")
        extra = sorted(
            name for name in inside if inside[name] > 1 or (name not in listed and name != MANIFEST)
        )
        if extra:
            raise Refused(f"{self.name} holds {extra[0]}, which was put in afterwards. Take another copy.")
        for name, facts in listed.items():
            digest = hashlib.sha256()
            try:
                with self.zip.open(name) as part:
                    while data := part.read(CHUNK):
                        digest.update(data)
            except DAMAGE as damage:
                raise Refused(f"{name} in {self.name} is damaged. Take another copy.") from damage
            if digest.hexdigest() != facts["sha256"]:
                raise Refused(f"{name} in {self.name} was changed afterwards. Take another copy.")

    def open(self, name: str) -> IO[bytes]:
        """One part, to be read."""
        return self.zip.open(name)

    def take_out(self, name: str, target: Path) -> None:
        """Write one part to a file that only its owner can read."""
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with self.zip.open(name) as part, target.open("wb") as file:
            target.chmod(0o600)
            shutil.copyfileobj(part, file, CHUNK)

    def json_rows(self, name: str) -> Iterator[dict[str, Any]]:
        """The rows of a table, one by one."""
        with self.zip.open(name) as part:
            for number, line in enumerate(part, 1):
                text = line.decode().strip().rstrip(",")
                if text in {"", "[", "]"}:
                    continue
                try:
                    row = json.loads(text)
                except ValueError as damage:
                    raise Refused(f"{name} in {self.name} can't be read in line {number}.") from damage
                yield row
