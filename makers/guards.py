"""The database's own guards: triggers that refuse what must never happen, on SQLite and on PostgreSQL.

Guards are declared once, in portable SQL, and made for the database at hand after every migration (altering a
table on SQLite rebuilds it and drops its triggers). A test compares what is declared with what is installed.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import DEFAULT_DB_ALIAS, connections, models

PREFIX = "sr_"


@dataclass(frozen=True, slots=True)
class Guard:
    """A trigger. ``when`` refuses with ``message`` if true; or ``then`` runs as an effect.

    ``event`` is like "BEFORE INSERT". ``postgres_when`` is given where the two dialects differ.
    """

    name: str
    table: str
    event: str
    when: str = ""
    message: str = ""
    then: tuple[str, ...] = ()
    postgres_when: str = ""

    @property
    def trigger(self) -> str:
        """The trigger's name in the database."""
        return f"{PREFIX}{self.name}"[:60]

    def sqlite(self) -> list[str]:
        """Statements that make this guard on SQLite."""
        if self.then:
            condition = f"WHEN {self.when}" if self.when else ""
            body = "; ".join(self.then)
        else:
            condition = f"WHEN {self.when}" if self.when else ""
            body = f"SELECT RAISE(ABORT, '{self.message}')"
        return [
            f"CREATE TRIGGER {self.trigger} {self.event} ON {self.table} FOR EACH ROW {condition} BEGIN {body}; END"
        ]

    def postgres(self) -> list[str]:
        """Statements that make this guard on PostgreSQL."""
        when = self.postgres_when or self.when
        result = "RETURN OLD;" if self.event.endswith("DELETE") else "RETURN NEW;"
        if self.then:
            inner = "; ".join(self.then) + ";"
        else:
            inner = f"RAISE EXCEPTION '{self.message}' USING ERRCODE = 'restrict_violation';"
        body = f"IF {when} THEN {inner} END IF;" if when else inner
        function = (
            f"CREATE OR REPLACE FUNCTION {self.trigger}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$guard$ BEGIN {body} {result} END $guard$"
        )
        trigger = (
            f"CREATE TRIGGER {self.trigger} {self.event} ON {self.table} "
            f"FOR EACH ROW EXECUTE FUNCTION {self.trigger}()"
        )
        return [function, trigger]


def table(label: str) -> str:
    """The table of a model given by its label."""
    return str(apps.get_model(label)._meta.db_table)


def append_only() -> Iterator[Guard]:
    """Facts are added, never changed or removed."""
    from makers.models.base import AppendOnly

    for model in apps.get_models():
        if issubclass(model, AppendOnly):
            name = model._meta.db_table
            for event in ("UPDATE", "DELETE"):
                yield Guard(
                    f"{name}_no_{event.lower()}",
                    name,
                    f"BEFORE {event}",
                    message=f"{name} is append-only",
                )


def one_maker() -> Iterator[Guard]:
    """A row and everything it points to belong to one maker, and the row never moves to another."""
    for model in apps.get_models():
        if not has_maker(model) or model._meta.app_label not in {"makers", "formulas", "batches", "labels"}:
            continue
        name = model._meta.db_table
        tests = []
        for field in model._meta.concrete_fields:
            target = field.related_model
            if not isinstance(field, models.ForeignKey) or field.name == "maker":
                continue
            if isinstance(target, type) and has_maker(target):
                other = target._meta.db_table
                tests.append(
                    f"EXISTS (SELECT 1 FROM {other} o WHERE o.id = NEW.{field.column} "
                    f"AND o.maker_id IS NOT NULL AND o.maker_id <> NEW.maker_id)"
                )
        if tests:
            when = "(" + " OR ".join(tests) + ")"
            message = f"{name} points to another maker"
            yield Guard(f"{name}_one_maker_i", name, "BEFORE INSERT", when, message)
            yield Guard(f"{name}_one_maker_u", name, "BEFORE UPDATE", when, message)
        yield Guard(
            f"{name}_stays",
            name,
            "BEFORE UPDATE",
            "NEW.maker_id <> OLD.maker_id",
            f"{name} changes its maker",
        )


