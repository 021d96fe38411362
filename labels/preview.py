"""What the review of a formula says of its labels before there is one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from formulas.models import FormulaVersion
from formulas.rules.findings import Finding
from formulas.rules.review.parts import joined
from labels.assembly import amounts_for, market_word
from labels.rules.declaration import MARKETS, Declaration
from labels.rules.us_limits import check_us_colours, check_us_limits
from labels.shelf import shelf_around

US = "US"
MOST_MOVES = 3
"""Moves of one list that the review tells; the label's own page tells all."""


def preview(version: FormulaVersion, seen: Any) -> Sequence[Finding]:
    """Notes alone: the list of each market the maker sells to, what waits in it, what could move."""
    asked = seen.asked
    maker = version.maker
    if not asked.resolved.lines:
        return []
    shelf = seen.shared["shelf"] = shelf_around(maker, seen.paper, like=seen.shared.get("shelf"))
    lists: dict[str, Declaration] = {}
    for market in maker.markets:
        rule = MARKETS.get(market)
        if rule is not None:
            amounts = amounts_for(shelf, asked.totals, market, product_kind=version.formula.kind)
            lists[market] = rule(amounts)
    return [*_printed(lists), *_waiting(lists), *_moving(lists)]


def _printed(lists: Mapping[str, Declaration]) -> list[Finding]:
    """Each list in full. What compares two reviews finds a list by this rule and these words."""
    return [
        Finding(
            "label.preview",
            "note",
            f"Label, {market}",
            f"The list for {market_word(market)} would be: {declaration.text}.",
            source="labels of this maker",
        )
        for market, declaration in lists.items()
        if declaration.entries
    ]


def _waiting(lists: Mapping[str, Declaration]) -> list[Finding]:
    """What would keep labels from approval: the first point with its cure, once for all markets that share it."""
    waits = {market: (*one.stops, *one.unknowns) for market, one in lists.items()}
    firsts: dict[Finding, list[str]] = {}
    for market, points in waits.items():
        if points:
            firsts.setdefault(points[0], []).append(market)
    found = []
    for first, markets in firsts.items():
        counts = {len(waits[market]) for market in markets}
        count = counts.pop() if len(counts) == 1 else None
        if count is not None:
            text = f"{count} point{'s' * (count > 1)} would keep {_labels(markets)} from approval"
        else:
            each = [f"{len(waits[market])} for {market_word(market)}" for market in markets]
            text = f"Points would keep {_labels(markets)} from approval ({', '.join(each)})"
        text += f"{'' if count == 1 else ', first'}: {first.message}"
        found.append(Finding("label.waits", "note", _subject(markets), text, first.source, first.cure))
    return found


def _moving(lists: Mapping[str, Declaration]) -> list[Finding]:
    """What could change places in a list, each of the first few once for all markets that share it."""
    moves: dict[Finding, list[str]] = {}
    for market, declaration in lists.items():
        own = [one for one in declaration.notes if one.rule == "declaration.order"]
        for one in own[:MOST_MOVES]:
            moves.setdefault(replace(one, source=""), []).append(market)
    sources = {
        market: one.source
        for market in lists
        for one in lists[market].notes
        if one.rule == "declaration.order"
    }
    return [
        Finding(
            "label.order",
            "note",
            _subject(markets),
            f"On {_labels(markets)}, {one.message}",
            "; ".join(dict.fromkeys(sources[market] for market in markets)),
            one.cure,
        )
        for one, markets in moves.items()
    ]


def _labels(markets: Sequence[str]) -> str:
    return f"the label{'s' * (len(markets) > 1)} for {joined(map(market_word, markets))}"


def _subject(markets: Sequence[str]) -> str:
    return f"Label, {joined(markets)}"


def us_findings(version: FormulaVersion, seen: Any) -> Sequence[Finding]:
    """What the US bar or bound, where the maker sells there."""
    maker, area = version.maker, version.formula.body_area
    if US not in maker.markets or not seen.asked.resolved.lines:
        return []
    shelf = seen.shared["shelf"] = shelf_around(maker, seen.paper, like=seen.shared.get("shelf"))
    amounts = amounts_for(shelf, seen.asked.totals, US, product_kind=version.formula.kind)
    part = version.formula.form if seen.asked.formula.is_part else ""
    return [
        *check_us_limits(seen.asked.totals, area, part),
        *check_us_colours(amounts.amounts, area, part),
    ]
