"""Where each text stands on a label, in millimetres: one layout serves the proof on screen and the PDF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from typing import Any

from labels.fonts import MM_PER_PT, not_drawn, width_mm
from labels.rules.fitting import LEADING, OPEN_SANS, height_mm, wrap

MARGIN = Decimal("2")
GAP = Decimal("0.8")
"""White around the label's texts and between them, mm: habits of typesetting."""

LARGEST_MORE_PT = Decimal(3)
STEP_PT = Decimal("0.25")
JAR_MM = Decimal(6)
JAR_WIDE = Decimal(5)
NAME, SMALL, NET, GAP_ROLE, JAR = "name", "small", "net", "gap", "jar"
BATCH = "batch"


@dataclass(frozen=True, slots=True)
class Block:
    """One text. role: name (bold, larger), small, net (at ``least_pt``), batch, gap (missing here), jar."""

    key: str
    role: str
    text: str
    least_pt: Decimal


@dataclass(frozen=True, slots=True)
class Placed:
    """One thing on the label. x, y: mm from the upper left; y is the baseline of a text, the top of a box."""

    kind: str
    x: Decimal
    y: Decimal
    text: str = ""
    size_pt: Decimal = Decimal(0)
    bold: bool = False
    width: Decimal = Decimal(0)
    height: Decimal = Decimal(0)

    @property
    def size_mm(self) -> Decimal:
        """The size as SVG in millimetres takes it."""
        return round(self.size_pt * MM_PER_PT, 3)


@dataclass(frozen=True, slots=True)
class Layout:
    """A laid-out label, mm. needed: height that the texts take; overflow: words wider than the label."""

    width: Decimal
    height: Decimal
    items: tuple[Placed, ...]
    needed: Decimal
    small_pt: Decimal
    net_pt: Decimal
    overflow: tuple[str, ...]
    unknown_signs: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Everything stands inside, at a lawful size."""
        return self.needed <= self.height and not self.overflow

    @property
    def digits_mm(self) -> Decimal:
        """Height of the quantity's lowest digit."""
        return height_mm(OPEN_SANS.digit, self.net_pt)

    @property
    def small_x_mm(self) -> Decimal:
        """Height of a small letter of the small text."""
        return height_mm(OPEN_SANS.x, self.small_pt)

    @property
    def gaps(self) -> tuple[Placed, ...]:
        """Where something required is missing."""
        return tuple(item for item in self.items if item.kind == "gap")

    def refusal(self) -> str:
        """Why this can't be printed as it is, "" when it can."""
        if self.unknown_signs:
            signs = ", ".join(f"“{sign}”" for sign in self.unknown_signs)
            return f"The label's face has no sign for {signs}. Write it in other letters."
        if self.overflow:
            return f"“{self.overflow[0]}” is wider than the label. Make the label wider."
        if not self.fits:
            return (
                f"The texts need {self.needed} mm of height at the smallest letters; "
                f"{plain(self.height)} mm are there. Make the label larger or say less."
            )
        return ""


def plain(value: Decimal) -> str:
    """A figure without idle zeros."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def blocks_of(
    printed: Mapping[str, str], small_pt: Decimal, net_pt: Decimal, gaps: Mapping[str, str], pao: str
) -> tuple[Block, ...]:
    """The texts in the order in which they stand. gaps: what is missing, by the place where it belongs."""

    def one(key: str, role: str = SMALL, before: str = "") -> list[Block]:
        text = printed.get(key, "")
        found = [Block(key, role, before + text, small_pt)] if text else []
        return found + ([Block(f"gap-{key}", GAP_ROLE, gaps[key], small_pt)] if key in gaps else [])

    blocks = [
        *one("name", NAME),
        *(one("what it is") if printed.get("what it is") != printed.get("name") else []),
        *one("directions"),
        *one("cautions"),
        *one("ingredients"),
        *one("more"),
        *one("maker"),
        *one("contact"),
        *one("origin"),
    ]
    if printed.get("keeps", "").startswith("date with each batch"):
        blocks.append(Block("batch", BATCH, "Batch … · best used before the end of …", small_pt))
    else:
        blocks.append(Block("batch", BATCH, "Batch …", small_pt))
    if "keeps" in gaps:
        blocks.append(Block("gap-keeps", GAP_ROLE, gaps["keeps"], small_pt))
    if pao:
        blocks.append(Block("jar", JAR, pao, small_pt))
    if printed.get("net quantity"):
        blocks.append(Block("net quantity", NET, printed["net quantity"], net_pt))
    if "net quantity" in gaps:
        blocks.append(Block("gap-net", GAP_ROLE, gaps["net quantity"], small_pt))
    return tuple(blocks)


def for_batch(blocks: Sequence[Block], code: str, durability_text: str) -> tuple[Block, ...]:
    """The same label with a batch's code and date in their place."""
    text = " · ".join(part for part in (f"Batch {code}", durability_text) if part)
    return tuple(replace(block, text=text) if block.role == BATCH else block for block in blocks)


