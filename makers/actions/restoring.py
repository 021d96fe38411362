"""Putting the records of one maker back from an export: into an empty installation or beside other makers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.files import File
from django.core.files.storage import default_storage
from django.core.validators import validate_email
from django.db import DatabaseError, connection, models, transaction

from makers import guards
from makers.actions.by import Refused
from makers.actions.checking import faults_of
from makers.actions.exporting import first_owner, quiet, shared_label, table_file
from makers.actions.house import RESERVED, free_slug
from makers.actions.journal import recording
from makers.actions.record_tables import KEY_NUMBERS, SHARED, USERS, Table, may_be_shared, tables
from makers.actions.sealed import RECORDS, SealedCopy
from makers.models import Document, JournalHead, Maker, OldSlug, User
from makers.models.journal import document_path

ROWS = 500


@dataclass(slots=True)
class Restored:
    """What came back."""

    maker: Maker
    rows: int = 0
    papers: int = 0
    new_people: list[str] = field(default_factory=list)
    missing_papers: list[str] = field(default_factory=list)
    was_at: str = ""
    let_in: str = ""


def restore_records(path: Path, *, owner_password: str = "", say: Callable[[str], None] = quiet) -> Restored:
    """Load the records of an export. All or nothing: chains and balances are verified before it counts.

    UUIDs stay, keys of the database are new. People are found by their e-mail or made without a usable
    password; ``owner_password`` is set for the first owner if that person was made here. Raises Refused
    with a sentence when the copy is damaged, altered or newer than this edition, and when its records
    are here already.
    """
    with SealedCopy(path) as copy:
        if copy.kind != RECORDS:
            raise Refused(f"{copy.name} is a backup of a whole installation, not an export of one workshop.")
        say("Reading the copy through")
        copy.verify()
        refuse_unknown(copy)
        kept: list[str] = []
        try:
            with transaction.atomic():
                with guards.lifted(), transaction.atomic():
                    done = Loader(copy, say).load()
                    kept += put_papers(copy, done, say)
                    connection.check_constraints()
                finish(copy, done, owner_password, say)
        except DatabaseError as problem:
            forget(kept)
            raise Refused(f"The database refuses these records: {str(problem).splitlines()[0]}") from problem
        except BaseException:
            forget(kept)
            raise
    return done


def refuse_unknown(copy: SealedCopy) -> None:
    """Refuse tables that this edition doesn't know, and records that are here already."""
    known = {USERS} | {table.label for table in tables()}
    known |= {shared_label(table.label) for table in tables() if may_be_shared(table.model)}
    strange = sorted(set(copy.manifest.get("rows", {})) - known)
    if strange:
        raise Refused(
            f"{copy.name} holds the table {strange[0]}, which this edition doesn't know. "
            "Update Stillroom first."
        )
    there = Maker.objects.filter(uuid=copy.manifest["maker"]["uuid"]).first()
    if there is not None:
        raise Refused(f"These records are here already: {there.trading_name}, at /{there.slug}/.")


