"""Heat and order: phases, what drops out, solids, butters, and heat limits through premixes."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from formulas.rules.review import StepFacts
from formulas.rules.review.heat import check_heat
from formulas.rules.review.order import check_order
from tests.formulas.rules.review_questions.pot import ask, limits_of, rules_of, told

D = Decimal
CREAM = "purified-water 75, sunflower-oil 20, emulsifying-wax-non-ionic 5"
TWO_PHASES = "A purified-water; B sunflower-oil emulsifying-wax-non-ionic"


@pytest.mark.parametrize(
    ("water", "oil", "rules"),
    [
        ("75", "75", []),
        ("70", "75", []),
        ("69.9", "75", ["order.phases"]),
        ("20", "75", ["order.phases"]),
        ("", "75", ["order.phase_heat"]),
        ("", "", []),
    ],
)
def test_the_phases_of_an_emulsion_meet_warm(water: str, oil: str, rules: list[str]) -> None:
    """Both at 70 to 75 °C (common practice, no source); 5 °C apart still passes."""
    found = check_order(ask(CREAM, form="cream", phases=TWO_PHASES, heat={"A": water, "B": oil}))

    assert rules_of(found) == rules
    if rules == ["order.phases"]:
        assert found[0].severity == "caution"
        assert set(found[0].lines) == {"purified-water", "sunflower-oil", "emulsifying-wax-non-ionic"}


def test_one_pot_has_no_two_phases() -> None:
    """Everything in phase A, with a cool-down phase that carries a little oil."""
    recipe = "purified-water 74, sunflower-oil 20, emulsifying-wax-non-ionic 5, lavender-oil 1"
    phases = "A purified-water sunflower-oil emulsifying-wax-non-ionic; B lavender-oil"

    assert not check_order(ask(recipe, form="cream", phases=phases, heat={"A": "75", "B": "30"}))


@pytest.mark.parametrize(
    ("more", "rules"),
    [
        ("", ["order.water_soluble"]),
        (", emulsifying-wax-non-ionic 5", []),
        (", purified-water 5", []),
    ],
)
def test_an_extract_in_water_wants_water_or_an_emulsifier(more: str, rules: list[str]) -> None:
    """It may go into a water-free bar that has an emulsifier (common practice, no source)."""
    found = check_order(ask(f"cocoa-butter 9, sunflower-oil 82, glycerin 1{more}", form="bar"))

    assert rules_of(found) == rules
    if rules:
        assert found[0].severity == "caution"
        assert found[0].lines == ("glycerin",)


def test_an_extract_of_which_that_isnt_known_is_asked() -> None:
    """Where it matters: in an oil base. With water in it nothing is asked."""
    herb = {"herb-extract": {"roles": frozenset({"extract"}), "form": "liquid"}}

    oil = check_order(ask("sunflower-oil 99, herb-extract 1", changed=herb))
    water = check_order(ask("purified-water 99, herb-extract 1", changed=herb))

    assert [(one.rule, one.severity) for one in oil] == [("order.solubility", "unknown")]
    assert rules_of(water) == []


BALM = "shea-butter 9, beeswax 10, sunflower-oil 78, kaolin-white-clay 3"
BALM_PHASES = "A beeswax sunflower-oil; B shea-butter kaolin-white-clay"


@pytest.mark.parametrize(
    ("poured", "rules"), [("33", []), ("38", []), ("38.1", ["order.solids"]), ("60", ["order.solids"])]
)
def test_solids_stay_suspended_when_poured_near_33(poured: str, rules: list[str]) -> None:
    """Common practice, no source; "near" takes in 5 °C. They go in at about 50 °C."""
    found = check_order(ask(BALM, form="balm", phases=BALM_PHASES, heat={"A": "70", "B": poured}))

    assert rules_of(found) == rules
    if rules:
        assert found[0].severity == "note"
        assert "50 °C" in found[0].cure
        assert "33 °C" in found[0].message


def test_what_dissolves_or_lies_packed_doesnt_sink() -> None:
    """Sugar in a cream, a scrub full to the brim, beads that melt in oil; a pinch isn't missed."""
    hot = {"A": "70"}
    cream = "purified-water 65, sugar 5, sunflower-oil 25, emulsifying-wax-non-ionic 5"
    packed = "cocoa-butter 9, sunflower-oil 29, sugar 62"
    pinch = "beeswax 20, sunflower-oil 79.1, kaolin-white-clay 0.9"

    for recipe in (cream, packed, pinch, "beeswax 20, sunflower-oil 75, jojoba-beads 5"):
        assert "order.solids" not in rules_of(check_order(ask(recipe, heat=hot))), recipe


def test_petals_strained_out_of_an_infusion_dont_sink() -> None:
    """The in-house ingredient is on record as a liquid; its herb isn't in the pot."""
    asked = ask(
        "beeswax 20, infusion 80",
        heat={"A": "70"},
        premixes={"infusion": "sunflower-oil 90, calendula-petals 10"},
        changed={"infusion": {"form": "liquid", "soluble_in": "oil"}},
    )

    assert "order.solids" not in rules_of(check_order(asked))


@pytest.mark.parametrize(("degrees", "told_of"), [("60", False), ("70", False), ("70.1", True), ("80", True)])
def test_shea_goes_in_last_near_60(degrees: str, told_of: bool) -> None:
    """Common practice, no source; 10 °C above is still near."""
    found = check_order(
        ask(
            "beeswax 20, shea-butter 20, sunflower-oil 60",
            phases="A beeswax shea-butter",
            heat={"A": degrees},
        )
    )

    assert ("order.shea" in rules_of(found)) is told_of
    assert "order.grainy" in rules_of(found)
    assert {one.severity for one in found} == {"note"}