def has_maker(model: Any) -> bool:
    """Whether a model's rows belong to a maker."""
    return any(field.name == "maker" for field in model._meta.concrete_fields)


def frozen_paper() -> Iterator[Guard]:
    """Nothing in a frozen version or composition changes."""
    for label in ("formulas.Phase", "formulas.Line", "formulas.Step"):
        yield from children_of(
            label,
            "version_id",
            table("formulas.FormulaVersion"),
            "p.frozen_at IS NOT NULL",
            "the version is frozen",
        )
    version = table("formulas.FormulaVersion")
    yield Guard(
        f"{version}_stays_frozen",
        version,
        "BEFORE UPDATE",
        "OLD.frozen_at IS NOT NULL AND (NEW.frozen_at IS NULL OR NEW.number <> OLD.number "
        "OR NEW.formula_id <> OLD.formula_id OR COALESCE(NEW.ph_low, -1) <> COALESCE(OLD.ph_low, -1) "
        "OR COALESCE(NEW.ph_high, -1) <> COALESCE(OLD.ph_high, -1))",
        "the version is frozen",
    )
    yield from children_of(
        "formulas.Constituent",
        "composition_id",
        table("formulas.Composition"),
        "p.frozen_at IS NOT NULL",
        "the composition is frozen",
    )


def children_of(label: str, column: str, parent: str, state: str, message: str) -> Iterator[Guard]:
    """Refuse every change to rows whose parent is in a state."""
    name = table(label)
    for event, row in (("INSERT", "NEW"), ("UPDATE", "NEW"), ("UPDATE", "OLD"), ("DELETE", "OLD")):
        yield Guard(
            f"{name}_{event.lower()}_{row.lower()}_kept",
            name,
            f"BEFORE {event}",
            f"EXISTS (SELECT 1 FROM {parent} p WHERE p.id = {row}.{column} AND {state})",
            message,
        )


def closed_batches() -> Iterator[Guard]:
    """What was done in a batch stands once the batch is released or rejected, until an amendment voids it."""
    batch = table("batches.Batch")
    closed = "p.state IN ('released', 'rejected')"
    for label in ("batches.BatchLine", "batches.BatchStep"):
        yield from children_of(label, "batch_id", batch, closed, "the batch is closed")
    for label in ("Weighing", "Reading", "Fill", "Check", "Deviation"):
        name = table(f"batches.{label}")
        yield Guard(
            f"{name}_batch_open",
            name,
            "BEFORE INSERT",
            f"EXISTS (SELECT 1 FROM {batch} p WHERE p.id = NEW.batch_id AND {closed})",
            "the batch is closed",
        )
    output = table("batches.Output")
    yield Guard(
        f"{output}_batch_open",
        output,
        "BEFORE INSERT",
        f"EXISTS (SELECT 1 FROM {batch} p WHERE p.id = NEW.batch_id AND {closed}) AND NEW.kind <> 'packs'",
        "the batch is closed",
    )
    yield from closed_batch_stays(batch)


