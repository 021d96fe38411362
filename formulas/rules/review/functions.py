"""Does it have what its form needs: an emulsifier, something that sets, something that scrubs?"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from formulas.rules.findings import Finding, Severity
from formulas.rules.number import ZERO, figure
from formulas.rules.review.asked import UNKNOWN, Asked
from formulas.rules.review.base import (
    PRACTICE,
    Base,
    base_of,
    has_open,
    in_either_case,
    purpose_of,
    share_of,
    total,
)
from formulas.rules.review.parts import Part, keys_of, named
from formulas.rules.vocabulary import MEMORY

PRESSED_FROM = Decimal(30)
"""% powder from which a bar holds by being pressed; ours, no source."""
HARD_HOLDS_FROM = Decimal(15)
"""% of hard butter or wax from which a bar of soft butters holds; ours, no source."""
OIL_RICH_FROM = Decimal(20)
"""% of oils and butters that turn rancid, from which an antioxidant is worth having; ours, no source."""
OIL_OVER_GRAINS_FROM = Decimal(20)
"""% oil from which it rises above the grains of a scrub when nothing holds it; ours, no source."""
ALCOHOL_DISSOLVES_UP_TO = Decimal(5)
"""% of oil or perfume that a product of much alcohol dissolves; ours, no source."""
KEEPS = frozenset(
    {
        "simmondsia-chinensis-seed-oil", "squalane", "caprylic-capric-triglyceride", "paraffinum-liquidum",
        "petrolatum", "dimethicone", "isopropyl-myristate", "hydrogenated-castor-oil",
    }
)  # fmt: skip
"""Emollients that hardly turn rancid; common practice, no source."""


def check_functions(asked: Asked) -> Sequence[Finding]:
    """What the form needs and nothing on record does. Premixes and infusions need nothing of the kind."""
    base = base_of(asked)
    if asked.formula.is_part or not base.parts:
        return ()
    by_form = {
        "cream": _cream,
        "balm": _balm,
        "bar": _bar,
        "scrub": _scrub,
        "bath": _bath,
    }.get(asked.formula.form)

    def ask(case: Base) -> list[Finding]:
        return [*_emulsifier(asked, case), *(by_form(case) if by_form else ()), *_antioxidant(asked, case)]

    return tuple(in_either_case(base, ask))


def has_form(asked: Asked) -> bool:
    """It is a product, and something is in it."""
    return not asked.formula.is_part and bool(asked.formula.lines)


def _emulsifier(asked: Asked, base: Base) -> list[Finding]:
    oil = total(base.oils)
    if not base.holds_water or not base.oils or base.emulsifiers:
        return []
    if base.alcohol_protects and oil <= ALCOHOL_DISSOLVES_UP_TO and not has_open(base.oils):
        return []
    message = f"{base.water_said} and {share_of(base.oils)} oil-soluble ({named(base.oils)}), and nothing"
    message += f" on record that emulsifies{_unless(base)}."
    if asked.formula.form == "cream":
        cure = (
            "Add an emulsifier: about 4 % of an emulsifying wax makes a lotion, up to 8 % a balm or butter."
        )
    else:
        cure = "Add an emulsifier or a solubiliser, or write “shake before use” on the label."
    return [_finding("emulsifier", "caution", message, cure, base.oils)]


def _cream(base: Base) -> list[Finding]:
    found = []
    if base.is_water_free:
        message = f"{base.why_dry[0].upper()}{base.why_dry[1:]}, which a cream isn't."
        cure = "Add the water phase, or call it a balm."
        found.append(_finding("water_phase", "note", message, cure, ()))
    if not base.oils and base.holds_water:
        message = "No oil phase on record: without one it is a gel, not a cream."
        cure = "Add the oil phase, or call it a liquid or gel."
        found.append(_finding("oil_phase", "note", message, cure, ()))
    return found


def _balm(base: Base) -> list[Finding]:
    return _sets(base, frozenset({"hard solid", "soft solid"}), "balm")


def _bar(base: Base) -> list[Finding]:
    return _sets(base, frozenset({"hard solid"}), "bar") or _stays_soft(base)


def _stays_soft(base: Base) -> list[Finding]:
    """A bar with something hard in it, yet too little for so much of soft butters."""
    soft = [part for part in base.parts if part.facts.form == "soft solid"]
    hard = [part for part in base.parts if part.facts.form == "hard solid"]
    if total(soft) <= total(base.oils) / 2 or total(hard) >= HARD_HOLDS_FROM:
        return []
    if has_open((*hard, *base.own)):
        return []
    if total(part for part in base.own if part.facts.form in {"powder", "granules"}) >= PRESSED_FROM:
        return []
    message = (
        f"{figure(total(soft))} % soft butters ({named(soft)}) and {figure(total(hard))} % of anything hard:"
    )
    message += " a bar whose fats are mostly soft butters stays soft."
    cure = "Cocoa butter is the hard one; stearic acid or beeswax in its place drags."
    return [_finding("soft", "note", message, cure, soft)]


def _sets(base: Base, solid: frozenset[str], form: str) -> list[Finding]:
    powders = [part for part in base.own if part.facts.form in {"powder", "granules"}]
    if any(part.facts.form in solid for part in base.parts):
        return []
    if form == "bar" and (total(powders) >= PRESSED_FROM or has_open(powders)):
        return []
    if form == "bar":
        message = "Nothing hard in it on record: a bar of soft butters and oils stays soft"
        cure = "Cocoa butter is the hard one; stearic acid or beeswax in its place drags."
    else:
        message = "Nothing in it on record that sets: it stays an oil"
        cure = "Add a wax (beeswax 10 to 20 % for a tin) or a butter."
    unsure = [part for part in base.parts if part.facts.form == UNKNOWN]
    if unsure:
        message += f", unless {named(unsure)} does it"
        cure += f" Or enter what {named(unsure)} is like at 20 °C."
    return [_finding("sets", "caution", f"{message}.", cure, unsure)]


def _scrub(base: Base) -> list[Finding]:
    grains = [p for p in base.own if "exfoliant" in p.facts.roles or p.facts.form == "granules"]
    if not grains:
        message = f"Nothing on record that scrubs{_unless(base)}."
        cure = "Add sugar, salt or another grain, or enter the role of the ingredient that does it."
        return [_finding("scrubs", "caution", message, cure, ())]
    oil = total(part for part in base.oils if part.facts.form == "liquid")
    holds = [part for part in base.parts if _holds_oil(part)]
    if base.is_water_free and oil >= OIL_OVER_GRAINS_FROM and not holds and not base.emulsifiers:
        message = (
            f"{figure(oil)} % liquid oil over grains, and no wax, butter, thickener or emulsifier holds it:"
        )
        message += " it rises to the top."
        return [_finding("separates", "note", message, "3 to 8 % wax or emulsifier holds it.", base.oils)]
    return []


def _holds_oil(part: Part) -> bool:
    return part.facts.form in {"hard solid", "soft solid"} or bool(part.facts.roles & {"wax", "thickener"})


def _bath(base: Base) -> list[Finding]:
    if not base.oils or base.emulsifiers:
        return []
    message = f"{share_of(base.oils)} oil-soluble ({named(base.oils)}), and nothing on record that disperses"
    message += (
        " it: it floats on the bath water, undiluted where it meets the skin, and makes the tub slippery."
    )
    cure = "Add an emulsifier or a solubiliser, or warn of both on the label."
    return [_finding("disperses", "caution", message, cure, base.oils)]


def _antioxidant(asked: Asked, base: Base) -> list[Finding]:
    turning = [
        part
        for part in base.parts
        if part.facts.soluble_in == "oil"
        and part.facts.roles & {"emollient", "butter"}
        and part.facts.substance not in KEEPS
    ]
    oil = total(turning)
    if not base.is_water_free or oil < OIL_RICH_FROM:
        return []
    if any("antioxidant" in part.facts.roles for part in base.parts):
        return []
    if any(purpose_of(asked, part) == "antioxidant" for part in base.parts):
        return []
    message = f"{figure(oil)} % of oils and butters that turn rancid ({named(turning)}), and no antioxidant on record."
    cure = "0.05 to 0.5 % tocopherol, or 0.05 to 0.2 % rosemary extract; more can do the opposite."
    return [_finding("antioxidant", "note", message, cure, turning)]


def _unless(base: Base) -> str:
    """What could do it all the same, because its role isn't on record."""
    unsure = [part for part in base.parts if not part.facts.roles - {UNKNOWN} and part.percent.high != ZERO]
    return f", unless {named(unsure)} does it" if unsure else ""


def _finding(rule: str, severity: Severity, message: str, cure: str, parts: Sequence[Part]) -> Finding:
    rule = f"functions.{rule}"
    return Finding(rule, severity, "functions", message, PRACTICE, cure, MEMORY, keys_of(parts))
