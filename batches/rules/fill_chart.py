"""The control chart of single fills: limits from the moving range, and where everything stands on paper.

Control limits say whether the filling is steady; they are not what the label or the law asks. Both are
drawn and both are named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise

from batches.rules.fills import WIDE
from formulas.rules.number import exact_sum, figure

D2_OF_TWO = Decimal("1.128")
"""Mean range of two normal values in standard deviations: NIST/SEMATECH e-Handbook 6.3.2.2."""
D4_OF_TWO = Decimal("3.267")
PROVISIONAL_UNDER = 20
"""Limits from fewer fills are called provisional. From memory."""

WIDTH, HEIGHT = 760, 270
LEFT, RIGHT, TOP, BOTTOM = 44, 668, 16, 244
"""The plot's edges in the drawing's units; words of lines stand right of ``RIGHT``."""
LINE_WORDS_GAP = 14
TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """Limits for single values: mean +/- 3 x mean moving range / 1.128.

    baseline: how many fills set them, in order of filling. provisional: fewer than 20.
    """

    baseline: int
    center_g: Decimal
    upper_g: Decimal
    lower_g: Decimal
    mean_range_g: Decimal
    upper_range_g: Decimal

    @property
    def provisional(self) -> bool:
        """Too few fills for limits to trust."""
        return self.baseline < PROVISIONAL_UNDER


def control_limits(fills: Sequence[Decimal]) -> ControlLimits | None:
    """Limits from the fills given, in order of filling; None from fewer than two."""
    if len(fills) < 2:
        return None
    ranges = [abs(later - earlier) for earlier, later in pairwise(fills)]
    center = WIDE.divide(exact_sum(fills), Decimal(len(fills)))
    mean_range = WIDE.divide(exact_sum(ranges), Decimal(len(ranges)))
    reach = WIDE.divide(WIDE.multiply(Decimal(3), mean_range), D2_OF_TWO)
    return ControlLimits(
        baseline=len(fills),
        center_g=center,
        upper_g=WIDE.add(center, reach),
        lower_g=WIDE.subtract(center, reach),
        mean_range_g=mean_range,
        upper_range_g=WIDE.multiply(D4_OF_TWO, mean_range),
    )


def outside(fills: Sequence[Decimal], limits: ControlLimits) -> tuple[int, ...]:
    """Places (from 0) of the fills beyond a limit; on it is within. The single rule; no run rules."""
    return tuple(place for place, fill in enumerate(fills) if fill > limits.upper_g or fill < limits.lower_g)


@dataclass(frozen=True, slots=True)
class ChartLine:
    """A level across the plot. kind: "limit", "law", "line" or "grid", the class it is drawn with."""

    kind: str
    y: Decimal
    words_y: Decimal
    words: str


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One fill. number: from 1. out: beyond a control limit."""

    number: int
    x: Decimal
    y: Decimal
    grams: Decimal
    out: bool


@dataclass(frozen=True, slots=True)
class FillChart:
    """Everything to draw; ``title`` says the result in words. path: through all points."""

    width: int
    height: int
    left: int
    right: int
    title: str
    lines: tuple[ChartLine, ...]
    points: tuple[ChartPoint, ...]
    path: str


def draw_chart(
    fills: Sequence[Decimal], nominal: Decimal, *, baseline: int | None = None
) -> FillChart | None:
    """The chart of fills in order of filling; None from fewer than two.

    baseline: the first so many set the limits, all of them when None. Words at line ends never overlap.
    """
    limits = control_limits(fills[:baseline] if baseline is not None else fills)
    if limits is None:
        return None
    out = set(outside(fills, limits))
    marks = _grid([*fills, nominal, limits.upper_g, limits.lower_g])
    low, high = marks[0], marks[-1]

    def height(value: Decimal) -> Decimal:
        return _tenth(Decimal(BOTTOM) - (value - low) * (BOTTOM - TOP) / (high - low))

    step = Decimal(RIGHT - LEFT) / len(fills)
    points = tuple(
        ChartPoint(
            number=place + 1,
            x=_tenth(LEFT + step * place + step / 2),
            y=height(fill),
            grams=fill,
            out=place in out,
        )
        for place, fill in enumerate(fills)
    )
    levels = [
        ("limit", limits.upper_g, f"upper {_two(limits.upper_g)}"),
        ("limit", limits.lower_g, f"lower {_two(limits.lower_g)}"),
        ("line", limits.center_g, f"mean {_two(limits.center_g)}"),
        ("law", nominal, f"label {figure(nominal)} g"),
    ]
    named = _apart([(kind, height(value), words) for kind, value, words in levels])
    grid = [ChartLine("grid", height(mark), height(mark) + 4, figure(mark)) for mark in marks]
    return FillChart(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=RIGHT,
        title=_title(fills, nominal, limits, sorted(out)),
        lines=(*grid, *named),
        points=points,
        path="M" + " ".join(f"{point.x},{point.y}" for point in points),
    )


def _title(fills: Sequence[Decimal], nominal: Decimal, limits: ControlLimits, out: Sequence[int]) -> str:
    text = (
        f"{len(fills)} fill weights in order of filling. Mean {_two(limits.center_g)} g, control limits "
        f"{_two(limits.lower_g)} and {_two(limits.upper_g)} g, label says {figure(nominal)} g."
    )
    if limits.provisional:
        text += f" The limits are provisional: {limits.baseline} fills set them."
    for place in out:
        side = "above the upper" if fills[place] > limits.upper_g else "below the lower"
        text += f" Pack {place + 1} at {figure(fills[place])} g is {side} limit."
    return text


def _grid(values: Sequence[Decimal]) -> list[Decimal]:
    """Three to eight round figures that span the values."""
    low, high = min(values), max(values)
    span = max(high - low, Decimal("0.01"))
    step = Decimal(1).scaleb(span.adjusted())
    for factor in (Decimal("0.2"), Decimal("0.5"), Decimal(1), Decimal(2)):
        if span / (step * factor) <= 5:
            step *= factor
            break
    first = low // step - (1 if low < 0 and low % step else 0)
    marks = [first * step]
    while marks[-1] < high or len(marks) < 3:
        marks.append(marks[-1] + step)
    return marks


def _apart(levels: Sequence[tuple[str, Decimal, str]]) -> list[ChartLine]:
    """Lines with their words, moved down where they would stand on the words above."""
    placed: list[ChartLine] = []
    for kind, y, words in sorted(levels, key=lambda level: (level[1], level[2])):
        words_y = y + 4
        if placed and words_y < placed[-1].words_y + LINE_WORDS_GAP:
            words_y = placed[-1].words_y + LINE_WORDS_GAP
        placed.append(ChartLine(kind, y, words_y, words))
    return placed


def _tenth(value: Decimal) -> Decimal:
    return value.quantize(TENTH, rounding=ROUND_HALF_UP)


def _two(value: Decimal) -> str:
    return f"{value.quantize(Decimal('0.01'), rounding=ROUND_HALF_UP):f}"
