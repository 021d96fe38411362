"""Is it preserved: is a preservative needed, does it dissolve in this base, does it work at this pH?

Heat is the heat question's, how much the use levels' and the annexes'.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from formulas.rules.findings import Finding, Severity
from formulas.rules.interval import Interval, add
from formulas.rules.number import HUNDRED, ZERO, exact_product, figure, percent_of, round_down
from formulas.rules.organic_acids import OrganicAcid, acid_per_gram, organic_acids, undissociated
from formulas.rules.review.asked import UNKNOWN, Asked
from formulas.rules.review.base import (
    ALCOHOL_PROTECTS_FROM,
    PRACTICE,
    WATER_FREE_BELOW,
    Base,
    base_of,
    how_to_know,
    in_either_case,
    in_words,
    purpose_of,
    shares,
    span,
    substances_of,
)
from formulas.rules.review.parts import Part, joined, keys_of, named
from formulas.rules.totals import Contribution
from formulas.rules.uselevels import levels_that_count
from formulas.rules.vocabulary import CONFIRMED, MEMORY, PRESERVATIVE, RINSE_OFF, SUPPLIER

WORKS_FROM = Decimal(10)
"""% of the acid undissociated below which it hardly works. The usual upper ends of pH lie near it: benzoate and
sorbate 5.0 to 5.5 (14 and 15 %), dehydroacetate 6 to 6.5 (16 and 6 %); common practice, no source."""

EVERYDAY_PH = (Decimal(4), Decimal(8))
"""A preservative that works from below to above this range doesn't wait for a pH to be said; ours, no source."""

HOSTILE_PH = (Decimal(3), Decimal(10))
"""pH at or below, at or above which little grows; ISO 29621, from memory."""

WET_FORMS = frozenset({"bar", "scrub", "balm", "other"})
"""Forms that, rinsed off, live in the shower or are taken with wet fingers; common practice, no source."""
WASHES = frozenset({"soap", "shampoo", "hand wash"})
"""Kinds of product that are used wet, whatever they are made as."""
SAY_WET = "Tick “used with water” on the formula, or answer here why it isn't."

LOW_RISK_SOURCE = "ISO 29621, products of low microbiological risk; from memory"
HENDERSON = (
    "Henderson-Hasselbalch; Steinberg, J. Cosmet. Sci. 56 (2005) 361; a warning light, no challenge test"
)


def check_preservative(asked: Asked) -> Sequence[Finding]:
    """Needed, soluble, within its pH, with a level on record. Premixes and infusions aren't asked."""
    base = base_of(asked)
    if asked.formula.is_part or not base.parts:
        return ()
    kept = preservatives_of(asked, base)
    if not kept:
        return (*_missing(asked, base), *in_either_case(base, lambda case: _ph_differs(asked, case)))
    return tuple(in_either_case(base, lambda case: _of_kept(asked, case, kept)))


def _of_kept(asked: Asked, base: Base, kept: Sequence[Part]) -> list[Finding]:
    found = _dry(asked, base, kept)
    for part in _by_ingredient(kept):
        keys = tuple(each.line for each in kept if each.ingredient == part.ingredient)
        found += [replace(one, lines=keys) for one in (*_soluble(asked, base, part), *_level(asked, part))]
    if base.holds_water:
        found += [*_ph_differs(asked, base), *_ph(asked, kept)]
    return found


def preservatives_of(asked: Asked, base: Base) -> tuple[Part, ...]:
    """What preserves: by the purpose of its line, else by its role."""
    found = []
    for part in base.parts:
        purpose = purpose_of(asked, part)
        if purpose == PRESERVATIVE or (not purpose and PRESERVATIVE in part.facts.roles):
            found.append(part)
    return tuple(found)


def _by_ingredient(kept: Sequence[Part]) -> list[Part]:
    """Each preservative once, with its percent summed over the lines that bring it."""
    first = {part.ingredient: part for part in reversed(kept)}
    return [
        replace(part, percent=add(each.percent for each in kept if each.ingredient == key))
        for key, part in first.items()
    ]


def wants_answer(asked: Asked) -> bool:
    """There is a preservative, or there may be water or wet fingers that ask for one."""
    base = base_of(asked)
    if asked.formula.is_part or not base.parts:
        return False
    wet = not base.is_water_free or asked.formula.used_in_water or may_be_used_wet(asked)
    return wet or bool(preservatives_of(asked, base))


def may_be_used_wet(asked: Asked) -> bool:
    """A rinse-off product of a form that meets wet fingers or the shower, of which nobody said whether it does."""
    formula = asked.formula
    if formula.used_in_water or formula.use.kind != RINSE_OFF or formula.form == "bath":
        return False
    return formula.form in WET_FORMS or formula.use.product_type in WASHES


