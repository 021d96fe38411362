"""A premix or infusion beside the limits of the products that it goes into: how much of it may they hold?

A limit is of the finished product, so it stops nothing here; what no product may hold does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal

from formulas.rules.findings import Finding
from formulas.rules.headroom import in_full, most_that_passes
from formulas.rules.interval import Interval
from formulas.rules.limit_rows import NOT_ALLOWED, LimitTable, eu_limits
from formulas.rules.limits import (
    LimitFigure,
    ProductUse,
    as_expressed,
    each_said_once,
    finding_of,
    later_rows,
    limit_figures,
    most_allowed,
    not_covered_note,
    other_use,
    prohibited,
    unknown_share,
    words_to_read,
)
from formulas.rules.number import HUNDRED, RATIO_DOWN, ZERO, figure
from formulas.rules.totals import Totals

LESS = "Less, where the product has it from elsewhere too."


def check_part_limits(
    totals: Totals, use: ProductUse, form: str, *, on: date | None = None, table: LimitTable | None = None
) -> tuple[Finding, ...]:
    """What the EU annexes say to a premix: a stop for what is prohibited, else how much of it is too much.

    form: "premix" or "infusion". Labels and conditions are of the product and asked there.
    """
    table = table or eu_limits()
    found = [unknown_share(totals, f"this {form}")] if totals.unknown else []
    for item in _tightest(limit_figures(totals, use, on=on, table=table)):
        found += _judge(item, use, form, table)
    found += later_rows(totals, use, on, table)
    found += not_covered_note(totals, table)
    return each_said_once(found)


def room_for(kind: str, form: str, limit: Decimal, amount: Decimal) -> str:
    """ "a leave-on product may hold 2.5 % of this premix at most", rounded down. amount: % of the premix."""
    most = most_that_passes(limit, amount, HUNDRED)
    return f"a {kind} product may hold {in_full(most)} % of this {form} at most"


def span_of(amount: Interval) -> str:
    """Both ends of an amount of which the upper one is known."""
    low, high = amount.low or ZERO, amount.high or ZERO
    return figure(high, up=True) if low == high else f"{figure(low, up=False)} to {figure(high, up=True)}"


def _tightest(figures: Iterable[LimitFigure]) -> list[LimitFigure]:
    """Of several limits that the same substances are over, the one that leaves the least room; else all."""
    figures = list(figures)
    least: dict[tuple[str, ...], tuple[Decimal, LimitFigure]] = {}
    for item in figures:
        room = _room_of(item)
        if room is not None and (item.names not in least or room < least[item.names][0]):
            least[item.names] = (room, item)
    return [item for item in figures if _room_of(item) is None or least[item.names][1] is item]


def _room_of(item: LimitFigure) -> Decimal | None:
    """The share of the limit in the amount; None where it is within, or not known, or no figure decides."""
    high = item.amount.high if item.amount is not None else None
    is_over = item.limit is not None and high is not None and high > item.limit
    return RATIO_DOWN.divide(item.limit or ZERO, high or ZERO) if is_over else None


def _judge(item: LimitFigure, use: ProductUse, form: str, table: LimitTable) -> list[Finding]:
    row = item.row
    if row.status == NOT_ALLOWED:
        return [_barred(item, use, form, table)]
    if row.status == "listed":
        return []
    if row.status in {"text only", "raw material", "advice"} or item.limit is None:
        said = words_to_read(item)
        if said.severity == "note" or row.entry.startswith("II/"):
            return [said]
        return [replace(said, severity="note", cure="Read the entry for the product that it goes into.")]
    return _room(item, item.limit, use, form)


def _barred(item: LimitFigure, use: ProductUse, form: str, table: LimitTable) -> Finding:
    """Prohibited in every product: a stop. In some alone: it can't go into those."""
    said = prohibited(item, use)
    keys = {part.substance for part, _ in item.contributions}
    rows = [row for key in keys for row in table.by_substance.get(key, ()) if row.group == item.group]
    rows += table.mixtures.get(item.group, ())
    if all(row.status == NOT_ALLOWED for row in rows):
        return said
    cure = f"This {form} can't go into a product of this kind; say on the formula which kind it is for."
    return replace(said, rule="limits.part_barred", severity="caution", cure=cure)


def _room(item: LimitFigure, limit: Decimal, use: ProductUse, form: str) -> list[Finding]:
    amount = item.amount
    allowed = most_allowed(item, limit, use)
    if amount is None or amount.high is None:
        message = f"How much {item.subject} there is in this {form} isn't known; {allowed}."
        cure = (
            f"Ask the supplier for its share; until then nobody can say how much of this {form} is too much."
        )
        return [finding_of(item, "limits.part_unknown", "caution", message, cure)]
    if amount.high <= limit:
        return []
    typical = " by a typical figure" if item.is_estimated else ""
    message = f"{item.subject} comes to {span_of(amount)} % of this {form}{as_expressed(item)}{typical};"
    message += f" {allowed}: {room_for(use.kind, form, limit, amount.high)}."
    return [finding_of(item, "limits.part", "note", message, f"{LESS}{other_use(item)}")]
