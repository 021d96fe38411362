"""How firm is it in heat: what of its fats is solid at 20, 25, 30 and 35 °C, and what makes the figure doubtful?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.findings import Finding, Severity
from formulas.rules.firmness import TEMPERATURES, Band, Fat, bands, bears_up_to, fat_tables
from formulas.rules.number import (
    HUNDRED,
    RATIO_DOWN,
    RATIO_UP,
    ZERO,
    exact_product,
    exact_sum,
    figure,
    round_down,
    round_up,
)
from formulas.rules.review.asked import Asked
from formulas.rules.review.parts import Part, joined, keys_of, named, parts_of
from formulas.rules.vocabulary import MEMORY

FORMS = frozenset({"balm", "bar", "scrub", "oil", "other"})
"""Where the fats carry the firmness. In a cream water and emulsifier do."""

LEAST_FAT = Decimal(25)
"""% of the product in fats, oils and waxes below which they don't carry its firmness; ours, no source."""

LAURIC = frozenset(
    {
        "cocos-nucifera-oil",
        "elaeis-guineensis-kernel-oil",
        "orbignya-oleifera-seed-oil",
        "astrocaryum-murumuru-seed-butter",
    }
)
COCOA = "theobroma-cacao-seed-butter"
SHEA = "butyrospermum-parkii-butter"
COCOA_TYPE = frozenset(
    {
        COCOA,
        SHEA,
        "garcinia-indica-seed-butter",
        "mangifera-indica-seed-butter",
        "shorea-robusta-seed-butter",
        "shorea-stenoptera-seed-butter",
    }
)
STRUCTURING = frozenset(
    {
        "stearic-acid",
        "palmitic-acid",
        "cetyl-alcohol",
        "cetearyl-alcohol",
        "stearyl-alcohol",
        "behenyl-alcohol",
        "cera-alba",
        "hydrogenated-castor-oil",
    }
)
STEARIC = "stearic-acid"

EUTECTIC_FROM = Decimal(10)
"""% of the fat phase above which a lauric and a cocoa-type fat soften each other."""
SHEA_IN_COCOA = Decimal(20)
"""% shea of shea and cocoa butter up to which the solid fat stays."""
MOST_UNCOVERED = Decimal(34)
"""% of the fats and oils without a table above which a band would say nothing; about a third, ours, no source."""
MUCH_OIL = Decimal(34)
"""% liquid oil of the fats and oils above which ideal mixing reads too firm: about a third; from memory."""
WAX_CARRIES_FROM = Decimal(10)
"""% of the product from which wax holds a balm by itself, whatever its fats do; common practice, no source."""
STEARIC_DRAGS, WAX_DRAGS = Decimal(10), Decimal(30)
"""% of the product above which it drags on the skin; common practice, no source."""

TABLES = "tables of solid fat by temperature, ideal mixing"
EUTECTIC_SOURCE = "Joshi, Zielbauer, Vilgis, Foods 9 (2020) 327, for coconut oil with cocoa butter"
SHEA_SOURCE = "Herrera and Candal, AOCS 2016, abstract"
PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class FatPhase:
    """The fat phase of a formula. tabled, liquid: fats and oils; wax: waxes, fatty alcohols, fatty acids and
    solid emulsifiers, outside the estimate; uncovered: solid or unknown, with no table."""

    tabled: tuple[Part, ...]
    liquid: tuple[Part, ...]
    wax: tuple[Part, ...]
    uncovered: tuple[Part, ...]

    @property
    def all(self) -> tuple[Part, ...]:
        """Everything that belongs to it."""
        return (*self.tabled, *self.liquid, *self.wax, *self.uncovered)

    @property
    def fats(self) -> tuple[Part, ...]:
        """The fats and oils, which the band is of."""
        return (*self.tabled, *self.liquid, *self.uncovered)

    @property
    def is_covered(self) -> bool:
        """Every percent is known, and fats without a table are few enough for a band to say anything."""
        if not self.tabled or any(part.percent.expected is None for part in self.all):
            return False
        return not _is_above(total(self.uncovered), MOST_UNCOVERED, total(self.fats))

    def bands_at(self, temperatures: Sequence[Decimal]) -> tuple[Band, ...]:
        """The solid fat of its fats and oils at each temperature; "not covered" throughout where it isn't."""
        if not self.is_covered:
            return tuple(Band(each, None, None, None) for each in temperatures)
        tables = fat_tables()
        fats = [Fat(amount(part), tables.get(part.facts.substance)) for part in (*self.tabled, *self.liquid)]
        fats += [Fat(amount(part), None, is_known=False) for part in self.uncovered]
        return bands(fats, temperatures)

    @property
    def bands(self) -> tuple[Band, ...]:
        """The solid fat of its fats and oils at the temperatures looked at."""
        return self.bands_at(TEMPERATURES)

    @property
    def covered_percent(self) -> Decimal | None:
        """% of the fats and oils that is liquid or has a table; None where a percent isn't known."""
        if any(part.percent.expected is None for part in self.fats):
            return None
        known = exact_product(total((*self.tabled, *self.liquid)), HUNDRED)
        return RATIO_DOWN.divide(known, total(self.fats))

    @property
    def remembered(self) -> tuple[Part, ...]:
        """Those of its fats whose ranges are remembered, no table traced."""
        tables = fat_tables()
        return tuple(part for part in self.tabled if tables[part.facts.substance].is_placeholder)

    @property
    def is_solid(self) -> bool:
        """Something in it is a fat that sets."""
        return bool(self.tabled or self.uncovered)


