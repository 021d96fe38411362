"""The shape of a declaration and the ordering that all markets share."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import groupby

from formulas.rules.findings import Finding, in_order
from formulas.rules.interval import Interval, add
from formulas.rules.number import ONE, ZERO, figure
from labels.rules.amounts import Contribution, DeclaredAmount, ProductAmounts
from labels.rules.facts import Fact, each_once
from labels.rules.names import PrintedName, composition_facts

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


@dataclass(slots=True)
class _Group:
    printed: PrintedName
    amounts: list[DeclaredAmount] = field(default_factory=list)
    colours: list[bool] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)

    @property
    def percent(self) -> Interval:
        return add(amount.percent for amount in self.amounts)


def declare(
    product: ProductAmounts,
    ordering: Ordering,
    basis_of: Sequence[DeclaredAmount],
    extra: tuple[Entry, ...] = (),
) -> Declaration:
    """The list of the declared amounts, plus ``extra`` entries that lie within them (named allergens).

    An extra entry whose name is there already is left away; one of 1 % or more is sorted by its weight.
    basis_of: the amounts whose compositions the list rests on.
    """
    amounts = sorted((part for part in product.amounts if not part.within), key=amount_key)
    kept, left_out, unknowns = _without_incidental(amounts, ordering)
    groups = _groups(kept, ordering)
    entries = [_entry(group, ordering) for group in groups]
    taken = {entry.printed_name.casefold() for entry in entries}
    entries += [_placed(entry, ordering) for entry in extra if entry.printed_name.casefold() not in taken]
    entries.sort(key=lambda entry: (_rank(entry.section), *_descending(entry)))
    entries, order_notes = _moves(entries, ordering)
    problems = [finding for group in groups for finding in _problems(group)]
    unknowns += [finding for finding in problems if finding.severity == "unknown"]
    unknowns += _unknown_amounts(entries) + _unknown_parts(product)
    name_notes = [_name_note(group) for group in groups if group.printed.note]
    facts = [fact for group in groups for fact in group.facts]
    return Declaration(
        market=ordering.market,
        heading=ordering.heading,
        entries=tuple(entries),
        left_out=tuple(left_out),
        stops=tuple(finding for finding in problems if finding.severity == "stop"),
        unknowns=tuple(unknowns),
        notes=(*order_notes, *name_notes),
        facts_from_memory=each_once(
            (*sorted(facts, key=lambda fact: fact.key), *composition_facts(tuple(basis_of)))
        ),
    )


def with_also(declaration: Declaration, also: Mapping[str, str]) -> Declaration:
    """Entries outside the allergens say why their name would come again. also: by folded name."""
    entries = tuple(
        replace(entry, also=also[entry.printed_name.casefold()])
        if not entry.is_allergen and entry.printed_name.casefold() in also
        else entry
        for entry in declaration.entries
    )
    return replace(declaration, entries=entries)


def amount_key(amount: DeclaredAmount) -> tuple[str, ...]:
    """An order of amounts that doesn't depend on how they came in."""
    return (amount.substance, amount.eu_name, amount.us_name, repr(amount))


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


def _rank(section: str) -> int:
    return SECTIONS.index(section)


def _descending(entry: Entry) -> tuple[Decimal, bool, str]:
    """Most first; what lies within another name stands after its equals."""
    return -(order_figure(entry.percent) or ZERO), entry.is_allergen, entry.printed_name


def _without_incidental(
    amounts: Sequence[DeclaredAmount], ordering: Ordering
) -> tuple[list[DeclaredAmount], list[Omission], list[Finding]]:
    kept, left_out, unknowns = [], [], []
    for amount in amounts:
        if amount.percent.high == ZERO:
            reason = "none of it is in the product"
            left_out.append(_omitted(amount, "nothing of it", reason, ordering.source))
        elif amount.incidental and amount.incidental_reason.strip():
            reason = amount.incidental_reason.strip()
            left_out.append(_omitted(amount, "incidental", reason, ordering.incidental_source))
        else:
            kept.append(amount)
            if amount.incidental:
                unknowns.append(_no_reason(amount, ordering))
    return kept, left_out, unknowns


def _omitted(amount: DeclaredAmount, rule: str, reason: str, source: str) -> Omission:
    return Omission(amount.eu_name, amount.percent, rule, reason, source, amount.contributions)