def test_butters_that_turn_grainy_are_named_from_ten_percent_on() -> None:
    """Shea and mango, not coconut, and not in an emulsion, where the phases need their heat."""
    found = told(
        check_order(ask("shea-butter 30, mango-butter 10, coconut-oil 60", form="balm")), "order.grainy"
    )

    assert found.message.startswith("shea-butter 30 % and mango-butter 10 %")
    assert "order.grainy" not in rules_of(check_order(ask("shea-butter 9.9, sunflower-oil 90.1")))
    assert "order.grainy" not in rules_of(check_order(ask(f"{CREAM}, shea-butter 20".replace("75", "55"))))


def test_long_heat_is_named_by_its_step() -> None:
    """More than 30 minutes, ours."""
    asked = ask("shea-butter 30, beeswax 70", phases="A shea-butter beeswax", heat={"A": "65"})
    (step,) = asked.formula.steps
    for minutes, said in ((30, False), (31, True)):
        long = replace(asked, formula=replace(asked.formula, steps=(replace(step, minutes=minutes),)))
        assert ("31 minutes" in told(check_order(long), "order.grainy").message) is said


@pytest.mark.parametrize("form", ["premix", "infusion"])
def test_premixes_and_infusions_arent_asked(form: str) -> None:
    """Their order is their own."""
    assert not check_order(ask(BALM, form=form, phases=BALM_PHASES, heat={"A": "70", "B": "70"}))


@pytest.mark.parametrize("key", ["lavender-oil", "rosehip-oil", "chamomile-extract"])
def test_perfume_and_extracts_go_in_at_40_at_most(key: str) -> None:
    """Common practice, no source: the catalogue's limits of these are 40 °C."""
    for degrees, rules in ((D(40), []), (D("40.1"), ["heat.too_hot"])):
        asked = ask(f"sunflower-oil 99, {key} 1", step_c={key: degrees})
        hot = replace(asked, formula=replace(asked.formula, heat=limits_of([key])))
        assert rules_of(check_heat(hot)) == rules


def test_a_premix_bears_what_its_tenderest_part_bears() -> None:
    """Vitamin E at 60, hemp oil at 40: the premix goes in at 40, unless it has a limit of its own."""
    asked = ask(
        "sunflower-oil 99, premix 1",
        premixes={"premix": "vitamin-e-mixed-tocopherols 60, hemp-seed-oil 40"},
        step_c={"premix": D(55)},
    )
    inner = limits_of(["vitamin-e-mixed-tocopherols", "hemp-seed-oil"])
    found = check_heat(replace(asked, formula=replace(asked.formula, heat=inner)))
    (own,) = limits_of(["lavender-oil"]).values()
    with_own = {**inner, "premix": replace(own, add_below_c=D(60))}

    assert told(found, "heat.too_hot").message == (
        "premix, for the hemp-seed-oil in it, goes in at 55 °C; 40 °C is the most it bears."
    )
    assert found[0].lines == ("premix",)
    assert not check_heat(replace(asked, formula=replace(asked.formula, heat=with_own)))


@pytest.mark.parametrize(
    ("step", "step_c", "rules"),
    [
        (StepFacts(1, "Add", "C", min_c=D(35)), "35", ["heat.no_ceiling"]),
        (StepFacts(1, "Add", "C", min_c=D(40)), "40", ["heat.no_ceiling"]),
        (StepFacts(1, "Add", "C", min_c=D(41)), "41", ["heat.too_hot"]),
        (StepFacts(1, "Add", "C", target_c=D(38), min_c=D(35)), "38", []),
        (StepFacts(1, "Add", "C", min_c=D(35), max_c=D(40)), "40", []),
    ],
)
def test_at_least_35_says_nothing_of_how_hot_at_most(step: StepFacts, step_c: str, rules: list[str]) -> None:
    """A lower end alone isn't known to keep to a limit of 40 °C; a target or an upper end is."""
    asked = ask(
        "sunflower-oil 99, rosehip-oil 1",
        phases="C rosehip-oil",
        steps=(step,),
        step_c={"rosehip-oil": D(step_c)},
    )
    found = check_heat(replace(asked, formula=replace(asked.formula, heat=limits_of(["rosehip-oil"]))))

    assert rules_of(found) == rules
    if rules == ["heat.no_ceiling"] and step_c == "35":
        assert found[0].severity == "unknown"
        assert found[0].message == (
            "rosehip-oil goes in at 35 °C or more (step 1), and how much more isn't said; 40 °C is the most it bears."
        )


def test_one_step_without_an_upper_end_leaves_its_phase_open() -> None:
    """Another step of the phase with a target doesn't bound what the first one may be."""
    steps = (StepFacts(1, "Warm", "C", min_c=D(30)), StepFacts(2, "Stir in", "C", target_c=D(38)))
    asked = ask(
        "sunflower-oil 99, rosehip-oil 1", phases="C rosehip-oil", steps=steps, step_c={"rosehip-oil": D(38)}
    )
    found = check_heat(replace(asked, formula=replace(asked.formula, heat=limits_of(["rosehip-oil"]))))

    assert "30 °C or more (step 1)" in told(found, "heat.no_ceiling").message