def closed_batch_stays(batch: str) -> Iterator[Guard]:
    """A closed batch keeps its figures; it closes by a signature and opens by an amendment."""
    fixed = (
        "code", "purpose", "version_id", "formula_id", "product_id", "makes_id", "scale_id", "units", "fill_g",
        "samples_g", "loss_percent", "planned_g", "started_at", "made_on", "made_at", "bulk_g",
    )  # fmt: skip
    changed = " OR ".join(f"NEW.{column} IS DISTINCT FROM OLD.{column}" for column in fixed)
    yield Guard(
        f"{batch}_closed_stays",
        batch,
        "BEFORE UPDATE",
        f"OLD.state IN ('released', 'rejected') AND ({changed.replace('IS DISTINCT FROM', 'IS NOT')})",
        "the batch is closed",
        postgres_when=f"OLD.state IN ('released', 'rejected') AND ({changed})",
    )
    amendment = table("batches.Amendment")
    yield Guard(
        f"{batch}_reopens_by_amendment",
        batch,
        "BEFORE UPDATE",
        "OLD.state IN ('released', 'rejected') AND NEW.state <> OLD.state AND NOT EXISTS "
        f"(SELECT 1 FROM {amendment} a WHERE a.batch_id = OLD.id AND a.id > COALESCE((SELECT MAX(r.after_amendment) "
        f"FROM {table('batches.Release')} r WHERE r.batch_id = OLD.id), 0))",
        "a closed batch opens only by an amendment",
    )
    yield Guard(
        f"{batch}_released_by_signature",
        batch,
        "BEFORE UPDATE",
        "NEW.state IN ('released', 'rejected') AND OLD.state <> NEW.state AND NOT EXISTS "
        f"(SELECT 1 FROM {table('batches.Release')} r WHERE r.batch_id = OLD.id AND r.decision = NEW.state "
        f"AND r.after_amendment = COALESCE((SELECT MAX(a.id) FROM {amendment} a WHERE a.batch_id = OLD.id), 0))",
        "a batch is closed only by a signed decision",
    )


def usable_lots() -> Iterator[Guard]:
    """Only released, unheld lots within their date are weighed, into a batch that is being made."""
    lot, weighing, batch = table("batches.Lot"), table("batches.Weighing"), table("batches.Batch")
    line = table("batches.BatchLine")
    forward = "NEW.reverses_id IS NULL AND "
    yield Guard(
        f"{weighing}_lot_usable",
        weighing,
        "BEFORE INSERT",
        f"{forward}EXISTS (SELECT 1 FROM {lot} l WHERE l.id = NEW.lot_id AND (l.status <> 'released' OR l.held "
        "OR l.good_until < date(NEW.occurred_at, '-1 day')))",
        "the lot can not be used",
        postgres_when=(
            f"{forward}EXISTS (SELECT 1 FROM {lot} l WHERE l.id = NEW.lot_id AND (l.status <> 'released' OR l.held "
            "OR l.good_until < (NEW.occurred_at AT TIME ZONE 'UTC')::date - 1))"
        ),
    )
    yield Guard(
        f"{weighing}_right_line",
        weighing,
        "BEFORE INSERT",
        f"NOT EXISTS (SELECT 1 FROM {line} n JOIN {lot} l ON l.id = NEW.lot_id WHERE n.id = NEW.line_id "
        "AND n.batch_id = NEW.batch_id AND (n.ingredient_id = l.ingredient_id OR n.rework_lot_id = l.id))",
        "the lot does not belong to this line",
    )
    yield Guard(
        f"{weighing}_batch_making",
        weighing,
        "BEFORE INSERT",
        f"NOT EXISTS (SELECT 1 FROM {batch} b WHERE b.id = NEW.batch_id AND b.state IN ('making', 'made'))",
        "the batch is not being made",
    )


def ledgers() -> Iterator[Guard]:
    """Balances are kept from the entries."""
    entry, lot = table("batches.LotEntry"), table("batches.Lot")
    yield Guard(
        f"{entry}_moves",
        entry,
        "AFTER INSERT",
        then=(f"UPDATE {lot} SET on_hand = on_hand + NEW.amount WHERE id = NEW.lot_id",),
    )
    moves, balance = table("batches.PackEntry"), table("batches.PackBalance")
    yield Guard(
        f"{moves}_leaves_from_stock",
        moves,
        "BEFORE INSERT",
        f"NEW.from_place_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {balance} b WHERE b.pack_id = NEW.pack_id "
        "AND b.place_id = NEW.from_place_id AND b.units >= NEW.units)",
        "there are not that many there",
    )
    yield Guard(
        f"{moves}_arrives_somewhere",
        moves,
        "BEFORE INSERT",
        f"NEW.to_place_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {balance} b WHERE b.pack_id = NEW.pack_id "
        "AND b.place_id = NEW.to_place_id)",
        "no balance is kept there yet",
    )
    yield Guard(
        f"{moves}_leaves",
        moves,
        "AFTER INSERT",
        "NEW.from_place_id IS NOT NULL",
        then=(
            f"UPDATE {balance} SET units = units - NEW.units WHERE pack_id = NEW.pack_id "
            "AND place_id = NEW.from_place_id",
        ),
    )
    yield Guard(
        f"{moves}_arrives",
        moves,
        "AFTER INSERT",
        "NEW.to_place_id IS NOT NULL",
        then=(
            f"UPDATE {balance} SET units = units + NEW.units WHERE pack_id = NEW.pack_id "
            "AND place_id = NEW.to_place_id",
        ),
    )


