"""Formulas for the questions of the review, from the starter catalogue, without a database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from formulas.rules.catalogue import catalogue_by_key, catalogue_compositions
from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import Asked, FormulaForReview, HeatFact, IngredientFacts, StepFacts, prepare
from formulas.rules.totals import NestedFormula
from formulas.rules.uselevels import UseLevel
from formulas.rules.vocabulary import LEAVE_ON

D = Decimal


def facts_of(key: str) -> IngredientFacts:
    """What the catalogue has on record about a material."""
    row = catalogue_by_key()[key]
    declared = [part for part in catalogue_compositions()[key].constituents if part.kind == "declared"]
    return IngredientFacts(
        name=key,
        roles=frozenset({row.role}),
        form=row.form,
        soluble_in=row.soluble_in or "unknown",
        solubility_note=row.solubility_note,
        ph_low=row.ph_low,
        ph_high=row.ph_high,
        dietary_source=row.dietary_source,
        substance=declared[0].substance if len(declared) == 1 else "",
    )


def lines_of(recipe: str) -> tuple[FormulaLine, ...]:
    """ "shea-butter 20, jojoba-oil 80": keys and percents; each line's key is its ingredient's."""
    pairs = (row.split() for row in recipe.split(","))
    return tuple(FormulaLine(key, key, key, D(percent)) for key, percent in pairs)


def ask(
    recipe: str | Sequence[FormulaLine],
    *,
    phases: str = "",
    heat: Mapping[str, str] | None = None,
    changed: Mapping[str, Mapping[str, Any]] | None = None,
    premixes: Mapping[str, str] | None = None,
    purposes: Mapping[str, str] | None = None,
    with_levels: bool = True,
    **more: Any,
) -> Asked:
    """A recipe from the catalogue, ready to be asked.

    phases: "A water glycerin; B jojoba-oil". heat: target temperature of each phase's step, in the order in which
    the steps are done. changed: facts that differ from the catalogue, by ingredient. premixes: recipes of in-house
    ingredients. more: fields of FormulaForReview.
    """
    lines = lines_of(recipe) if isinstance(recipe, str) else tuple(recipe)
    lines = tuple(replace(line, purpose=(purposes or {}).get(line.key, line.purpose)) for line in lines)
    nested = {
        key: NestedFormula(key, key, resolve(lines_of(inner))) for key, inner in (premixes or {}).items()
    }
    inner_keys = {line.ingredient for one in nested.values() for line in one.formula.lines}
    keys = ({line.ingredient for line in lines} | inner_keys) - nested.keys()
    facts = {key: facts_of(key) if key in catalogue_by_key() else IngredientFacts(key) for key in keys}
    facts |= {
        key: replace(facts.get(key, IngredientFacts(key)), **new) for key, new in (changed or {}).items()
    }
    letters = [row.split() for row in phases.split(";") if row.strip()]
    more.setdefault("use", ProductUse(LEAVE_ON, "body"))
    more.setdefault("compositions", catalogue_compositions())
    if with_levels:
        more.setdefault("use_levels", {key: [UseLevel(None, D(100))] for key in keys})
    more.setdefault(
        "steps",
        tuple(
            StepFacts(number, letter, letter, target_c=D(degrees) if degrees else None)
            for number, (letter, degrees) in enumerate((heat or {}).items(), start=1)
        ),
    )
    return prepare(
        FormulaForReview(
            lines,
            nested=nested,
            facts=facts,
            phase_of={key: letter for letter, *members in letters for key in members},
            **more,
        )
    )


def limits_of(keys: Iterable[str]) -> dict[str, HeatFact]:
    """The catalogue's heat limits of these."""
    found = {}
    for key in keys:
        limit = catalogue_by_key()[key].add_below_c
        if limit is not None:
            found[key] = HeatFact(limit)
    return found


def rules_of(findings: Iterable[Finding]) -> list[str]:
    """The rules that spoke."""
    return [finding.rule for finding in findings]


def told(findings: Iterable[Finding], rule: str) -> Finding:
    """The one finding of a rule."""
    (found,) = [finding for finding in findings if finding.rule == rule]
    return found