class Loader:
    """Loads the tables of one export; knows which UUID got which key."""

    def __init__(self, copy: SealedCopy, say: Callable[[str], None]) -> None:
        self.copy = copy
        self.say = say
        self.keys: dict[str, dict[str, int]] = {}
        self.shared: dict[str, dict[str, int]] = {}
        self.new_people: list[str] = []
        self.maker_key = 0
        self.slug = ""
        self.was_at = ""

    def rows(self, label: str) -> Iterator[dict[str, Any]]:
        """The rows of a table; none where the export has no such table."""
        name = table_file(label, "json")
        return self.copy.json_rows(name) if name in self.copy.manifest["parts"] else iter(())

    def load(self) -> Restored:
        """Give every row its key, then write them all."""
        self.people()
        for table in tables():
            self.give_keys(table)
        (self.maker_key,) = self.keys[Maker._meta.label_lower].values()
        for table in tables():
            if may_be_shared(table.model):
                self.find_shared(table)
        total = 0
        for number, table in enumerate(tables(), 1):
            count = self.write(table)
            total += count
            if count:
                self.say(f"{number} of {len(tables())}: {table.title}, {count}")
        maker = Maker.objects.get(pk=self.maker_key)
        return Restored(maker, total, new_people=self.new_people, was_at=self.was_at)

    def people(self) -> None:
        """Find each person by e-mail, then by UUID, or make the account without a usable password."""
        found = self.keys.setdefault(USERS, {})
        for row in self.rows(USERS):
            email = str(row["email"]).lower()
            user = User.objects.filter(email=email).first() or User.objects.filter(uuid=row["uuid"]).first()
            if user is None:
                validate_email(email)
                user = User(uuid=row["uuid"], email=email, name=row["name"])
                user.set_unusable_password()
                user.save()
                self.new_people.append(email)
            found[row["uuid"]] = user.pk

    def give_keys(self, table: Table) -> None:
        """Take a new key for each row; refuse rows that are here already."""
        found = self.keys.setdefault(table.label, {})
        if not any(column.name == "uuid" for column in table.columns):
            return
        for chunk in chunks((row["uuid"] for row in self.rows(table.label)), ROWS):
            if table.model._base_manager.filter(uuid__in=chunk).exists():
                raise Refused(
                    f"These records are here already: some of the {table.title.lower()} in {self.copy.name}."
                )
            found.update(zip(chunk, new_keys(table.model, len(chunk), len(found)), strict=True))

    def find_shared(self, table: Table) -> None:
        """Find the shared rows that the records point to; one that is not here becomes the maker's own."""
        known = dict(table.model._base_manager.filter(maker=None).values_list("key", "pk"))
        for row in self.rows(shared_label(table.label)):
            if row["key"] in known:
                continue
            own = {name: value for name, value in row.items() if name != "uuid"}
            (key,) = new_keys(table.model, 1, len(self.keys[table.label]))
            self.keys[table.label][f"{SHARED}{row['key']}"] = key
            table.model._base_manager.bulk_create([self.made(table, own, key)])
            known[row["key"]] = key
        self.shared[table.label] = known

    def write(self, table: Table) -> int:
        """Write the rows of one table, in the order of the export."""
        count, keys = 0, self.keys[table.label]
        for chunk in chunks(self.rows(table.label), ROWS):
            made = [
                self.made(table, row, keys.get(str(row.get("uuid")))) for row in self.fitting(table, chunk)
            ]
            table.model._base_manager.bulk_create(made, batch_size=ROWS)
            self.keep_stamps(table, made)
            count += len(made)
        return count

    def fitting(self, table: Table, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """The rows with an address that is free here, and without old addresses that are taken."""
        if table.model is Maker:
            slug = rows[0]["slug"]
            taken = slug in RESERVED or Maker.objects.filter(slug=slug).exists()
            if taken or OldSlug.objects.filter(slug=slug).exists():
                self.was_at = slug
                return [{**rows[0], "slug": free_slug(rows[0]["trading_name"])}]
        if table.model is OldSlug:
            here = Maker.objects.get(pk=self.maker_key).slug
            return [
                row
                for row in rows
                if row["slug"] != here
                and not Maker.objects.filter(slug=row["slug"]).exists()
                and not OldSlug.objects.filter(slug=row["slug"]).exists()
            ]
        return rows

    def made(self, table: Table, row: dict[str, Any], key: int | None) -> models.Model:
        """One row as a record, not yet written. What an older export doesn't have keeps its default."""
        values: dict[str, Any] = {} if key is None else {"pk": key}
        if table.model is not Maker:
            values["maker_id"] = self.maker_key
        numbers = KEY_NUMBERS.get(table.label, {})
        for column in table.columns:
            if column.name not in row:
                continue
            value = row[column.name]
            if column.refers_to:
                found = None if value is None else self.key_of(table, column.refers_to, value)
                values[column.name if column.name in numbers else column.field.attname] = (
                    found or 0 if column.name in numbers else found
                )
            else:
                values[column.name] = None if value is None else column.field.to_python(value)
        record = table.model(**values)
        if isinstance(record, Document):
            record.file.name = document_path(record, "")
        return record

    def key_of(self, table: Table, label: str, value: str) -> int:
        """The key here of what a row points to."""
        if value.startswith(SHARED):
            found = self.shared.get(label, {}).get(value.removeprefix(SHARED))
        else:
            found = self.keys.get(label, {}).get(value)
        if found is None:
            raise Refused(f"A row of {table.label} in {self.copy.name} points to {value}, which isn't in it.")
        return found

    def keep_stamps(self, table: Table, made: list[models.Model]) -> None:
        """Columns that the framework stamps on saving get the time of the export's row back."""
        stamped = [c for c in table.columns if getattr(c.field, "auto_now_add", False)]
        if not stamped:
            return
        by_uuid = {row["uuid"]: row for row in self.rows(table.label)}
        for record in made:
            row = by_uuid[str(record.uuid)]  # type: ignore[attr-defined]  # stamped tables have one
            times = {c.name: c.field.to_python(row[c.name]) for c in stamped}
            table.model._base_manager.filter(pk=record.pk).update(**times)


def new_keys(model: type[models.Model], count: int, given: int) -> list[int]:
    """Keys for ``count`` new rows, rising. ``given``: how many more were given, not yet written."""
    name = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)", [name, count]
            )
            return sorted(key for (key,) in cursor.fetchall())
        cursor.execute("SELECT COALESCE(MAX(seq), 0) FROM sqlite_sequence WHERE name = %s", [name])
        last = int(cursor.fetchone()[0]) + given
        return list(range(last + 1, last + 1 + count))


