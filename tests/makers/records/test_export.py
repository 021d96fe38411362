"""What leaves the house in an export, and how it comes back."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.db import connection, models

from batches.models import Lot, Release
from formulas.models import Ingredient, Substance
from makers.actions import Refused
from makers.actions.checking import faults_of, guard_faults
from makers.actions.house import add_scale
from makers.actions.record_tables import KEY_NUMBERS, WORLDS, tables
from makers.actions.restoring import restore_records
from makers.actions.sealed import seal_of
from makers.models import Document, JournalEntry, JournalHead, Maker, User
from tests.cast import PASSWORD, Cast, make_cast, make_maker
from tests.makers.records.world import PAPER, export_to, furnish, furnish_lightly, rows_in, wipe

pytestmark = pytest.mark.django_db
HELD, MORE = b'"on_hand": "100.0000"', b'"on_hand": "900.0000"'
JOURNAL = {"makers.journalentry", "makers.journalmention", "makers.journalhead"}


@pytest.fixture
def cast(settings: Any, tmp_path: Path) -> Cast:
    """The cast in a furnished workshop, with papers in a folder of the test."""
    settings.MEDIA_ROOT = tmp_path / "files"
    made = make_cast()
    furnish(made)
    return made


@pytest.fixture
def copy(cast: Cast, tmp_path: Path) -> Path:
    """An export of the workshop."""
    return export_to(cast.owner, tmp_path / "copy.zip")


@pytest.fixture
def plain(settings: Any, tmp_path: Path) -> Path:
    """An export with little in it, whose maker is gone."""
    settings.MEDIA_ROOT = tmp_path / "files"
    made = make_cast()
    furnish_lightly(made)
    path = export_to(made.owner, tmp_path / "plain.zip")
    remove_papers(made.maker)
    wipe(made.maker)
    return path


def rewrite(path: Path, change: Callable[[str, bytes], bytes | None], *, reseal: bool = False) -> Path:
    """A copy of a zip with parts changed or left out, and its list made to fit where ``reseal``."""
    import hashlib

    target = path.with_name("changed.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w") as new:
        parts = {name: change(name, old.read(name)) for name in old.namelist()}
        if reseal:
            manifest = json.loads(parts["manifest.json"] or b"")
            for name, facts in manifest["parts"].items():
                facts["sha256"] = hashlib.sha256(parts[name] or b"").hexdigest()
            manifest["seal"] = seal_of(manifest)
            parts["manifest.json"] = json.dumps(manifest).encode()
        for name, data in parts.items():
            if data is not None:
                new.writestr(name, data)
    return target


# -- nothing is forgotten


def test_every_table_with_a_maker_is_in_the_export() -> None:
    """Each model that points to a maker has its table, with every column but keys and files."""
    exported = {table.label: {column.name for column in table.columns} for table in tables()}
    for model in apps.get_models(include_auto_created=True):
        fields = {field.name: field for field in model._meta.concrete_fields}
        if model._meta.app_label not in WORLDS or "maker" not in fields:
            continue
        wanted = {n for n, f in fields.items() if not isinstance(f, models.FileField)} - {"id", "maker"}
        assert exported.get(model._meta.label_lower) == wanted, model


def test_every_table_of_ours_belongs_to_a_maker_or_is_known_not_to() -> None:
    """A new model without a maker must be thought of here: only these have none."""
    without = {
        model._meta.label
        for model in apps.get_models(include_auto_created=True)
        if model._meta.app_label in WORLDS and "maker" not in {f.name for f in model._meta.concrete_fields}
    }

    assert without == {"makers.User", "makers.Maker"}


def test_everything_that_is_pointed_to_can_be_named_outside() -> None:
    """Each reference leads to a table of the export or to a person, and each such table has UUIDs."""
    known = {table.label: {column.name for column in table.columns} for table in tables()}
    known["makers.user"] = {"uuid"}
    for table in tables():
        for column in table.columns:
            if column.refers_to:
                assert "uuid" in known[column.refers_to], (table.label, column.name)


def test_no_column_holds_a_key_of_the_database_in_disguise() -> None:
    """Numbers that are keys are named, so that they are translated; this one is found by its help text."""
    found = {
        (model._meta.label_lower, field.name)
        for model in apps.get_models()
        if model._meta.app_label in WORLDS
        for field in model._meta.concrete_fields
        if field.help_text.startswith("Key of")
    }

    assert found == {(label, name) for label, names in KEY_NUMBERS.items() for name in names}


# -- what is in it


def test_the_zip_holds_tables_schema_papers_and_head(cast: Cast, copy: Path) -> None:
    """CSV and JSON of each table agree, the schema explains every column, the paper is under its digest."""
    head = JournalHead.objects.get(maker=cast.maker)
    with zipfile.ZipFile(copy) as found:
        schema = json.loads(found.read("schema.json"))
        manifest = json.loads(found.read("manifest.json"))
        lots = json.loads(found.read("tables/batches.lot.json"))
        sheet = list(csv.DictReader(io.StringIO(found.read("tables/batches.lot.csv").decode("utf-8-sig"))))
        suppliers = found.read("tables/formulas.supplier.csv").decode("utf-8-sig")
        papers = [found.read(name) for name in found.namelist() if name.startswith("papers/")]
    explained = {table["name"]: {column["name"] for column in table["columns"]} for table in schema["tables"]}

    assert papers == [PAPER]
    assert len(lots) == len(sheet) > 4
    assert [row["on_hand"] for row in sheet] == [row["on_hand"] for row in lots]
    assert set(lots[0]) == explained["batches.lot"]
    assert "'=Dunlin Oils" in suppliers
    assert manifest["head"]["number"] == head.number - 1
    assert JournalEntry.objects.get(maker=cast.maker, number=head.number).action == "records.exported"


def test_secrets_and_other_makers_are_never_in_it(cast: Cast, copy: Path) -> None:
    """No password hash, no session, nothing of the stranger; people by UUID, e-mail and name alone."""
    with zipfile.ZipFile(copy) as found:
        everything = b"\n".join(found.read(name) for name in found.namelist())
    people = rows_in(copy)["makers.user"]

    assert {row["email"] for row in people} == {
        member.user.email for member in (cast.owner, cast.worker, cast.reader)
    }
    assert all(set(row) == {"uuid", "email", "name"} for row in people)
    assert cast.owner.user.password.encode() not in everything
    assert str(cast.stranger.maker.uuid).encode() not in everything
    assert str(cast.stranger.user.uuid).encode() not in everything


def test_two_exports_of_the_same_records_are_the_same(cast: Cast, tmp_path: Path) -> None:
    """The order is fixed: only the journal grows, by the note of the first export."""
    first = rows_in(export_to(cast.owner, tmp_path / "first.zip"))
    second = rows_in(export_to(cast.owner, tmp_path / "second.zip"))

    assert {name for name in first if first[name] != second[name]} <= JOURNAL
    assert second["makers.journalentry"][:-1] == first["makers.journalentry"]


def test_the_number_of_queries_does_not_grow_with_the_rows(
    cast: Cast, tmp_path: Path, django_assert_max_num_queries: Any
) -> None:
    """Rows are streamed with what they point to; a hundred more make no more questions."""
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as few:
        export_to(cast.owner, tmp_path / "few.zip")
    for number in range(100):
        Ingredient.objects.create(maker=cast.maker, name=f"Wax {number}", code=f"W-{number:03}")
    with django_assert_max_num_queries(len(few)):
        export_to(cast.owner, tmp_path / "many.zip")


# -- and back


def test_an_export_restores_into_an_empty_database_as_it_was(cast: Cast, copy: Path, tmp_path: Path) -> None:
    """Every row of every table is back under its UUID, the paper too; the journal goes on from its head."""
    before = rows_in(copy)
    remove_papers(cast.maker)
    wipe(cast.maker)

    done = restore_records(copy, owner_password=PASSWORD)

    by = owner_of(done.maker)
    after = rows_in(export_to(by, tmp_path / "again.zip"))
    assert {name for name in before if before[name] != after[name]} <= JOURNAL
    entries = before["makers.journalentry"]
    assert after["makers.journalentry"][: len(entries)] == entries
    assert [row["action"] for row in after["makers.journalentry"][len(entries) :]] == ["records.restored"]
    assert len(done.new_people) == 3
    assert done.let_in == by.user.email
    assert by.user.check_password(PASSWORD)
    with Document.objects.get(maker=done.maker).file.open() as paper:
        assert paper.read() == PAPER
    assert list(faults_of(done.maker)) == []
    assert guard_faults() == []


def test_work_goes_on_after_a_restore(cast: Cast, copy: Path) -> None:
    """The next action, the next code and the next release stand where they would have stood."""
    wipe(cast.maker)
    done = restore_records(copy, owner_password=PASSWORD)
    by = owner_of(done.maker)

    add_scale(
        by,
        name="New scale",
        readability_g=lot_of(done.maker).on_hand / 1000,
        capacity_g=lot_of(done.maker).on_hand,
    )

    releases = list(Release.objects.filter(maker=done.maker).order_by("pk"))
    amendments = set(releases[0].batch.amendments.values_list("pk", flat=True))
    assert [release.after_amendment for release in releases] == [0, amendments.pop()]
    assert list(faults_of(done.maker)) == []


def test_an_export_restores_beside_a_maker_that_has_its_address(cast: Cast, copy: Path) -> None:
    """The address is another, the old one stays with whom it belongs to; people are known by their e-mail."""
    slug = cast.maker.slug
    wipe(cast.maker, people=False)
    other = make_maker("Neighbour")
    Maker.objects.filter(pk=other.pk).update(slug=slug)

    done = restore_records(copy)

    assert done.maker.slug != slug
    assert done.was_at == slug
    assert Maker.objects.get(slug=slug).pk == other.pk
    assert done.new_people == []
    assert owner_of(done.maker).user.pk == cast.owner.user.pk
    assert owner_of(done.maker).user.check_password(PASSWORD)


def test_people_without_an_account_here_come_without_a_password(cast: Cast, copy: Path) -> None:
    """Nobody gets in by a restore unless a password was given for the first owner."""
    wipe(cast.maker)

    restore_records(copy)

    assert not any(user.has_usable_password() for user in User.objects.filter(email=cast.owner.user.email))


def test_records_that_are_here_already_are_refused(cast: Cast, copy: Path) -> None:
    """The same records never come twice, and nothing is touched."""
    before = JournalHead.objects.get(maker=cast.maker).number
    with pytest.raises(Refused, match="here already"):
        restore_records(copy)

    Maker.objects.filter(pk=cast.maker.pk).update(uuid="00000000-0000-4000-8000-000000000001")
    with pytest.raises(Refused, match="here already: some of the"):
        restore_records(copy)

    assert JournalHead.objects.get(maker=cast.maker).number == before
    assert guard_faults() == []


def test_a_shared_substance_that_is_not_known_here_becomes_the_makers_own(cast: Cast, copy: Path) -> None:
    """An export from an installation with other reference data still restores whole."""
    shared = Substance.objects.filter(maker=None).order_by("key")[0]
    wipe(cast.maker)
    key, name = shared.key, shared.inci_name
    Substance.objects.filter(pk=shared.pk).delete()

    done = restore_records(copy)

    assert Substance.objects.get(maker=done.maker, key=key).inci_name == name


# -- copies that are not whole


def test_a_cut_off_file_is_refused_with_a_sentence(plain: Path, tmp_path: Path) -> None:
    """A file that lost its end, or was never a zip."""
    cut = tmp_path / "cut.zip"
    cut.write_bytes(plain.read_bytes()[:-40])
    with pytest.raises(Refused, match="cut off or damaged"):
        restore_records(cut)
    with pytest.raises(Refused, match="no file"):
        restore_records(tmp_path / "nothing.zip")


def test_a_zip_from_elsewhere_is_refused(tmp_path: Path) -> None:
    """Any other zip is said to be one."""
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as other:
        other.writestr("letter.txt", "hello")
    with pytest.raises(Refused, match="neither an export nor a backup"):
        restore_records(tmp_path / "other.zip")


def test_a_damaged_byte_is_found(plain: Path) -> None:
    """One byte flipped inside a part names the part."""
    with zipfile.ZipFile(plain) as found:
        info = next(info for info in found.infolist() if info.filename == "tables/makers.scale.json")
    data = bytearray(plain.read_bytes())
    data[info.header_offset + 60 + len(info.filename)] ^= 0xFF
    plain.write_bytes(data)

    with pytest.raises(Refused, match=r"tables/makers\.scale\.json"):
        restore_records(plain)


@pytest.mark.parametrize(
    ("place", "value"),
    [
        pytest.param(8, 0x1, id="marked as encrypted"),
        pytest.param(10, 99, id="packed in an unknown way"),
        pytest.param(8, 0x800, id="a name that is no UTF-8"),
    ],
)
def test_a_part_that_cannot_be_opened_is_named(plain: Path, place: int, value: int) -> None:
    """Two bytes of its entry in the list at the end of the file: flags stand at 8, the way of packing at 10."""
    name = b"tables/makers.scale.json"
    data = bytearray(plain.read_bytes())
    entry = data.rindex(name) - 46
    data[entry + place : entry + place + 2] = value.to_bytes(2, "little")
    if value == 0x800:
        data[data.index(name)] = 0xFF
    plain.write_bytes(data)

    with pytest.raises(Refused, match=r"tables/makers\.scale\.json in .* is damaged"):
        restore_records(plain)


def test_an_altered_part_is_refused(plain: Path) -> None:
    """A quantity changed in the file is not the file that was written."""
    changed = rewrite(plain, lambda _, data: data.replace(b"Bench scale", b"Other scale"))
    with pytest.raises(Refused, match="was changed afterwards"):
        restore_records(changed)


def test_a_part_taken_out_or_put_in_is_refused(plain: Path) -> None:
    """The list names every part and no other is accepted."""
    without = rewrite(plain, lambda name, data: None if name == "tables/makers.scale.json" else data)
    with pytest.raises(Refused, match="lacks its part"):
        restore_records(without)
    with zipfile.ZipFile(plain, "a") as more:
        more.writestr("tables/../../x", "x")
    with pytest.raises(Refused, match="put in afterwards"):
        restore_records(plain)


def test_a_newer_edition_is_refused(plain: Path) -> None:
    """What was written by a later program is not guessed at."""

    def later(name: str, data: bytes) -> bytes:
        return data.replace(b'"edition": 1', b'"edition": 2') if name == "manifest.json" else data

    with pytest.raises(Refused, match="newer Stillroom"):
        restore_records(rewrite(plain, later))


def test_an_altered_journal_is_found_even_when_every_digest_was_made_to_fit(plain: Path) -> None:
    """The chain speaks where the list of parts was forged; nothing is loaded and the guards are back."""

    def forged(name: str, data: bytes) -> bytes:
        return (
            data.replace(b"Nessa Quill", b"Nessa Quell")
            if name == "tables/makers.journalentry.json"
            else data
        )

    with pytest.raises(Refused, match="journal entry"):
        restore_records(rewrite(plain, forged, reseal=True))

    assert not Maker.objects.filter(trading_name="Cordgrass Workshop").exists()
    assert guard_faults() == []


def test_an_altered_balance_is_found_even_when_every_digest_was_made_to_fit(cast: Cast, copy: Path) -> None:
    """A balance that the ledger doesn't give is refused, and no paper stays behind."""
    remove_papers(cast.maker)
    wipe(cast.maker)

    def forged(name: str, data: bytes) -> bytes:
        return data.replace(HELD, MORE) if name == "tables/batches.lot.json" else data

    with pytest.raises(Refused, match="hold together"):
        restore_records(rewrite(copy, forged, reseal=True))

    assert Lot.objects.count() == 0
    assert not any(path.is_file() for path in Path(default_storage.path("")).rglob("*"))


# -- helpers


def remove_papers(maker: Maker) -> None:
    """Take the maker's papers away from the disk."""
    for paper in Document.objects.filter(maker=maker):
        default_storage.delete(paper.file.name or "")


def owner_of(maker: Maker) -> Any:
    """The first owner, ready to act."""
    from makers.actions.exporting import first_owner

    by = first_owner(maker)
    assert by is not None
    return by


def lot_of(maker: Maker) -> Lot:
    """The first lot."""
    lot: Lot | None = Lot.objects.filter(maker=maker).order_by("pk").first()
    assert lot is not None
    return lot
