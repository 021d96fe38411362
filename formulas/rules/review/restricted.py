"""Does each restricted substance stay within the EU annexes?

A preservative of Annex V may have an entry for other uses, and what it is there for decides: what its line
says, else the roles on record of the ingredient that it is. Neither known, it counts as a preservative.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from formulas.rules.findings import Finding
from formulas.rules.limit_rows import eu_limits
from formulas.rules.limits import LimitFigure, check_limits, finding_of, limit_figures, preserves
from formulas.rules.number import figure
from formulas.rules.review.asked import UNKNOWN, Asked
from formulas.rules.review.base import is_watery
from formulas.rules.review.part_limits import check_part_limits
from formulas.rules.review.parts import joined
from formulas.rules.totals import Contribution, SubstanceTotal, Totals
from formulas.rules.vocabulary import PRESERVATIVE


def check_restricted(asked: Asked) -> Sequence[Finding]:
    """Does each restricted substance stay within the annexes? Of a premix: how much may products hold of it?"""
    formula, totals = asked.formula, with_purposes(asked)
    if formula.is_part:
        return check_part_limits(totals, formula.use, formula.form, on=formula.on)
    return (*check_limits(totals, formula.use, on=formula.on), *_taken_by_role(asked))


def with_purposes(asked: Asked, *, roles: bool = True) -> Totals:
    """The substances with what each is there for, as far as known: as written, else by role if asked for."""

    def purpose_of(part: Contribution) -> str:
        return written(asked, part) or (by_role(asked, part) if roles else "")

    def with_its(part: Contribution) -> Contribution:
        purpose = purpose_of(part)
        return part if purpose == part.purpose else replace(part, purpose=purpose)

    def told(totals: Sequence[SubstanceTotal]) -> tuple[SubstanceTotal, ...]:
        parts = [tuple(with_its(part) for part in one.contributions) for one in totals]
        return tuple(replace(one, contributions=each) for one, each in zip(totals, parts, strict=True))

    return replace(asked.totals, declared=told(asked.totals.declared), within=told(asked.totals.within))


def written(asked: Asked, part: Contribution) -> str:
    """What the line of the ingredient itself says that it does; "" where it says nothing or two lines differ.

    The line of a premix speaks for the premix, not for what is in it.
    """
    if len(part.path) < 2:
        return part.purpose.strip()
    inner = asked.formula.nested.get(part.path[-2].ingredient)
    lines = inner.formula.lines if inner is not None else ()
    said = {line.purpose.strip() for line in lines if line.ingredient == part.path[-1].ingredient}
    return said.pop() if len(said) == 1 else ""


def by_role(asked: Asked, part: Contribution) -> str:
    """The role on record, where it speaks for the substance: nothing but water is in the ingredient besides.

    Of a blend the role says nothing of each part: an extract may be preserved with what it brings.
    """
    ingredient = part.path[-1].ingredient
    roles = asked.facts_of(ingredient).roles - {UNKNOWN}
    if not roles or PRESERVATIVE in roles:
        return PRESERVATIVE if roles else ""
    composition = asked.formula.compositions.get(ingredient)
    if composition is None:
        return ""
    declared = {each.substance for each in composition.constituents if each.kind == "declared"}
    alone = {key for key in declared if not is_watery(key)} == {part.substance}
    return joined(sorted(roles)) if alone else ""


def _taken_by_role(asked: Asked) -> list[Finding]:
    """A note for each preservative that its role alone keeps from the limit of Annex V, where it is over."""
    found: list[Finding] = []
    tables = eu_limits().by_substance
    substances = {one.substance for one in (*asked.totals.declared, *asked.totals.within)}
    if not any(
        row.is_preservative and row.other_use_entry for key in substances for row in tables.get(key, ())
    ):
        return found
    totals = with_purposes(asked, roles=False)
    for item in limit_figures(totals, asked.formula.use, on=asked.formula.on):
        roles = _roles_instead(asked, item)
        if not roles or not item.row.other_use_entry:
            continue
        high = item.amount.high if item.amount is not None else None
        if item.limit is not None and high is not None and high <= item.limit:
            continue
        other = f"{figure(item.limit)} % is the most" if item.limit is not None else "it isn't allowed"
        message = f"{item.subject} counts as {joined(roles)}, the role on record, so Annex"
        message += f" {item.row.other_use_entry} holds; as a preservative {other} (Annex {item.row.entry})."
        cure = "If it preserves here, write “preservative” in “What it does here” on its line."
        found.append(finding_of(item, "limits.other_use", "note", message, cure))
    return found


def _roles_instead(asked: Asked, item: LimitFigure) -> list[str]:
    """The roles by which what the row of a preservative would count isn't one; none for other rows."""
    if not item.row.is_preservative:
        return []
    parts = [part for part, _ in item.contributions if not written(asked, part)]
    roles = [by_role(asked, part) for part in parts if part.kind == "declared"]
    return sorted({role for role in roles if role and not preserves(role)})
