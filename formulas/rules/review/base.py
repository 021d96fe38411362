"""What kind of base a product is: how much water it holds, its oils, and what brings the two together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.interval import Interval, add
from formulas.rules.number import HUNDRED, ZERO, exact_sum, figure
from formulas.rules.review.asked import UNKNOWN, Asked
from formulas.rules.review.parts import Part, parts_of

WATER_FREE_BELOW = Decimal(1)
"""% water below which a product counts as water-free; ours, no source. A blend or an extract brings traces."""

ALCOHOL_PROTECTS_FROM = Decimal(20)
"""% ethanol from which a product counts as one of low microbiological risk; ISO 29621, from memory."""

PRACTICE = "common practice, no source"

OILY = frozenset({"oil"})
WATERY_ENDS = ("-water", "-juice")
"""How INCI names of plant waters and pressed juices end; the naming convention, from memory."""
ETHANOL = frozenset({"alcohol", "alcohol-denat"})
EMULSIFYING = frozenset({"behentrimonium-methosulfate", "behentrimonium-chloride", "cetrimonium-chloride"})
"""Substances that emulsify, whatever word an ingredient's role has for them; from memory."""
ACIDS_OF_SOAP = frozenset({"stearic-acid", "palmitic-acid", "myristic-acid", "lauric-acid"})
ALKALIS = frozenset({"sodium-hydroxide", "potassium-hydroxide", "triethanolamine", "sodium-borate"})
"""A fatty acid emulsifies once an alkali has made a soap of it, and not before."""


@dataclass(frozen=True, slots=True)
class Base:
    """A product looked at as a base. Percents are of the product.

    parts: bought ingredients through premixes, most first. own: what the formula's lines themselves put in, an
    in-house ingredient as one part where its form is on record. water: its upper end counts what isn't known.
    """

    parts: tuple[Part, ...]
    own: tuple[Part, ...]
    water: Interval
    ethanol: Interval
    oils: tuple[Part, ...]
    emulsifiers: tuple[Part, ...]

    @property
    def holds_water(self) -> bool:
        """It is certain that there is a water phase."""
        return self.water.low is not None and self.water.low >= WATER_FREE_BELOW

    @property
    def is_water_free(self) -> bool:
        """It is certain that there is none."""
        return self.water.high is not None and self.water.high < WATER_FREE_BELOW

    @property
    def alcohol_protects(self) -> bool:
        """Enough ethanol that nothing grows."""
        return self.ethanol.low is not None and self.ethanol.low >= ALCOHOL_PROTECTS_FROM


def base_of(asked: Asked) -> Base:
    """The base that a formula makes. The order of its lines doesn't show."""
    parts = _most_first(parts_of(asked))
    present = {key for part in parts for key in substances_of(asked, part)}
    with_alkali = bool(present & ALKALIS)
    emulsifiers = tuple(part for part in parts if _emulsifies(asked, part, with_alkali))
    oils = tuple(part for part in parts if part.facts.soluble_in in OILY and part not in emulsifiers)
    return Base(
        parts=parts,
        own=_most_first(_own_of(asked)),
        water=_water_of(asked),
        ethanol=_declared(asked, ETHANOL),
        oils=oils,
        emulsifiers=emulsifiers,
    )


def substances_of(asked: Asked, part: Part) -> frozenset[str]:
    """Keys of what an ingredient declares; empty where its composition isn't known."""
    composition = asked.formula.compositions.get(part.ingredient)
    if composition is None:
        return frozenset({part.facts.substance} - {""})
    return frozenset(each.substance for each in composition.constituents if each.kind == "declared")


def total(parts: Iterable[Part]) -> Decimal:
    """Their percent of the product together, as expected; one whose percent isn't known adds nothing."""
    return exact_sum(part.percent.expected or ZERO for part in parts)


def shares(parts: Iterable[Part]) -> str:
    """Names with percents, each once: "Shea butter 22 % and cocoa butter 6 %"."""
    sums: dict[str, Decimal] = {}
    for part in parts:
        sums[part.name] = exact_sum((sums.get(part.name, ZERO), part.percent.expected or ZERO))
    words = [f"{name} {figure(each)} %" for name, each in sums.items()]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def span(percent: Interval) -> str:
    """An interval to read: "3", "0 to 5" or "an unknown share of"."""
    low = percent.low or ZERO
    if percent.high is None:
        return f"{figure(low, up=False)} or more"
    if low == percent.high:
        return figure(low)
    return f"{figure(low, up=False)} to {figure(percent.high, up=True)}"


def purpose_of(asked: Asked, part: Part) -> str:
    """What the maker wrote on the line itself; "" for what a premix brings."""
    for line in asked.resolved.lines:
        if line.key == part.line:
            return line.purpose if line.ingredient == part.ingredient else ""
    return ""


def _own_of(asked: Asked) -> tuple[Part, ...]:
    """The lines as parts: an in-house ingredient stands for itself where its form is on record."""
    inner = parts_of(asked)
    found: list[Part] = []
    for line in asked.resolved.lines:
        facts = asked.facts_of(line.ingredient, line.name)
        if line.share is None:
            continue
        if line.ingredient in asked.formula.nested and facts.form == UNKNOWN:
            found += [part for part in inner if part.line == line.key]
        else:
            found.append(Part(line.ingredient, line.name, line.share, line.key, facts))
    return tuple(found)


def _most_first(parts: Iterable[Part]) -> tuple[Part, ...]:
    """Most first; name and key decide between equals, so that the order of lines never shows."""
    return tuple(sorted(parts, key=lambda part: (-(part.percent.expected or ZERO), part.name, part.line)))


def _emulsifies(asked: Asked, part: Part, with_alkali: bool) -> bool:
    substances = substances_of(asked, part)
    if substances and substances <= ACIDS_OF_SOAP:
        return with_alkali
    return bool(part.facts.roles & {"emulsifier", "surfactant"} or substances & EMULSIFYING)


def is_watery(substance: str) -> bool:
    """Water, a plant water or a pressed juice."""
    return substance in {"aqua", "water"} or substance.endswith(WATERY_ENDS)


def _declared(asked: Asked, wanted: Iterable[str]) -> Interval:
    keys = frozenset(wanted)
    return add(total.amount for total in asked.totals.declared if total.substance in keys)


def _water_of(asked: Asked) -> Interval:
    """Between what is known to be water and what could be besides."""
    known = add(total.amount for total in asked.totals.declared if is_watery(total.substance))
    open_parts = [
        share.percent
        for share in asked.totals.unknown
        if share.path and _may_hold_water(asked, share.path[-1].ingredient)
    ]
    could_be = [Interval(ZERO, percent.high) for percent in open_parts]
    found = add((known, *could_be))
    low = found.low or ZERO
    return Interval(low, None if found.high is None else max(low, min(found.high, HUNDRED)))


def _may_hold_water(asked: Asked, ingredient: str) -> bool:
    """A liquid, soft or unknown ingredient that isn't known to keep to oil."""
    facts = asked.facts_of(ingredient)
    wet = facts.form in {"liquid", "soft solid", UNKNOWN}
    return wet and facts.soluble_in not in {"oil", "insoluble"}
