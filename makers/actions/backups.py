"""A copy of the whole installation in one zip, and the way back.

On SQLite the copy is the database itself, taken by SQLite's own backup while it may be in use. On PostgreSQL
it is every table as JSON lines with its keys, read in one snapshot. Both hold the papers and the secret.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, connections, models, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from makers import guards
from makers.actions.by import Refused
from makers.actions.checking import faults_of, guard_faults
from makers.actions.exporting import quiet
from makers.actions.sealed import BACKUP, SealedCopy, SealedWriter
from makers.models import JournalHead, Maker, User

DATABASE = "database.sqlite3"
SECRET = "secret"  # noqa: S105  (the name of a part)
FILES = "files/"
TABLES = "tables/"
ROWS = 500
PAGES = 2000


@dataclass(frozen=True, slots=True)
class Head:
    """Where a maker's journal ends."""

    maker: str
    uuid: str
    number: int
    digest: str


def heads() -> list[Head]:
    """The end of every maker's chain."""
    return [
        Head(head.maker.trading_name, str(head.maker.uuid), head.number, head.digest)
        for head in JournalHead.objects.select_related("maker").order_by("maker_id")
    ]


def migrations() -> list[str]:
    """The steps that made this database, as ``app.name``."""
    done = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{app}.{name}" for app, name in done)


def files_folder() -> Path:
    """Where the papers are kept."""
    return Path(settings.MEDIA_ROOT)


def secret_file() -> Path:
    """Where the secret of this installation is kept, unless the environment gives it."""
    return Path(os.environ.get("STILLROOM_SECRET_FILE") or Path(settings.DATA) / "secret")


# -- taking a copy


def back_up(target: Path, say: Callable[[str], None] = quiet) -> list[Head]:
    """Write the whole installation into ``target``; returns the chain heads that it holds.

    Raises Refused when the file is there already or can't be written. A half-written copy is taken away.
    """
    if target.exists():
        raise Refused(f"{target} is there already. Name another file.")
    half = target.with_name(f".{target.name}.half")
    try:
        handle = os.open(half, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600)
    except OSError as problem:
        raise Refused(f"{target} can't be written ({problem.strerror}). Name another place.") from problem
    try:
        with os.fdopen(handle, "w+b") as file:
            found = write_backup(SealedWriter(file), say)
            file.flush()
            os.fsync(file.fileno())
        os.replace(half, target)
    finally:
        half.unlink(missing_ok=True)
    return found


def write_backup(writer: SealedWriter, say: Callable[[str], None]) -> list[Head]:
    """Database first, then the papers: what a row names is there by then, and papers never change."""
    if connection.vendor == "sqlite":
        found, steps = copy_sqlite(writer, say)
    else:
        found, steps = dump_tables(writer, say)
    papers = sorted(path for path in files_folder().rglob("*") if path.is_file())
    say(f"Adding {len(papers)} papers")
    for path in papers:
        with path.open("rb") as file:
            writer.copy(FILES + path.relative_to(files_folder()).as_posix(), file)
    if secret_file().is_file():
        with secret_file().open("rb") as file:
            writer.copy(SECRET, file)
    writer.finish(
        BACKUP,
        engine=connection.vendor,
        made_at=timezone.now().isoformat(),
        migrations=steps,
        heads=[{"maker": h.maker, "uuid": h.uuid, "number": h.number, "digest": h.digest} for h in found],
    )
    return found


def copy_sqlite(writer: SealedWriter, say: Callable[[str], None]) -> tuple[list[Head], list[str]]:
    """Copy the embedded database; what is in the copy is said of the copy, not of what went on since."""
    connection.ensure_connection()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / DATABASE

        def progress(status: int, left: int, total: int) -> None:
            say(f"Copying the database: {100 * (total - left) // max(total, 1)} %")

        with closing(sqlite3.connect(path)) as copy:
            connection.connection.backup(copy, pages=PAGES, progress=progress)
            copy.execute("PRAGMA journal_mode=DELETE")
            found = [
                Head(name, str(UUID(uuid)), number, digest)
                for name, uuid, number, digest in copy.execute(
                    "SELECT m.trading_name, m.uuid, h.number, h.digest FROM makers_journalhead h "
                    "JOIN makers_maker m ON m.id = h.maker_id ORDER BY m.id"
                )
            ]
            steps = steps_in(copy)
        with path.open("rb") as file:
            writer.copy(DATABASE, file, packed=True)
    return found, steps


def steps_in(database: sqlite3.Connection) -> list[str]:
    """The migrations of a database file."""
    return sorted(
        f"{app}.{name}" for app, name in database.execute("SELECT app, name FROM django_migrations")
    )


