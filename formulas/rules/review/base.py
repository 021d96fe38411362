"""What kind of base a product is: how much water it holds, its oils, and what brings the two together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from formulas.rules.composition import shares as shares_of_composition
from formulas.rules.findings import Finding
from formulas.rules.interval import Interval, add
from formulas.rules.number import HUNDRED, ZERO, exact_sum, figure
from formulas.rules.review.asked import UNKNOWN, Asked
from formulas.rules.review.parts import Part, joined, parts_of, unmeasured
from formulas.rules.totals import UnknownShare

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

    parts: bought ingredients through premixes, most first, those whose percent isn't known at the end. own: what
    the formula's lines themselves put in, an in-house ingredient as one part where its form is on record. water: its
    upper end counts what isn't known. unsure: names of what brings the water that isn't known. taken_as: which of
    the two it is taken as, where either may be.
    """

    parts: tuple[Part, ...]
    own: tuple[Part, ...]
    water: Interval
    ethanol: Interval
    oils: tuple[Part, ...]
    emulsifiers: tuple[Part, ...]
    unsure: tuple[str, ...] = ()
    taken_as: Literal["", "wet", "water-free"] = ""

    @property
    def holds_water(self) -> bool:
        """It is certain that there is a water phase, or taken so."""
        certain = self.water.low is not None and self.water.low >= WATER_FREE_BELOW
        return self.taken_as == "wet" or certain

    @property
    def is_water_free(self) -> bool:
        """It is certain that there is none, or taken so."""
        certain = self.water.high is not None and self.water.high < WATER_FREE_BELOW
        return self.taken_as == "water-free" or certain

    @property
    def water_said(self) -> str:
        """Its water in words: "80 % water"; "water" where it is taken to hold some."""
        if self.taken_as == "wet":
            return "water"
        return (
            f"{in_words(self.water)} of water" if self.water.high is None else f"{span(self.water)} % water"
        )

    @property
    def why_dry(self) -> str:
        """Why it counts as water-free: "0 % water, below 1 %, counts as water-free"; short where it is taken so."""
        if self.taken_as:
            return "water-free"
        return f"{self.water_said}, below {figure(WATER_FREE_BELOW)} %, counts as water-free"

    @property
    def alcohol_protects(self) -> bool:
        """Enough ethanol that nothing grows."""
        return self.ethanol.low is not None and self.ethanol.low >= ALCOHOL_PROTECTS_FROM


def base_of(asked: Asked) -> Base:
    """The base that a formula makes. The order of its lines doesn't show."""
    parts = (*_most_first(parts_of(asked)), *_most_first(unmeasured(asked)))
    water, unsure = _water_of(asked)
    present = {key for part in parts for key in substances_of(asked, part)}
    with_alkali = bool(present & ALKALIS)
    emulsifiers = tuple(part for part in parts if _emulsifies(asked, part, with_alkali))
    oils = tuple(part for part in parts if part.facts.soluble_in in OILY and part not in emulsifiers)
    return Base(
        parts=parts,
        own=_most_first(_own_of(asked, parts)),
        water=water,
        ethanol=_declared(asked, ETHANOL),
        oils=oils,
        emulsifiers=emulsifiers,
        unsure=unsure,
    )


def in_either_case(base: Base, ask: Callable[[Base], Sequence[Finding]]) -> list[Finding]:
    """What a question finds of a base; where it may hold water or none, what it finds of both.

    What holds in both is said as it stands. What holds in one says in which, with both ends, and stops nothing.
    Where a line has no percent, nothing can be said of either but that it isn't known.
    """
    if base.holds_water or base.is_water_free:
        return list(ask(base))
    dry, wet = (list(ask(replace(base, taken_as=taken))) for taken in ("water-free", "wet"))
    both = [one for one in dry if one in wet]
    apart = [one for one in (*dry, *wet) if one not in both]
    if apart and base.water.high is None:
        return [*both, _not_known(apart[0].rule.partition(".")[0])]
    return [*both, *(_in_one_case(base, one, is_dry=one in dry) for one in apart)]


def _in_one_case(base: Base, finding: Finding, *, is_dry: bool) -> Finding:
    bound = figure(WATER_FREE_BELOW)
    case = f"below {bound} % it is water-free, and then" if is_dry else f"from {bound} % it counts, and then"
    return replace(
        finding,
        severity="caution" if finding.severity == "stop" else finding.severity,
        message=f"{base.water_said}, as far as known; {case}: {finding.message}",
        cure=f"{finding.cure} {how_to_know(base)}".strip(),
    )


def _not_known(chapter: str) -> Finding:
    message = (
        "How much water is in it isn't known, because the share of a line isn't; what this question asks of a"
    )
    message += " water phase can't be told."
    return Finding(f"{chapter}.water", "unknown", "water", message, cure="Give each line its share.")