def _no_reason(amount: DeclaredAmount, ordering: Ordering) -> Finding:
    return Finding(
        "declaration.incidental",
        "unknown",
        amount.eu_name,
        f"{amount.eu_name} is marked incidental without a reason, so it stays in the list.",
        source=ordering.incidental_source,
        cure="Write down why it has no effect in the product, or take the mark away.",
    )


def _groups(amounts: Sequence[DeclaredAmount], ordering: Ordering) -> list[_Group]:
    groups: dict[str, _Group] = {}
    for amount in amounts:
        printed = ordering.name_of(amount)
        text = printed.text or amount.substance
        group = groups.setdefault(text.casefold(), _Group(replace(printed, text=text)))
        if printed.problem and not group.printed.problem:
            group.printed = replace(printed, text=group.printed.text)
        group.amounts.append(amount)
        group.facts += [printed.fact] if printed.fact is not None else []
        group.colours.append(ordering.is_colour(amount) and not amount.is_perfume and not amount.is_flavour)
    return list(groups.values())


def _entry(group: _Group, ordering: Ordering) -> Entry:
    percent = group.percent
    reason = ""
    if all(group.colours):
        section, rule = COLOURS, ordering.colour_rule
    else:
        section, rule = _by_weight(percent, ordering)
        if any(group.colours):
            reason = "Part of it colours; with the rest it stands by its whole weight."
    members = sorted({amount.eu_name for amount in group.amounts})
    if members == [group.printed.text]:
        members = []
    parts = [part for amount in group.amounts for part in amount.contributions]
    return Entry(
        printed_name=group.printed.text,
        percent=percent,
        section=section,
        rule=rule,
        reason=reason,
        source=ordering.source,
        contributions=tuple(
            sorted(parts, key=lambda part: (_share(part), part.ingredient, part.label, repr(part)))
        ),
        members=tuple(members),
    )


def _share(part: Contribution) -> Decimal:
    return -(order_figure(part.percent) or ZERO)


def _by_weight(percent: Interval, ordering: Ordering) -> tuple[str, str]:
    share = order_figure(percent)
    if share is not None and ordering.is_sorted(share):
        return SORTED, ordering.sorted_rule
    return FREE, ordering.free_rule


def _placed(entry: Entry, ordering: Ordering) -> Entry:
    """An allergen of 1 % or more stands by its weight, or it would break the descending order."""
    share = order_figure(entry.percent)
    if share is None or not ordering.is_sorted(share):
        return entry
    return replace(entry, section=SORTED, rule="perfume allergen; by weight, as it is 1 % or more")


def _moves(entries: list[Entry], ordering: Ordering) -> tuple[list[Entry], list[Finding]]:
    """What the suppliers' ranges could change in the order, and who stands equal."""
    weighed = [entry for entry in entries if entry.section in (SORTED, FREE)]
    pairs = could_swap(weighed, ordering)
    moving = {entry.printed_name: entry for pair in pairs for entry in pair}
    said = {name: f"{name} ({percent_text(entry.percent)})" for name, entry in moving.items()}
    ahead: dict[str, list[str]] = {}
    behind: dict[str, list[str]] = {}
    for before, after in pairs:
        ahead.setdefault(after.printed_name, []).append(said[before.printed_name])
        behind.setdefault(before.printed_name, []).append(said[after.printed_name])
    notes = [
        _flip(said[entry.printed_name], entry, ahead[entry.printed_name], ordering)
        for entry in weighed
        if entry.printed_name in ahead
    ]
    notes += [_equal(run, ordering) for run in _equal_runs(weighed)]
    moved = []
    for entry in entries:
        sentences = []
        if entry.printed_name in ahead:
            sentences.append(f"May weigh more than {', '.join(ahead[entry.printed_name])}.")
        if entry.printed_name in behind:
            sentences.append(f"May weigh less than {', '.join(behind[entry.printed_name])}.")
        moved.append(replace(entry, could_move=tuple(sentences)) if sentences else entry)
    return moved, notes


def _flip(said: str, entry: Entry, before: Sequence[str], ordering: Ordering) -> Finding:
    text = f"{said} may outweigh {', '.join(before)} within "
    text += "the suppliers' ranges. The order printed is that of the usual figures."
    return Finding("declaration.order", "caution", entry.printed_name, text, source=ordering.source)