def all_models() -> list[type[models.Model]]:
    """Every model with a table of its own."""
    return sorted(
        (
            model
            for model in apps.get_models(include_auto_created=True)
            if model._meta.managed and not model._meta.proxy
        ),
        key=lambda model: model._meta.db_table,
    )


def dump_tables(writer: SealedWriter, say: Callable[[str], None]) -> tuple[list[Head], list[str]]:
    """Every table as JSON lines in one snapshot, with keys as they are."""
    inside = connection.in_atomic_block
    with transaction.atomic():
        with connection.cursor() as cursor:
            if not inside:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        found, steps = heads(), migrations()
        for number, model in enumerate(all_models(), 1):
            name = model._meta.db_table
            quoted = connection.ops.quote_name(name)
            count = 0
            order = connection.ops.quote_name(str(model._meta.pk.column))
            with (
                writer.part(f"{TABLES}{name}.jsonl") as part,
                connection.connection.cursor(f"backup_{number}") as rows,
            ):
                rows.itersize = ROWS
                rows.execute(f"SELECT to_jsonb(t)::text FROM {quoted} t ORDER BY t.{order}")  # noqa: S608  (own tables)
                for (text,) in rows:
                    part.text(f"{text}\n")
                    count += 1
            if count:
                say(f"{number} of {len(all_models())}: {name}, {count} rows")
    return found, steps


# -- the way back


def restore_backup(path: Path, *, replace: bool = False, say: Callable[[str], None] = quiet) -> list[Head]:
    """Put a whole installation back; returns its chain heads, verified.

    Raises Refused when the copy is damaged, altered, newer or of another kind of database, and when there are
    records here already, unless ``replace``. On SQLite what was here before is kept beside it.
    """
    with SealedCopy(path) as copy:
        if copy.kind != BACKUP:
            raise Refused(f"{copy.name} is an export of one workshop, not a backup.")
        say("Reading the copy through")
        copy.verify()
        refuse_misfit(copy)
        if not replace and not is_empty():
            raise Refused(
                "There are records here already. Name an empty folder with --data DIR, or say --replace to "
                "put the backup in their place."
            )
        stamp = timezone.now().strftime("%Y%m%d-%H%M%S")
        if connection.vendor == "sqlite":
            put_sqlite(copy, stamp, say)
        else:
            load_tables(copy, say)
        put_files(copy, stamp, say)
        told = [Head(h["maker"], h["uuid"], h["number"], h["digest"]) for h in copy.manifest["heads"]]
    say("Verifying the journals and the balances")
    verify(told)
    return told


def refuse_misfit(copy: SealedCopy) -> None:
    """Refuse a backup of another kind of database, or one with steps that this edition doesn't know."""
    engine = copy.manifest["engine"]
    names = {"sqlite": "the embedded database", "postgresql": "PostgreSQL"}
    if engine != connection.vendor:
        raise Refused(
            f"{copy.name} is a backup of {names.get(engine, engine)}, and this installation uses "
            f"{names.get(connection.vendor, connection.vendor)}. Start where it was made, "
            "export each workshop, and restore those here."
        )
    known = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    strange = sorted(set(copy.manifest["migrations"]) - known)
    if strange:
        raise Refused(f"{copy.name} was written by a newer Stillroom ({strange[0]}). Update Stillroom first.")


def is_empty() -> bool:
    """Whether nobody has written anything here yet."""
    there = set(connection.introspection.table_names())
    return not any(model._meta.db_table in there and model._base_manager.exists() for model in (User, Maker))


def put_sqlite(copy: SealedCopy, stamp: str, say: Callable[[str], None]) -> None:
    """Write the database over the one here, through SQLite's own locks; keeps what was there."""
    here = Path(str(connection.settings_dict["NAME"]))
    was_empty = is_empty()
    connections.close_all()
    here.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with tempfile.TemporaryDirectory(dir=here.parent) as folder:
        taken = Path(folder) / DATABASE
        copy.take_out(DATABASE, taken)
        with closing(sqlite3.connect(taken)) as source, closing(sqlite3.connect(here, timeout=20)) as target:
            (state,) = source.execute("PRAGMA integrity_check").fetchone()
            if state != "ok":
                raise Refused(f"The database in {copy.name} is damaged: {state}. Take another copy.")
            if not was_empty:
                before = here.with_name(f"before-{stamp}.sqlite3")
                with closing(sqlite3.connect(before)) as kept:
                    target.backup(kept)
                say(f"What was here before is kept in {before}")
            say("Putting the database back")
            try:
                source.backup(target, pages=-1)
            except sqlite3.OperationalError as busy:
                raise Refused("The database is in use. Stop Stillroom, then restore.") from busy
    call_command("migrate", interactive=False, verbosity=0)
    guards.install()


