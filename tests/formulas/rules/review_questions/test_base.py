"""A base of which it isn't certain whether it holds water, or how much: no question passes in silence."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import pytest

from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine
from formulas.rules.review import Asked
from formulas.rules.review.base import base_of
from formulas.rules.review.dietary import check_dietary
from formulas.rules.review.functions import check_functions
from formulas.rules.review.order import check_order
from formulas.rules.review.preservative import check_preservative
from formulas.rules.vocabulary import RINSE_OFF
from tests.formulas.rules.review_questions.pot import ask, lines_of, rules_of, told

D = Decimal
WATER_FREE = {
    "preservative.solubility",
    "functions.antioxidant",
    "order.solids",
    "order.grainy",
}
WASHED = ProductUse(RINSE_OFF, "body")


def bar(extract: str) -> Asked:
    """A bar for the shower with so much of an extract whose water isn't known."""
    oil = D("34.5") - D(extract)
    return ask(
        "cocoa-butter 40, shea-butter 20, arrowroot-powder 5, sodium-benzoate 0.5,"
        f" chamomile-extract {extract}, sunflower-oil {oil}",
        form="bar",
        used_in_water=True,
        use=WASHED,
        phases="A cocoa-butter shea-butter; B arrowroot-powder",
        heat={"A": "68", "B": "60"},
    )


def every(asked: Asked) -> list[Finding]:
    """What the questions find that look at the base."""
    return [*check_preservative(asked), *check_functions(asked), *check_order(asked)]


@pytest.mark.parametrize("extract", ["0.9", "1", "3"])
def test_one_percent_of_an_extract_silences_no_question(extract: str) -> None:
    """What is asked of a water-free bar is asked where it may be one: water 0 to 0.9, 0 to 1, 0 to 3 %."""
    assert set(rules_of(every(bar(extract)))) >= WATER_FREE


def test_what_holds_in_one_case_says_in_which_with_both_ends() -> None:
    """The salt does nothing without water; with water its pH is asked for. Either is cured by knowing."""
    found = check_preservative(bar("1"))

    salt, acidity = told(found, "preservative.solubility"), told(found, "preservative.ph_unknown")
    assert salt.message.startswith(
        "0 to 1 % water, as far as known; below 1 % it is water-free, and then: sodium-benzoate is a salt of benzoic"
    )
    assert acidity.message.startswith("0 to 1 % water, as far as known; from 1 % it counts, and then: The pH")
    assert salt.severity == "caution"
    assert acidity.severity == "unknown"
    assert salt.cure.endswith("Or enter how much water comes with chamomile-extract.")


def test_what_holds_in_both_cases_is_said_as_it_stands() -> None:
    """A powder alone never sets, whatever its water."""
    found = check_functions(ask("sunflower-oil 95, chamomile-extract 5", form="balm"))

    assert told(found, "functions.sets").message == "Nothing in it on record that sets: it stays an oil."


def test_a_supplier_that_vouches_for_a_window_stops_only_where_there_is_water_for_certain() -> None:
    """Wholly outside its window in water stops; where there may be none it is a caution."""
    changed = {"sodium-benzoate": {"bases": {"ph_high": "supplier", "ph_low": "supplier"}}}
    outside: dict[str, Any] = {"ph_low": D(6), "ph_high": D(7), "changed": changed}

    sure = check_preservative(ask("sunflower-oil 50, purified-water 49.5, sodium-benzoate 0.5", **outside))
    perhaps = check_preservative(
        ask("sunflower-oil 90, chamomile-extract 9.5, sodium-benzoate 0.5", **outside)
    )

    assert told(sure, "preservative.ph").severity == "stop"
    assert told(perhaps, "preservative.ph").severity == "caution"


TO_100 = FormulaLine("w", "purified-water", "Purified water", kind="to_100")
KEEPER = "sodium-benzoate 0.5"


@pytest.mark.parametrize(
    "lines",
    [
        [TO_100, *lines_of(f"sunflower-oil 60, emulsifying-wax-non-ionic 45, {KEEPER}")],
        [
            TO_100,
            FormulaLine("o", "sunflower-oil", "Sunflower oil", kind="to_100"),
            *lines_of(f"emulsifying-wax-non-ionic 5, {KEEPER}"),
        ],
        [
            FormulaLine("w", "purified-water", "Purified water"),
            *lines_of(f"sunflower-oil 20, emulsifying-wax-non-ionic 5, {KEEPER}"),
        ],
    ],
)
def test_water_whose_share_isnt_known_isnt_none(lines: Sequence[FormulaLine]) -> None:
    """Nothing left for “to 100”, two such lines, no percent yet: neither water-free nor passed."""
    asked = ask(lines, form="cream")
    base, found = base_of(asked), every(asked)

    assert base.water.high is None
    assert not base.is_water_free
    assert "0 %" not in " ".join(one.message for one in found)
    assert not {"preservative.solubility", "functions.water_phase"} & set(rules_of(found))
    assert told(found, "preservative.water").severity == "unknown"
    assert told(found, "functions.water").severity == "unknown"


def test_an_oil_whose_share_isnt_known_brings_no_water() -> None:
    """What it is made of is known, so is what the base is."""
    asked = ask([*lines_of("cocoa-butter 60"), FormulaLine("o", "sunflower-oil", "Sunflower oil")])

    assert base_of(asked).is_water_free