def _missing(asked: Asked, base: Base) -> list[Finding]:
    """No preservative: is one needed?"""
    bound = figure(WATER_FREE_BELOW)
    if not base.is_water_free:
        if reason := _hostile(asked, base):
            cure = "Have that confirmed by a challenge test."
            return [_finding("not_needed", "note", f"No preservative; {reason}.", cure, (), LOW_RISK_SOURCE)]
        message = f"{base.water_said} and no preservative on record."
        cure = (
            "Add one that dissolves in water, or write the purpose “preservative” on the line that does it."
        )
        if not base.holds_water:
            message = f"{base.water_said}, as far as known; from {bound} % it takes a preservative, and"
            message += " none is on record."
            cure = f"{cure} {how_to_know(base)}".strip()
        return [_finding("none", "caution", message, cure, ())]
    if asked.formula.used_in_water and asked.formula.form != "bath":
        message = f"{span(base.water)} % water (below {bound} % counts as water-free), but it is used with water and"
        message += " no preservative is on record: what drips in can spoil it."
        cure = (
            "Add one that dissolves in oil (not a salt such as benzoate or sorbate), or warn: dry hands only."
        )
        return [_finding("wet", "caution", message, cure, ())]
    if may_be_used_wet(asked):
        message = f"{span(base.water)} % water (below {bound} % counts as water-free) and no preservative on record; a"
        message += (
            f" rinse-off {_form(asked)} that is used wet takes one, and whether this one is isn't said."
        )
        return [_finding("wet_unknown", "unknown", message, SAY_WET, ())]
    return []


def _form(asked: Asked) -> str:
    return asked.formula.form if asked.formula.form in WET_FORMS - {"other"} else "product"


def _hostile(asked: Asked, base: Base) -> str:
    if base.alcohol_protects:
        return f"with {span(base.ethanol)} % ethanol little grows, from {figure(ALCOHOL_PROTECTS_FROM)} % on"
    low, high = _target(asked)
    if base.holds_water and low is not None and high is not None:
        if high <= HOSTILE_PH[0]:
            return f"at pH {figure(high)} little grows, up to {figure(HOSTILE_PH[0])}"
        if low >= HOSTILE_PH[1]:
            return f"at pH {figure(low)} little grows, from {figure(HOSTILE_PH[1])} on"
    return ""


def _dry(asked: Asked, base: Base, kept: Sequence[Part]) -> list[Finding]:
    if not base.is_water_free or asked.formula.used_in_water or asked.formula.form == "bath":
        return []
    if may_be_used_wet(asked):
        message = f"{shares(kept)} in a rinse-off {_form(asked)} ({base.why_dry}): whether it is used wet isn't said,"
        message += " so whether it needs a preservative isn't known either."
        return [_finding("wet_unknown", "unknown", message, SAY_WET, kept)]
    message = f"{shares(kept)} in a product that stays dry ({base.why_dry}): it needs an antioxidant, not a"
    message += " preservative."
    return [
        _finding("dry", "note", message, "Leave it out, or say that the product is used with water.", kept)
    ]


def _soluble(asked: Asked, base: Base, part: Part) -> list[Finding]:
    """Does it dissolve where it is wanted?"""
    soluble, basis = part.facts.soluble_in, part.facts.bases.get("soluble_in", MEMORY)
    source = part.facts.sources.get("soluble_in", "") or PRACTICE
    wet_use = base.holds_water or asked.formula.used_in_water
    if soluble == UNKNOWN:
        if not wet_use:
            return []
        message = (
            f"{part.name}: what it dissolves in isn't known, so whether it works in this base isn't either."
        )
        cure = "Enter it from the supplier's sheet."
        return [_finding("solubility", "unknown", message, cure, (part,), source, "", part.name)]
    words = None
    if base.holds_water:
        words = _in_water(base, part)
    elif base.is_water_free:
        words = _without_water(asked, base, part)
    if words is None:
        return []
    severity, message, cure = words
    return [_finding("solubility", severity, message, cure, (part,), source, basis, part.name)]


def _in_water(base: Base, part: Part) -> tuple[Severity, str, str] | None:
    soluble, water = part.facts.soluble_in, base.water_said
    if soluble == "insoluble":
        message = f"{part.name} dissolves in nothing here: it doesn't reach the {water}."
        return "caution", message, "Choose one that dissolves in water."
    if soluble == "oil" and not base.emulsifiers:
        message = f"{part.name} dissolves in oil; the {water}, where things grow, goes without it."
        return "caution", message, "Choose one that dissolves in water, or add a solubiliser."
    if soluble == "oil":
        message = f"{part.name} dissolves in oil; only what passes into the {water} works there."
        return "note", message, "Ask the supplier whether it suits emulsions."
    return None


