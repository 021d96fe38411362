"""Files of a form that came back: kept on the server for a day, for one maker and one user, and offered again.

A browser never sends a chosen file twice by itself. So the field of a file that holds up keeps it when the form is
shown again, names it, and sends its token along. The token says nothing by itself: it names a file in the folder of
one maker and one user, and is looked for nowhere else. Nothing of it is a record; it is in no backup and no export.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
import time
from collections.abc import Iterator, Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import UUID

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from makers.rules.files import HEAD_BYTES, JPEG, MOST_BYTES, PDF, PNG, WEBP, FileKind, file_kind
from makers.rules.reading import Refusal

KEPT_SECONDS = 24 * 3600
MOST_KEPT_BYTES = 200_000_000
"""What one user's forms may hold at once; beyond it the oldest goes. Chosen here, no source."""

TOKEN = re.compile(r"[A-Za-z0-9_-]{32,64}\Z", re.ASCII)
KINDS = {kind.media_type: kind for kind in (PDF, JPEG, PNG, WEBP)}
GONE = "The file that was kept here is no longer there. Choose it again"


@dataclass(frozen=True, slots=True)
class Keeper:
    """For whom files are kept."""

    maker: UUID
    user: UUID

    @property
    def folder(self) -> Path:
        """Where their files lie."""
        return Path(settings.KEPT_ROOT) / str(self.maker) / str(self.user)


_keeper: ContextVar[Keeper | None] = ContextVar("stillroom_keeper", default=None)


def activate(maker: UUID, user: UUID) -> None:
    """Keep files for this maker and user, in this request."""
    _keeper.set(Keeper(maker, user))


def deactivate() -> None:
    """Keep nothing any more, at the end of a request."""
    _keeper.set(None)


class KeptUpload(UploadedFile):  # type: ignore[type-arg]  # generic for the type checker alone
    """A file that was chosen in an earlier try. Read from its place when it is asked for."""

    _content: Any = None

    def __init__(self, path: Path, *, name: str, kind: FileKind) -> None:
        self.path, self.kind, self.token = path, kind, path.name
        super().__init__(None, name, kind.media_type, path.stat().st_size)

    @property
    def file(self) -> Any:
        """Its content."""
        if self._content is None:
            self._content = BytesIO(self.path.read_bytes())
        return self._content

    @file.setter
    def file(self, content: Any) -> None:
        self._content = content

    def __bool__(self) -> bool:
        return True


class Missing:
    """What a token brings that names nothing of this maker and user, or nothing any more."""


def kind_in(upload: UploadedFile[Any], most: int) -> FileKind | Refusal:
    """What an upload is by its content and size, or why it isn't kept."""
    upload.seek(0)
    head = upload.read(HEAD_BYTES)
    upload.seek(0)
    return file_kind(head, upload.name or "", upload.size or 0, most=most)


def keep(upload: UploadedFile[Any], kind: FileKind) -> KeptUpload | None:
    """Keep an upload whose content is known to be of ``kind``; None where there is nobody to keep it for."""
    keeper = _keeper.get()
    if keeper is None:
        return None
    sweep()
    keeper.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    path = keeper.folder / secrets.token_urlsafe(32)
    upload.seek(0)
    with path.open("xb") as target:
        path.chmod(0o600)
        for chunk in upload.chunks():
            target.write(chunk)
    upload.seek(0)
    name = (upload.name or "paper").replace("\\", "/").rsplit("/", 1)[-1]
    path.with_suffix(".json").write_text(json.dumps({"name": name, "type": kind.media_type}), "utf-8")
    make_room(keeper)
    return find(path.name)


def find(token: str) -> KeptUpload | None:
    """The file that a token names, for whoever asks in this request; None for a token of anybody else."""
    keeper = _keeper.get()
    if keeper is None or not TOKEN.match(token):
        return None
    path = keeper.folder / token
    try:
        if time.time() - path.stat().st_mtime > KEPT_SECONDS:
            return None
        said = json.loads(path.with_suffix(".json").read_text("utf-8"))
        return KeptUpload(path, name=said["name"], kind=KINDS[said["type"]])
    except (OSError, ValueError, KeyError):
        return None


def drop(token: str) -> None:
    """Let a kept file go, for whoever asks in this request."""
    if kept := find(token):
        remove(kept.path)


def remove(path: Path) -> None:
    """Take a kept file and what is said of it away."""
    path.unlink(missing_ok=True)
    path.with_suffix(".json").unlink(missing_ok=True)


def make_room(keeper: Keeper) -> None:
    """Let the oldest go while more is kept for one user than may be."""
    held = sorted(contents_of(keeper.folder), key=lambda one: one[1], reverse=True)
    whole = 0
    for path, _, size in held:
        whole += size
        if whole > MOST_KEPT_BYTES:
            remove(path)


def contents_of(folder: Path) -> Iterator[tuple[Path, float, int]]:
    """Every kept file of a folder with its time and size."""
    for path in folder.iterdir():
        try:
            state = path.stat()
        except FileNotFoundError:  # another request has just let it go
            continue
        if path.suffix != ".json":
            yield path, state.st_mtime, state.st_size


def sweep() -> int:
    """Let go of everything that was kept for longer than a day; says how many files that were."""
    gone = 0
    root = Path(settings.KEPT_ROOT)
    if not root.is_dir():
        return 0
    for folder in root.glob("*/*"):
        old = [path for path, at, _ in contents_of(folder) if time.time() - at > KEPT_SECONDS]
        for path in old:
            remove(path)
        gone += len(old)
        if old and not any(folder.iterdir()):
            shutil.rmtree(folder, ignore_errors=True)
    return gone


class KeepingFileInput(forms.FileInput):
    """A photo or PDF to choose; what was chosen in an earlier try stands beside it and may be left out.

    most: bytes that may be kept; its field sets it.
    """

    template_name = "parts/file_input.html"
    most = MOST_BYTES

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> Any:
        """The file chosen now, else the one kept from before; ``Missing`` for a token that names none."""
        chosen = super().value_from_datadict(data, files, name)
        token = str(data.get(f"{name}_kept") or "")
        if token and data.get(f"{name}_drop"):
            drop(token)
            token = ""
        if not token:
            return chosen
        kept = find(token)
        if chosen is None:
            return kept or Missing()
        chosen.instead_of = kept
        return chosen

    def value_omitted_from_data(self, data: Mapping[str, Any], files: Any, name: str) -> bool:
        """Whether neither a file nor the token of one came."""
        return name not in files and not data.get(f"{name}_kept")

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """With what is kept. A file shown here came back with its form, so this is where it is kept."""
        context = super().get_context(name, value, attrs)
        kept = self.kept(value)
        context["widget"]["kept"] = kept
        if kept is not None:
            inner = context["widget"]["attrs"]
            context["widget"]["kept_id"] = said = f"{inner.get('id') or name}_kept"
            inner["aria-describedby"] = " ".join(filter(None, [inner.get("aria-describedby"), said]))
        return context

    def kept(self, value: Any) -> KeptUpload | None:
        """The value as a file that is kept: already so, or from now on; a refused one leaves the one before."""
        if isinstance(value, KeptUpload):
            return value
        if not isinstance(value, UploadedFile):
            return None
        kind = kind_in(value, self.most)
        before: KeptUpload | None = getattr(value, "instead_of", None)
        return before if isinstance(kind, Refusal) else keep(value, kind)


def brought(request: Any, name: str) -> Any:
    """What a request brings for a file field whose form is shown again unchecked; None for nothing."""
    found = KeepingFileInput().value_from_datadict(request.POST, request.FILES, name)
    return None if isinstance(found, Missing) else found
