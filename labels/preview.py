"""What the review of a formula says of its labels before there is one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from formulas.models import FormulaVersion
from formulas.rules.findings import Finding
from labels.assembly import amounts_for, market_word
from labels.rules.declaration import MARKETS
from labels.rules.us_limits import check_us_colours, check_us_limits
from labels.shelf import shelf_around

US = "US"


def preview(version: FormulaVersion, seen: Any) -> Sequence[Finding]:
    """Notes alone: the list of each market the maker sells to, what waits in it, what could move."""
    asked = seen.asked
    maker = version.maker
    if not asked.resolved.lines:
        return []
    shelf = seen.shared["shelf"] = shelf_around(maker, seen.paper, like=seen.shared.get("shelf"))
    found = []
    for market in maker.markets:
        rule = MARKETS.get(market)
        if rule is None:
            continue
        amounts = amounts_for(shelf, asked.totals, market, product_kind=version.formula.kind)
        declaration = rule(amounts)
        waiting = (*declaration.stops, *declaration.unknowns)
        subject = f"Label, {market}"
        if declaration.entries:
            text = f"The list for {market_word(market)} would be: {declaration.text}."
            found.append(Finding("label.preview", "note", subject, text, source="labels of this maker"))
        if waiting:
            count = len(waiting)
            text = (
                f"{count} point{'s' * (count > 1)} would keep it from approval. First: {waiting[0].message}"
            )
            found.append(Finding("label.waits", "note", subject, text, waiting[0].source, waiting[0].cure))
        moving = [one for one in declaration.notes if one.rule == "declaration.order"]
        if moving:
            text = " ".join(one.message for one in moving[:3])
            found.append(Finding("label.order", "note", subject, text, moving[0].source))
    return found


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
