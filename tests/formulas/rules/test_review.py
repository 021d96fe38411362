"""The review: every question, one order."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.catalogue import catalogue_compositions
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import QUESTIONS, FormulaForReview, HeatFact, prepare, review
from formulas.rules.totals import NestedFormula
from formulas.rules.uselevels import UseLevel

D = Decimal
BALM = ProductUse("leave-on", "body")


def line(name: str, percent: str) -> FormulaLine:
    """A line whose key and ingredient are its name."""
    return FormulaLine(name, name, name, D(percent))


def test_a_sound_formula_passes_every_question() -> None:
    """Beeswax and sunflower oil: nothing above a note."""
    formula = FormulaForReview(
        (line("beeswax", "20"), line("sunflower-oil", "80")), BALM, catalogue_compositions()
    )

    found = review(formula)

    asked = prepare(formula)
    assert found.passed == tuple(question.title for question in QUESTIONS if question.applies(asked))
    assert "Every line can be weighed" not in found.passed
    assert {finding.severity for finding in found.findings} <= {"note"}
    assert not found.has_unknowns


def test_findings_come_stop_unknown_caution_note() -> None:
    """A short sum, an unknown base and a level from memory, in that order."""
    found = review(
        FormulaForReview(
            (line("beeswax", "40"), line("base", "59")),
            BALM,
            catalogue_compositions(),
            use_levels={"beeswax": [UseLevel(D(1), D(30))]},
        )
    )

    severities = [finding.severity for finding in found.findings]
    assert severities == sorted(severities, key=["stop", "unknown", "caution", "note"].index)
    assert [finding.rule for finding in found.stops] == ["formula.sum"]
    assert found.has_unknowns
    assert "Nothing added too hot" in found.passed
    assert not {"Makes exactly 100", "Compositions known", "Within use levels"} & set(found.passed)


@pytest.mark.parametrize(
    ("step_c", "rules"),
    [(None, ["heat.no_step"]), ("40", []), ("40.1", ["heat.too_hot"]), ("75", ["heat.too_hot"])],
)
def test_add_below_includes_its_figure(step_c: str | None, rules: list[str]) -> None:
    """At 40 is within "below 40"; a step without temperature is asked for."""
    found = review(
        FormulaForReview(
            (line("beeswax", "20"), line("rosehip-oil", "80")),
            BALM,
            catalogue_compositions(),
            heat={"rosehip-oil": HeatFact(D(40))},
            step_c={} if step_c is None else {"rosehip-oil": D(step_c)},
        )
    )

    assert [finding.rule for finding in found.findings if finding.rule.startswith("heat")] == rules


def test_missing_allergens_of_a_scent_are_unknown() -> None:
    """An essential oil with typical constituents only isn't complete."""
    found = review(
        FormulaForReview(
            (line("sunflower-oil", "99"), line("lavender-oil", "1")),
            BALM,
            catalogue_compositions(),
            scented=frozenset({"lavender-oil"}),
        )
    )

    assert "composition.allergens" in {f.rule for f in found.findings if f.severity == "unknown"}


def test_an_unfinished_premix_is_unknown_in_what_uses_it() -> None:
    """A premix that makes 99 is named."""
    premix = NestedFormula("premix", "Premix", resolve([line("beeswax", "99")]))
    found = review(
        FormulaForReview(
            (line("sunflower-oil", "90"), line("premix", "10")),
            BALM,
            catalogue_compositions(),
            nested={"premix": premix},
        )
    )

    assert {"composition.formula", "limits.missing"} <= {
        f.rule for f in found.findings if f.severity == "unknown"
    }
