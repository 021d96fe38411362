"""Back up, destroy, restore: the whole installation, on whichever database the tests run."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.db.migrations.loader import MigrationLoader

from makers import guards
from makers.actions import Refused
from makers.actions.backups import back_up, heads, migrations, restore_backup
from makers.actions.checking import faults_of, guard_faults
from makers.actions.house import add_scale
from makers.actions.sealed import seal_of
from makers.models import JournalHead, Maker, Scale, User
from tests.cast import PASSWORD, Cast, make_cast, make_scale
from tests.makers.records.world import export_to, furnish, furnish_lightly, wipe
from tests.racing import committed, on_a_file

__all__ = ["committed"]
pytestmark = pytest.mark.usefixtures("committed")


@pytest.fixture
def cast(settings: Any, tmp_path: Path, committed: None) -> Iterator[Cast]:
    """The cast in a furnished workshop; the embedded database is a file, as outside the tests."""
    settings.DATA = tmp_path / "data"
    settings.MEDIA_ROOT = tmp_path / "data" / "files"
    settings.DATA.mkdir()
    (settings.DATA / "secret").write_text("whisper")
    made = make_cast()
    furnish_lightly(made)
    if connection.vendor != "sqlite":
        yield made
        return
    memory = connection.connection
    with on_a_file():
        connection.connection = None
        try:
            yield made
        finally:
            connection.close()
            connection.connection = memory


def content() -> dict[str, list[Any]]:
    """Every row of every table of ours, as the database has it."""
    found = {}
    with connection.cursor() as cursor:
        for name in sorted(connection.introspection.table_names()):
            if name.startswith(("makers_", "formulas_", "batches_", "labels_", "django_session")):
                cursor.execute(f"SELECT * FROM {name} ORDER BY 1")
                found[name] = cursor.fetchall()
    return found


def papers(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def destroy(cast: Cast, folder: Path) -> None:
    """What a burnt disk leaves: an empty database, no papers, another secret."""
    for maker in (cast.maker, cast.stranger.maker):
        wipe(maker)
    for path in folder.rglob("*"):
        if path.is_file():
            path.unlink()
    (folder.parent / "secret").write_text("another")
    assert not User.objects.exists()
    assert not Maker.objects.exists()


def test_what_was_backed_up_comes_back_row_by_row_and_byte_by_byte(
    cast: Cast, tmp_path: Path, settings: Any
) -> None:
    """Keys, passwords, papers and the secret too; the chains end where they ended."""
    furnish(cast)
    folder = Path(settings.MEDIA_ROOT)
    rows, files, ends = content(), papers(folder), heads()
    said: list[str] = []

    assert back_up(tmp_path / "copy.zip", said.append) == ends
    destroy(cast, folder)
    assert restore_backup(tmp_path / "copy.zip", say=said.append) == ends

    assert content() == rows
    assert papers(folder) == files != {}
    assert (folder.parent / "secret").read_text() == "whisper"
    assert User.objects.get(email=cast.owner.user.email).check_password(PASSWORD)
    assert guard_faults() == []
    assert any("papers" in text for text in said)


def test_work_goes_on_after_a_restore(cast: Cast, tmp_path: Path, settings: Any) -> None:
    """New rows get new keys and the journal its next number."""
    back_up(tmp_path / "copy.zip")
    destroy(cast, Path(settings.MEDIA_ROOT))
    restore_backup(tmp_path / "copy.zip")
    before = JournalHead.objects.get(maker=cast.maker.pk).number
    known = set(Scale.objects.values_list("pk", flat=True))
    model = make_scale(cast.maker, "0.01", "200")

    added = add_scale(cast.owner, name="Fine", readability_g=model.readability_g, capacity_g=model.capacity_g)

    assert added.pk not in known
    assert JournalHead.objects.get(maker=cast.maker.pk).number == before + 1
    assert list(faults_of(cast.maker)) == []


def test_records_that_are_here_are_not_overwritten_unless_asked(
    cast: Cast, tmp_path: Path, settings: Any
) -> None:
    """Without --replace nothing happens; with it the embedded database keeps what was there beside it."""
    back_up(tmp_path / "copy.zip")
    make_scale(cast.maker, "1", "30000", "Later")

    with pytest.raises(Refused, match="records here already"):
        restore_backup(tmp_path / "copy.zip")
    assert Scale.objects.filter(name="Later").exists()

    restore_backup(tmp_path / "copy.zip", replace=True)
    assert not Scale.objects.filter(name="Later").exists()
    assert list(settings.DATA.glob("files-before-*"))
    if connection.vendor == "sqlite":
        (kept,) = Path(str(connection.settings_dict["NAME"])).parent.glob("before-*.sqlite3")
        with closing(sqlite3.connect(kept)) as before:
            assert before.execute("SELECT count(*) FROM makers_scale WHERE name = 'Later'").fetchone() == (1,)


def test_a_backup_holds_the_secret_and_is_for_its_owner_alone(cast: Cast, tmp_path: Path) -> None:
    """Unlike an export; so nobody else on the machine may read the file."""
    back_up(tmp_path / "copy.zip")

    with zipfile.ZipFile(tmp_path / "copy.zip") as found:
        assert found.read("secret") == b"whisper"
        manifest = json.loads(found.read("manifest.json"))
    assert {head["maker"] for head in manifest["heads"]} == {"Cordgrass Workshop", "Other House"}
    assert (tmp_path / "copy.zip").stat().st_mode & 0o077 == 0


def test_a_file_that_is_there_is_never_overwritten(cast: Cast, tmp_path: Path) -> None:
    """Yesterday's copy stays, and nothing half-written is left."""
    (tmp_path / "copy.zip").write_text("yesterday")
    with pytest.raises(Refused, match="there already"):
        back_up(tmp_path / "copy.zip")
    with pytest.raises(Refused, match="can't be written"):
        back_up(tmp_path / "nowhere" / "copy.zip")

    assert (tmp_path / "copy.zip").read_text() == "yesterday"
    assert not list(tmp_path.glob(".*.half"))