def _without_water(asked: Asked, base: Base, part: Part) -> tuple[Severity, str, str] | None:
    soluble = part.facts.soluble_in
    bound = base.why_dry
    other = "Choose one that dissolves in oil."
    if soluble in {"oil", "water and oil"}:
        note = part.facts.solubility_note
        if not note or not asked.formula.used_in_water or not _is_limited(note):
            return None
        message = (
            f"{part.name} dissolves in oil within limits ({note}); at {in_words(part.percent)} try whether it"
        )
        message += " does."
        return "note", message, "Look whether the melt stays clear at the level used."
    salts = substances_of(asked, part) & {key for key, row in organic_acids().items() if row.pka is None}
    if salts:
        acid = joined(sorted(organic_acids()[organic_acids()[key].acid].name.lower() for key in salts))
        message = (
            f"{part.name} is a salt of {acid} and dissolves in water alone; in this base ({bound}) it lies"
        )
        message += " there and does nothing."
        return "caution", message, other
    if soluble == "alcohol":
        if base.alcohol_protects:
            return None
        message = f"{part.name} dissolves in alcohol or glycol, not in oil; this base ({bound}) has no water either."
        return "caution", message, other
    if soluble in {"water", "dispersible in water"} and base.emulsifiers:
        message = f"{part.name} dissolves in water, not in oil; in this base ({bound}) only {named(base.emulsifiers)}"
        message += " can hold it spread."
        return "caution", message, f"{other[:-1]}, or ask the supplier whether it works with that emulsifier."
    message = f"{part.name} doesn't dissolve in oil, and this base has no water for it ({bound})."
    return "caution", message, other


def _is_limited(note: str) -> bool:
    return "limited" in note or any(sign.isdigit() for sign in note)


def _level(asked: Asked, part: Part) -> list[Finding]:
    levels = asked.formula.use_levels.get(part.ingredient, ())
    use = asked.formula.use
    kind = use.kind
    counting = levels_that_count(levels, kind, asked.formula.perfume_category, asked.formula.form)
    if any(level.high is not None for level in counting):
        return []
    message = f"{part.name} at {in_words(part.percent)}: no use level for {kind} products is on record."
    cure = "Enter the supplier's."
    return [_finding("no_level", "unknown", message, cure, (part,), "supplier's document", "", part.name)]


def _target(asked: Asked) -> tuple[Decimal | None, Decimal | None]:
    """The pH it is made to, else the widest its adjust lines go to; one end given stands for both."""
    low, high = asked.formula.ph_low, asked.formula.ph_high
    if low is None and high is None:
        adjusted = [line for line in asked.formula.lines if line.kind == "adjust"]
        ends = [end for line in adjusted for end in (line.ph_low, line.ph_high) if end is not None]
        return (min(ends), max(ends)) if ends else (None, None)
    return (high if low is None else low), (low if high is None else high)


def _ph_differs(asked: Asked, base: Base) -> list[Finding]:
    """The pH that the version is made to against the one that a line as needed goes to. The version's is judged."""
    low, high = asked.formula.ph_low, asked.formula.ph_high
    if not base.holds_water or (low is None and high is None):
        return []
    made = _both_ends(low, high)
    found = []
    for line in asked.formula.lines:
        if line.kind != "adjust" or (line.ph_low is None and line.ph_high is None):
            continue
        least, most = _both_ends(line.ph_low, line.ph_high)
        if made[0] <= least and most <= made[1]:
            continue
        is_wider = least <= made[0] and made[1] <= most
        message = f"Made to pH {_ends(*made)}, but {line.name} is added to pH {_ends(least, most)}; the questions go by"
        message += f" {_ends(*made)}."
        finding = Finding(
            "preservative.ph_differs",
            "note" if is_wider else "caution",
            line.name,
            message,
            cure="Write the same pH on the formula and on the line.",
            lines=(line.key,),
        )
        found.append(finding)
    return found


def _both_ends(low: Decimal | None, high: Decimal | None) -> tuple[Decimal, Decimal]:
    """One end given stands for both. Raises ValueError where neither is."""
    known = [end for end in (low, high) if end is not None]
    return min(known), max(known)


def _ends(low: Decimal, high: Decimal) -> str:
    return figure(low) if low == high else f"{figure(low)} to {figure(high)}"


