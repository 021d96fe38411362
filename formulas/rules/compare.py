"""Two formulas side by side: what changed in percent, in findings, in the order of a printed list."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from formulas.rules.findings import Finding
from formulas.rules.interval import Interval, add
from formulas.rules.number import difference, figure
from formulas.rules.percent import ResolvedFormula

Change = Literal["new", "gone", "changed", "same"]


@dataclass(frozen=True, slots=True)
class ShareChange:
    """One ingredient in both formulas, all its lines together.

    left, right: % of the whole; None where the formula doesn't take it. An open end is not known. as_needed: at
    least one of its lines is added as needed, on top of the 100. strained: whether it is strained out, on the left
    and on the right.
    """

    ingredient: str
    name: str
    change: Change
    left: Interval | None
    right: Interval | None
    as_needed: bool = False
    strained: tuple[bool, bool] = (False, False)

    @property
    def straining(self) -> str:
        """What became of its straining, in words; "" where that is as before."""
        before, after = self.strained
        if before == after:
            return ""
        return "now strained out" if after else "no longer strained out"

    @property
    def difference(self) -> Decimal | None:
        """Right less left, an absent one counting 0; None where either is a range or not known."""
        ends = [Interval.point(Decimal(0)) if one is None else one for one in (self.left, self.right)]
        left, right = (one.low if one.is_point else None for one in ends)
        return None if left is None or right is None else difference(right, left)


@dataclass(frozen=True, slots=True)
class FindingChange:
    """A finding on one side alone, or on both in other words."""

    change: Change
    left: Finding | None
    right: Finding | None


def compare_shares(left: ResolvedFormula, right: ResolvedFormula) -> tuple[ShareChange, ...]:
    """Every ingredient of either, in the order of the right one, those that are gone after them."""
    before, after = _by_ingredient(left), _by_ingredient(right)
    found = []
    for key in [*after, *(key for key in before if key not in after)]:
        one, other = before.get(key), after.get(key)
        change: Change = "same"
        if one is None:
            change = "new"
        elif other is None:
            change = "gone"
        elif one.ends != other.ends or one.as_needed != other.as_needed or one.strained != other.strained:
            change = "changed"
        name = other.name if other is not None else one.name if one is not None else key
        found.append(
            ShareChange(
                key,
                name,
                change,
                one.share if one else None,
                other.share if other else None,
                any(side.as_needed for side in (one, other) if side),
                (bool(one and one.strained), bool(other and other.strained)),
            )
        )
    return tuple(found)


def compare_findings(left: Iterable[Finding], right: Iterable[Finding]) -> tuple[FindingChange, ...]:
    """What is said on one side alone or differently: new first, then in other words, then gone.

    A finding is the same when rule, subject, severity and sentence are; in other words when rule and subject are.
    """
    before, after = list(dict.fromkeys(left)), list(dict.fromkeys(right))
    said = {_whole(one) for one in before} & {_whole(one) for one in after}
    before = [one for one in before if _whole(one) not in said]
    after = [one for one in after if _whole(one) not in said]
    new, changed = [], []
    for one in after:
        old = next(
            (other for other in before if (other.rule, other.subject) == (one.rule, one.subject)), None
        )
        if old is None:
            new.append(FindingChange("new", None, one))
        else:
            before.remove(old)
            changed.append(FindingChange("changed", old, one))
    return (*new, *changed, *(FindingChange("gone", one, None) for one in before))


def first_parting(left: Sequence[str], right: Sequence[str]) -> int | None:
    """The place, from 1, at which two lists of names first differ; None when they are alike."""
    for place, (one, other) in enumerate(zip(left, right, strict=False), start=1):
        if one != other:
            return place
    return None if len(left) == len(right) else min(len(left), len(right)) + 1


def in_short(left: ResolvedFormula, right: ResolvedFormula) -> str:
    """What changed between two states, for a button: the first ingredient with its figures, and how many more.

    Empty when no share changed.
    """
    changes = [one for one in compare_shares(left, right) if one.change != "same"]
    telling = [one for one in changes if not _follows(one, right)] or changes
    if not telling:
        return ""
    first = telling[0]
    if first.change == "new":
        text = f"{first.name} put in"
    elif first.change == "gone":
        text = f"{first.name} taken out"
    elif first.straining:
        text = f"{first.name} {first.straining}"
    else:
        text = f"{first.name} {_read(first.left)} to {_read(first.right)}"
    more = len(telling) - 1
    return f"{text} and {more} more" if more else text


@dataclass(slots=True)
class _Lines:
    name: str
    shares: list[Interval]
    as_needed: bool = False
    strained: bool = False

    @property
    def share(self) -> Interval:
        return add(self.shares)

    @property
    def ends(self) -> tuple[Decimal | None, Decimal | None]:
        whole = self.share
        return whole.low, whole.high


def _by_ingredient(formula: ResolvedFormula) -> dict[str, _Lines]:
    found: dict[str, _Lines] = {}
    for line in formula.lines:
        held = found.setdefault(line.ingredient, _Lines(line.name, []))
        held.shares.append(Interval(None, None) if line.share is None else line.share)
        held.as_needed |= line.kind == "adjust"
        held.strained |= line.strained
    return found


def _follows(change: ShareChange, right: ResolvedFormula) -> bool:
    """Whether an ingredient changed only because it is "to 100"."""
    kinds = {line.kind for line in right.lines if line.ingredient == change.ingredient}
    return change.change == "changed" and kinds == {"to_100"}


def _read(share: Interval | None) -> str:
    if share is None or share.low is None or share.high is None:
        return "unknown"
    low, high = figure(share.low, places=8), figure(share.high, places=8)
    return low if low == high else f"{low}–{high}"


def _whole(finding: Finding) -> tuple[str, str, str, str]:
    return finding.rule, finding.subject, finding.severity, finding.message