def packs_for_sale() -> Iterator[Guard]:
    """Packs come from batches for sale and leave the house only once released and without a hold."""
    moves, pack = table("batches.PackEntry"), table("batches.Pack")
    place, batch = table("batches.Place"), table("batches.Batch")
    yield Guard(
        f"{moves}_only_released_leave",
        moves,
        "BEFORE INSERT",
        "(NEW.kind = 'dispatched' OR (NEW.kind = 'moved' AND EXISTS "
        f"(SELECT 1 FROM {place} q WHERE q.id = NEW.to_place_id AND q.kind = 'shop'))) AND NOT EXISTS "
        f"(SELECT 1 FROM {pack} p JOIN {batch} b ON b.id = p.batch_id WHERE p.id = NEW.pack_id "
        "AND b.state = 'released' AND NOT b.held AND NOT p.held)",
        "only packs of a released batch without a hold leave the house",
    )
    yield Guard(
        f"{pack}_only_for_sale",
        pack,
        "BEFORE INSERT",
        f"EXISTS (SELECT 1 FROM {batch} b WHERE b.id = NEW.batch_id AND b.purpose <> 'sale')",
        "only a batch for sale becomes packs",
    )


def trials() -> Iterator[Guard]:
    """What a trial left goes into trials alone, and stays of a trial: so this holds at any depth."""
    lot, batch = table("batches.Lot"), table("batches.Batch")
    line, weighing = table("batches.BatchLine"), table("batches.Weighing")
    for name, event, column, more in (
        (line, "INSERT", "rework_lot_id", ""),
        (line, "UPDATE", "rework_lot_id", ""),
        (weighing, "INSERT", "lot_id", "NEW.reverses_id IS NULL AND "),
    ):
        when = (
            f"{more}EXISTS (SELECT 1 FROM {lot} l JOIN {batch} t ON t.id = l.from_batch_id, {batch} b "
            f"WHERE l.id = NEW.{column} AND t.purpose = 'trial' AND b.id = NEW.batch_id AND b.purpose <> 'trial')"
        )
        guard = f"{name}_no_trial_{event.lower()}"
        yield Guard(guard, name, f"BEFORE {event}", when, "what a trial left goes into trials alone")
    of_a_trial = f"EXISTS (SELECT 1 FROM {batch} t WHERE t.id = OLD.from_batch_id AND t.purpose = 'trial')"
    moved = f"COALESCE(NEW.from_batch_id, 0) <> OLD.from_batch_id AND {of_a_trial}"
    yield Guard(f"{lot}_stays_a_trials", lot, "BEFORE UPDATE", moved, "what a trial left stays of that trial")
    turned = "NEW.purpose <> OLD.purpose"
    yield Guard(f"{batch}_purpose_stays", batch, "BEFORE UPDATE", turned, "a batch keeps its purpose")