def chunks(items: Iterable[Any], size: int) -> Iterator[list[Any]]:
    """Lists of at most ``size`` items."""
    some: list[Any] = []
    for item in items:
        some.append(item)
        if len(some) == size:
            yield some
            some = []
    if some:
        yield some


def put_papers(copy: SealedCopy, done: Restored, say: Callable[[str], None]) -> list[str]:
    """Put every paper where its record looks for it; returns the names that were written."""
    kept: list[str] = []
    papers = Document.objects.for_maker(done.maker).order_by("pk")
    say(f"Putting back {papers.count()} papers")
    try:
        for paper in papers.iterator(chunk_size=500):
            name = f"papers/{paper.sha256}"
            if name not in copy.manifest["parts"]:
                done.missing_papers.append(paper.name)
                continue
            target = paper.file.name or ""
            if default_storage.exists(target):
                default_storage.delete(target)
            with copy.open(name) as part:
                kept.append(default_storage.save(target, File(part)))
            done.papers += 1
    except BaseException:
        forget(kept)
        raise
    return kept


def forget(names: Iterable[str]) -> None:
    """Take files away that were written for records that don't stand."""
    for name in names:
        default_storage.delete(name)


def finish(copy: SealedCopy, done: Restored, owner_password: str, say: Callable[[str], None]) -> None:
    """Verify what was loaded, let the first owner in, and write the return into the journal."""
    say("Verifying the journal and the balances")
    head = JournalHead.objects.get(maker=done.maker)
    told = copy.manifest["head"]
    if (head.number, head.digest) != (told["number"], told["digest"]):
        raise Refused(f"The journal in {copy.name} doesn't end where its list says. Take another copy.")
    for fault in faults_of(done.maker):
        if not (done.missing_papers and "file is gone" in fault.text):
            raise Refused(f"{copy.name} doesn't hold together: {fault.where}: {fault.text}")
    by = first_owner(done.maker)
    if by is None:
        return
    if owner_password and by.user.email in done.new_people:
        try:
            validate_password(owner_password, by.user)
        except ValidationError as weak:
            raise Refused({"password": weak.messages}) from weak
        by.user.set_password(owner_password)
        by.user.save(update_fields=["password"])
        done.let_in = by.user.email
    with recording(by, "records.restored") as entry:
        entry.about(done.maker)
        entry.say(
            origin=f"{copy.manifest['maker']['name']} of {str(copy.manifest['made_at'])[:10]}",
            rows=done.rows,
            papers=done.papers,
            head=head.number,
            head_digest=head.digest,
        )
