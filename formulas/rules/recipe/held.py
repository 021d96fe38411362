"""A recipe as it was read, held to limits before it is a formula: what it keeps, what it breaks, what stays open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from formulas.rules.composition import Composition
from formulas.rules.findings import Finding, in_order
from formulas.rules.interval import Interval
from formulas.rules.limits import ProductUse, check_limits
from formulas.rules.number import HUNDRED, ZERO, difference, exact_sum
from formulas.rules.percent import ResolvedLine
from formulas.rules.review.asked import PARTS
from formulas.rules.review.part_limits import check_part_limits
from formulas.rules.totals import FormulaCycle, NestedFormula, substance_totals
from formulas.rules.uselevels import UseLevel, check_use_levels

OPEN = {"limits.straddles", "uselevels.straddles"}
"""Rules that a range may keep or break."""
WEIGH = "Weigh once what is only a range, and write the grams."


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One line: its key, the ingredient that it means, % of the whole with both ends; None takes what is left."""

    key: str
    ingredient: str
    name: str
    share: Interval | None


@dataclass(frozen=True, slots=True)
class OnRecord:
    """What is known of the ingredients, by their key."""

    compositions: Mapping[str, Composition]
    nested: Mapping[str, NestedFormula]
    levels: Mapping[str, Sequence[UseLevel]]


def held_to_limits(
    lines: Sequence[ReadLine], known: OnRecord, use: ProductUse, *, form: str = "", on: date | None = None
) -> tuple[Finding, ...]:
    """What the tables and use levels say of the recipe. Stops where even the lower ends are too much; unknown where
    a range of a line may pass or not, or a composition isn't known; silent where both ends pass. No notes. A premix
    or infusion, by its ``form``, is stopped for what is prohibited alone.

    Raises nothing: a recipe that takes its own product says so in one finding.
    """
    resolved = _resolved(lines)
    try:
        totals = substance_totals(resolved, known.compositions, known.nested)
    except FormulaCycle as cycle:
        return (Finding("recipe.cycle", "stop", "recipe", f"It goes round in a circle: {cycle}."),)
    if form in PARTS:
        parts = check_part_limits(totals, use, form, on=on)
        return in_order(one for one in parts if one.severity != "note")
    ranged = {line.key for line in resolved if line.share is None or line.share.low != line.share.high}
    found = [*check_limits(totals, use, on=on)]
    found += check_use_levels(resolved, known.levels, use.kind, known.nested, form=form)
    kept = []
    for one in found:
        if one.rule in OPEN and ranged.intersection(one.lines):
            one = replace(one, severity="unknown", cure=WEIGH)
        if one.severity != "note":
            kept.append(one)
    return in_order(kept)


def _resolved(lines: Sequence[ReadLine]) -> list[ResolvedLine]:
    """Lines with their shares; one to 100 takes what the others leave, from end to end."""
    said = [line.share for line in lines if line.share is not None]
    most = difference(HUNDRED, exact_sum(one.low or ZERO for one in said))
    least = (
        None
        if any(one.high is None for one in said)
        else difference(HUNDRED, exact_sum(one.high or ZERO for one in said))
    )
    left = Interval(max(least or ZERO, ZERO), max(most, ZERO))
    rests = sum(line.share is None for line in lines)
    return [
        ResolvedLine(
            line.key,
            line.ingredient,
            line.name,
            "percent" if line.share is not None else "to_100",
            line.share if line.share is not None else left if rests == 1 else None,
        )
        for line in lines
    ]
