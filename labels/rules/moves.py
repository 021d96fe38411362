"""What could change places in a printed list: neighbours within their suppliers' ranges, and equals."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import groupby, pairwise

from formulas.rules.findings import Finding
from formulas.rules.interval import Interval
from formulas.rules.number import ZERO, figure
from formulas.rules.review.parts import joined
from labels.rules.entries import FREE, SORTED, Entry, Ordering, order_figure, percent_text

MOST_NAMED = 3
"""Names in one sentence of what an entry may outweigh."""


def moves_of(entries: list[Entry], ordering: Ordering) -> tuple[list[Entry], list[Finding]]:
    """What the suppliers' ranges could change in the order, and who stands equal."""
    weighed = [entry for entry in entries if entry.section in (SORTED, FREE)]
    pairs = could_swap(weighed, ordering)
    moving = {entry.printed_name: entry for pair in pairs for entry in pair}
    said = {name: _said(entry) for name, entry in moving.items()}
    ahead: dict[str, list[Entry]] = {}
    behind: dict[str, list[str]] = {}
    for before, after in pairs:
        ahead.setdefault(after.printed_name, []).append(before)
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
            heavier = [said[before.printed_name] for before in ahead[entry.printed_name]]
            sentences.append(f"May weigh more than {', '.join(heavier)}.")
        if entry.printed_name in behind:
            sentences.append(f"May weigh less than {', '.join(behind[entry.printed_name])}.")
        moved.append(replace(entry, could_move=tuple(sentences)) if sentences else entry)
    return moved, notes


def _flip(said: str, entry: Entry, before: Sequence[Entry], ordering: Ordering) -> Finding:
    names = [_said(each) for each in before[:MOST_NAMED]]
    if len(before) > MOST_NAMED:
        names.append(f"{len(before) - MOST_NAMED} more")
    ranges = [each.percent for each in (entry, *before) if not each.percent.is_point]
    text = f"{said} may outweigh {joined(names)} within the suppliers' ranges; the order printed goes by"
    text += f" {_placed_by(ranges)}."
    cure = "Ask the suppliers for the shares as they deliver them, or for narrower ranges."
    return Finding("declaration.order", "caution", entry.printed_name, text, ordering.source, cure)


def _said(entry: Entry) -> str:
    return f"{entry.printed_name} ({percent_text(entry.percent)})"


def _placed_by(ranges: Sequence[Interval]) -> str:
    """What decides between shares that are known as ranges; see order_figure."""
    if any(each.expected is None for each in ranges):
        return "the end that is known"
    usual = [each.typical is not None for each in ranges]
    if all(usual):
        return "the usual figures"
    return "the usual figure, or else the middle of a range" if any(usual) else "the middle of each range"


def could_swap(entries: Sequence[Entry], ordering: Ordering) -> list[tuple[Entry, Entry]]:
    """(before, after) of the entries as they stand, where the later may be the heavier, at a weight at which
    the order counts; by the later one's place, then the earlier one's.

    A lower end that isn't known may be nothing; an upper one that isn't known outweighs all that is sorted.
    Two shares that are known to the last digit can't swap, nor can two of one ingredient against the order that
    its supplier gives, nor an allergen and the perfume it is part of.
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
    """Not both known to the last digit, not in an order that the suppliers give, and neither part of the other."""
    if (before.percent.is_point and after.percent.is_point) or _is_outranked(after, before):
        return False
    return not (_lies_within(after, before) or _lies_within(before, after))


def _is_outranked(after: Entry, before: Entry) -> bool:
    """Each ingredient that brings the one brings the other too, and its supplier's order says that of this it
    holds at least as much."""
    if not after.contributions or any(part.rank is None for part in after.contributions):
        return False
    first, second = _ranks(before), _ranks(after)
    return all(
        len(ranks) <= len(first.get(source, ()))
        and all(ahead < behind for ahead, behind in zip(first[source], ranks, strict=False))
        for source, ranks in second.items()
    )


def _ranks(entry: Entry) -> dict[tuple[str, str], list[int]]:
    """The places that an entry has in the order of each ingredient and lot, first to last."""
    found: dict[tuple[str, str], list[int]] = {}
    for part in entry.contributions:
        if part.rank is not None:
            found.setdefault((part.ingredient, part.label), []).append(part.rank)
    return {source: sorted(ranks) for source, ranks in found.items()}


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
    return [
        run for run in runs if len(run) > 1 and not any(_is_outranked(*pair[::-1]) for pair in pairwise(run))
    ]


def _equal(run: Sequence[Entry], ordering: Ordering) -> Finding:
    names = [entry.printed_name for entry in run]
    share = order_figure(run[0].percent) or ZERO
    which = "either" if len(names) == 2 else "any of them"
    text = f"{joined(names)} stand equal at {figure(share)} %: "
    text += f"{which} may come first, as weighing tolerance does not make the order false."
    return Finding("declaration.equal", "note", names[0], text, source=ordering.source)
