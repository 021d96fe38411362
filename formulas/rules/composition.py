"""What an ingredient is made of: given figures, their order and the sum of 100 as intervals."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from formulas.rules.findings import Finding
from formulas.rules.interval import Interval
from formulas.rules.number import (
    HUNDRED,
    RATIO_DOWN,
    RATIO_UP,
    ZERO,
    difference,
    exact_sum,
    figure,
    round_down,
    round_up,
)
from formulas.rules.vocabulary import MEMORY

ConstituentKind = Literal["declared", "within"]

DERIVED_PLACES = 12
"""Decimals of an end that follows from order and sum; rounded outwards, so the share stays inside."""


def substance_key(name: str) -> str:
    """The key of a substance from its INCI name: lower case, words joined by hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    key = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")
    return key[:120] or "u-" + hashlib.sha256(name.encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class Constituent:
    """One substance in an ingredient, % w/w of that ingredient.

    kind: "declared" constituents together make 100; "within" ones are part of a declared one (an allergen
    of an oil). rank: place in the supplier's descending order, 1 first. Each figure may be None = not given.
    """

    substance: str
    name: str
    kind: ConstituentKind = "declared"
    low: Decimal | None = None
    typical: Decimal | None = None
    high: Decimal | None = None
    rank: int | None = None
    incidental: bool = False


@dataclass(frozen=True, slots=True)
class Composition:
    """What one ingredient declares and contains.

    within_stated: the supplier says what is within (perfume allergens), and nothing else is.
    basis: read / supplier / confirmed / memory.
    """

    ingredient: str
    name: str
    constituents: tuple[Constituent, ...]
    basis: str = MEMORY
    source: str = ""
    within_stated: bool = False


@dataclass(frozen=True, slots=True)
class Share:
    """A constituent with the interval that holds it.

    derived: an end follows from order or sum, not from a figure of the supplier.
    estimated: only a typical figure is known; both ends are that figure.
    """

    constituent: Constituent
    interval: Interval
    derived: bool
    estimated: bool


@dataclass(frozen=True, slots=True)
class Shares:
    """All shares of a composition. remainder: what no constituent accounts for, None when nothing is left."""

    declared: tuple[Share, ...]
    within: tuple[Share, ...]
    remainder: Interval | None
    findings: tuple[Finding, ...]

    @property
    def is_consistent(self) -> bool:
        """The figures can all be true at once."""
        return not any(finding.severity == "stop" for finding in self.findings)


def shares(composition: Composition) -> Shares:
    """The interval of each constituent from figures, order and the sum of 100, and what is wrong.

    A lone typical figure is kept as both ends and marked estimated. Without any figure the order alone
    gives ends: the k-th of a list holds at most 100/k. Where the figures cannot all be true, the given
    ones are handed back untouched beside a stop.
    """
    findings = _findings(composition)
    declared = [part for part in composition.constituents if part.kind == "declared"]
    within = tuple(_within(part) for part in composition.constituents if part.kind == "within")
    if any(finding.severity == "stop" for finding in findings) or not declared:
        raw = tuple(Share(part, _raw(part), False, False) for part in declared)
        left = None if declared else Interval.point(HUNDRED)
        return Shares(raw, within, left, tuple(findings))
    bounds = _Bounds(declared)
    remainder = bounds.remainder()
    if remainder is None and not bounds.tighten():
        message = f"{composition.name}: the figures and their order can't add up to 100."
        cure = "Compare them with the supplier's sheet."
        findings.append(Finding("composition.sum", "stop", composition.name, message, cure=cure))
        raw = tuple(Share(part, _raw(part), False, False) for part in declared)
        return Shares(raw, within, None, tuple(findings))
    if remainder is not None:
        findings.append(_remainder_finding(composition, remainder))
    return Shares(bounds.shares(), within, remainder, tuple(findings))


def _raw(part: Constituent) -> Interval:
    if part.low is not None and part.high is not None and part.low > part.high:
        return Interval(None, None, part.typical)
    return Interval(part.low, part.high, part.typical)


def _within(part: Constituent) -> Share:
    """The given ends; a share is never below 0, so a missing lower end reads 0, a missing upper one stays."""
    estimated = part.typical is not None and part.low is None and part.high is None
    if estimated and part.typical is not None:
        return Share(part, Interval.point(part.typical), False, True)
    raw = _raw(part)
    if raw.low is None and raw.high is not None:
        return Share(part, replace(raw, low=ZERO), True, False)
    return Share(part, raw, False, False)


class _Bounds:
    """Lower and upper ends of declared constituents, drawn together until nothing moves."""

    def __init__(self, parts: Sequence[Constituent]) -> None:
        self.parts = sorted(parts, key=lambda part: (part.rank is None, part.rank or 0))
        self.given = [_given(part) for part in self.parts]
        self.low = [low if low is not None else ZERO for low, _ in self.given]
        self.high = [high if high is not None else HUNDRED for _, high in self.given]
        self.ranked = sum(part.rank is not None for part in self.parts)

    def remainder(self) -> Interval | None:
        """What is left below 100 even at the upper ends; None when the constituents can make 100."""
        if exact_sum(self.high) >= HUNDRED:
            return None
        return Interval(difference(HUNDRED, exact_sum(self.high)), difference(HUNDRED, exact_sum(self.low)))

    def tighten(self) -> bool:
        """Apply order and sum until they change nothing. False when they contradict the figures."""
        for _ in range(8 * len(self.parts) + 8):
            before = (list(self.low), list(self.high))
            self._order()
            self._sum()
            self._order_and_sum()
            if any(low > high for low, high in zip(self.low, self.high, strict=True)):
                return False
            if before == (self.low, self.high):
                break
        return True

    def shares(self) -> tuple[Share, ...]:
        """The shares in the order in which they are printed: by rank, then as given."""
        found = []
        for part, given, low, high in zip(self.parts, self.given, self.low, self.high, strict=True):
            estimated = part.typical is not None and part.low is None and part.high is None
            typical = part.typical if part.typical is not None and low <= part.typical <= high else None
            if typical is None and low == high:
                typical = low
            found.append(Share(part, Interval(low, high, typical), given != (low, high), estimated))
        return tuple(found)

    def _order(self) -> None:
        for index in range(1, self.ranked):
            self.high[index] = min(self.high[index], self.high[index - 1])
        for index in range(self.ranked - 1, 0, -1):
            self.low[index - 1] = max(self.low[index - 1], self.low[index])

    def _sum(self) -> None:
        for index in range(len(self.parts)):
            others_high = exact_sum(self.high[:index] + self.high[index + 1 :])
            others_low = exact_sum(self.low[:index] + self.low[index + 1 :])
            self.low[index] = max(self.low[index], difference(HUNDRED, others_high))
            self.high[index] = min(self.high[index], difference(HUNDRED, others_low))

    def _order_and_sum(self) -> None:
        """The k-th in order is matched or topped by all before it, and tops or matches all after it."""
        for index in range(self.ranked):
            count = index + 1
            room = difference(HUNDRED, exact_sum(self.low[count:]))
            for fixed in range(count):
                spare = difference(room, exact_sum(self.low[:fixed]))
                bound = round_up(RATIO_UP.divide(spare, Decimal(count - fixed)), DERIVED_PLACES)
                self.high[index] = min(self.high[index], bound)
            unranked = exact_sum(self.high[self.ranked :])
            need = difference(difference(HUNDRED, unranked), exact_sum(self.high[:index]))
            for fixed in range(self.ranked - index):
                tail = exact_sum(self.high[self.ranked - fixed : self.ranked])
                divisor = Decimal(self.ranked - index - fixed)
                bound = round_down(RATIO_DOWN.divide(difference(need, tail), divisor), DERIVED_PLACES)
                self.low[index] = max(self.low[index], bound)


def _given(part: Constituent) -> tuple[Decimal | None, Decimal | None]:
    """The ends the supplier gives; a lone typical figure stands for both."""
    if part.low is None and part.high is None and part.typical is not None:
        return part.typical, part.typical
    return part.low, part.high


def _findings(composition: Composition) -> list[Finding]:
    name = composition.name
    declared = [part for part in composition.constituents if part.kind == "declared"]
    if not declared:
        message = f"{name}: unknown what is in it; 100 % of it is undeclared."
        cure = "Ask the supplier for the INCI list and its shares."
        return [Finding("composition.none", "unknown", name, message, cure=cure)]
    found: list[Finding] = []
    for part in composition.constituents:
        found += [_stop(name, message) for message in _figures_of(name, part)]
    found += _doubles(composition)
    lows = exact_sum(_given(part)[0] or ZERO for part in declared)
    if lows > HUNDRED:
        points = all(_given(part)[0] == _given(part)[1] for part in declared)
        text = "shares" if points else "lower ends"
        message = f"{name}: the {text} make {figure(lows, places=12)}, "
        found.append(_stop(name, message + f"{figure(difference(lows, HUNDRED), places=12)} over 100."))
    found += _order_clash(name, declared)
    return found


def _figures_of(name: str, part: Constituent) -> list[str]:
    label = f"{name}: {part.name}"
    figures = (("least", part.low), ("typical", part.typical), ("most", part.high))
    for word, value in figures:
        if value is not None and (value < ZERO or value > HUNDRED):
            return [f"{label} stands at {figure(value, places=12)} % {word}; a share lies between 0 and 100."]
    pairs = ((figures[0], figures[2]), (figures[0], figures[1]), (figures[1], figures[2]))
    for (lower, low), (upper, high) in pairs:
        if low is not None and high is not None and low > high:
            low_text, high_text = figure(low, places=12), figure(high, places=12)
            return [f"{label}: {lower} {low_text} % is above {upper} {high_text} %."]
    return []


def _doubles(composition: Composition) -> list[Finding]:
    name, seen, found = composition.name, set(), []
    for part in composition.constituents:
        if (part.substance, part.kind) in seen:
            found.append(_stop(name, f"{name}: {part.name} stands twice."))
        seen.add((part.substance, part.kind))
    for part in composition.constituents:
        if part.kind == "within" and (part.substance, "declared") in seen:
            message = f"{name}: {part.name} is declared and also stands within; it counts once, as declared."
            found.append(Finding("composition.twice", "note", name, message))
    return found


def _order_clash(name: str, declared: Sequence[Constituent]) -> list[Finding]:
    ranked = sorted((part for part in declared if part.rank is not None), key=lambda part: part.rank or 0)
    for earlier, later in pairwise(ranked):
        high, low = _given(earlier)[1], _given(later)[0]
        if high is not None and low is not None and low > high:
            message = f"{name}: {later.name} ({figure(low)} % at least) stands after {earlier.name}"
            message += f" ({figure(high)} % at most)."
            return [_stop(name, message)]
    return []


def _stop(name: str, message: str) -> Finding:
    return Finding("composition.figures", "stop", name, message, cure="Compare it with the supplier's sheet.")


def _remainder_finding(composition: Composition, remainder: Interval) -> Finding:
    low, high = remainder.low or ZERO, remainder.high or ZERO
    span = figure(low, places=12) if low == high else f"{figure(low, places=12)} to {figure(high, places=12)}"
    message = f"{composition.name}: {span} % of it is not accounted for."
    return Finding(
        "composition.remainder",
        "unknown",
        composition.name,
        message,
        source=composition.source or "arithmetic",
        cure="Ask the supplier what the rest is.",
        basis=composition.basis,
    )
