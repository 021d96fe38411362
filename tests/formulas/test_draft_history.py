"""Going back and forth in a draft, exchanging an ingredient, and the pH a version is made to."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any

import pytest

from formulas.actions.formulas import (
    answer_key,
    approve_version,
    exchange_ingredient,
    go_back,
    go_forth,
    next_version,
    review_version,
    save_version,
    start_formula,
)
from formulas.models import FormulaVersion, Ingredient, Substance
from makers.actions import By, Refused
from makers.actions.journal import sentence
from makers.models import JournalEntry
from tests.formulas.factories_ingredients import make_ingredient

D = Decimal


@pytest.fixture
def oil(by: By) -> Ingredient:
    """What is most of it."""
    return make_ingredient(by, "Plum kernel oil")


@pytest.fixture
def wax(by: By) -> Ingredient:
    """What holds it."""
    return make_ingredient(by, "Rice wax")


@pytest.fixture
def draft(by: By) -> FormulaVersion:
    """An empty draft."""
    return start_formula(by, name="Reed balm", kind="leave-on", form="infusion", body_area="body")


def save(by: By, version: FormulaVersion, *lines: dict[str, Any], **fields: Any) -> FormulaVersion:
    """Write lines into one phase, with a step."""
    phases = [{"letter": "A", "name": "Melt", "lines": list(lines)}]
    steps = fields.pop("steps", [{"phase": "A", "text": "Melt", "max_c": D("75.5"), "minutes": 9}])
    return save_version(by, version=version, phases=phases, steps=steps, edit=version.edit, **fields)


def state(version: FormulaVersion) -> dict[str, Any]:
    """Everything that a save writes."""
    version.refresh_from_db()
    lines = [
        (
            line.phase.letter,
            line.position,
            line.ingredient.name,
            line.kind,
            line.percent,
            line.adjust_low,
            line.adjust_high,
            line.ph_low,
            line.ph_high,
            line.purpose,
            line.strained,
            line.leaves,
        )
        for line in version.lines.select_related("phase", "ingredient", "leaves")
    ]
    steps = [
        (step.text, step.phase and step.phase.letter, step.target_c, step.min_c, step.max_c, step.minutes)
        for step in version.steps.select_related("phase")
    ]
    phases = [(phase.letter, phase.name) for phase in version.phases.all()]
    return {"lines": lines, "steps": steps, "phases": phases, "ph": (version.ph_low, version.ph_high)}


def refusal(act: Callable[[], Any]) -> str:
    """The sentence of a refusal."""
    with pytest.raises(Refused) as found:
        act()
    return " ".join(found.value.messages)


def test_back_and_forth_bring_every_field_back(
    by: By, draft: FormulaVersion, oil: Ingredient, wax: Ingredient
) -> None:
    """Percent to eight places, ranges, pH, straining, steps and names, as they were, each as a further save."""
    left = Substance.objects.filter(maker=None).first()
    first = save(
        by,
        draft,
        {"ingredient": oil, "percent": D("12.00000001"), "purpose": "body"},
        {"ingredient": wax, "kind": "to_100", "strained": True, "leaves": left},
        {
            "ingredient": oil,
            "kind": "adjust",
            "adjust_low": D(0),
            "adjust_high": D("0.5"),
            "ph_low": D("4.8"),
            "ph_high": D(5),
        },
        ph=(D("4.8"), D("5.25")),
    )
    was = state(first)
    second = save(by, first, {"ingredient": wax, "percent": D(100)}, steps=[], ph=(None, None))
    then = state(second)

    back = go_back(by, version=second, edit=second.edit)
    assert state(back) == was
    assert back.edit == 3
    forth = go_forth(by, version=back, edit=back.edit)
    assert state(forth) == then
    empty = go_back(by, version=go_back(by, version=forth))
    assert state(empty)["lines"] == []
    assert refusal(lambda: go_back(by, version=empty)) == "Nothing was saved before this."


def test_a_new_save_ends_what_was_gone_back_from(
    by: By, draft: FormulaVersion, oil: Ingredient, wax: Ingredient
) -> None:
    """Forth leads nowhere then; back leads to what the new save was made from."""
    version = save(by, draft, {"ingredient": oil, "percent": D(60)})
    version = save(by, version, {"ingredient": oil, "percent": D(70)})
    version = go_back(by, version=version)
    version = save(by, version, {"ingredient": wax, "percent": D(5)})

    assert refusal(lambda: go_forth(by, version=version)) == "Nothing was undone since the last save."
    assert state(go_back(by, version=version))["lines"][0][4] == D(60)


def test_a_variant_goes_back_to_what_it_was_copied_from(
    by: By, draft: FormulaVersion, oil: Ingredient
) -> None:
    """The first save of a copy is undone to the copy, not to nothing."""
    origin = save(by, draft, {"ingredient": oil, "percent": D(60)}, ph=(D(5), D(6)))
    variant = start_formula(by, name="Reed balm, soft", kind="leave-on", form="balm", parent=origin)
    variant = save(by, variant, {"ingredient": oil, "percent": D(55)})

    back = state(go_back(by, version=variant))

    assert back["lines"][0][4] == D(60)
    assert back["ph"] == (D(5), D(6))


def test_two_windows_and_frozen_versions_are_refused(
    by: By, draft: FormulaVersion, oil: Ingredient, wax: Ingredient
) -> None:
    """An older page undoes nothing that it doesn't show; a fixed version has nothing to undo."""
    version = save(by, draft, {"ingredient": oil, "percent": D(100)})
    acts: list[Callable[[int | None], Any]] = [
        lambda edit: go_back(by, version=version, edit=edit),
        lambda edit: go_forth(by, version=version, edit=edit),
        lambda edit: exchange_ingredient(by, version=version, out=oil, into=wax, edit=edit),
    ]
    assert ["another window" in refusal(partial(act, 0)) for act in acts] == [True] * 3
    reasons = {answer_key(one): "seen" for one in review_version(by.maker, version).to_answer}
    approve_version(by, version=version, reasons=reasons)

    assert ["is fixed" in refusal(partial(act, None)) for act in acts] == [True] * 3
    assert state(version)["lines"][0][2] == oil.name


