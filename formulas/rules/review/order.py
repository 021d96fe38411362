"""Heat and order: do the phases meet warm, does what is stirred in stay spread, do the butters stay smooth?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from formulas.rules.findings import Finding, Severity
from formulas.rules.number import ZERO, difference, exact_sum, figure
from formulas.rules.review.asked import UNKNOWN, Asked, StepFacts
from formulas.rules.review.base import (
    PRACTICE,
    WATER_FREE_BELOW,
    Base,
    base_of,
    in_either_case,
    is_watery,
    shares,
    span,
    substances_of,
    total,
)
from formulas.rules.review.parts import Part, keys_of, named
from formulas.rules.review.pouring import pour_of
from formulas.rules.vocabulary import MEMORY

PHASES_APART_C = Decimal(5)
"""Degrees by which the phases of an emulsion may differ; both at 70 to 75 is common practice, no source."""
PHASE_FROM = Decimal(5)
"""% of water and of oil from which each is a phase that is heated; ours, no source."""
MELT_FROM = Decimal(20)
"""% of oils from which a base is an oil base, in which solids hang or sink; ours, no source."""
SOLIDS_FROM = Decimal(1)
"""% of solids below which what sinks isn't missed; ours, no source."""
PACKED_FROM = Decimal(60)
"""% of solids from which they lie grain on grain and can't sink; ours, no source."""
SUSPENDS_C, NEAR_C = Decimal(33), Decimal(5)
"""Degrees Celsius near which solids stay suspended when poured, and what "near" takes in; common practice."""
SOLIDS_AT_C = Decimal(50)
"""Degrees Celsius at about which solids are stirred in; common practice, no source."""
GRAINY_FROM = Decimal(10)
"""% of a butter from which grains are felt; ours, no source."""
SHEA_C, WELL_ABOVE_C = Decimal(60), Decimal(10)
"""Degrees Celsius near which shea goes in, and what is well above it; common practice, no source."""
LONG_MINUTES = 30
"""Minutes in the heat that count as long; ours: the remedies named in trade articles conflict."""

SHEA = "butyrospermum-parkii-butter"
GRAINY = frozenset(
    {
        SHEA, "mangifera-indica-seed-butter", "garcinia-indica-seed-butter", "theobroma-cacao-seed-butter",
        "theobroma-grandiflorum-seed-butter", "shorea-robusta-seed-butter", "shorea-stenoptera-seed-butter",
    }
)  # fmt: skip
"""Stearic-rich butters, of which a part sets first when they cool slowly; common practice, no source."""
STIRRED_IN = frozenset({"extract", "active", "humectant", "solvent"})
"""Roles of what is meant to dissolve. Grains, powders, salts and preservatives have their own questions."""


def check_order(asked: Asked) -> Sequence[Finding]:
    """Phases, what finds nothing to dissolve in, solids and butters. Premixes and infusions aren't asked."""
    base = base_of(asked)
    if asked.formula.is_part:
        return ()
    return (
        *_phases(asked, base),
        *_homeless(base),
        *in_either_case(base, lambda case: [*_solids(asked, case), *_grainy(asked, case)]),
    )


def has_order(asked: Asked) -> bool:
    """A product with steps, or one in which something may find nothing to dissolve in."""
    return not asked.formula.is_part and bool(asked.formula.steps)


def heat_of_phase(steps: Iterable[StepFacts], letter: str) -> Decimal | None:
    """The hottest that a phase is meant to get: the target of its steps, else what they allow."""
    heats = [step.meant_c for step in steps if step.phase == letter]
    known = [heat for heat in heats if heat is not None]
    return max(known) if known else None


def _phases(asked: Asked, base: Base) -> list[Finding]:
    """Water and oil phase of an emulsion meet at a similar heat; one pot has no two phases."""
    oil_part = total(base.oils)
    if not base.emulsifiers or (base.water.low or ZERO) < PHASE_FROM or oil_part < PHASE_FROM:
        return []
    water = _main_phase(
        asked, [part for part in base.parts if any(map(is_watery, substances_of(asked, part)))]
    )
    oil = _main_phase(asked, base.oils)
    if not water or not oil or water == oil:
        return []
    water_c, oil_c = (heat_of_phase(asked.formula.steps, letter) for letter in (water, oil))
    if water_c is None and oil_c is None:
        return []
    if water_c is None or oil_c is None:
        cold = water if water_c is None else oil
        known = oil_c if water_c is None else water_c
        message = f"Phase {cold} has no temperature; the other phase of the emulsion is at {figure(known or ZERO)} °C."
        cure = f"Give its step a temperature, within {figure(PHASES_APART_C)} °C of the other."
        return [_finding("phase_heat", "note", "phases", message, cure, _lines_in(asked, {cold}))]
    apart = abs(difference(water_c, oil_c))
    if apart <= PHASES_APART_C:
        return []
    message = f"Water phase {water} is at {figure(water_c)} °C, oil phase {oil} at {figure(oil_c)} °C: {figure(apart)}"
    message += f" °C apart, where {figure(PHASES_APART_C)} °C is the most."
    cure = "Heat both to 70 to 75 °C, or as the supplier of the emulsifier says."
    return [_finding("phases", "caution", "phases", message, cure, _lines_in(asked, {water, oil}))]


def _main_phase(asked: Asked, parts: Sequence[Part]) -> str:
    """The phase that most of the parts stand in; "" where none is on record. Equals: the first letter."""
    by_phase: dict[str, Decimal] = {}
    for part in parts:
        letter = asked.formula.phase_of.get(part.line, "")
        if letter:
            by_phase[letter] = exact_sum((by_phase.get(letter, ZERO), part.percent.expected or ZERO))
    return min(by_phase, key=lambda letter: (-by_phase[letter], letter), default="")