def holds() -> Iterator[Guard]:
    """The mark "held" follows the open holds; a closed hold stays closed."""
    hold = table("batches.Hold")
    for column, label in (
        ("lot_id", "batches.Lot"),
        ("batch_id", "batches.Batch"),
        ("pack_id", "batches.Pack"),
    ):
        target = table(label)
        held = (
            f"UPDATE {target} SET held = EXISTS (SELECT 1 FROM {hold} h WHERE h.{column} = NEW.{column} "
            f"AND h.closed_at IS NULL) WHERE id = NEW.{column}"
        )
        for event in ("INSERT", "UPDATE"):
            yield Guard(
                f"{hold}_{column}_{event.lower()}",
                hold,
                f"AFTER {event}",
                f"NEW.{column} IS NOT NULL",
                then=(held,),
            )
    yield Guard(f"{hold}_kept", hold, "BEFORE DELETE", message="a hold is closed, never removed")
    yield Guard(
        f"{hold}_closes_once",
        hold,
        "BEFORE UPDATE",
        "OLD.closed_at IS NOT NULL",
        "the hold is closed already",
    )


def declared() -> list[Guard]:
    """Every guard, in the order of making."""
    return [
        *append_only(),
        *one_maker(),
        *frozen_paper(),
        *closed_batches(),
        *usable_lots(),
        *ledgers(),
        *packs_for_sale(),
        *trials(),
        *holds(),
    ]


def truncate_guards() -> list[tuple[str, str]]:
    """On PostgreSQL, append-only tables refuse TRUNCATE as well: (trigger name, table)."""
    from makers.models.base import AppendOnly

    return [
        (f"{PREFIX}{model._meta.db_table}_no_truncate"[:60], model._meta.db_table)
        for model in apps.get_models()
        if issubclass(model, AppendOnly)
    ]


def install(using: str = DEFAULT_DB_ALIAS) -> None:
    """Drop what is there and make every declared guard."""
    remove(using)
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                f"CREATE OR REPLACE FUNCTION {PREFIX}refuse_truncate() RETURNS trigger LANGUAGE plpgsql AS "
                "$guard$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME "
                "USING ERRCODE = 'restrict_violation'; END $guard$"
            )
            for name, of_table in truncate_guards():
                cursor.execute(
                    f"CREATE TRIGGER {name} BEFORE TRUNCATE ON {of_table} "
                    f"FOR EACH STATEMENT EXECUTE FUNCTION {PREFIX}refuse_truncate()"
                )
        for guard in declared():
            for statement in guard.postgres() if connection.vendor == "postgresql" else guard.sqlite():
                cursor.execute(statement)


def installed(using: str = DEFAULT_DB_ALIAS) -> dict[str, str]:
    """The guards that the database has: trigger name to table."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT t.tgname, c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
                "JOIN pg_namespace n ON n.oid = c.relnamespace "
                "WHERE NOT t.tgisinternal AND n.nspname = current_schema() AND t.tgname LIKE %s",
                [f"{PREFIX}%"],
            )
        else:
            cursor.execute(
                "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s",
                [f"{PREFIX}%"],
            )
        return dict(cursor.fetchall())


def remove(using: str = DEFAULT_DB_ALIAS) -> None:
    """Take every guard away."""
    connection = connections[using]
    found = installed(using)
    with connection.cursor() as cursor:
        for name, of_table in found.items():
            if connection.vendor == "postgresql":
                cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {of_table}")
            else:
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")


@contextmanager
def lifted(using: str = DEFAULT_DB_ALIAS) -> Iterator[None]:
    """Without guards, for loading a restored copy; they are back when the block ends, whatever happens."""
    remove(using)
    try:
        yield
    finally:
        install(using)


def lift_before_migrate(sender: Any, using: str = DEFAULT_DB_ALIAS, plan: Any = (), **kwargs: Any) -> None:
    """Take the guards away while tables change; they are back when the migration is through.

    SQLite changes a table by making it anew, and renaming it fails while another table's guard names it.
    A run that breaks off leaves none: the next one that comes through puts them back, and until then
    check_records says which are missing.
    """
    if sender.label == "makers" and plan and connections[using].vendor == "sqlite":
        remove(using)


def install_after_migrate(sender: Any, using: str = DEFAULT_DB_ALIAS, **kwargs: Any) -> None:
    """Put the guards in place once every table is there."""
    if sender.label != "labels":
        return
    tables = set(connections[using].introspection.table_names())
    if all(model._meta.db_table in tables for model in apps.get_models()):
        install(using)
