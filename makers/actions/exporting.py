"""Everything of one maker as one zip: tables as JSON and CSV, a schema, the papers, the journal's head."""

from __future__ import annotations

import csv
import io
import json
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import IO, Any

from django.core.files.storage import default_storage

from makers.actions.by import OWNERS, By, Refused
from makers.actions.journal import plain, recording
from makers.actions.record_tables import SHARED, USER_COLUMNS, USERS, Table, may_be_shared, tables, users_of
from makers.actions.sealed import EDITION, RECORDS, SealedWriter, generator
from makers.models import Document, JournalHead, Maker, Membership, Role
from makers.rules.spreadsheet import safe_cell

SCHEMA = "schema.json"
README = """All records of {maker}, written by {generator}.

tables/    one file of rows each as CSV (for a spreadsheet) and as JSON (one row a line), oldest first
{schema}   what each table and column means: type, unit, and which table a reference points to (by UUID)
papers/    the documents, each named by the SHA-256 of its content; tables/makers.document says which is which
{manifest} the SHA-256 of each part, and the head of the journal's chain

Passwords and sessions are not in here. Text that a spreadsheet would run as a formula has an apostrophe in
front in the CSV files; the JSON files have it as it is. To put the records into an installation of Stillroom:
python3 manage.py restore FILE.zip
"""


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export held."""

    rows: int
    papers: int
    missing_papers: tuple[str, ...]
    head_number: int
    head_digest: str


def quiet(text: str) -> None:
    """Say nothing."""


def table_file(label: str, form: str) -> str:
    """Where a table's rows stand in the zip. form: ``json`` or ``csv``."""
    return f"tables/{label}.{form}"


def shared_label(table_label: str) -> str:
    """The table of those shared reference rows that the records point to."""
    return f"reference.{table_label}"


def first_owner(maker: Maker) -> By | None:
    """The owner of longest standing, to act for a command on this machine."""
    membership = (
        Membership.objects.for_maker(maker)
        .filter(role=Role.OWNER, active=True)
        .select_related("user")
        .order_by("pk")
        .first()
    )
    if membership is None:
        return None
    return By(maker=maker, user=membership.user, role=Role.OWNER, device="command line")


def export_records(by: By, target: IO[bytes], say: Callable[[str], None] = quiet) -> Exported:
    """Write everything of ``by.maker`` into ``target`` as a zip, row by row; owners only.

    The rows are read while the maker's chain is locked, so that they belong together; the papers, which never
    change, are added after. Its own journal entry stands after what it holds.
    """
    writer = SealedWriter(target)
    maker = by.maker
    with recording(by, "records.exported", roles=OWNERS) as entry:
        head = JournalHead.objects.get(maker=maker)
        rows = write_tables(writer, maker, say)
        papers = list(Document.objects.for_maker(maker).order_by("pk").values_list("sha256", "file"))
        entry.about(maker)
        entry.say(rows=sum(rows.values()), papers=len(papers), head=head.number, head_digest=head.digest)
        at = by.now()
    say(f"Adding {len(papers)} papers")
    missing = write_papers(writer, papers)
    manifest = writer.finish(
        RECORDS,
        maker={"uuid": str(maker.uuid), "name": maker.trading_name, "slug": maker.slug},
        made_at=at.isoformat(),
        head={"number": head.number, "digest": head.digest},
        rows=rows,
        missing_papers=missing,
    )
    kept = len({sha256 for sha256, _ in papers}) - len(missing)
    return Exported(sum(manifest["rows"].values()), kept, tuple(missing), head.number, head.digest)


def write_tables(writer: SealedWriter, maker: Maker, say: Callable[[str], None]) -> dict[str, int]:
    """Write readme, schema, users and every table; returns the number of rows by table."""
    with writer.part("README.txt") as part:
        part.text(
            README.format(
                maker=maker.trading_name, generator=generator(), schema=SCHEMA, manifest="manifest.json"
            )
        )
    rows: dict[str, int] = {}
    people = ({"uuid": str(u.uuid), "email": u.email, "name": u.name} for u in users_of(maker).iterator())
    rows[USERS] = write_rows(writer, USERS, USER_COLUMNS, people)
    keys: dict[str, set[str]] = {}
    for number, table in enumerate(tables(), 1):
        names = [column.name for column in table.columns]
        rows[table.label] = write_rows(writer, table.label, names, noting(table, maker, keys))
        if rows[table.label]:
            say(f"{number} of {len(tables())}: {table.title}, {rows[table.label]}")
    shared = [table for table in tables() if may_be_shared(table.model)]
    for table in shared:
        names = [column.name for column in table.columns]
        label = shared_label(table.label)
        rows[label] = write_rows(writer, label, names, shared_rows(table, keys.get(table.label, set())))
    with writer.part(SCHEMA) as part:
        part.text(json.dumps(schema(shared), ensure_ascii=False, indent=1))
    return rows