def test_the_journal_tells_of_each(by: By, draft: FormulaVersion, oil: Ingredient, wax: Ingredient) -> None:
    """One entry an act, about the version."""
    version = save(by, draft, {"ingredient": oil, "percent": D(60)})
    version = exchange_ingredient(by, version=version, out=oil, into=wax)
    version = go_back(by, version=version)
    go_forth(by, version=version)

    told = [
        sentence(entry) for entry in JournalEntry.objects.filter(subject=version.uuid).order_by("-number")[:3]
    ]

    assert told == [
        "went forth to save 2 in Reed balm, version 1, 1 lines",
        "went back to save 1 in Reed balm, version 1, 1 lines",
        "took Rice wax for Plum kernel oil in Reed balm, version 1",
    ]


def test_an_exchange_keeps_everything_but_the_ingredient(
    by: By, draft: FormulaVersion, oil: Ingredient, wax: Ingredient
) -> None:
    """Every line of it, in each phase; percents, places, steps and the pH stay."""
    other = make_ingredient(by, "Hazel oil")
    phases = [
        {
            "letter": "A",
            "name": "Melt",
            "lines": [
                {"ingredient": oil, "percent": D(60), "purpose": "body"},
                {"ingredient": wax, "kind": "to_100"},
            ],
        },
        {"letter": "B", "name": "", "lines": [{"ingredient": oil, "percent": D("0.5")}]},
    ]
    version = save_version(by, version=draft, phases=phases, steps=[{"text": "Melt"}], ph=(D(5), None))
    was = state(version)

    found = state(exchange_ingredient(by, version=version, out=oil, into=other))

    assert [line[2] for line in found["lines"]] == ["Hazel oil", "Rice wax", "Hazel oil"]
    assert [line[:2] + line[3:] for line in found["lines"]] == [line[:2] + line[3:] for line in was["lines"]]
    assert (found["steps"], found["phases"], found["ph"]) == (was["steps"], was["phases"], was["ph"])
    assert "No line" in refusal(lambda: exchange_ingredient(by, version=version, out=oil, into=wax))
    assert "now" in refusal(lambda: exchange_ingredient(by, version=version, out=wax, into=wax))


def test_an_exchange_for_what_is_made_of_it_is_refused(
    by: By, draft: FormulaVersion, oil: Ingredient
) -> None:
    """No formula contains itself."""
    version = save(by, draft, {"ingredient": oil, "percent": D(100)})
    house = make_ingredient(by, "House oil", made_from=version.formula)

    assert "contain itself" in refusal(lambda: exchange_ingredient(by, version=version, out=oil, into=house))


@pytest.mark.parametrize(
    ("low", "high", "said"), [("6", "5", "above the upper"), ("-1", "5", "0 to 14"), ("5", "14.1", "0 to 14")]
)
def test_a_ph_lies_in_order_between_0_and_14(
    by: By, draft: FormulaVersion, oil: Ingredient, low: str, high: str, said: str
) -> None:
    """Nothing of the save stays."""
    assert said in refusal(
        lambda: save(by, draft, {"ingredient": oil, "percent": D(1)}, ph=(D(low), D(high)))
    )
    assert state(draft)["lines"] == []


def test_the_next_version_is_made_to_the_same_ph(by: By, draft: FormulaVersion, oil: Ingredient) -> None:
    """And a save that says nothing of it leaves it."""
    version = save(by, draft, {"ingredient": oil, "percent": D(100)}, ph=(D(5), D("5.5")))
    version = save(by, version, {"ingredient": oil, "percent": D(100)})
    reasons = {answer_key(one): "seen" for one in review_version(by.maker, version).to_answer}
    approve_version(by, version=version, reasons=reasons)

    following = next_version(by, formula=version.formula)

    assert (following.ph_low, following.ph_high) == (D(5), D("5.5"))
