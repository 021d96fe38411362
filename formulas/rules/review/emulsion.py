"""Will it emulsify: how much water and oil, and do the emulsifiers' HLB meet what the oil phase requires?"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from formulas.rules.emulsion import hlb_by_substance, mean_hlb, share_of_high
from formulas.rules.findings import Finding, Severity
from formulas.rules.number import HUNDRED, ZERO, difference, exact_sum, figure, percent_of
from formulas.rules.review.asked import Asked
from formulas.rules.review.base import base_of
from formulas.rules.review.parts import Part, keys_of, named, parts_of
from formulas.rules.vocabulary import MEMORY

LEAST_PHASE = Decimal(5)
"""% of the product from which water and oil each count as a phase; ours, no source."""
WITHIN = Decimal(1)
"""HLB by which emulsifiers may miss what is required; common practice, no source."""
WAX_LOTION, WAX_BALM = Decimal(4), Decimal(8)
"""% of an emulsifying wax that makes a lotion, and a balm or butter at most; common practice, no source."""
FATTY_ALCOHOLS = frozenset({"cetearyl-alcohol", "cetyl-alcohol", "stearyl-alcohol"})
HLB_SOURCE = "HLB tables (Griffin); rough guides, Pasquali et al., Int. J. Pharm. 356 (2008) 44-51"
PRACTICE = "common practice, no source"


def check_emulsion(asked: Asked) -> Sequence[Finding]:
    """The phases' shares, HLB where both sides are known, the supplier's rate where it doesn't apply."""
    if not is_emulsion(asked):
        return ()
    emulsifiers, oil, water = _phases(asked)
    shares = Finding(
        "emulsion.shares",
        "note",
        "emulsion",
        f"Water phase {_percent(water)} %, oil phase {_percent(oil)} %, emulsifiers {_percent(emulsifiers)} %.",
        lines=keys_of(emulsifiers),
    )
    blends = [part for part in emulsifiers if _is_blend(asked, part)]
    single = [part for part in emulsifiers if part not in blends]
    return (shares, *_rates(asked, blends), *(_hlb(single, oil) if not blends else ()))


def is_emulsion(asked: Asked) -> bool:
    """Water, oil and an emulsifier are all in it. Sugar or a powdered cleanser in fat makes no water phase.

    A premix or infusion is judged in the product that it goes into.
    """
    if asked.formula.is_part:
        return False
    emulsifiers, oil, water = _phases(asked)
    if not emulsifiers or min(_total(oil), _total(water)) < LEAST_PHASE:
        return False
    return not base_of(asked).is_water_free


def _phases(asked: Asked) -> tuple[list[Part], list[Part], list[Part]]:
    """Emulsifiers, oil phase, water phase. What emulsifies counts as neither phase."""
    emulsifiers = list(base_of(asked).emulsifiers)
    rest = [part for part in parts_of(asked) if part not in emulsifiers]
    oil = [part for part in rest if part.facts.soluble_in == "oil"]
    water = [part for part in rest if part.facts.soluble_in == "water"]
    return emulsifiers, oil, water


def _rates(asked: Asked, blends: Sequence[Part]) -> list[Finding]:
    """Ready blends come with a rate, not with an HLB."""
    found = []
    for part in blends:
        percent = _total([part])
        wax = part.facts.form != "liquid" and bool(_substances(asked, part) & FATTY_ALCOHOLS)
        message = f"{part.name} at {figure(percent)} %: a ready blend, for which HLB doesn't apply."
        cure = "Use the supplier's rate."
        source = HLB_SOURCE
        if wax and percent > WAX_BALM:
            message = (
                f"{part.name} at {figure(percent)} %; about {figure(WAX_LOTION)} % makes a lotion, up to"
            )
            message += f" {figure(WAX_BALM)} % a balm or butter."
            cure = f"Lower it to {figure(WAX_BALM)} %, or follow the supplier's rate."
            source = PRACTICE
        found.append(Finding("emulsion.rate", "note", part.name, message, source, cure, MEMORY, (part.line,)))
    return found


def _hlb(emulsifiers: Sequence[Part], oil: Sequence[Part]) -> list[Finding]:
    have = [(_total([part]), hlb_of(part)) for part in emulsifiers]
    need = [(_total([part]), required_of(part)) for part in oil]
    missing = [
        part for part, (_, hlb) in zip((*emulsifiers, *oil), (*have, *need), strict=True) if hlb is None
    ]
    known_have = mean_hlb([(mass, hlb) for mass, hlb in have if hlb is not None])
    known_need = mean_hlb([(mass, hlb) for mass, hlb in need if hlb is not None])
    if missing or known_have is None or known_need is None:
        message = (
            f"Whether the emulsifiers suit the oil phase by HLB isn't known: no figure for {named(missing)}."
        )
        cure = "Enter it from the supplier's sheet, or use the supplier's rate."
        return [
            Finding(
                "emulsion.hlb_missing", "note", "emulsion", message, HLB_SOURCE, cure, "", keys_of(missing)
            )
        ]
    message = f"The oil phase requires HLB {figure(known_need, places=2)}; the emulsifiers have"
    message += f" {figure(known_have, places=2)}."
    off = abs(difference(known_have, known_need)) > WITHIN
    cure = _pair(emulsifiers, known_need) if off else ""
    severity: Severity = "caution" if off else "note"
    lines = keys_of(emulsifiers)
    return [Finding("emulsion.hlb", severity, "emulsion", message, HLB_SOURCE, cure, MEMORY, lines)]


def _pair(emulsifiers: Sequence[Part], required: Decimal) -> str:
    """What would meet the requirement: the split of a pair, else another emulsifier."""
    by_hlb = sorted(emulsifiers, key=lambda part: hlb_of(part) or ZERO)
    low, high = hlb_of(by_hlb[0]) or ZERO, hlb_of(by_hlb[-1]) or ZERO
    share = (
        share_of_high(required, high, low) if len({part.ingredient for part in emulsifiers}) == 2 else None
    )
    if share is None:
        side = "higher" if required > high else "lower"
        return f"No share of what is there meets it; add an emulsifier of {side} HLB, or use the supplier's rate."
    both = _total(emulsifiers)
    upper = percent_of(share * HUNDRED, both)
    return (
        f"{figure(upper, places=2)} % {by_hlb[-1].name} with {figure(difference(both, upper), places=2)} %"
        f" {by_hlb[0].name} meets it."
    )


def hlb_of(part: Part) -> Decimal | None:
    """An emulsifier's HLB: the maker's figure, else the published one of its substance."""
    row = hlb_by_substance("emulsifier").get(part.facts.substance)
    return part.facts.hlb if part.facts.hlb is not None else row.hlb if row else None


def required_of(part: Part) -> Decimal | None:
    """The HLB an oil-phase material requires: the maker's figure, else the published one of its substance."""
    row = hlb_by_substance("required").get(part.facts.substance)
    return part.facts.hlb_required if part.facts.hlb_required is not None else row.hlb if row else None


def _substances(asked: Asked, part: Part) -> set[str]:
    composition = asked.formula.compositions.get(part.ingredient)
    return (
        {each.substance for each in composition.constituents if each.kind == "declared"}
        if composition
        else set()
    )


def _is_blend(asked: Asked, part: Part) -> bool:
    return part.facts.hlb is None and len(_substances(asked, part)) > 1


def _total(parts: Sequence[Part]) -> Decimal:
    return exact_sum(part.percent.expected or ZERO for part in parts)


def _percent(parts: Sequence[Part]) -> str:
    return figure(_total(parts), places=2)
