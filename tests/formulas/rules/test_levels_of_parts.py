"""Use levels of a premix or infusion: judged in the product that takes it, told there in one note."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import FormulaForReview, review
from formulas.rules.totals import NestedFormula
from formulas.rules.uselevels import UseLevel

D = Decimal
LINES = (
    FormulaLine("1", "tocopherol", "Tocopherol", D(30)),
    FormulaLine("2", "preservative", "Reed preservative", D(20)),
    FormulaLine("3", "oil", "Plum kernel oil", D(50)),
)
LEVELS = {
    "tocopherol": [UseLevel(D("0.1"), D(1))],
    "preservative": [UseLevel(D("0.5"), D(1), basis="supplier")],
}


def levels_of(form: str, lines: tuple[FormulaLine, ...] = LINES) -> list[tuple[str, str]]:
    """Severity and rule of what the question finds."""
    found = review(FormulaForReview(lines, ProductUse("leave-on", "body"), use_levels=LEVELS, form=form))
    return [(one.severity, one.rule) for one in found.findings if one.rule.startswith("uselevels")]


@pytest.mark.parametrize("form", ["premix", "infusion"])
def test_a_part_gets_one_note(form: str) -> None:
    """30 % of what a product may have 1 % of is what a premix is for."""
    assert levels_of(form) == [("note", "uselevels.part")]


def test_the_note_names_what_has_a_level() -> None:
    """And marks their lines, not the oil's."""
    found = review(FormulaForReview(LINES, ProductUse("leave-on", "body"), use_levels=LEVELS, form="premix"))

    [note] = [one for one in found.findings if one.rule == "uselevels.part"]
    assert note.message == (
        "Use levels are of the finished product: Tocopherol and Reed preservative are judged there, with what "
        "this premix brings."
    )
    assert note.lines == ("1", "2")


def test_without_levels_nothing_is_said() -> None:
    """Oil alone."""
    assert levels_of("premix", (FormulaLine("3", "oil", "Plum kernel oil", D(100)),)) == []


def test_a_product_is_judged_as_before_and_through_the_part() -> None:
    """5 % of the premix brings 1.5 % tocopherol: over; and 1 % preservative: at the limit, within."""
    assert levels_of("balm") == [("stop", "uselevels.high"), ("caution", "uselevels.high")]
    product = FormulaForReview(
        (FormulaLine("a", "premix", "Care premix", D(5)), FormulaLine("b", "oil", "Plum kernel oil", D(95))),
        ProductUse("leave-on", "body"),
        use_levels=LEVELS,
        nested={"premix": NestedFormula("premix", "Care premix", resolve(LINES))},
        form="balm",
    )

    over = [one for one in review(product).findings if one.rule.startswith("uselevels")]

    assert [(one.severity, one.subject) for one in over] == [("caution", "Tocopherol")]
