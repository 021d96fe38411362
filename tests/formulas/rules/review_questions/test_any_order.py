"""The order of a formula's lines never changes what the questions find."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from formulas.rules.findings import Finding
from formulas.rules.review import Asked
from formulas.rules.review.dietary import check_dietary
from formulas.rules.review.functions import check_functions
from formulas.rules.review.heat import check_heat
from formulas.rules.review.order import check_order
from formulas.rules.review.preservative import check_preservative
from tests.formulas.rules.review_questions.pot import ask, limits_of, lines_of

D = Decimal
PANTRY = (
    "purified-water", "aloe-juice", "glycerin", "chamomile-extract", "sunflower-oil", "sweet-almond-oil",
    "shea-butter", "mango-butter", "cocoa-butter", "beeswax", "stearic-acid", "emulsifying-wax-non-ionic",
    "sugar", "kaolin-white-clay", "almond-meal", "sodium-benzoate", "potassium-sorbate",
    "benzyl-alcohol-dehydroacetic-acid-blend", "lavender-oil", "vitamin-e-mixed-tocopherols", "premix",
    "nothing-known",
)  # fmt: skip
QUESTIONS = (check_functions, check_preservative, check_heat, check_order, check_dietary)
PREMIX = {"premix": "sesame-oil 40, hemp-seed-oil 40, sodium-benzoate 20"}


@st.composite
def pots(draw: st.DrawFn) -> tuple[Asked, Asked]:
    """A formula and the same with its lines in another order."""
    keys = draw(st.lists(st.sampled_from(PANTRY), min_size=1, max_size=8))
    lines = [
        replace(lines_of(f"{key} {draw(st.integers(1, 40))}")[0], key=f"line-{number}")
        for number, key in enumerate(keys)
    ]
    form = draw(
        st.sampled_from(["balm", "bar", "scrub", "cream", "oil", "bath", "liquid", "other", "premix"])
    )
    wet, ph = draw(st.booleans()), draw(st.sampled_from([None, D("4.5"), D("6.5")]))
    letters = [draw(st.sampled_from("AB")) for _ in lines]

    def asked(of: Sequence[int]) -> Asked:
        found = ask(
            [lines[index] for index in of],
            form=form,
            used_in_water=wet,
            ph_low=ph,
            ph_high=ph,
            heat={"A": "75", "B": "45"},
            premixes=PREMIX,
            step_c={lines[index].key: D(75 if letters[index] == "A" else 45) for index in of},
        )
        phase_of = {lines[index].key: letters[index] for index in of}
        heat = limits_of(key for key in PANTRY if key not in {"premix", "nothing-known"})
        return replace(found, formula=replace(found.formula, phase_of=phase_of, heat=heat))

    first = list(range(len(lines)))
    return asked(first), asked(draw(st.permutations(first)))


@given(pot=pots())
@settings(max_examples=40)
def test_the_order_of_lines_changes_no_finding(pot: tuple[Asked, Asked]) -> None:
    """Each finding of each question whole: words, figures, cure; the lines it marks as a set."""
    first, second = pot

    for question in QUESTIONS:
        assert whole(question(first)) == whole(question(second))


def whole(findings: Sequence[Finding]) -> set[tuple[Finding, frozenset[str]]]:
    """Findings as they compare whatever the order."""
    return {(replace(one, lines=()), frozenset(one.lines)) for one in findings}