def _ph(asked: Asked, kept: Sequence[Part]) -> list[Finding]:
    """The window of each preservative and the acid that is undissociated; asked only where there is water."""
    low, high = _target(asked)
    acids = _acids(asked, kept)
    if low is None or high is None:
        waiting = [part for part in kept if _waits_for_ph(asked, part)]
        if not waiting:
            return []
        known = [part for part in waiting if part.facts.ph_low is not None or part.facts.ph_high is not None]
        windows = "; ".join(f"{part.name} works {_window(part)}" for part in known)
        message = "The pH that it is made to isn't said" + (f"; {windows}." if known else ".")
        if not known:
            message = (
                f"The pH that it is made to isn't said; {named(waiting)} works in acid surroundings alone."
            )
        return [_finding("ph_unknown", "unknown", message, "Write the pH it is made to.", waiting, HENDERSON)]
    found = []
    for part in _by_ingredient(kept):
        keys = tuple(each.line for each in kept if each.ingredient == part.ingredient)
        found += [replace(one, lines=keys) for one in _outside(part, low, high)]
    for acid, parts in acids.items():
        found += _active(organic_acids()[acid], parts, low, high)
    return found


def _waits_for_ph(asked: Asked, part: Part) -> bool:
    low, high = part.facts.ph_low, part.facts.ph_high
    if low is None and high is None:
        return bool(substances_of(asked, part) & organic_acids().keys())
    return (low is not None and low > EVERYDAY_PH[0]) or (high is not None and high < EVERYDAY_PH[1])


def _window(part: Part) -> str:
    low, high = part.facts.ph_low, part.facts.ph_high
    if low is not None and high is not None:
        return f"from pH {figure(low)} to {figure(high)}"
    return f"from pH {figure(low)} on" if low is not None else f"up to pH {figure(high or ZERO)}"


def _outside(part: Part, low: Decimal, high: Decimal) -> list[Finding]:
    """The window on record against the target; wholly outside one that the supplier or maker vouches for stops."""
    least, most = part.facts.ph_low, part.facts.ph_high
    under = least is not None and low < least
    over = most is not None and high > most
    if not under and not over:
        return []
    wholly = (least is not None and high < least) or (most is not None and low > most)
    field = "ph_high" if over else "ph_low"
    basis = part.facts.bases.get(field, MEMORY)
    message = f"Made to pH {_ends(low, high)}; {part.name} works {_window(part)}."
    cure = "Change the pH, or choose a preservative that works there."
    severity: Severity = "stop" if wholly and basis in {SUPPLIER, CONFIRMED} else "caution"
    source = part.facts.sources.get(field, "") or PRACTICE
    return [_finding("ph", severity, message, cure, (part,), source, basis, part.name)]


def _acids(asked: Asked, kept: Sequence[Part]) -> dict[str, list[Contribution]]:
    """What the preservatives bring of each organic acid and its salts, by the key of the acid."""
    ingredients = {part.ingredient for part in kept}
    found: dict[str, list[Contribution]] = {}
    for key, row in organic_acids().items():
        for part in asked.totals.contributions_of(key):
            if part.path[-1].ingredient in ingredients:
                found.setdefault(row.acid, []).append(part)
    return found


def _active(acid: OrganicAcid, parts: Sequence[Contribution], low: Decimal, high: Decimal) -> list[Finding]:
    """How much of the acid, its salts counted as acid, is undissociated at the upper end of the pH."""
    if acid.pka is None:
        return []
    amount = add(part.amount.times(acid_per_gram(part.substance)) for part in parts)
    fraction = exact_product(undissociated(high, acid.pka), HUNDRED)
    works = _down(amount, fraction)
    words = "an unknown share" if amount.high is None and not amount.low else f"{_short(amount)} %"
    message = f"{acid.name}: {words} of the product, counted as acid; at pH {figure(high)}"
    message += f" {figure(round_down(fraction, 1))} % of that is undissociated"
    message += f", {figure(works)} % of the product." if works else "."
    weak = fraction < WORKS_FROM
    cure = ""
    if weak:
        message = f"{message[:-1]}; below {figure(WORKS_FROM)} % it hardly works."
        cure = "Lower the pH, or choose a preservative that works there."
    lines = tuple(sorted({part.line for part in parts}))
    severity: Severity = "caution" if weak else "note"
    return [
        Finding("preservative.acid", severity, acid.name, message, HENDERSON, cure, acid.basis, lines),
    ]


def _down(amount: Interval, fraction: Decimal) -> Decimal | None:
    """What works of the least there is, % of the product, rounded down so that it is never overstated."""
    if not amount.low:
        return None
    return round_down(percent_of(fraction, amount.low), 4)


def _short(amount: Interval) -> str:
    return figure(amount.low or ZERO) if amount.is_point else span(amount)


def _finding(
    rule: str,
    severity: Severity,
    message: str,
    cure: str,
    parts: Sequence[Part],
    source: str = PRACTICE,
    basis: str = MEMORY,
    subject: str = "preservative",
) -> Finding:
    rule = f"preservative.{rule}"
    return Finding(rule, severity, subject, message, source, cure, basis, keys_of(parts))
