"""Files kept for a form that came back: whose they are, how long they stay, what lets them go."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from makers.forms import keeping
from makers.rules.files import PDF

CONTENT = b"%PDF-1.7\nfirst page\n%%EOF\n"


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Iterator[Path]:
    """A folder of the test's own; nobody is asking when it ends."""
    settings.KEPT_ROOT = tmp_path / "kept"
    yield tmp_path / "kept"
    keeping.deactivate()


def whoever(maker: UUID | None = None, user: UUID | None = None) -> keeping.Keeper:
    """Ask as this user of this maker from now on."""
    asking = keeping.Keeper(maker or uuid4(), user or uuid4())
    keeping.activate(asking.maker, asking.user)
    return asking


def kept(name: str = "certificate.pdf", content: bytes = CONTENT) -> keeping.KeptUpload:
    """A file that was kept just now."""
    found = keeping.keep(SimpleUploadedFile(name, content), PDF)
    assert found is not None
    return found


def test_a_kept_file_is_found_whole() -> None:
    """Name, kind and content, by its token."""
    whoever()

    found = keeping.find(kept("zeugnis – öl.pdf").token)

    assert found is not None
    assert (found.name, found.content_type, found.size) == (
        "zeugnis – öl.pdf",
        "application/pdf",
        len(CONTENT),
    )
    assert b"".join(found.chunks()) == CONTENT


def test_a_name_with_folders_keeps_its_last_part() -> None:
    """As some browsers send it."""
    whoever()

    assert kept(r"C:\papers\coa.pdf").name == "coa.pdf"


def test_a_token_is_worth_nothing_to_anybody_else() -> None:
    """Neither to another user of the maker, nor to the user in another workshop, nor to nobody."""
    owner = whoever()
    token = kept().token

    whoever(maker=owner.maker)
    assert keeping.find(token) is None
    whoever(user=owner.user)
    assert keeping.find(token) is None
    keeping.deactivate()
    assert keeping.find(token) is None
    whoever(owner.maker, owner.user)
    assert keeping.find(token) is not None


def test_dropping_another_s_token_leaves_the_file() -> None:
    """Only who keeps it lets it go."""
    owner = whoever()
    token = kept().token

    whoever(maker=owner.maker)
    keeping.drop(token)

    whoever(owner.maker, owner.user)
    assert keeping.find(token) is not None


@pytest.mark.parametrize(
    "token",
    ["", "../../secret", "a" * 31, "a" * 40, "a/" * 20, f"{'a' * 40}.json", "ä" * 40, "a" * 40 + "\n"],
)
def test_what_is_no_token_finds_nothing(token: str) -> None:
    """Nor does it leave the folder."""
    whoever()
    kept()

    assert keeping.find(token) is None


def test_after_a_day_it_is_gone_and_swept(folder: Path) -> None:
    """Not offered any more, and taken from the disk with the next file that is kept."""
    whoever()
    old = kept()
    yesterday = time.time() - keeping.KEPT_SECONDS - 1
    os.utime(old.path, (yesterday, yesterday))

    assert keeping.find(old.token) is None
    new = kept("newer.pdf")

    assert {path.name for path in folder.rglob("*") if path.is_file()} == {new.token, f"{new.token}.json"}


def test_an_empty_house_sweeps_nothing() -> None:
    """The folder need not be there."""
    assert keeping.sweep() == 0


def test_dropped_is_gone_from_the_disk(folder: Path) -> None:
    """File and what is said of it."""
    whoever()
    keeping.drop(kept().token)

    assert not [path for path in folder.rglob("*") if path.is_file()]


def test_beyond_what_one_user_may_keep_the_oldest_goes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The newest always stays."""
    monkeypatch.setattr(keeping, "MOST_KEPT_BYTES", 2 * len(CONTENT))
    whoever()
    made = []
    for age in (30, 20, 10):
        made.append(kept())
        os.utime(made[-1].path, (time.time() - age,) * 2)

    last = kept()

    assert [bool(keeping.find(one.token)) for one in [*made, last]] == [False, False, True, True]


def test_files_are_for_the_owner_of_the_process_alone() -> None:
    """As the kept papers are."""
    whoever()

    assert kept().path.stat().st_mode & 0o777 == 0o600
