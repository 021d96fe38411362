"""How much of each substance a finished product holds, and which line brought it by which way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from formulas.rules.composition import Composition, ConstituentKind, Share, Shares, shares
from formulas.rules.interval import Interval, add
from formulas.rules.number import HUNDRED, ZERO, difference, figure
from formulas.rules.percent import ResolvedFormula, ResolvedLine
from formulas.rules.straining import Way, what_is_left


class FormulaCycle(ValueError):
    """A formula that contains itself. path: names from the outermost to the repeated one."""

    def __init__(self, path: Sequence[str]) -> None:
        self.path = tuple(path)
        super().__init__(" → ".join(self.path))


@dataclass(frozen=True, slots=True)
class NestedFormula:
    """The formula that an in-house ingredient is made from."""

    key: str
    name: str
    formula: ResolvedFormula


@dataclass(frozen=True, slots=True)
class Step:
    """One ingredient on the way from a line to a substance. percent: of the finished product.

    strained: it is taken out again, and only what dissolved of it is there.
    """

    ingredient: str
    name: str
    percent: Interval
    strained: bool = False

    @property
    def said(self) -> str:
        """Its name, with what happens to it."""
        return f"{self.name}, strained out" if self.strained else self.name


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one line brings of one substance, % of the finished product.

    line: key of the formula's own line, line_percent its share. path: the ingredients passed through, the
    line's own first, the one that declares the substance last. share: of that last ingredient. rank: its place
    in the order that the supplier of that one gives, None where none is given.
    """

    substance: str
    name: str
    kind: ConstituentKind
    amount: Interval
    share: Interval
    line: str
    line_name: str
    line_percent: Interval
    purpose: str
    path: tuple[Step, ...]
    estimated: bool
    derived: bool
    incidental: bool
    basis: str
    source: str
    rank: int | None = None


@dataclass(frozen=True, slots=True)
class SubstanceTotal:
    """All of one substance in the product, of one kind. amount: % of the finished product."""

    substance: str
    name: str
    kind: ConstituentKind
    amount: Interval
    contributions: tuple[Contribution, ...]

    @property
    def is_estimated(self) -> bool:
        """Rests on a typical figure for which no ends are known."""
        return any(part.estimated for part in self.contributions)


@dataclass(frozen=True, slots=True)
class UnknownShare:
    """A part of which nothing is known. percent: of the product; open ends = not even how much."""

    line: str
    line_name: str
    path: tuple[Step, ...]
    percent: Interval
    reason: str


@dataclass(frozen=True, slots=True)
class Totals:
    """Substances of a product: ``declared`` and ``unknown`` make it up, ``within`` are part of these."""

    declared: tuple[SubstanceTotal, ...]
    within: tuple[SubstanceTotal, ...]
    unknown: tuple[UnknownShare, ...]

    def amount_of(self, substance: str) -> Interval | None:
        """Declared and within together, % of the product; None when no line is known to bring it."""
        parts = self.contributions_of(substance)
        return add(part.amount for part in parts) if parts else None

    def contributions_of(self, substance: str) -> tuple[Contribution, ...]:
        """Every way by which the substance comes in, declared first."""
        return tuple(
            part
            for total in (*self.declared, *self.within)
            if total.substance == substance
            for part in total.contributions
        )

    @property
    def names(self) -> dict[str, str]:
        """Name by substance key."""
        return {total.substance: total.name for total in (*self.within, *self.declared)}


@dataclass(slots=True)
class _Walk:
    compositions: Mapping[str, Composition]
    nested: Mapping[str, NestedFormula]
    contributions: list[Contribution] = field(default_factory=list)
    unknown: list[UnknownShare] = field(default_factory=list)
    known: dict[str, Shares] = field(default_factory=dict)

    def shares_of(self, ingredient: str) -> Shares:
        if ingredient not in self.known:
            self.known[ingredient] = shares(self.compositions[ingredient])
        return self.known[ingredient]


def substance_totals(
    lines: Sequence[ResolvedLine],
    compositions: Mapping[str, Composition],
    nested: Mapping[str, NestedFormula] | None = None,
) -> Totals:
    """Percent of each substance in the finished product, summed over lines through premixes to any depth.

    compositions, nested: by ingredient key. An ingredient in ``nested`` is expanded; what is strained out
    counts from nothing to what may have dissolved, and the rest of it accordingly. Adjust lines count with their
    range as percent of the 100 parts of the formula. Where nothing is strained out, known and unknown shares add
    up to the lines exactly. Raises FormulaCycle (a ValueError) with the path when a formula contains itself.
    """
    walk = _Walk(compositions, nested or {})
    left = what_is_left(lines)
    if left is None:
        first, everything = lines[0], Interval.point(HUNDRED)
        walk.unknown.append(UnknownShare(first.key, first.name, (), everything, "everything is strained out"))
    for part in left or ():
        line = part.line
        if part.way is None:
            walk.unknown.append(
                UnknownShare(line.key, line.name, (), Interval(None, None), "the line has no percent")
            )
            continue
        _expand(walk, line, line, part.way, ())
    return Totals(
        declared=_totals(walk.contributions, "declared"),
        within=_totals(walk.contributions, "within"),
        unknown=tuple(walk.unknown),
    )