def how_to_know(base: Base) -> str:
    """What settles whether it holds water; "" where that is settled."""
    return f"Or enter how much water comes with {joined(base.unsure)}." if base.unsure else ""


def substances_of(asked: Asked, part: Part) -> frozenset[str]:
    """Keys of what an ingredient declares; empty where its composition isn't known."""
    composition = asked.formula.compositions.get(part.ingredient)
    if composition is None:
        return frozenset({part.facts.substance} - {""})
    return frozenset(each.substance for each in composition.constituents if each.kind == "declared")


def total(parts: Iterable[Part]) -> Decimal:
    """Their percent of the product together, as expected; one whose percent isn't known adds nothing."""
    return exact_sum(part.percent.expected or ZERO for part in parts)


def has_open(parts: Iterable[Part]) -> bool:
    """Of one of them it isn't known how much there is."""
    return any(part.percent.high is None for part in parts)


def shares(parts: Iterable[Part]) -> str:
    """Names with percents, each once: "Shea butter 22 % and cocoa butter 6 %"."""
    by_name: dict[str, list[Part]] = {}
    for part in parts:
        by_name.setdefault(part.name, []).append(part)
    return joined(f"{name} {share_of(each)}" for name, each in by_name.items())


def share_of(parts: Sequence[Part]) -> str:
    """Their percent together, in words: "22 %", "22 % or more" or "in an unknown share"."""
    if not has_open(parts):
        return f"{figure(total(parts))} %"
    return f"{figure(total(parts))} % or more" if total(parts) else "in an unknown share"


def in_words(percent: Interval) -> str:
    """A percent in words: "3 %", "0 to 5 %", "3 % or more" or "an unknown share"."""
    if percent.high is not None:
        return f"{span(percent)} %"
    return f"{figure(percent.low, up=False)} % or more" if percent.low else "an unknown share"


def span(percent: Interval) -> str:
    """An interval to read: "3", "0 to 5" or "3 or more"."""
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


def _own_of(asked: Asked, inner: Sequence[Part]) -> tuple[Part, ...]:
    """The lines as parts: an in-house ingredient stands for itself where its form is on record."""
    found: list[Part] = []
    for line in asked.resolved.lines:
        facts = asked.facts_of(line.ingredient, line.name)
        if line.ingredient in asked.formula.nested and facts.form == UNKNOWN:
            found += [part for part in inner if part.line == line.key]
        else:
            share = line.share or Interval(None, None)
            found.append(Part(line.ingredient, line.name, share, line.key, facts))
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


def _water_of(asked: Asked) -> tuple[Interval, tuple[str, ...]]:
    """Between what is known to be water and what could be besides; and the names of what makes it uncertain."""
    watery = [total for total in asked.totals.declared if is_watery(total.substance)]
    open_parts = [share for share in asked.totals.unknown if _could_be_water(asked, share)]
    found = add(
        (
            add(total.amount for total in watery),
            *(Interval(ZERO, share.percent.high) for share in open_parts),
        )
    )
    low = found.low or ZERO
    ways = [part for total in watery for part in total.contributions if not part.amount.is_point]
    names = {way.path[-1].name for way in ways}
    names |= {share.path[-1].name if share.path else share.line_name for share in open_parts}
    water = Interval(low, None if found.high is None else max(low, min(found.high, HUNDRED)))
    return water, tuple(sorted(names))


def _could_be_water(asked: Asked, share: UnknownShare) -> bool:
    """Part of an ingredient that isn't known, or all of a line without a percent."""
    if share.path:
        return _may_hold_water(asked, share.path[-1].ingredient)
    lines = asked.resolved.lines
    if not share.percent.is_known:
        lines = tuple(line for line in lines if line.key == share.line)
    return any(_brings_water(asked, line.ingredient, ()) for line in lines)


def _brings_water(asked: Asked, ingredient: str, path: tuple[str, ...]) -> bool:
    """There is water in it, or may be, down through premixes."""
    inner = asked.formula.nested.get(ingredient)
    if inner is not None and ingredient not in path:
        deeper = (*path, ingredient)
        return any(_brings_water(asked, line.ingredient, deeper) for line in inner.formula.lines)
    composition = asked.formula.compositions.get(ingredient)
    if composition is None:
        return _may_hold_water(asked, ingredient)
    found = shares_of_composition(composition)
    if any(is_watery(share.constituent.substance) for share in found.declared):
        return True
    whole = found.is_consistent and found.remainder is None
    return not whole and _may_hold_water(asked, ingredient)


def _may_hold_water(asked: Asked, ingredient: str) -> bool:
    """A liquid, soft or unknown ingredient that isn't known to keep to oil."""
    facts = asked.facts_of(ingredient)
    wet = facts.form in {"liquid", "soft solid", UNKNOWN}
    return wet and facts.soluble_in not in {"oil", "insoluble"}