def amount(part: Part) -> Decimal:
    """The expected percent of the product; 0 where none is known, which the bands tell apart."""
    return part.percent.expected or ZERO


def total(parts: Sequence[Part]) -> Decimal:
    """Their expected percent of the product together."""
    return exact_sum(amount(part) for part in parts)


def fat_phase(asked: Asked) -> FatPhase | None:
    """The fat phase, or None where it doesn't carry the firmness of the product."""
    groups: dict[str, list[Part]] = {"tabled": [], "liquid": [], "wax": [], "uncovered": []}
    for part in parts_of(asked):
        group = group_of(part)
        if group:
            groups[group].append(part)
    found = FatPhase(**{name: tuple(parts) for name, parts in groups.items()})
    if asked.formula.form not in FORMS or not found.is_solid or total(found.all) < LEAST_FAT:
        return None
    return found


def group_of(part: Part) -> str:
    """Where a part belongs; "" for one outside the fat phase. A table counts before what is on record."""
    facts = part.facts
    if facts.substance in fat_tables():
        return "tabled"
    oily = facts.soluble_in in {"oil", "water and oil"}
    structuring = facts.roles & {"emulsifier", "thickener"} and facts.form in {"hard solid", "granules"}
    if "wax" in facts.roles or facts.substance in STRUCTURING or (oily and structuring):
        return "wax"
    if facts.form == "liquid":
        return "liquid" if oily else ""
    if "butter" in facts.roles or ("emollient" in facts.roles and oily):
        return "uncovered"
    return ""


def check_firmness(asked: Asked) -> Sequence[Finding]:
    """The band with its reading, what it leaves out, pairs that soften each other, drag, and heat."""
    phase = fat_phase(asked)
    if phase is None:
        return ()
    return (*_band(phase), *_eutectics(phase), *_drag(phase))


def has_firmness(asked: Asked) -> bool:
    """The fats carry the firmness of the product."""
    return fat_phase(asked) is not None


def _band(phase: FatPhase) -> list[Finding]:
    if not phase.is_covered:
        message, about = why_not_covered(phase), phase.uncovered or phase.tabled
        cure = "Try a small batch at 20, 25, 30 and 35 °C." if phase.uncovered else ""
        return [_finding("not_covered", message, TABLES, cure, "", about)]
    found = phase.bands
    read = [f"{_span(band)} at {figure(band.temperature_c)} °C ({band.reading})" for band in found]
    doubts = "; ".join(doubts_of(phase))
    message = f"Solid fat of its fats and oils: {', '.join(read)}; an estimate{' ' * bool(doubts)}{doubts}."
    return [_finding("band", message, TABLES, _cure(phase, bears_up_to(found)), MEMORY, phase.fats)]


def why_not_covered(phase: FatPhase) -> str:
    """The sentence that says why no band can be given."""
    if phase.uncovered:
        missing = f"{named(phase.uncovered)}, {figure(total(phase.uncovered))} %"
        return f"Solid fat not covered: there is no table for {missing}."
    return "Solid fat not covered: a fat of it has no percent yet."


def _cure(phase: FatPhase, sure: Decimal | None) -> str:
    if sure == TEMPERATURES[-1]:
        return ""
    if sure is not None:
        return f"Not sold or sent above {figure(sure)} °C: write that on the product, or firm it."
    if carries_itself(phase):
        names = {part.name for part in phase.wax}
        verb = "carries" if len(names) == 1 else "carry"
        return (
            f"{named(phase.wax)} {verb} it beyond these figures: try a small batch at 20, 25, 30 and 35 °C."
        )
    return "It may be soft in a cool room already: more hard butter or wax firms it, a jar holds it."


def carries_itself(phase: FatPhase) -> bool:
    """So much wax that it stands whatever its fats do; common practice, no source."""
    return total(phase.wax) >= WAX_CARRIES_FROM


def _span(band: Band) -> str:
    low, high = band.low or ZERO, band.high or ZERO
    ends = [figure(round_down(low, 0)), figure(round_up(high, 0))]
    return f"{' to '.join(dict.fromkeys(ends))} %"