def _expand(
    walk: _Walk,
    top: ResolvedLine,
    line: ResolvedLine,
    way: Way,
    path: tuple[Step, ...],
) -> None:
    """Follow one ingredient that makes ``way.whole`` of the product down to its substances."""
    if any(step.ingredient == line.ingredient for step in path):
        raise FormulaCycle([*(step.name for step in path), line.name])
    path = (*path, Step(line.ingredient, line.name, way.whole, line.strained))
    inner = walk.nested.get(line.ingredient)
    if inner is not None:
        _expand_formula(walk, top, inner, way, path)
    elif line.ingredient in walk.compositions:
        _expand_composition(walk, top, line.ingredient, way, path, line.leaves)
    else:
        reason = "its composition is not known"
        walk.unknown.append(UnknownShare(top.key, top.name, path, way.whole, reason))


def _expand_formula(
    walk: _Walk, top: ResolvedLine, inner: NestedFormula, way: Way, path: tuple[Step, ...]
) -> None:
    total = inner.formula.total
    if total > HUNDRED or any(line.share is None for line in inner.formula.lines):
        reason = f"its formula {inner.name} makes {figure(total, places=12)}, not 100"
        walk.unknown.append(UnknownShare(top.key, top.name, path, way.whole, reason))
        return
    left = what_is_left(inner.formula.lines)
    if left is None:
        reason = f"its formula {inner.name} strains everything out"
        walk.unknown.append(UnknownShare(top.key, top.name, path, way.whole, reason))
        return
    for part in left:
        if part.way is not None:
            _expand(walk, top, part.line, way.then(part.way), path)
    if total < HUNDRED:
        gap = way.of(Interval.point(difference(HUNDRED, total)))
        if any(line.strained for line in inner.formula.lines):
            gap = Interval(gap.low, way.whole.high)
        reason = f"its formula {inner.name} makes {figure(total, places=12)}, not 100"
        walk.unknown.append(UnknownShare(top.key, top.name, path, gap, reason))


def _expand_composition(
    walk: _Walk,
    top: ResolvedLine,
    ingredient: str,
    way: Way,
    path: tuple[Step, ...],
    leaves: tuple[str, str] | None = None,
) -> None:
    composition = walk.compositions[ingredient]
    known = walk.shares_of(ingredient)
    if not known.is_consistent:
        reason = "the figures of its composition contradict each other"
        walk.unknown.append(UnknownShare(top.key, top.name, path, way.whole, reason))
        return
    if known.remainder is not None:
        reason = "part of its composition is not accounted for"
        if not known.declared:
            reason = "its composition is not known"
        walk.unknown.append(UnknownShare(top.key, top.name, path, way.of(known.remainder), reason))
    declared = {share.constituent.substance for share in known.declared}
    for share in known.declared:
        found = _contribution(top, share, way, path, composition)
        if leaves is not None and len(known.declared) == 1:
            found = replace(found, substance=leaves[0], name=leaves[1])
        walk.contributions.append(found)
    for share in known.within:
        if share.constituent.substance not in declared:
            walk.contributions.append(_contribution(top, share, way, path, composition))


def _contribution(
    top: ResolvedLine, share: Share, way: Way, path: tuple[Step, ...], composition: Composition
) -> Contribution:
    part = share.constituent
    return Contribution(
        substance=part.substance,
        name=part.name,
        kind=part.kind,
        amount=way.of(share.interval),
        share=share.interval,
        line=top.key,
        line_name=top.name,
        line_percent=top.share or Interval(None, None),
        purpose=top.purpose,
        path=path,
        estimated=share.estimated,
        derived=share.derived,
        incidental=part.incidental,
        basis=composition.basis,
        source=composition.source,
        rank=part.rank,
    )


def _totals(contributions: Sequence[Contribution], kind: ConstituentKind) -> tuple[SubstanceTotal, ...]:
    by_substance: dict[str, list[Contribution]] = {}
    for part in contributions:
        if part.kind == kind:
            by_substance.setdefault(part.substance, []).append(part)
    found = [
        SubstanceTotal(substance, parts[0].name, kind, add(part.amount for part in parts), tuple(parts))
        for substance, parts in by_substance.items()
    ]
    return tuple(sorted(found, key=_by_amount))


def _by_amount(total: SubstanceTotal) -> tuple[Decimal, str]:
    """Most first; the key decides between equals, so that the order of lines never shows."""
    expected = total.amount.expected
    amount = expected if expected is not None else total.amount.high or total.amount.low or ZERO
    return -amount, total.substance
