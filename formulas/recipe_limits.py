"""What is on record of the materials that a recipe means, and what the limits say of it before it is a draft."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from formulas.assembly import gather, levels_of
from formulas.recipes import CATALOGUE, OWN, Reading, Row
from formulas.rules.catalogue import catalogue_by_key, catalogue_compositions
from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.recipe.held import OnRecord, ReadLine, held_to_limits
from formulas.rules.uselevels import told_by_market
from makers.models import Maker

NEW = "new"


def limits_of(
    maker: Maker, reading: Reading, use: ProductUse, *, form: str = "", on: date | None = None
) -> tuple[Finding, ...]:
    """Stops, unknowns and cautions of a recipe whose percents are known, ranges included; () while they aren't.

    The number of queries doesn't grow with the lines.
    """
    rows = [row for row in reading.rows if row.counts]
    if reading.asks or not rows:
        return ()
    lines = [ReadLine(str(row.line.number), key_of(row), row.line.name, row.share) for row in rows]
    return held_to_limits(lines, on_record(maker, [line.ingredient for line in lines]), use, form=form, on=on)


def key_of(row: Row) -> str:
    """The ingredient's own key as records have it; that of a material of the catalogue; else the typed name."""
    world, _, key = row.key.partition(":")
    if world == OWN:
        return key
    return row.key or f"{NEW}:{row.line.name.casefold()}"


def on_record(maker: Maker, keys: Sequence[str]) -> OnRecord:
    """Compositions, formulas of in-house ingredients and use levels, the maker's own and the catalogue's."""
    own = {int(key) for key in keys if key.isdecimal()}
    paper = gather(maker, own)
    compositions = dict(paper.compositions)
    levels = {key: list(found) for key, found in levels_of(maker, list(paper.ingredients)).items()}
    for key in keys:
        world, _, name = key.partition(":")
        if world == CATALOGUE:
            if name in catalogue_compositions():
                compositions[key] = catalogue_compositions()[name]
            levels[key] = list(catalogue_by_key()[name].use_levels)
    return OnRecord(compositions, paper.nested, told_by_market(levels, maker.markets))