def noting(table: Table, maker: Maker, keys: dict[str, set[str]]) -> Iterable[dict[str, Any]]:
    """The rows of a table, while noting which shared rows they point to."""
    pointing = [column for column in table.columns if column.refers_to and len(column.lookups) == 3]
    for row in table.values(maker):
        for column in pointing:
            value = row[column.name]
            if value and value.startswith(SHARED):
                keys.setdefault(column.refers_to, set()).add(value.removeprefix(SHARED))
        yield row


def shared_rows(table: Table, keys: set[str]) -> Iterable[dict[str, Any]]:
    """The shared reference rows of these keys."""
    names = [column.name for column in table.columns]
    found = table.model._base_manager.filter(maker=None).order_by("key").values_list(*names)
    for values in found.iterator(chunk_size=1000):
        row = {name: plain(value) for name, value in zip(names, values, strict=True)}
        if row["key"] in keys:
            yield row


def write_rows(writer: SealedWriter, label: str, names: Iterable[str], rows: Iterable[dict[str, Any]]) -> int:
    """Write one table as JSON and, beside it, as CSV; returns the number of rows."""
    names, count = list(names), 0
    with tempfile.TemporaryFile() as beside:
        text = io.TextIOWrapper(beside, encoding="utf-8", newline="", write_through=True)
        sheet = csv.writer(text)
        text.write("\ufeff")
        sheet.writerow(names)
        with writer.part(table_file(label, "json")) as part:
            part.text("[")
            for row in rows:
                part.text((",\n" if count else "\n") + json.dumps(row, ensure_ascii=False, sort_keys=True))
                sheet.writerow([cell(row[name]) for name in names])
                count += 1
            part.text("\n]\n")
        text.flush()
        beside.seek(0)
        writer.copy(table_file(label, "csv"), beside, packed=True)
        text.detach()
    return count


def cell(value: Any) -> str:
    """A value in the CSV file: text as in JSON, what is nested as JSON."""
    if isinstance(value, dict | list):
        return safe_cell(json.dumps(value, ensure_ascii=False, sort_keys=True))
    return safe_cell(value)


def write_papers(writer: SealedWriter, papers: Iterable[tuple[str, str]]) -> list[str]:
    """Add each document once, under its digest; returns the digests of those that are not there any more."""
    missing = []
    for sha256, name in dict(papers).items():
        try:
            with default_storage.open(name) as file:
                found = writer.copy(f"papers/{sha256}", file)
        except FileNotFoundError:
            missing.append(sha256)
            continue
        if found != sha256:
            raise Refused(
                f"The kept paper {name} isn't what was filed (its digest differs). "
                "Put the right file back from a backup; check_records names it."
            )
    return missing


def schema(shared: Iterable[Table]) -> dict[str, Any]:
    """What the schema file says."""
    said = [
        {
            "name": USERS,
            "title": "People whom the records name",
            "columns": [
                {"name": name, "type": "uuid" if name == "uuid" else "text"} for name in USER_COLUMNS
            ],
        }
    ]
    said += [described(table, table.label, table.title) for table in tables()]
    said += [
        described(table, shared_label(table.label), f"{table.title}, shared reference") for table in shared
    ]
    return {"edition": EDITION, "generator": generator(), "tables": said}


def described(table: Table, label: str, title: str) -> dict[str, Any]:
    """What the schema file says of one table."""
    return {
        "name": label,
        "title": title,
        "meaning": table.meaning,
        "files": [table_file(label, "json"), table_file(label, "csv")],
        "columns": [column.schema() for column in table.columns],
    }
