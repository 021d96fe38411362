"""Forms that arrived after the sign-in had run out: their text is kept for an hour and offered again.

A browser sends a form once. Where nobody is signed in any more its text is kept on the server under a token that
only that browser holds, and is shown after signing in: to a member of the same workshop, and then to nobody else.
No password and no file is kept. Nothing of it is a record; it is in no backup and no export.
"""

from __future__ import annotations

import json
import os
import secrets
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import Resolver404, ResolverMatch, resolve

from makers.forms.keeping import TOKEN

COOKIE = "cut_off"
KEPT_SECONDS = 3600
MOST_BYTES = 200_000
MOST_KEPT = 100
"""How many forms may wait at once, of everybody; beyond it the oldest goes. Chosen here, no source."""
UNTYPED = frozenset({"csrfmiddlewaretoken", "next"})
BEHIND = frozenset({"entry_key", "seen", "after", "edit", "expected", "at_line"})
BEHIND_ENDS = ("_FORMS", "_kept")
"""Names and ends of names of fields that nobody types into."""


@dataclass(frozen=True, slots=True)
class CutOff:
    """A form that was cut off.

    maker: the workshop's word in its address. path: where it was sent. page: where it was filled in. fields: name
    and value of each, none where it was too large. had_files: whether files came along. user: who saw it first.
    """

    token: str
    maker: str
    path: str
    page: str
    fields: tuple[tuple[str, str], ...]
    is_too_large: bool = False
    had_files: bool = False
    user: str = ""

    @property
    def typed(self) -> list[tuple[str, str]]:
        """What can be read of it, with the names of its fields in words."""
        return [
            (in_words(name), value)
            for name, value in self.fields
            if value.strip() and name.rpartition("-")[2] not in BEHIND and not name.endswith(BEHIND_ENDS)
        ]


def in_words(name: str) -> str:
    """The name of a field as a maker may read it: "note-text" is "Text", "row-0-pack" is "Pack, 1"."""
    parts = [part for part in name.split("-") if part]
    number = next(
        (int(part) + 1 for part in parts if part.isascii() and part.isdigit() and len(part) < 6), None
    )
    words = (parts[-1] if parts else name).replace("_", " ").strip()
    shown = words[:1].upper() + words[1:]
    return f"{shown}, {number}" if number is not None else shown


def match_of(path: str) -> ResolverMatch | None:
    """The view that an address leads to; None for none of ours."""
    try:
        return resolve(path)
    except Resolver404:
        return None


def nearest_page(path: str) -> str:
    """The nearest page above an address that only takes forms; empty where there is none.

    A page counts where its address says nothing that the longer one doesn't: a word of it is not taken for a code.
    """
    here = match_of(path)
    given = here.kwargs if here is not None else {}
    steps = path.strip("/").split("/")
    for count in range(len(steps) - 1, 0, -1):
        above = "/" + "/".join(steps[:count]) + "/"
        found = match_of(above)
        if found is not None and "maker" in found.kwargs and found.kwargs.items() <= given.items():
            return above
    return ""


def page_of(request: HttpRequest, maker: str) -> str:
    """The page on which a form was filled in, as the browser says where that is one of the same workshop."""
    came = urlsplit(request.headers.get("Referer", ""))
    found = match_of(came.path) if came.path else None
    is_ours = came.netloc == request.get_host() and came.scheme in ("http", "https")
    if is_ours and found is not None and found.kwargs.get("maker") == maker:
        return f"{came.path}?{came.query}" if came.query else came.path
    return request.path


def folder() -> Path:
    """Where the forms wait."""
    return Path(settings.KEPT_ROOT) / "cut-off" / "forms"


def keep(request: HttpRequest, maker: str) -> CutOff:
    """Keep the text of a form that arrived for a workshop while nobody was signed in."""
    fields = tuple(
        (name, str(value))
        for name, values in request.POST.lists()
        if name not in UNTYPED and "password" not in name.lower()
        for value in values
    )
    is_too_large = (
        sum(len(name.encode()) + len(value.encode(errors="replace")) for name, value in fields) > MOST_BYTES
    )
    cut = CutOff(
        token=secrets.token_urlsafe(32),
        maker=maker,
        path=request.get_full_path(),
        page=page_of(request, maker),
        fields=() if is_too_large else fields,
        is_too_large=is_too_large,
        had_files=bool(request.FILES),
    )
    make_room()
    write(cut)
    return cut


def write(cut: CutOff) -> None:
    """Put a form into its file; whoever reads at the same moment finds the one or the other whole."""
    folder().mkdir(parents=True, exist_ok=True, mode=0o700)
    told: dict[str, Any] = {
        "maker": cut.maker, "path": cut.path, "page": cut.page, "fields": cut.fields,
        "is_too_large": cut.is_too_large, "had_files": cut.had_files, "user": cut.user,
    }  # fmt: skip
    target = folder() / cut.token
    beside = target.with_suffix(f".{secrets.token_hex(4)}")
    beside.touch(mode=0o600)
    beside.write_text(json.dumps(told), "utf-8")
    beside.replace(target)


def make_room() -> None:
    """Let go of what waited for longer than an hour, and of the oldest where too many wait."""
    if not folder().is_dir():
        return
    held: list[tuple[float, Path]] = []
    for path in folder().iterdir():
        try:
            held.append((path.stat().st_mtime, path))
        except FileNotFoundError:  # another request has just let it go
            continue
    held.sort(reverse=True)
    for place, (at, path) in enumerate(held, 1):
        if place >= MOST_KEPT or time.time() - at > KEPT_SECONDS:
            path.unlink(missing_ok=True)


def find(request: HttpRequest) -> CutOff | None:
    """The form that waits for this browser; None for none, or none any more."""
    token = request.COOKIES.get(COOKIE, "")
    if not TOKEN.match(token):
        return None
    path = folder() / token
    try:
        if time.time() - path.stat().st_mtime > KEPT_SECONDS:
            return None
        told = json.loads(path.read_text("utf-8"))
        told["fields"] = tuple((str(name), str(value)) for name, value in told["fields"])
        return CutOff(token=token, **told)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def claimed(request: HttpRequest, maker: str, user: str) -> CutOff | None:
    """The form that waits for this browser, for who signed in: the first who sees it is the only one."""
    cut = find(request)
    if cut is None or cut.maker != maker or cut.user not in ("", user):
        return None
    if not cut.user:
        path = folder() / cut.token
        at = path.stat().st_mtime
        write(replace(cut, user=user))
        os.utime(path, (at, at))
    return cut


def drop(cut: CutOff) -> None:
    """Let a form go."""
    (folder() / cut.token).unlink(missing_ok=True)


def arrived(request: HttpRequest) -> None:
    """Let the form that waits for this browser go, where this request brought it after all."""
    cut = find(request) if COOKIE in request.COOKIES else None
    if cut is not None and cut.path == request.get_full_path():
        drop(cut)


def hand_over(response: HttpResponse, cut: CutOff) -> None:
    """Give the browser the token."""
    response.set_cookie(
        COOKIE,
        cut.token,
        max_age=KEPT_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
