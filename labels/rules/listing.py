"""The making of a list: the ordering and grouping that all markets share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from formulas.rules.findings import Finding
from formulas.rules.interval import Interval, add
from formulas.rules.number import ZERO
from labels.rules.amounts import Contribution, DeclaredAmount, ProductAmounts
from labels.rules.entries import (
    COLOURS,
    FREE,
    SECTIONS,
    SORTED,
    Declaration,
    Entry,
    Omission,
    Ordering,
    order_figure,
    percent_text,
)
from labels.rules.facts import Fact, each_once
from labels.rules.moves import moves_of
from labels.rules.names import PrintedName, composition_facts

LAST = 1_000
"""Place of what no supplier's order has a place for."""


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
    entries, order_notes = moves_of(entries, ordering)
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


def amount_key(amount: DeclaredAmount) -> tuple[str, ...]:
    """An order of amounts that doesn't depend on how they came in."""
    return (amount.substance, amount.eu_name, amount.us_name, repr(amount))


def _rank(section: str) -> int:
    return SECTIONS.index(section)


def _descending(entry: Entry) -> tuple[Decimal, bool, int, str]:
    """Most first; equals by their suppliers' order, and what lies within another name after its equals."""
    place = min((part.rank for part in entry.contributions if part.rank is not None), default=LAST)
    return -(order_figure(entry.percent) or ZERO), entry.is_allergen, place, entry.printed_name


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
            f"How much {entry.printed_name} is in the product is unknown: {percent_text(entry.percent)}, "
            "so its place in the list is a guess.",
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
