"""A supplier's spreadsheet between the file and a composition: rows, the substances they mean, what is open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from formulas.models import Substance
from formulas.rules.composition import Composition, Constituent, Shares, shares, substance_key
from formulas.rules.composition_sheet import SheetRow
from formulas.rules.identify import Meant, Substances


@dataclass(slots=True)
class ReadRow:
    """A row on its way: what stands there, what it means, what is in the way. substance: None for one's own."""

    row: SheetRow
    meant: Meant
    substance: Substance | None = None
    name: str = ""
    is_own: bool = False
    kind: str = "declared"
    low: Decimal | None = None
    typical: Decimal | None = None
    high: Decimal | None = None
    is_out: bool = False
    problems: dict[str, str] = field(default_factory=dict)

    @property
    def is_known(self) -> bool:
        """Whether anything is said of its share."""
        return any(one is not None for one in (self.low, self.typical, self.high))

    @property
    def key(self) -> str:
        """The key of the substance that it means, known or not yet."""
        return self.substance.key if self.substance else substance_key(self.name)


def look_up(row: SheetRow, names: Substances) -> Meant:
    """What a row's name and number mean."""
    return names.find(row.name, row.cas)


def judge(rows: Sequence[ReadRow]) -> None:
    """Say beside each row what is in its way: no substance, a share that was not read, a double."""
    counted = [one for one in rows if not one.is_out]
    times = Counter((one.key, one.kind) for one in counted if one.substance or one.is_own)
    for one in counted:
        if one.substance is None and not one.is_own:
            one.problems["means"] = _which(one)
        elif times[one.key, one.kind] > 1:
            one.problems["is_out"] = (
                f"{one.name} stands {times[one.key, one.kind]} times. Keep one row, or add them up."
            )
        if not one.kind:
            one.problems["kind"] = f"“{one.row.kind_word}” says neither declared nor within. Which is it?"


def _which(one: ReadRow) -> str:
    said = f"{one.meant.says} " if one.meant.says else ""
    if not one.name:
        return f"{said}Which substance is it?".strip()
    names = {substance_key(name) for known in one.meant.offers for name in (known.name, *known.names)}
    if substance_key(one.name) not in names:
        said += f"“{one.name}” is not among the substances known here. "
    return f"{said}Choose one, or keep it as your own."


def as_parts(rows: Sequence[ReadRow], *, ordered: bool) -> list[dict[str, Any]]:
    """The rows that count as a composition's editor starts from; in descending order they get their place."""
    parts, places = [], 0
    for one in rows:
        if one.is_out:
            continue
        rank = None
        if ordered and one.kind == "declared":
            rank = places = places + 1
        parts.append(
            {
                "substance": one.substance.inci_name if one.substance else one.name,
                "kind": one.kind,
                "low": one.low,
                "typical": one.typical,
                "high": one.high,
                "rank": rank,
                "incidental_reason": "",
            }
        )
    return parts


def together(rows: Sequence[ReadRow], name: str, *, ordered: bool) -> Shares:
    """What the rows come to as a composition, with what can't be true at once."""
    parts = []
    for one, part in zip(
        [row for row in rows if not row.is_out], as_parts(rows, ordered=ordered), strict=True
    ):
        if one.problems or not one.kind:
            continue
        figures = {key: part[key] for key in ("low", "typical", "high", "rank")}
        kind: Any = one.kind
        parts.append(Constituent(one.key, str(part["substance"]), kind, **figures))
    return shares(Composition("sheet", name, tuple(parts)))
