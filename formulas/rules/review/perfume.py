"""Perfume and essential oils: each within its limit, together fit for the sun, and which allergens are named?"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from formulas.rules.catalogue import substance_by_key
from formulas.rules.findings import Finding
from formulas.rules.interval import Interval, add
from formulas.rules.number import ONE, RATIO_UP, ZERO, exact_sum, figure
from formulas.rules.perfume import ALLERGEN_OVER, OilLimit, exceeds_one, oil_limits
from formulas.rules.review.asked import Asked
from formulas.rules.review.part_limits import LESS, room_for, span_of
from formulas.rules.review.parts import joined
from formulas.rules.totals import Contribution
from formulas.rules.uselevels import certificates_of, check_use_levels, levels_that_count
from formulas.rules.vocabulary import CONFIRMED, LEAVE_ON, SUPPLIER

PHOTOTOXIC_SOURCE = "Tisserand and Young, Essential Oil Safety, 2nd ed. 2014; sum of share / limit at most 1"
ALLERGENS_SOURCE = "Reg (EC) 1223/2009, Annex III; Reg (EU) 2023/1545"
MOST_NAMED = 8


def check_perfume(asked: Asked) -> Sequence[Finding]:
    """Oils against their limits and certificates, the phototoxic sum, the allergens to be named.

    Of a premix or infusion only how much of it products may hold: the rest is judged where it goes in.
    """
    oils = [
        (limit, asked.totals.contributions_of(key))
        for key, limit in oil_limits().items()
        if asked.totals.amount_of(key) is not None
    ]
    if asked.formula.is_part:
        return (*_room_on_skin(asked, oils), *_room_in_sun(asked, oils))
    return (*_dermal(asked, oils), *_phototoxic(asked, oils), *_certificates(asked, oils), *_allergens(asked))


def has_oils(asked: Asked) -> bool:
    """An essential oil that the table knows is in it, and it is a product."""
    return not asked.formula.is_part and any(asked.totals.amount_of(key) is not None for key in oil_limits())


def keeps_levels(asked: Asked) -> bool:
    """No oil in it is over a use level on record, and none waits for its category of certificates."""
    formula = asked.formula
    parts = [part for key in oil_limits() for part in asked.totals.contributions_of(key)]
    own = {step.ingredient for part in parts for step in part.path}
    levels = {key: formula.use_levels[key] for key in own if formula.use_levels.get(key)}
    if not levels:
        return True
    found = check_use_levels(
        asked.resolved.lines, levels, formula.use.kind, formula.nested, formula.perfume_category, formula.form
    )
    return all(one.rule in {"uselevels.low", "uselevels.elsewhere"} for one in found)


Oils = Sequence[tuple[OilLimit, tuple[Contribution, ...]]]


def _dermal(asked: Asked, oils: Oils) -> list[Finding]:
    """Over a remembered limit is a caution; a certificate in hand decides instead, with the use levels, and where
    these tell of the same oil already nothing is said again."""
    found = []
    for limit, parts, amount, most in _over_on_skin(asked, oils):
        if _is_told_by_levels(asked, parts, most):
            continue
        names = list(dict.fromkeys(part.path[-1].name for part in parts))
        message = f"{joined(names)} stand{'s' * (len(names) == 1)} at {span_of(amount)} %;"
        message += f" {figure(most)} % is the most on the skin (from memory)."
        cure = f"Lower it to {figure(most)} %, or enter what the supplier's certificate allows."
        if not asked.formula.perfume_category and any(_has_certificate(asked, part) for part in parts):
            cure = f"Lower it to {figure(most)} %, or write the product category on the formula: then the certificate"
            cure += " of that category decides."
        lines = tuple(dict.fromkeys(part.line for part in parts))
        found.append(
            Finding("perfume.dermal", "caution", limit.name, message, limit.source, cure, limit.basis, lines)
        )
    return found


def _is_told_by_levels(asked: Asked, parts: Sequence[Contribution], most: Decimal) -> bool:
    """All of it comes from one ingredient, whose use level is as strict."""
    formula = asked.formula
    ingredients = {part.path[-1].ingredient for part in parts}
    levels = formula.use_levels.get(ingredients.pop(), ()) if len(ingredients) == 1 else ()
    counting = levels_that_count(levels, formula.use.kind, formula.perfume_category, formula.form)
    return any(level.high is not None and level.high <= most for level in counting)


def _over_on_skin(
    asked: Asked, oils: Oils
) -> list[tuple[OilLimit, tuple[Contribution, ...], Interval, Decimal]]:
    """The oils above their remembered limit for what stays on the skin, with amount and limit."""
    found = []
    for limit, parts in oils:
        amount = add(part.amount for part in parts)
        most = limit.dermal_max
        if asked.formula.use.kind != LEAVE_ON or most is None or limit.phototoxic_max is not None:
            continue
        if amount.high is None or amount.high <= most or all(_is_certified(asked, part) for part in parts):
            continue
        found.append((limit, parts, amount, most))
    return found


def _room_on_skin(asked: Asked, oils: Oils) -> list[Finding]:
    """How much of a premix a product may hold until an oil in it is at its limit."""
    form, found = asked.formula.form, []
    for limit, parts, amount, most in _over_on_skin(asked, oils):
        message = f"{limit.name} comes to {span_of(amount)} % of this {form}; {figure(most)} % is the most"
        message += f" on the skin (from memory): {room_for(LEAVE_ON, form, most, amount.high or ZERO)}."
        lines = tuple(dict.fromkeys(part.line for part in parts))
        found.append(
            Finding("perfume.part", "note", limit.name, message, limit.source, LESS, limit.basis, lines)
        )
    return found


def _room_in_sun(asked: Asked, oils: Oils) -> list[Finding]:
    """How much of a premix a product may hold until its oils that burn in the sun are at their limit."""
    shares, lines = _burning(asked, oils)
    if not exceeds_one((share, most) for _, share, most in shares):
        return []
    form = asked.formula.form
    total = exact_sum(RATIO_UP.divide(share, most) for _, share, most in shares)
    named = joined(f"{name} {figure(share, up=True)} % of {figure(most)} %" for name, share, most in shares)
    message = f"Oils that burn in the sun, {named}: {room_for(LEAVE_ON, form, ONE, total)}."
    subject = "phototoxic oils"
    return [
        Finding("perfume.part", "note", subject, message, PHOTOTOXIC_SOURCE, LESS, "memory", tuple(lines))
    ]


def _burning(asked: Asked, oils: Oils) -> tuple[list[tuple[str, Decimal, Decimal]], list[str]]:
    """The oils that burn in the sun, in what stays on the skin: name, % and limit; and their lines."""
    shares: list[tuple[str, Decimal, Decimal]] = []
    lines: list[str] = []
    for limit, parts in oils if asked.formula.use.kind == LEAVE_ON else ():
        high = add(part.amount for part in parts).high
        if limit.phototoxic_max is not None and high is not None:
            shares.append((limit.common_name.split(",")[0], high, limit.phototoxic_max))
            lines += [part.line for part in parts]
    return shares, list(dict.fromkeys(lines))


def _phototoxic(asked: Asked, oils: Oils) -> list[Finding]:
    """Oils that burn in the sun add up; exactly 1 passes, and nothing is asked of what is rinsed off."""
    shares, lines = _burning(asked, oils)
    if not exceeds_one((share, most) for _, share, most in shares):
        return []
    total = exact_sum(RATIO_UP.divide(share, most) for _, share, most in shares)
    named = joined(f"{name} {figure(share, up=True)} % of {figure(most)} %" for name, share, most in shares)
    message = f"Oils that burn in the sun come to {figure(total, up=True, places=2)} of their limits together, over 1:"
    message += f" {named}."
    cure = "Lower them until the sum is 1, or take distilled or furocoumarin-free oils."
    return [
        Finding(
            "perfume.phototoxic",
            "caution",
            "phototoxic oils",
            message,
            PHOTOTOXIC_SOURCE,
            cure,
            "memory",
            tuple(lines),
        )
    ]


def _certificates(asked: Asked, oils: Oils) -> list[Finding]:
    """Oils of which only the supplier's certificate has a limit, and none is on record; of those that have one
    for other categories the use levels tell."""
    open_oils = [
        part
        for limit, parts in oils
        if limit.dermal_max is None
        for part in parts
        if not _is_certified(asked, part) and not _has_certificate(asked, part)
    ]
    if not open_oils:
        return []
    category = asked.formula.perfume_category
    names = joined(dict.fromkeys(part.path[-1].name for part in open_oils))
    where = f"product category {category}" if category else "the product's category"
    message = f"No limit on record for {names}; the supplier's certificate has it for {where}."
    cure = "Enter it as a use level of the ingredient, with its category."
    lines = tuple(dict.fromkeys(part.line for part in open_oils))
    return [
        Finding(
            "perfume.certificate",
            "note",
            "perfume certificates",
            message,
            "supplier's certificate",
            cure,
            "",
            lines,
        )
    ]


def _is_certified(asked: Asked, part: Contribution) -> bool:
    """A most by the supplier or the maker stands on record for the ingredient, for this product."""
    formula = asked.formula
    return any(
        level.high is not None and level.basis in {SUPPLIER, CONFIRMED}
        for step in part.path
        for level in levels_that_count(
            formula.use_levels.get(step.ingredient, ()),
            formula.use.kind,
            formula.perfume_category,
            formula.form,
        )
    )


def _has_certificate(asked: Asked, part: Contribution) -> bool:
    """A most by product category stands on record for the ingredient, whatever the category."""
    formula = asked.formula
    levels = [level for step in part.path for level in formula.use_levels.get(step.ingredient, ())]
    return bool(certificates_of(levels, formula.use.kind, formula.form))


def _allergens(asked: Asked) -> list[Finding]:
    """Perfume allergens above what the law lets stand unnamed, taken at the upper end, summed by label name."""
    over = ALLERGEN_OVER.get(asked.formula.use.kind)
    known = substance_by_key()
    highs: dict[str, list[Decimal | None]] = {}
    lines: dict[str, list[str]] = {}
    for total in (*asked.totals.declared, *asked.totals.within):
        label = known[total.substance].allergen_label if total.substance in known else ""
        if label:
            highs.setdefault(label, []).append(total.amount.high)
            lines.setdefault(label, []).extend(part.line for part in total.contributions)
    named = []
    for label, each in sorted(highs.items()):
        upper = [high for high in each if high is not None]
        if over is not None and (len(upper) < len(each) or exact_sum(upper) > over):
            named.append(label)
    if over is None or not named:
        return []
    shown = named[:MOST_NAMED]
    rest = [f"{len(named) - MOST_NAMED} more"] if len(named) > MOST_NAMED else []
    message = (
        f"{len(named)} perfume allergen{'s' * (len(named) > 1)} may pass {figure(over)} % and will be named:"
    )
    message += f" {joined([*shown, *rest])}."
    keys = tuple(dict.fromkeys(line for label in named for line in lines[label]))
    return [
        Finding("perfume.allergens", "note", "perfume allergens", message, ALLERGENS_SOURCE, "", "read", keys)
    ]
