"""Declaration, expansion and review against nothing but the sums of the same figures."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal, localcontext

import pytest

from formulas.rules.catalogue import substances
from formulas.rules.composition import Composition, Constituent
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import FormulaForReview, review
from formulas.rules.totals import NestedFormula, substance_totals
from labels.rules.declaration import Declaration, declare_eu
from labels.rules.from_totals import IngredientFacts, SubstanceFacts, product_amounts
from tests.benchmarks.timing import Figures

pytestmark = pytest.mark.benchmark
DECLARATION_CEILING = 80.0
REVIEW_CEILING = 60.0
EXPANSION_CEILING = 25.0
LEVELS = 6
SHARES = tuple(map(Decimal, ("40", "25", "15", "8", "5", "4", "2", "1")))
"""Constituents of each material, % of it, known to a tenth of their share."""
AGAINST = "bare Decimal sums"


def paper(count: int) -> tuple[list[FormulaLine], dict[str, Composition]]:
    """A formula of so many lines, the first far heavier than the last, of 8 constituents in ranges."""
    known = substances()
    weights = [Decimal(1) / (at + 1) for at in range(1, count)]
    scale = Decimal(75) / sum(weights, Decimal(0))
    lines = [
        FormulaLine(f"line-{at}", f"i-{at}", f"Material {at}", percent=round(weight * scale, 4))
        for at, weight in enumerate(weights)
    ] + [FormulaLine("rest", f"i-{count - 1}", "Rest", kind="to_100")]
    compositions = {}
    for at in range(count):
        parts = tuple(
            Constituent(
                substance=row.key,
                name=row.inci_name,
                low=share * Decimal("0.9"),
                typical=share,
                high=share * Decimal("1.1"),
            )
            for share, row in (
                (share, known[(at * 5 + step) % len(known)]) for step, share in enumerate(SHARES)
            )
        )
        compositions[f"i-{at}"] = Composition(f"i-{at}", f"Material {at}", parts)
    return lines, compositions


def bare_sums(lines: list[FormulaLine], compositions: dict[str, Composition]) -> dict[str, list[Decimal]]:
    """Low, typical and high percent of each substance, summed and put in order."""
    sums: dict[str, list[Decimal]] = {}
    with localcontext(prec=60):
        left = Decimal(100) - sum((line.percent for line in lines if line.percent is not None), Decimal(0))
        for line in lines:
            percent = left if line.percent is None else line.percent
            for part in compositions[line.ingredient].constituents:
                found = sums.setdefault(part.substance, [Decimal(0)] * 3)
                for at, share in enumerate((part.low, part.typical, part.high)):
                    assert share is not None
                    found[at] += percent * share / 100
        return dict(sorted(sums.items(), key=lambda item: (-item[1][1], item[0])))


def declaration_of(lines: list[FormulaLine], compositions: dict[str, Composition]) -> Declaration:
    """From the lines to the printed list."""
    totals = substance_totals(resolve(lines).lines, compositions)
    names = {key: SubstanceFacts(eu_name=name) for key, name in totals.names.items()}
    things = {key: IngredientFacts(one.name) for key, one in compositions.items()}
    return declare_eu(product_amounts(totals, names, things, product_kind="leave-on"))


def test_a_declaration_takes_a_bounded_multiple_of_its_sums(figures: Figures) -> None:
    """30 lines of 8 constituents: the totals are the bare sums, and each entry keeps its reasons for a price."""
    lines, compositions = paper(30)
    totals = substance_totals(resolve(lines).lines, compositions)
    sums = bare_sums(lines, compositions)
    found = {one.substance: [one.amount.low, one.amount.typical, one.amount.high] for one in totals.declared}
    assert found == sums
    assert len(declaration_of(lines, compositions).entries) >= len(sums) // 2
    figures.add(
        "declaration, 30 lines x 8",
        lambda: declaration_of(lines, compositions),
        AGAINST,
        lambda: bare_sums(lines, compositions),
        DECLARATION_CEILING,
        note=f"{len(sums)} substances",
    )
    figures.add(
        "of it, the totals",
        lambda: substance_totals(resolve(lines).lines, compositions),
        AGAINST,
        lambda: bare_sums(lines, compositions),
        DECLARATION_CEILING,
    )


def within_one_another() -> tuple[list[FormulaLine], dict[str, Composition], dict[str, NestedFormula]]:
    """Ten lines at each of six levels, the first of each opening the level below; 8 constituents a material."""
    lines, compositions = paper(10)
    nested: dict[str, NestedFormula] = {}
    for level in range(1, LEVELS):
        nested[f"level-{level}"] = NestedFormula(f"level-{level}", f"Level {level}", resolve(lines))
        lines = [replace(lines[0], ingredient=f"level-{level}", name=f"Level {level}"), *lines[1:]]
    return lines, compositions, nested


def bare_expansion(
    lines: list[FormulaLine], compositions: dict[str, Composition], nested: dict[str, NestedFormula]
) -> dict[str, list[Decimal]]:
    """The same terms, level by level, nothing but sums and products."""
    sums: dict[str, list[Decimal]] = {}
    with localcontext(prec=60):
        waiting = [(Decimal(1), resolve(lines).lines)]
        while waiting:
            share, inner = waiting.pop()
            for line in inner:
                assert line.share is not None
                assert line.share.low is not None
                percent = line.share.low * share
                below = nested.get(line.ingredient)
                if below is not None:
                    waiting.append((percent / 100, below.formula.lines))
                    continue
                for part in compositions[line.ingredient].constituents:
                    found = sums.setdefault(part.substance, [Decimal(0)] * 3)
                    for at, figure in enumerate((part.low, part.typical, part.high)):
                        assert figure is not None
                        found[at] += percent * figure / 100
    return sums


def test_expansion_through_six_levels_takes_a_bounded_multiple_of_its_sums(figures: Figures) -> None:
    """Premix in premix in premix: what the ways are kept for costs a bounded multiple."""
    lines, compositions, nested = within_one_another()
    totals = substance_totals(resolve(lines).lines, compositions, nested)
    sums = bare_expansion(lines, compositions, nested)
    found = {one.substance: [one.amount.low, one.amount.typical, one.amount.high] for one in totals.declared}
    assert found == sums
    assert max(len(part.path) for one in totals.declared for part in one.contributions) == LEVELS
    figures.add(
        f"expansion, {LEVELS} levels of 10 x 8",
        lambda: substance_totals(resolve(lines).lines, compositions, nested),
        AGAINST,
        lambda: bare_expansion(lines, compositions, nested),
        EXPANSION_CEILING,
        note=f"{len(sums)} substances",
    )


def test_a_review_takes_a_bounded_multiple_of_its_sums(figures: Figures) -> None:
    """60 lines of 8 constituents, asked every question."""
    lines, compositions = paper(60)
    formula = FormulaForReview(tuple(lines), ProductUse("leave-on", "face"), compositions)
    findings = review(formula).findings
    assert findings
    figures.add(
        "review, 60 lines x 8",
        lambda: review(formula),
        AGAINST,
        lambda: bare_sums(lines, compositions),
        REVIEW_CEILING,
        note=f"{len(findings)} findings",
    )
