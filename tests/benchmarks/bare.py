"""A trace as one would write it by hand: recursive SQL through the bare driver, rows as they come."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

from batches.tracing import Trace

STANDS = "w.grams > 0 AND NOT EXISTS (SELECT 1 FROM batches_weighing r WHERE r.reverses_id = w.id)"
FORWARD = f"""
WITH RECURSIVE reach(id) AS (
    SELECT w.batch_id FROM batches_weighing w WHERE w.lot_id = {{start}} AND {STANDS}
    UNION SELECT w.batch_id FROM reach JOIN batches_lot l ON l.from_batch_id = reach.id
    JOIN batches_weighing w ON w.lot_id = l.id WHERE {STANDS}
) SELECT id FROM reach"""
BACK = f"""
WITH RECURSIVE reach(id) AS (
    SELECT id FROM batches_batch WHERE id = {{start}}
    UNION SELECT l.from_batch_id FROM reach JOIN batches_weighing w ON w.batch_id = reach.id
    JOIN batches_lot l ON l.id = w.lot_id WHERE l.from_batch_id IS NOT NULL AND {STANDS}
) SELECT id FROM reach"""

Ask = Callable[[str], list[tuple[Any, ...]]]


def driver() -> tuple[Ask, Callable[[], None]]:
    """A connection of the driver's own to the database of the tests, and how to close it."""
    if connection.vendor == "sqlite":
        name = str(connection.settings_dict["NAME"])
        lite = sqlite3.connect(name, uri=name.startswith("file:"))
        return (lambda statement: lite.execute(statement).fetchall()), lite.close
    import psycopg

    given = {**connection.get_connection_params(), "cursor_factory": psycopg.Cursor, "context": None}
    post = psycopg.connect(**given)
    return (lambda statement: post.execute(statement).fetchall()), post.close


@dataclass(slots=True)
class Sets:
    """What a trace fetches, by keys; grams in ten-thousandths."""

    batches: set[int] = field(default_factory=set)
    lots: set[int] = field(default_factory=set)
    uses: set[tuple[int, int, int]] = field(default_factory=set)
    made: dict[int, int] = field(default_factory=dict)
    at_places: dict[int, int] = field(default_factory=dict)
    with_people: dict[int, int] = field(default_factory=dict)
    lot_sums: dict[int, int] = field(default_factory=dict)


def some(keys: Iterable[int]) -> str:
    """Keys as the inside of an IN; they are whole numbers."""
    return ", ".join(map(str, keys)) or "NULL"


def bare_trace(ask: Ask, start: int, *, forward: bool) -> Sets:
    """The same sets as trace_forward or trace_back, with every column that a page shows."""
    found = Sets()
    reached = some(row[0] for row in ask((FORWARD if forward else BACK).format(start=start)))
    batches = ask(
        "SELECT b.*, f.name, p.name, i.name FROM batches_batch b JOIN formulas_formula f ON f.id = b.formula_id "
        "LEFT JOIN formulas_product p ON p.id = b.product_id LEFT JOIN formulas_ingredient i ON i.id = b.makes_id "
        f"WHERE b.id IN ({reached}) ORDER BY b.id"
    )
    found.batches = {row[0] for row in batches}
    uses = ask(
        "SELECT lot_id, batch_id, SUM(grams) FROM batches_weighing "
        f"WHERE batch_id IN ({reached}) GROUP BY lot_id, batch_id HAVING SUM(grams) > 0"
    )
    found.uses = {(lot, batch, int(sum_)) for lot, batch, sum_ in uses}
    lots = ask(
        "SELECT l.id, l.from_batch_id, l.*, i.name, a.name, s.name FROM batches_lot l "
        "LEFT JOIN formulas_ingredient i ON i.id = l.ingredient_id "
        "LEFT JOIN formulas_article a ON a.id = l.article_id LEFT JOIN batches_delivery d ON d.id = l.delivery_id "
        "LEFT JOIN formulas_supplier s ON s.id = d.supplier_id "
        f"WHERE l.id IN ({some({row[0] for row in uses} | ({start} if forward else set()))}) "
        f"OR l.from_batch_id IN ({reached}) ORDER BY l.id"
    )
    found.lots = {row[0] for row in lots}
    path = [row[0] for row in lots if not forward or row[0] == start or row[1] in found.batches]
    bare_packs(ask, found, reached if forward else str(start))
    for lot, sum_ in ask(
        f"SELECT lot_id, SUM(amount) FROM batches_lotentry WHERE lot_id IN ({some(path)}) GROUP BY lot_id, kind"
    ):
        found.lot_sums[lot] = found.lot_sums.get(lot, 0) + int(sum_)
    return found


def bare_packs(ask: Ask, found: Sets, batches: str) -> None:
    """Packs of batches with where their units are and who has them."""
    packs = ask(
        "SELECT k.*, p.name FROM batches_pack k JOIN formulas_product p ON p.id = k.product_id "
        f"WHERE k.batch_id IN ({batches}) ORDER BY k.id"
    )
    keys = some(row[0] for row in packs)
    for pack, units, *_ in ask(
        "SELECT b.pack_id, b.units, q.name, q.kind, c.name FROM batches_packbalance b "
        "JOIN batches_place q ON q.id = b.place_id LEFT JOIN makers_contact c ON c.id = q.contact_id "
        f"WHERE b.units > 0 AND b.pack_id IN ({keys})"
    ):
        found.at_places[pack] = found.at_places.get(pack, 0) + units
    for pack, kind, units, *_ in ask(
        "SELECT e.pack_id, e.kind, e.units, d.code, d.on, r.code, c.name, c.email FROM batches_packentry e "
        "LEFT JOIN batches_dispatch d ON d.id = e.dispatch_id LEFT JOIN batches_recipient r ON r.id = d.recipient_id "
        f"LEFT JOIN makers_contact c ON c.id = r.contact_id WHERE e.pack_id IN ({keys}) ORDER BY d.on, e.id".replace(
            "d.on", 'd."on"'
        )
    ):
        if kind == "packed":
            found.made[pack] = found.made.get(pack, 0) + units
        elif kind == "dispatched":
            found.with_people[pack] = found.with_people.get(pack, 0) + units


def sets_of(trace: Trace) -> Sets:
    """The same of a trace of ours."""
    return Sets(
        batches=set(trace.batches),
        lots=set(trace.lots),
        uses={(use.lot, use.batch, int(use.grams.scaleb(4))) for use in trace.uses},
        made={one.pack.pk: one.made for one in trace.accounts},
        at_places={one.pack.pk: one.in_house + one.at_shops for one in trace.accounts},
        with_people={one.pack.pk: one.with_recipients for one in trace.accounts if one.with_recipients},
        lot_sums={
            one.lot.pk: int((one.came_in - one.into_batches - one.other).scaleb(4))
            for one in trace.lot_accounts
        },
    )