BLANK = "_" * 14
"""Room for a code or a date written by hand."""


def by_hand(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """The same label with blanks where a batch's code and date are written by hand."""
    return tuple(
        replace(block, text=block.text.replace("…", BLANK)) if block.role == BATCH else block
        for block in blocks
    )


def lay_out(blocks: Sequence[Block], width: Decimal, height: Decimal) -> Layout:
    """Set the texts as large as they fit, never below their least size; at that size where they don't fit."""
    tried = _at(blocks, width, height, Decimal(0))
    if not tried.fits:
        return tried
    more = LARGEST_MORE_PT
    while more > 0:
        larger = _at(blocks, width, height, more)
        if larger.fits:
            return larger
        more -= STEP_PT
    return tried


def _at(blocks: Sequence[Block], width: Decimal, height: Decimal, more: Decimal) -> Layout:
    room = width - 2 * MARGIN
    items: list[Placed] = []
    overflow: list[str] = []
    y = MARGIN
    small = min((block.least_pt for block in blocks if block.role == SMALL), default=Decimal(5)) + more
    net_pt = next((block.least_pt for block in blocks if block.role == NET), small)
    tail = [block for block in blocks if block.role in (NET, JAR)]
    for block in blocks:
        if block.role in (NET, JAR):
            continue
        y = _place(items, overflow, block, room, y, more) + GAP
    top = max(y, height - MARGIN - _tail_height(tail)) if _fits_tail(tail, y, height) else y
    bottom = _place_tail(items, overflow, tail, width, top)
    used = (bottom if tail else y - GAP) + MARGIN
    needed = used.quantize(Decimal("0.1"), rounding=ROUND_CEILING)
    signs = not_drawn("".join(block.text for block in blocks))
    return Layout(width, height, tuple(items), needed, small, net_pt, tuple(overflow), signs)


def _fits_tail(tail: Sequence[Block], y: Decimal, height: Decimal) -> bool:
    return y + _tail_height(tail) + MARGIN <= height


def _tail_height(tail: Sequence[Block]) -> Decimal:
    heights = [JAR_MM if block.role == JAR else block.least_pt * MM_PER_PT for block in tail]
    return max(heights, default=Decimal(0))


def _place(
    items: list[Placed], overflow: list[str], block: Block, room: Decimal, y: Decimal, more: Decimal
) -> Decimal:
    bold = block.role == NAME
    size = block.least_pt + more
    if bold:
        size = size + size / 2
    inset = Decimal(1) if block.role == GAP_ROLE else Decimal(0)
    lines, wide = wrap(block.text, room - 2 * inset, size, lambda text, at: width_mm(text, at, bold=bold))
    overflow += wide
    leading = size * LEADING * MM_PER_PT
    top = y
    if inset:
        y += inset / 2
    for line in lines:
        y += leading
        baseline = y - leading / 4
        items.append(
            Placed("text" if not inset else "gap-text", MARGIN + inset, _r(baseline), line, size, bold)
        )
    if inset:
        y += inset / 2
        items.append(Placed("gap", MARGIN, _r(top), block.text, width=room, height=_r(y - top)))
    return y


def _place_tail(
    items: list[Placed], overflow: list[str], tail: Sequence[Block], width: Decimal, top: Decimal
) -> Decimal:
    """The open jar on the left and the net quantity on the right of the lowest line."""
    bottom = top + _tail_height(tail)
    left = MARGIN
    for block in tail:
        if block.role == JAR:
            items.append(
                Placed(
                    "jar",
                    MARGIN,
                    _r(bottom - JAR_MM),
                    block.text,
                    block.least_pt,
                    width=JAR_WIDE,
                    height=JAR_MM,
                )
            )
            left = MARGIN + JAR_WIDE + 2
            items.append(
                Placed(
                    "text", _r(MARGIN + JAR_WIDE + Decimal("0.6")), _r(bottom - 1), block.text, block.least_pt
                )
            )
            left += width_mm(block.text, block.least_pt)
    for block in tail:
        if block.role == NET:
            wide = width_mm(block.text, block.least_pt)
            if left + wide > width - MARGIN:
                overflow.append(block.text)
            x = max(left, width - MARGIN - wide)
            items.append(
                Placed(
                    "text", _r(x), _r(bottom - block.least_pt * MM_PER_PT / 10), block.text, block.least_pt
                )
            )
    return bottom


def _r(value: Decimal) -> Decimal:
    return round(value, 3)


def as_plain(blocks: Sequence[Block]) -> list[dict[str, str]]:
    """Blocks as a snapshot keeps them."""
    return [
        {"key": one.key, "role": one.role, "text": one.text, "least_pt": f"{one.least_pt:f}"}
        for one in blocks
    ]


def from_plain(rows: Sequence[Mapping[str, Any]]) -> tuple[Block, ...]:
    """Blocks out of a snapshot."""
    return tuple(Block(row["key"], row["role"], row["text"], Decimal(row["least_pt"])) for row in rows)
