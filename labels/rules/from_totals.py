"""From the totals of a formula to the amounts that a declaration is made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from formulas.rules.interval import Interval, add
from formulas.rules.totals import Contribution as Brought
from formulas.rules.totals import Totals
from formulas.rules.vocabulary import WITHIN
from labels.rules.amounts import Contribution, DeclaredAmount, ProductAmounts, ScentedMaterial, UnknownPart

COLOUR = frozenset({"colour", "color", "pigment"})
PERFUME = frozenset({"perfume", "fragrance", "scent", "parfum"})
FLAVOUR = frozenset({"flavour", "flavor", "aroma"})
"""Purposes of a line that decide how a substance is named."""


@dataclass(frozen=True, slots=True)
class SubstanceFacts:
    """What is on record of one substance; bases as in the records."""

    eu_name: str
    us_name: str = ""
    cas: str = ""
    is_colourant: bool = False
    is_perfume: bool = False
    is_flavour: bool = False
    nano: bool = False
    basis: str = ""
    us_name_basis: str = ""


@dataclass(frozen=True, slots=True)
class IngredientFacts:
    """What is on record of one ingredient: its name, whether it scents, whether its allergens are stated."""

    name: str
    is_perfume: bool = False
    allergens_stated: bool = False


def product_amounts(
    totals: Totals,
    substances: Mapping[str, SubstanceFacts],
    ingredients: Mapping[str, IngredientFacts],
    *,
    product_kind: str,
    labels: Mapping[str, str] | None = None,
    incidental_reasons: Mapping[tuple[str, str], str] | None = None,
    first_supply: date | None = None,
) -> ProductAmounts:
    """Amounts by substance and use. Keys are those of the totals.

    ingredients: by key, for each step of the paths. labels: what stands for an ingredient beside a
    contribution (its lot), by ingredient key; without it the formula line's name. incidental_reasons: by
    (ingredient key, substance key). A line's purpose goes before the flags of its ingredient and substance:
    zinc oxide with another purpose than colour is no colour, an oil with another purpose is no perfume. What
    scents or flavours stays so in ``scented`` whatever its purpose: allergens are named by their share
    alone, Reg (EC) 1223/2009 Annex III (Reg (EU) 2023/1545).
    """
    found: dict[tuple[object, ...], list[DeclaredAmount]] = {}
    reasons = incidental_reasons or {}
    scented: dict[tuple[str, str], list[Brought]] = {}
    for total in (*totals.declared, *totals.within):
        for part in total.contributions:
            facts = substances.get(part.substance, SubstanceFacts(part.name))
            ingredient = part.path[-1].ingredient if part.path else part.line
            amount = _amount(
                part, facts, ingredients, labels or {}, reasons.get((ingredient, part.substance), "")
            )
            key = (amount.substance, amount.within, amount.is_colourant, amount.is_perfume, amount.is_flavour)
            found.setdefault((*key, amount.incidental, amount.incidental_reason), []).append(amount)
            if not amount.within and _may_hold_allergens(part, amount, facts, ingredients):
                scented.setdefault((ingredient, part.line), []).append(part)
    return ProductAmounts(
        amounts=tuple(_merged(parts) for parts in found.values()),
        product_kind=product_kind,
        unknown_parts=tuple(
            UnknownPart(
                part.path[-1].name if part.path else part.line_name, part.line_name, part.percent, part.reason
            )
            for part in totals.unknown
        ),
        scented=tuple(
            ScentedMaterial(
                ingredient=_name(key[0], ingredients, parts[0]),
                label=(labels or {}).get(key[0], parts[0].line_name),
                percent=add(part.amount for part in parts),
                allergens_stated=key[0] in ingredients and ingredients[key[0]].allergens_stated,
            )
            for key, parts in sorted(scented.items())
        ),
        first_supply=first_supply,
    )


def _amount(
    part: Brought,
    facts: SubstanceFacts,
    ingredients: Mapping[str, IngredientFacts],
    labels: Mapping[str, str],
    reason: str,
) -> DeclaredAmount:
    steps = [step.ingredient for step in part.path]
    scents = _comes_from_perfume(part, ingredients)
    purpose, within = part.purpose.strip().casefold(), part.kind == WITHIN
    last = steps[-1] if steps else part.line
    return DeclaredAmount(
        substance=part.substance,
        eu_name=facts.eu_name,
        us_name=facts.us_name,
        cas=facts.cas,
        low=part.amount.low,
        typical=part.amount.typical,
        high=part.amount.high,
        is_colourant=facts.is_colourant and (not purpose or purpose in COLOUR),
        is_perfume=purpose in PERFUME or (not purpose and (scents or facts.is_perfume)),
        is_flavour=purpose in FLAVOUR or (not purpose and facts.is_flavour),
        within=within,
        nano=facts.nano,
        incidental=part.incidental,
        incidental_reason=reason,
        contributions=(
            Contribution(
                ingredient=_name(last, ingredients, part) + (", strained out" if _is_strained(part) else ""),
                label=labels.get(last, part.line_name),
                percent=part.amount,
                basis=part.basis,
                rank=None if _is_strained(part) else part.rank,
            ),
        ),
        basis=facts.basis,
        us_name_basis=facts.us_name_basis,
    )


def _comes_from_perfume(part: Brought, ingredients: Mapping[str, IngredientFacts]) -> bool:
    return any(
        step.ingredient in ingredients and ingredients[step.ingredient].is_perfume for step in part.path
    )


def _may_hold_allergens(
    part: Brought, amount: DeclaredAmount, facts: SubstanceFacts, ingredients: Mapping[str, IngredientFacts]
) -> bool:
    """It scents or flavours, here or by its nature."""
    used_so = amount.is_perfume or amount.is_flavour
    return used_so or facts.is_perfume or facts.is_flavour or _comes_from_perfume(part, ingredients)


def _is_strained(part: Brought) -> bool:
    """Some step on its way was taken out again."""
    return any(step.strained for step in part.path)


def _name(key: str, ingredients: Mapping[str, IngredientFacts], part: Brought) -> str:
    if key in ingredients:
        return ingredients[key].name
    return part.path[-1].name if part.path else part.line_name


def _merged(parts: list[DeclaredAmount]) -> DeclaredAmount:
    """One amount for parts that differ in their figures alone."""
    if len(parts) == 1:
        return parts[0]
    percent: Interval = add(part.percent for part in parts)
    contributions = tuple(brought for part in parts for brought in part.contributions)
    return replace(
        parts[0], low=percent.low, typical=percent.typical, high=percent.high, contributions=contributions
    )
