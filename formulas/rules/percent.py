"""From the lines of a formula to resolved percents and to grams that add up exactly."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from formulas.rules.findings import Finding
from formulas.rules.interval import Interval
from formulas.rules.number import (
    HUNDRED,
    ZERO,
    difference,
    exact_sum,
    figure,
    percent_of,
    round_up_to_step,
    share_by_largest_remainder,
)

LineKind = Literal["percent", "to_100", "adjust"]


@dataclass(frozen=True, slots=True)
class FormulaLine:
    """One line of a formula as the maker wrote it.

    ingredient: the ingredient's key. percent: % w/w of the whole, None when not given (always for "to_100"
    and "adjust"). adjust_low, adjust_high: % of the 100 parts that the other lines make, added on top.
    purpose: what the ingredient does here ("preservative", "perfume", "colour"…), "" when not said.
    ph_low, ph_high: the pH to which an adjust line is added. strained: it is taken out again. leaves: key and name
    of the substance that a strained line leaves, where the maker named one.
    """

    key: str
    ingredient: str
    name: str
    percent: Decimal | None = None
    kind: LineKind = "percent"
    adjust_low: Decimal | None = None
    adjust_high: Decimal | None = None
    purpose: str = ""
    ph_low: Decimal | None = None
    ph_high: Decimal | None = None
    strained: bool = False
    leaves: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class ResolvedLine:
    """A line with its share of what goes in; ``share`` is None when the line says none."""

    key: str
    ingredient: str
    name: str
    kind: LineKind
    share: Interval | None
    purpose: str = ""
    strained: bool = False
    leaves: tuple[str, str] | None = None

    @property
    def percent(self) -> Decimal | None:
        """The one figure of a percent or "to 100" line; None for an adjust line."""
        return self.share.low if self.share is not None and self.kind != "adjust" else None


@dataclass(frozen=True, slots=True)
class ResolvedFormula:
    """All lines with their shares, what they add up to, and what is wrong with them.

    total: the sum of the percent and "to 100" lines, %. Adjust lines stand outside.
    """

    lines: tuple[ResolvedLine, ...]
    total: Decimal
    findings: tuple[Finding, ...] = ()

    @property
    def is_complete(self) -> bool:
        """The percents make exactly 100 and nothing stops."""
        return self.total == HUNDRED and not any(f.severity == "stop" for f in self.findings)


@dataclass(frozen=True, slots=True)
class GramLine:
    """What to weigh for one line, g. An adjust line has a range, the others one figure in both ends."""

    key: str
    low_g: Decimal
    high_g: Decimal

    @property
    def grams(self) -> Decimal | None:
        """The one figure; None where there is a range."""
        return self.low_g if self.low_g == self.high_g else None


@dataclass(frozen=True, slots=True)
class GramPlan:
    """Grams per line. Refuses to exist when the lines outside adjustment do not add up to ``total_g``."""

    total_g: Decimal
    step: Decimal
    lines: tuple[GramLine, ...]
    adjust: tuple[GramLine, ...]

    def __post_init__(self) -> None:
        if exact_sum(line.low_g for line in self.lines) != self.total_g:
            raise ValueError("the lines do not add up to the batch")


def resolve(lines: Iterable[FormulaLine]) -> ResolvedFormula:
    """Shares of all lines; the "to 100" line takes what is left. Never raises: what is wrong is a finding."""
    lines = tuple(lines)
    written = exact_sum(line.percent for line in lines if line.kind == "percent" and line.percent is not None)
    fillers = [line for line in lines if line.kind == "to_100"]
    left = difference(HUNDRED, written)
    filled = len(fillers) == 1 and left > ZERO
    resolved = tuple(_resolve_line(line, left if filled else None) for line in lines)
    return ResolvedFormula(
        lines=resolved,
        total=HUNDRED if filled else written,
        findings=(
            *_findings_of_lines(lines),
            *_findings_of_sum(lines, fillers, written),
        ),
    )


def grams(lines: Iterable[FormulaLine] | ResolvedFormula, total_g: Decimal, step: Decimal) -> GramPlan:
    """Grams per line in steps of the scale, adding up to the planned total exactly.

    total_g: grams wanted, above 0; rounded up to ``step`` (the scale's readability, g). Adjust lines come
    on top, as a range rounded up at both ends. Raises ValueError when the formula does not make exactly 100.
    """
    formula = lines if isinstance(lines, ResolvedFormula) else resolve(lines)
    if not formula.is_complete:
        raise ValueError(f"the percents make {figure(formula.total, places=12)}, not 100")
    if total_g <= ZERO:
        raise ValueError("a batch weighs more than 0 g")
    planned = round_up_to_step(total_g, step)
    shared = [(line.key, line.percent) for line in formula.lines if line.percent is not None]
    weights = share_by_largest_remainder(planned, [percent for _, percent in shared], step)
    return GramPlan(
        total_g=planned,
        step=step,
        lines=tuple(GramLine(key, gram, gram) for (key, _), gram in zip(shared, weights, strict=True)),
        adjust=tuple(
            GramLine(
                line.key,
                round_up_to_step(percent_of(line.share.low or ZERO, planned), step),
                round_up_to_step(percent_of(line.share.high or ZERO, planned), step),
            )
            for line in formula.lines
            if line.kind == "adjust" and line.share is not None
        ),
    )


def _resolve_line(line: FormulaLine, left: Decimal | None) -> ResolvedLine:
    share: Interval | None = None
    if line.kind == "adjust":
        low, high = line.adjust_low, line.adjust_high
        if high is not None and (low is None or low <= high):
            share = Interval(low, high)
    else:
        percent = left if line.kind == "to_100" else line.percent
        share = None if percent is None else Interval.point(percent)
    return ResolvedLine(
        line.key, line.ingredient, line.name, line.kind, share, line.purpose, line.strained, line.leaves
    )


def _findings_of_lines(lines: Sequence[FormulaLine]) -> list[Finding]:
    found = []
    for line in lines:
        if line.kind == "percent":
            found += _percent_line(line)
        elif line.kind == "adjust":
            found += _adjust_line(line)
    return found


def _percent_line(line: FormulaLine) -> list[Finding]:
    if line.percent is None:
        message = f"{line.name} has no percent yet."
        cure = "Give it one, or make it the “to 100” line."
    elif line.percent <= ZERO:
        message = f"{line.name} stands at {figure(line.percent, places=12)} %; a line takes more than 0."
        cure = "Give it a figure above 0, or take the line out."
    elif line.percent > HUNDRED:
        message = f"{line.name} stands at {figure(line.percent, places=12)} %; a whole is 100."
        cure = "Look at the decimal sign."
    else:
        return []
    return [Finding("formula.percent", "stop", line.name, message, cure=cure, lines=(line.key,))]


def _adjust_line(line: FormulaLine) -> list[Finding]:
    low, high = line.adjust_low, line.adjust_high
    if high is None:
        message = f"{line.name} is added as needed, but to what most isn't said."
        cure = "Give the range it stays in, 0 to 0.5 % say."
    elif high <= ZERO or (low is not None and low < ZERO):
        message = (
            f"{line.name} is added from {figure(low or ZERO)} to {figure(high)} %; the range starts at 0."
        )
        cure = "Give the range it stays in."
    elif low is not None and low > high:
        message = (
            f"{line.name} is added from {figure(low)} to {figure(high)} %: the ends are the wrong way round."
        )
        cure = f"Make it {figure(high)} to {figure(low)} %."
    else:
        return []
    return [Finding("formula.adjust", "stop", line.name, message, cure=cure, lines=(line.key,))]


def _findings_of_sum(
    lines: Sequence[FormulaLine], fillers: Sequence[FormulaLine], written: Decimal
) -> list[Finding]:
    if not lines:
        cure = "Add the first ingredient."
        return [Finding("formula.empty", "stop", "formula", "No lines yet.", cure=cure)]
    exact = figure(written, places=12)
    if len(fillers) > 1:
        names = " and ".join(line.name for line in fillers)
        message = f"{len(fillers)} lines are “to 100”: {names}. Only one can take what is left."
        return [_sum_finding("formula.two_to_100", message, "Give the others a percent.", fillers)]
    if fillers:
        name = fillers[0].name
        if written < HUNDRED:
            return []
        if written == HUNDRED:
            message = f"0 is left for {name}: the other lines already make 100."
        else:
            message = (
                f"The other lines make {exact}, {figure(difference(written, HUNDRED), places=12)} over 100;"
            )
            message += f" nothing is left for {name}."
        return [_sum_finding("formula.to_100", message, "Lower another line.", fillers)]
    gap = difference(HUNDRED, written)
    if gap > ZERO:
        largest = max(lines, key=lambda line: line.percent or ZERO)
        cure = f"Add it to {largest.name}, or make one line “to 100”."
        message = f"{figure(gap, places=12)} is missing from 100: the lines make {exact}."
    elif gap < ZERO:
        cure = "Lower a line by that much."
        message = f"{figure(-gap, places=12)} over 100: the lines make {exact}."
    else:
        return []
    return [_sum_finding("formula.sum", message, cure, ())]


def _sum_finding(rule: str, message: str, cure: str, lines: Sequence[FormulaLine]) -> Finding:
    return Finding(rule, "stop", "sum", message, cure=cure, lines=tuple(line.key for line in lines))