def test_water_in_a_premix_without_a_percent_isnt_none() -> None:
    """Down through what it is made from."""
    asked = ask(
        [*lines_of("cocoa-butter 60"), FormulaLine("p", "premix", "Premix")],
        premixes={"premix": "purified-water 50, glycerin 50"},
        changed={"premix": {"form": "liquid", "soluble_in": "water"}},
    )

    assert base_of(asked).water.high is None


def test_a_preservative_without_a_percent_is_there() -> None:
    """It isn't missed; how much of it there is isn't known."""
    asked = ask(
        [*lines_of("purified-water 80, glycerin 19"), FormulaLine("k", "sodium-benzoate", "Benzoate")],
        with_levels=False,
        ph_low=D(4),
    )
    found = check_preservative(asked)

    assert rules_of(found) == ["preservative.no_level"]
    assert (
        found[0].message == "Benzoate at an unknown share: no use level for leave-on products is on record."
    )
    assert found[0].lines == ("k",)


def test_what_a_line_without_a_percent_does_isnt_missed() -> None:
    """A wax sets, a grain scrubs, an emulsifier emulsifies, an almond is an almond, however much there is."""
    wax = [*lines_of("sunflower-oil 80"), FormulaLine("x", "beeswax", "Beeswax")]
    grains = [*lines_of("sunflower-oil 40"), FormulaLine("x", "sugar", "Sugar")]
    lotion = [
        *lines_of("purified-water 70, sunflower-oil 20"),
        FormulaLine("x", "emulsifying-wax-non-ionic", "Wax"),
    ]
    almond = [*lines_of("sunflower-oil 80"), FormulaLine("x", "sweet-almond-oil", "Almond oil")]

    assert "functions.sets" not in rules_of(check_functions(ask(wax, form="balm")))
    assert "functions.scrubs" not in rules_of(check_functions(ask(grains, form="scrub")))
    assert "functions.emulsifier" not in rules_of(check_functions(ask(lotion, form="cream")))
    assert "Almond oil (in an unknown share)" in told(check_dietary(ask(almond)), "dietary.almond").message


@pytest.mark.parametrize(
    ("form", "use", "wet", "rules"),
    [
        ("bar", WASHED, False, ["preservative.wet_unknown"]),
        ("scrub", WASHED, False, ["preservative.wet_unknown"]),
        ("balm", WASHED, False, ["preservative.wet_unknown"]),
        ("other", WASHED, False, ["preservative.wet_unknown"]),
        ("oil", WASHED, False, []),
        ("oil", ProductUse(RINSE_OFF, "hair", "shampoo"), False, ["preservative.wet_unknown"]),
        ("bath", WASHED, False, []),
        ("bar", WASHED, True, ["preservative.wet"]),
        ("bar", ProductUse("leave-on", "body"), False, []),
    ],
)
def test_a_rinse_off_bar_or_scrub_is_asked_whether_it_is_used_wet(
    form: str, use: ProductUse, wet: bool, rules: list[str]
) -> None:
    """Shower bars and scrubs dipped into with wet fingers (common practice, no source); unticked isn't dry."""
    asked = ask("cocoa-butter 60, sugar 40", form=form, use=use, used_in_water=wet)

    found = check_preservative(asked)

    assert rules_of(found) == rules
    if rules == ["preservative.wet_unknown"]:
        assert found[0].severity == "unknown"
        assert found[0].cure == "Tick “used with water” on the formula, or answer here why it isn't."


def test_one_with_a_preservative_isnt_called_dry_before_that_is_said() -> None:
    """Nor is it said that it needs none; what it dissolves in is told all the same."""
    found = check_preservative(
        ask("cocoa-butter 60, sugar 39.5, sodium-benzoate 0.5", form="scrub", use=WASHED)
    )

    assert rules_of(found) == ["preservative.wet_unknown", "preservative.solubility"]


@pytest.mark.parametrize(
    ("made", "line", "severity"),
    [
        (("6", "6.5"), ("4.8", "5.2"), "caution"),
        (("5", "5.5"), ("4.8", "5.2"), "caution"),
        (("4.5", "5.5"), ("4.8", "5.2"), None),
        (("5", None), ("4.8", "5.2"), "note"),
        (("6", None), ("5", None), "caution"),
        ((None, None), ("4.8", "5.2"), None),
    ],
)
def test_a_ph_that_a_line_contradicts_is_told_with_both(
    made: tuple[str | None, str | None], line: tuple[str | None, str | None], severity: str | None
) -> None:
    """The version's pH is judged; one end given stands for both."""
    low, high = (None if end is None else D(end) for end in made)
    least, most = (None if end is None else D(end) for end in line)
    acid = FormulaLine(
        "a", "lactic-acid-80-90", "Lactic acid", None, "adjust", D(0), D("0.5"), "pH", least, most
    )
    for keeper in (f", {KEEPER}", ""):
        lines = [*lines_of(f"purified-water 90, glycerin 9.5{keeper}"), acid]
        found = check_preservative(ask(lines, ph_low=low, ph_high=high))

        told_of = [one for one in found if one.rule == "preservative.ph_differs"]
        assert [one.severity for one in told_of] == ([severity] if severity else [])
        if made == ("6", "6.5"):
            assert told_of[0].message == (
                "Made to pH 6 to 6.5, but Lactic acid is added to pH 4.8 to 5.2; the questions go by 6 to 6.5."
            )
            assert told_of[0].lines == ("a",)
