"""The shape of a declaration: its entries, what was left out, and how one market names and groups."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from formulas.rules.findings import Finding, in_order
from formulas.rules.interval import Interval
from formulas.rules.number import ONE, ZERO, figure
from labels.rules.amounts import Contribution, DeclaredAmount
from labels.rules.facts import Fact
from labels.rules.names import PrintedName

SORTED, FREE, ALLERGENS, COLOURS = "sorted", "free", "allergens", "colours"
SECTIONS = (SORTED, FREE, ALLERGENS, COLOURS)
"""Parts of the list in the order in which they are printed."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One printed name.

    percent: of the finished product; perfume allergens and colours may lie within another entry's.
    section: one of SECTIONS; rule: what put it there, as a phrase; reason: more on it, or "". members: the
    substances under the name. could_move: sentences on what could change its place, empty when nothing
    could. also: why it would stand here a second time. is_allergen: it is here for the allergen list alone.
    """

    printed_name: str
    percent: Interval
    section: str
    rule: str
    reason: str
    source: str
    contributions: tuple[Contribution, ...]
    members: tuple[str, ...] = ()
    could_move: tuple[str, ...] = ()
    also: str = ""
    is_allergen: bool = False


@dataclass(frozen=True, slots=True)
class Omission:
    """A name that was looked at and is not printed."""

    name: str
    percent: Interval
    rule: str
    reason: str
    source: str
    contributions: tuple[Contribution, ...] = ()


@dataclass(frozen=True, slots=True)
class Declaration:
    """The list of one market, ready to print once ``is_complete`` and every fact is confirmed.

    stops: names that may not stand on a label of this market. unknowns: what is not known yet.
    notes: worth reading, blocking nothing. facts_from_memory: to be confirmed by the maker.
    """

    market: str
    heading: str
    entries: tuple[Entry, ...]
    left_out: tuple[Omission, ...] = ()
    stops: tuple[Finding, ...] = ()
    unknowns: tuple[Finding, ...] = ()
    notes: tuple[Finding, ...] = ()
    facts_from_memory: tuple[Fact, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The printed names in order."""
        return tuple(entry.printed_name for entry in self.entries)

    @property
    def listing(self) -> str:
        """The names with commas, without the heading."""
        return ", ".join(self.names)

    @property
    def text(self) -> str:
        """What is printed, heading first; "" for an empty list."""
        return f"{self.heading}: {self.listing}" if self.entries else ""

    @property
    def is_complete(self) -> bool:
        """Nothing unknown and nothing barred."""
        return bool(self.entries) and not self.unknowns and not self.stops

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Stops, unknowns, cautions and notes in the order of a review."""
        return in_order((*self.stops, *self.unknowns, *self.notes))

    def section(self, name: str) -> tuple[Entry, ...]:
        """The entries of one of SECTIONS."""
        return tuple(entry for entry in self.entries if entry.section == name)

    def adding(
        self,
        *,
        left_out: tuple[Omission, ...] = (),
        unknowns: tuple[Finding, ...] = (),
        notes: tuple[Finding, ...] = (),
    ) -> Declaration:
        """The same list with more to say about it."""
        return replace(
            self,
            left_out=(*self.left_out, *left_out),
            unknowns=(*self.unknowns, *unknowns),
            notes=(*self.notes, *notes),
        )


@dataclass(frozen=True, slots=True)
class Ordering:
    """How one market names and groups. one_is_sorted: exactly 1 % belongs to the sorted part."""

    market: str
    heading: str
    one_is_sorted: bool
    sorted_rule: str
    free_rule: str
    colour_rule: str
    source: str
    incidental_source: str
    name_of: Callable[[DeclaredAmount], PrintedName]
    is_colour: Callable[[DeclaredAmount], bool]

    def for_market(self, market: str) -> Ordering:
        """The same rules under another market's name."""
        return replace(self, market=market)

    def is_sorted(self, percent: Decimal) -> bool:
        """A share of this size has its place by weight."""
        return percent > ONE or (self.one_is_sorted and percent == ONE)


def with_also(declaration: Declaration, also: Mapping[str, str]) -> Declaration:
    """Entries outside the allergens say why their name would come again. also: by folded name."""
    entries = tuple(
        replace(entry, also=also[entry.printed_name.casefold()])
        if not entry.is_allergen and entry.printed_name.casefold() in also
        else entry
        for entry in declaration.entries
    )
    return replace(declaration, entries=entries)


def percent_text(percent: Interval | Decimal) -> str:
    """A share to read: "0.84 to 0.9 %", "up to 0.3 %", "unknown"."""
    if isinstance(percent, Decimal):
        return f"{figure(percent)} %"
    low, high = percent.low, percent.high
    if low is None and high is None:
        return f"about {figure(percent.typical)} %" if percent.typical is not None else "an unknown share"
    if high is None:
        return f"at least {figure(low or ZERO, up=False)} %"
    if not low:
        return f"up to {figure(high, up=True)} %" if high else "0 %"
    if low == high:
        return f"{figure(low)} %"
    return f"{figure(low, up=False)} to {figure(high, up=True)} %"


def order_figure(percent: Interval) -> Decimal | None:
    """The figure by which an entry is placed: the expected one, else the end that is known."""
    if percent.expected is not None:
        return percent.expected
    return percent.high if percent.high is not None else percent.low