def forged(path: Path, **facts: Any) -> Path:
    """A copy with other facts in its list, sealed anew."""
    target = path.with_name("forged.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "manifest.json":
                manifest = {**json.loads(data), **facts}
                manifest["seal"] = seal_of(manifest)
                data = json.dumps(manifest).encode()
            new.writestr(name, data)
    return target


def test_a_backup_that_does_not_fit_is_refused_before_anything_is_touched(cast: Cast, tmp_path: Path) -> None:
    """Another kind of database, a newer edition, an export instead of a backup and the other way round."""
    path = tmp_path / "copy.zip"
    back_up(path)
    other = "sqlite" if connection.vendor == "postgresql" else "postgresql"
    with pytest.raises(Refused, match="export each workshop"):
        restore_backup(forged(path, engine=other), replace=True)
    steps = json.loads(zipfile.ZipFile(path).read("manifest.json"))["migrations"]
    with pytest.raises(Refused, match="newer Stillroom"):
        restore_backup(forged(path, migrations=[*steps, "batches.9999_later"]), replace=True)
    with pytest.raises(Refused, match="not a backup"):
        restore_backup(export_to(cast.owner, tmp_path / "export.zip"), replace=True)

    assert Maker.objects.count() == 2
    assert guard_faults() == []


def test_a_head_that_is_not_in_the_records_is_found(cast: Cast, tmp_path: Path, settings: Any) -> None:
    """The list of the copy says where each chain ended; records of another day don't pass for it."""
    path = tmp_path / "copy.zip"
    back_up(path)
    ends = json.loads(zipfile.ZipFile(path).read("manifest.json"))["heads"]
    destroy(cast, Path(settings.MEDIA_ROOT))

    with pytest.raises(Refused, match="doesn't end where the backup says"):
        restore_backup(forged(path, heads=[{**ends[0], "number": 9999}, *ends[1:]]))


def test_a_backup_of_an_older_edition_is_brought_up_to_date(
    cast: Cast, tmp_path: Path, settings: Any
) -> None:
    """Its tables are made as they were then, filled, and brought to this edition."""
    path = tmp_path / "copy.zip"
    back_up(path)
    with zipfile.ZipFile(path) as found:
        steps = json.loads(found.read("manifest.json"))["migrations"]
    (last,) = MigrationLoader(connection).graph.leaf_nodes("labels")
    older = forged(path, migrations=[step for step in steps if step != ".".join(last)])
    destroy(cast, Path(settings.MEDIA_ROOT))

    restore_backup(older)

    assert Maker.objects.count() == 2
    assert ".".join(last) in migrations()
    assert guard_faults() == []


# -- the commands


def said_by(*words: str) -> str:
    """What a command prints."""
    out = io.StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


def test_the_commands_go_round(cast: Cast, tmp_path: Path, settings: Any) -> None:
    """backup, restore, check_records, export and restore again, as the page and README tell."""
    (tmp_path / "kept").mkdir()
    told = said_by("backup", str(tmp_path / "kept"))
    (path,) = (tmp_path / "kept").glob("stillroom-*.zip")
    head = JournalHead.objects.get(maker=cast.maker)
    assert f"Cordgrass Workshop: the journal ends at entry {head.number}, seal {head.digest}" in told
    destroy(cast, Path(settings.MEDIA_ROOT))

    assert "Everything is back" in said_by("restore", str(path))
    assert f"(/{cast.maker.slug}/): as written, {head.number} journal entries" in said_by("check_records")
    assert "rows" in said_by("export", cast.maker.slug, str(tmp_path / "export.zip"))
    wipe(cast.maker)
    told = said_by("restore", str(tmp_path / "export.zip"))

    assert f"Cordgrass Workshop is back at /{cast.maker.slug}/" in told
    assert f"changepassword {cast.owner.user.email}" in told
    with pytest.raises(CommandError, match="here already"):
        said_by("restore", str(tmp_path / "export.zip"))


def test_check_records_names_the_first_fault_and_fails(cast: Cast) -> None:
    """One line for each maker, exit code 1, and nothing is changed."""
    with guards.lifted():
        from makers.models import JournalEntry

        JournalEntry._base_manager.filter(maker=cast.maker, number=2).update(why="another")
    before = content()
    out = io.StringIO()

    with pytest.raises(SystemExit) as ended:
        call_command("check_records", stdout=out)

    lines = out.getvalue().splitlines()
    assert ended.value.code == 1
    assert lines[0] == "The database: every guard is in place."
    assert "First: journal entry 2: Its columns say something else" in lines[1]
    assert lines[2].startswith("Other House")
    assert "as written, 0 journal entries" in lines[2]
    assert content() == before


def test_check_records_notices_a_missing_guard(cast: Cast) -> None:
    """A database whose triggers were dropped is not called sound."""
    guards.remove()
    out = io.StringIO()
    try:
        with pytest.raises(SystemExit):
            call_command("check_records", stdout=out)
    finally:
        guards.install()

    assert out.getvalue().startswith(f"The database: {len(guards.installed())} guards not as declared.")


def test_export_says_which_workshops_there_are(cast: Cast, tmp_path: Path) -> None:
    """A slug that nobody has, and a file that is there."""
    with pytest.raises(CommandError, match=cast.maker.slug):
        said_by("export", "nobody", str(tmp_path / "x.zip"))
    (tmp_path / "x.zip").write_text("kept")
    with pytest.raises(CommandError, match="there already"):
        said_by("export", cast.maker.slug, str(tmp_path / "x.zip"))


def test_connections_are_open_again_after_a_restore(cast: Cast, tmp_path: Path) -> None:
    """The command closes what it must and leaves a database that answers."""
    back_up(tmp_path / "copy.zip")
    restore_backup(tmp_path / "copy.zip", replace=True)

    assert connections["default"].is_usable()
    assert Maker.objects.count() == 2