def load_tables(copy: SealedCopy, say: Callable[[str], None]) -> None:
    """Empty every table and load the rows of the backup, then bring the tables up to this edition."""
    told = set(copy.manifest["migrations"])
    behind = sorted(set(migrations()) - told)
    if behind and not is_empty():
        raise Refused(
            f"{copy.name} is from an older edition (before {behind[0]}); it goes into an empty "
            "database only, which is then brought up to date."
        )
    if behind:
        executor = MigrationExecutor(connection)
        guards.remove()
        executor.migrate(targets_of(executor, told))
    names = [name for name in copy.manifest["parts"] if name.startswith(TABLES)]
    with transaction.atomic():
        guards.remove()
        there = set(connection.introspection.table_names())
        quoted = [
            connection.ops.quote_name(m._meta.db_table) for m in all_models() if m._meta.db_table in there
        ]
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
            cursor.execute(f"TRUNCATE {', '.join(quoted)} RESTART IDENTITY CASCADE")
            for number, name in enumerate(names, 1):
                table = name.removeprefix(TABLES).removesuffix(".jsonl")
                if table not in there:
                    raise Refused(f"{copy.name} holds the table {table}, which this edition doesn't know.")
                count = load_rows(cursor, table, copy, name)
                if count:
                    say(f"{number} of {len(names)}: {table}, {count} rows")
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            reset_sequences(cursor)
        if not behind:
            guards.install()
    if behind:
        call_command("migrate", interactive=False, verbosity=0)
        guards.install()


def targets_of(executor: MigrationExecutor, told: set[str]) -> list[tuple[str, str | None]]:
    """For each app the last step that a backup had, or none."""
    graph = executor.loader.graph
    targets: list[tuple[str, str | None]] = []
    for app in sorted({app for app, _ in graph.nodes}):
        done = {key for key in graph.nodes if key[0] == app and f"{key[0]}.{key[1]}" in told}
        last = [key for key in done if not any(child.key in done for child in graph.node_map[key].children)]
        targets += last or [(app, None)]
    return targets


def load_rows(cursor: Any, table: str, copy: SealedCopy, name: str) -> int:
    """Insert the rows of one table as they were."""
    quoted, count = connection.ops.quote_name(table), 0
    statement = f"INSERT INTO {quoted} SELECT * FROM jsonb_populate_recordset(NULL::{quoted}, %s::jsonb)"  # noqa: S608  (own tables)
    with copy.open(name) as part:
        some: list[str] = []
        for line in part:
            some.append(line.decode())
            if len(some) == ROWS:
                cursor.execute(statement, [f"[{','.join(some)}]"])
                count, some = count + len(some), []
        if some:
            cursor.execute(statement, [f"[{','.join(some)}]"])
            count += len(some)
    return count


def reset_sequences(cursor: Any) -> None:
    """Let the next row of each table get the next key."""
    for statement in connection.ops.sequence_reset_sql(no_style(), all_models()):
        cursor.execute(statement)


def put_files(copy: SealedCopy, stamp: str, say: Callable[[str], None]) -> None:
    """Put papers and secret back; papers that were here are moved aside, not lost."""
    folder = files_folder()
    names = [name for name in copy.manifest["parts"] if name.startswith(FILES)]
    if folder.exists() and any(folder.iterdir()):
        before = folder.with_name(f"files-before-{stamp}")
        folder.rename(before)
        say(f"The papers that were here are kept in {before}")
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    say(f"Putting back {len(names)} papers")
    for name in names:
        target = (folder / name.removeprefix(FILES)).resolve()
        if not target.is_relative_to(folder.resolve()):
            raise Refused(f"{copy.name} holds a paper with a name that leads elsewhere: {name}.")
        copy.take_out(name, target)
    if SECRET in copy.manifest["parts"] and not os.environ.get("STILLROOM_SECRET"):
        copy.take_out(SECRET, secret_file())


def verify(told: Iterable[Head]) -> None:
    """Refuse to call it done unless every chain ends where the backup says and every check passes."""
    here = {head.uuid: head for head in heads()}
    for head in told:
        found = here.get(head.uuid)
        if found is None or (found.number, found.digest) != (head.number, head.digest):
            raise Refused(f"The journal of {head.maker} doesn't end where the backup says.")
    for fault in guard_faults():
        raise Refused(f"{fault.where}: {fault.text}")
    for maker in Maker.objects.order_by("pk"):
        for fault in faults_of(maker):
            raise Refused(f"{maker.trading_name}, {fault.where}: {fault.text}")


def file_name(at: datetime) -> str:
    """The usual name of a backup."""
    return f"stillroom-{at:%Y-%m-%d-%H%M}.zip"


__all__ = ["Head", "back_up", "file_name", "heads", "restore_backup"]