def _lines_in(asked: Asked, letters: set[str]) -> tuple[str, ...]:
    return tuple(sorted(key for key, letter in asked.formula.phase_of.items() if letter in letters))


def _homeless(base: Base) -> list[Finding]:
    """What dissolves in water in an oil base that has neither water nor an emulsifier."""
    if base.holds_water or base.emulsifiers or total(base.oils) < MELT_FROM or base.water.high is None:
        return []
    wanted = [
        part
        for part in base.own
        if part.facts.roles & STIRRED_IN and part.facts.form in {"liquid", "soft solid", UNKNOWN}
    ]
    wet = [part for part in wanted if part.facts.soluble_in in {"water", "dispersible in water"}]
    unsure = [part for part in wanted if part.facts.soluble_in == UNKNOWN and "extract" in part.facts.roles]
    found = []
    if wet:
        verb = "dissolves" if len({part.name for part in wet}) == 1 else "dissolve"
        drops = "it drops" if verb == "dissolves" else "they drop"
        message = f"{named(wet)} {verb} in water; this base has no emulsifier and no water phase ({span(base.water)} %"
        message += f" water; from {figure(WATER_FREE_BELOW)} % it is one): {drops} out."
        cure = "Add an emulsifier, or take an extract in oil."
        found.append(_finding("water_soluble", "caution", named(wet), message, cure, keys_of(wet)))
    for part in unsure:
        message = f"{part.name}: what it dissolves in isn't known, and this base has neither water nor an emulsifier."
        cure = "Enter it from the supplier's sheet; an extract in oil stays, one in water drops out."
        found.append(_finding("solubility", "unknown", part.name, message, cure, (part.line,), ""))
    return found


def _solids(asked: Asked, base: Base) -> list[Finding]:
    """Solids in a melt that sets: when do they go in, and how warm is it poured?"""
    solids = [part for part in base.own if _stays_solid(base, part)]
    sets = any(part.facts.form in {"hard solid", "soft solid"} for part in base.parts)
    amount = total(solids)
    if not sets or not base.is_water_free or total(base.oils) < MELT_FROM:
        return []
    if not SOLIDS_FROM <= amount < PACKED_FROM:
        return []
    pour = pour_of(asked.formula.steps, frozenset(asked.formula.phase_of.values()))
    if pour is None or (pour.heat_c <= SUSPENDS_C + NEAR_C and not pour.is_open):
        return []
    verb, them = ("sinks", "it") if len({part.name for part in solids}) == 1 else ("sink", "them")
    more = " or more" if pour.is_open else ""
    message = f"{shares(solids)} {verb} when poured at {figure(pour.heat_c)} °C{more} ({pour.step}); near"
    message += f" {figure(SUSPENDS_C)} °C the melt holds {them}."
    cure = f"Stir solids in at about {figure(SOLIDS_AT_C)} °C and pour as cool as it still runs, stirring."
    return [_finding("solids", "note", named(solids), message, cure, keys_of(solids))]


def _stays_solid(base: Base, part: Part) -> bool:
    """A powder or grains that nothing in this base dissolves. What melts in oil isn't one."""
    if part.facts.form not in {"powder", "granules"}:
        return False
    soluble = part.facts.soluble_in
    return soluble == "insoluble" or (soluble in {"water", "dispersible in water"} and base.is_water_free)


def _grainy(asked: Asked, base: Base) -> list[Finding]:
    """Butters that turn grainy, and shea that is melted hot. In an emulsion the phases need their heat."""
    butters = [part for part in base.parts if part.facts.substance in GRAINY]
    felt = [part for part in butters if _of_its_kind(butters, part) >= GRAINY_FROM]
    if not base.is_water_free or not felt:
        return []
    message = f"{shares(felt)} can turn grainy when heated long or cooled slowly"
    long = [step for step in asked.formula.steps if _is_long(asked, step, felt)]
    if long:
        message += f"; step {long[0].number} keeps the heat for {long[0].minutes} minutes"
    cure = "Melt fully, cool fast and stirring, add no unmelted butter, keep it at an even temperature."
    found = [_finding("grainy", "note", named(felt), f"{message}.", cure, keys_of(felt))]
    shea = [part for part in felt if part.facts.substance == SHEA]
    letters = {asked.formula.phase_of.get(part.line, "") for part in shea} - {""}
    heats = [(heat_of_phase(asked.formula.steps, letter), letter) for letter in sorted(letters)]
    hot = [(heat, letter) for heat, letter in heats if heat is not None and heat > SHEA_C + WELL_ABOVE_C]
    if hot:
        heat, letter = max(hot)
        message = f"{named(shea)} is heated to {figure(heat)} °C with phase {letter}; it goes in last, off the heat,"
        message += f" near {figure(SHEA_C)} °C."
        cure = "Give it a phase of its own, after the waxes have melted."
        found.append(_finding("shea", "note", named(shea), message, cure, keys_of(shea)))
    return found


def _of_its_kind(butters: Sequence[Part], part: Part) -> Decimal:
    return total(each for each in butters if each.facts.substance == part.facts.substance)


def _is_long(asked: Asked, step: StepFacts, butters: Sequence[Part]) -> bool:
    letters = {asked.formula.phase_of.get(part.line, "") for part in butters} - {""}
    hot = (step.meant_c or ZERO) > ZERO
    return hot and step.phase in letters and (step.minutes or 0) > LONG_MINUTES


def _finding(
    rule: str,
    severity: Severity,
    subject: str,
    message: str,
    cure: str,
    lines: tuple[str, ...],
    basis: str = MEMORY,
) -> Finding:
    return Finding(f"order.{rule}", severity, subject, message, PRACTICE, cure, basis, lines)