def could_swap(entries: Sequence[Entry], ordering: Ordering) -> list[tuple[Entry, Entry]]:
    """(before, after) of the entries as they stand, where the later may be the heavier, at a weight at which
    the order counts; by the later one's place, then the earlier one's.

    A lower end that isn't known may be nothing; an upper one that isn't known outweighs all that is sorted.
    Two shares that are known to the last digit can't swap, nor can an allergen and the perfume it is part of.
    The entries seen are kept by their lower end, so that only those that can be outweighed are looked at.
    """
    found = []
    lower_ends: list[tuple[Decimal, int]] = []
    for place, after in enumerate(entries):
        high = after.percent.high
        if high is None:
            earlier = [index for index in range(place) if entries[index].section == SORTED]
        elif ordering.is_sorted(high):
            earlier = sorted(index for _, index in lower_ends[: bisect_left(lower_ends, (high, 0))])
        else:
            earlier = []
        found += [
            (before, after) for before in (entries[index] for index in earlier) if _are_apart(before, after)
        ]
        insort(lower_ends, (after.percent.low or ZERO, place))
    return found


def _are_apart(before: Entry, after: Entry) -> bool:
    """Not both known to the last digit, and neither part of the other."""
    if before.percent.is_point and after.percent.is_point:
        return False
    return not (_lies_within(after, before) or _lies_within(before, after))


def _lies_within(part: Entry, whole: Entry) -> bool:
    """A named allergen that comes from the same materials as the other entry, Parfum say."""
    if not part.is_allergen:
        return False
    brought = {(source.ingredient, source.label) for source in whole.contributions}
    return all((source.ingredient, source.label) in brought for source in part.contributions)


def _equal_runs(entries: Sequence[Entry]) -> list[list[Entry]]:
    """Entries of the sorted part that stand at one figure, two or more together."""
    placed = [entry for entry in entries if entry.section == SORTED and not entry.is_allergen]
    runs = [list(run) for _, run in groupby(placed, key=lambda entry: order_figure(entry.percent))]
    return [run for run in runs if len(run) > 1]


def _equal(run: Sequence[Entry], ordering: Ordering) -> Finding:
    names = [entry.printed_name for entry in run]
    share = order_figure(run[0].percent) or ZERO
    which = "Either" if len(names) == 2 else "Any of them"
    text = f"{', '.join(names[:-1])} and {names[-1]} stand equal at {figure(share)} %. "
    text += f"{which} may come first; weighing tolerance does not make the order false."
    return Finding("declaration.equal", "note", names[0], text, source=ordering.source)


def _problems(group: _Group) -> list[Finding]:
    if not group.printed.problem:
        return []
    name = group.printed.text
    brought = ", ".join(
        sorted({part.ingredient for amount in group.amounts for part in amount.contributions})
    )
    return [
        Finding(
            "declaration.name",
            "stop" if group.printed.barred else "unknown",
            name,
            f"{name}{f', from {brought}' if brought else ''}: {group.printed.problem}.",
            source=group.printed.source,
            cure="Choose another colour for this market."
            if group.printed.barred
            else "Enter its name for this market with the substance.",
        )
    ]


def _name_note(group: _Group) -> Finding:
    text = f"{group.printed.text}: {group.printed.note}."
    return Finding("declaration.name-note", "note", group.printed.text, text, source=group.printed.source)


def _unknown_amounts(entries: Sequence[Entry]) -> list[Finding]:
    return [
        Finding(
            "declaration.amount",
            "unknown",
            entry.printed_name,
            f"How much {entry.printed_name} is in the product is unknown: {percent_text(entry.percent)}. "
            "Its place in the list is a guess.",
            source=entry.source,
            cure="Ask the supplier for the share, or for the order of what is in it.",
        )
        for entry in entries
        if entry.section in (SORTED, FREE) and entry.percent.expected is None
    ]


def _unknown_parts(product: ProductAmounts) -> list[Finding]:
    parts = sorted(product.unknown_parts, key=lambda part: (part.ingredient, part.label, repr(part)))
    return [
        Finding(
            "declaration.unknown-part",
            "unknown",
            part.ingredient,
            f"{part.ingredient} ({percent_text(part.percent)} of the product): {part.reason}.",
            cure="Enter its composition from the supplier's sheet.",
        )
        for part in parts
    ]