def doubts_of(phase: FatPhase) -> list[str]:
    """What makes the band doubtful, as parts of a sentence."""
    words = []
    if phase.wax:
        word = f"firm{'s' * (len({part.name for part in phase.wax}) == 1)}"
        words.append(f"without {named(phase.wax)} ({figure(total(phase.wax))} %), which {word} it further")
    if phase.uncovered:
        share = figure(total(phase.uncovered))
        words.append(
            f"with {named(phase.uncovered)} ({share} %) as anything from liquid to solid, for want of a table"
        )
    if phase.remembered:
        words.append(f"for {named(phase.remembered)} from remembered ranges, no table traced")
    if _is_above(total(phase.liquid), MUCH_OIL, total(phase.fats)):
        words.append("with so much liquid oil it reads firmer than the blend is")
    return words


def _eutectics(phase: FatPhase) -> list[Finding]:
    whole = total(phase.all)
    lauric = _above(phase, LAURIC, whole)
    cocoa_type = _above(phase, COCOA_TYPE, whole)
    found = []
    if lauric and cocoa_type:
        sides = [_shares(lauric, whole), _shares(cocoa_type, whole)]
        one_each = all(len({part.name for part in side}) == 1 for side in (lauric, cocoa_type))
        message = f"{(' and ' if one_each else ', with ').join(sides)}{',' * (not one_each)} of the fat phase"
        message += " soften each other; the blend is softer than its solid fat reads."
        cure = f"Keep {_one_side(lauric, cocoa_type)}, or try a small batch in heat."
        pair = (*lauric, *cocoa_type)
        found.append(_finding("eutectic", message, EUTECTIC_SOURCE, cure, "read", pair, "caution"))
    cocoa = [part for part in phase.tabled if part.facts.substance == COCOA]
    shea = [part for part in phase.tabled if part.facts.substance == SHEA]
    both = exact_sum((total(cocoa), total(shea)))
    if cocoa and shea and _is_above(total(shea), SHEA_IN_COCOA, both):
        message = f"Shea is {_percent_of(total(shea), both)} % of shea and cocoa butter together; above 20 % the pair"
        message += " is softer than its solid fat reads."
        cure = "Take the band as an upper end, or try a small batch in heat."
        found.append(_finding("shea_in_cocoa", message, SHEA_SOURCE, cure, "read", (*cocoa, *shea)))
    return found


def _one_side(lauric: Sequence[Part], cocoa_type: Sequence[Part]) -> str:
    """What to keep low: either kind, each fat of it; the names of one fat stand for it together."""
    bound = f"at {figure(EUTECTIC_FROM)} % of the fat phase or below"
    sides = []
    for parts in (lauric, cocoa_type):
        by_substance: dict[str, list[str]] = {}
        for part in parts:
            names = by_substance.setdefault(part.facts.substance, [])
            names += [part.name] * (part.name not in names)
        sides.append([" with ".join(names) for names in by_substance.values()])
    if len({part.name for part in (*lauric, *cocoa_type)}) == 2:
        return f"one of the two {bound}"
    return f"{' or '.join(_each(side) for side in sides)} {bound}"


def _each(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"each of {joined(names)}"


def _is_above(share: Decimal, percent: Decimal, whole: Decimal) -> bool:
    return exact_product(share, HUNDRED) > exact_product(percent, whole)


def _percent_of(share: Decimal, whole: Decimal) -> str:
    return figure(RATIO_UP.divide(exact_product(share, HUNDRED), whole), places=1)


def _above(phase: FatPhase, substances: frozenset[str], whole: Decimal) -> tuple[Part, ...]:
    """The fats of the kind of which each makes more than the bound of the fat phase."""
    by_substance: dict[str, list[Part]] = {}
    for part in phase.tabled:
        if part.facts.substance in substances:
            by_substance.setdefault(part.facts.substance, []).append(part)
    kept = [parts for parts in by_substance.values() if _is_above(total(parts), EUTECTIC_FROM, whole)]
    return tuple(part for parts in kept for part in parts)


def _shares(parts: Sequence[Part], whole: Decimal) -> str:
    sums: dict[str, Decimal] = {}
    for part in parts:
        sums[part.name] = exact_sum((sums.get(part.name, ZERO), amount(part)))
    return joined(f"{name} at {_percent_of(each, whole)} %" for name, each in sums.items())


def _drag(phase: FatPhase) -> list[Finding]:
    stearic = [part for part in phase.wax if part.facts.substance == STEARIC]
    waxes = [part for part in phase.wax if "wax" in part.facts.roles or part.facts.substance == "cera-alba"]
    found = []
    for parts, most in ((stearic, STEARIC_DRAGS), (waxes, WAX_DRAGS)):
        if total(parts) > most:
            message = f"{named(parts)} at {figure(total(parts))} %: above about {figure(most)} % it drags on the skin."
            cure = "A hard butter firms without dragging."
            found.append(_finding("drag", message, PRACTICE, cure, MEMORY, parts))
    return found


def _finding(
    rule: str,
    message: str,
    source: str,
    cure: str,
    basis: str,
    parts: Sequence[Part],
    severity: Severity = "note",
) -> Finding:
    return Finding(f"firmness.{rule}", severity, "firmness", message, source, cure, basis, keys_of(parts))
