"""Starting, writing, approving, following and withdrawing formulas; what no draft can hold."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from formulas.actions.formulas import (
    Reviewed,
    answer_key,
    approve_version,
    change_formula,
    next_version,
    review_version,
    save_version,
    start_formula,
    withdraw_version,
)
from formulas.actions.ingredients import change_ingredient, copy_from_catalogue
from formulas.models import FormulaVersion, Ingredient, Line, Phase, Step
from makers.actions import By, Refused
from makers.models import JournalEntry
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_ingredient

D = Decimal


def line(ingredient: Ingredient, percent: str = "", **fields: Any) -> dict[str, Any]:
    """A line of a percent, or "to 100" without one."""
    if not percent:
        return {"ingredient": ingredient, "kind": "to_100", **fields}
    return {"ingredient": ingredient, "percent": D(percent), **fields}


def save(by: By, version: FormulaVersion, *lines: dict[str, Any], **fields: Any) -> FormulaVersion:
    """Write lines into one phase."""
    phases = [{"letter": "A", "name": "Melt", "lines": list(lines)}]
    return save_version(by, version=version, phases=phases, **{"edit": version.edit, **fields})


def start(by: By, *lines: dict[str, Any], name: str = "Reed balm", kind: str = "leave-on") -> FormulaVersion:
    """A draft with lines."""
    return save(by, start_formula(by, name=name, kind=kind, form="balm", body_area="body"), *lines)


def reasons_for(reviewed: Reviewed) -> dict[str, str]:
    """A reason for each finding that asks for one."""
    return {answer_key(one): "looked at" for one in reviewed.to_answer}


def approve(by: By, version: FormulaVersion) -> FormulaVersion:
    """Approve with a reason for whatever is asked."""
    return approve_version(by, version=version, reasons=reasons_for(review_version(by.maker, version)))


def refusal(act: Callable[[], Any]) -> str:
    """The sentence of a refusal."""
    with pytest.raises(Refused) as found:
        act()
    return " ".join(found.value.messages)


# -- what no draft can hold


@pytest.mark.parametrize("percent", ["100.0001", "101", "0", "-1", "-0.0001"])
def test_a_percent_is_above_0_and_at_most_100(by: By, percent: str) -> None:
    """The name of the line is said, and nothing of the save stays."""
    oil = make_ingredient(by, "Plum kernel oil")
    version = start(by, line(oil, "50"))

    said = refusal(lambda: save(by, version, line(oil, percent)))

    assert said == "Plum kernel oil takes a percent above 0 and at most 100."
    assert [one.percent for one in version.lines.all()] == [D(50)]


def test_a_percent_line_is_not_empty(by: By) -> None:
    """Nothing given is not 0."""
    oil = make_ingredient(by)
    version = start(by, line(oil, "50"))

    said = refusal(lambda: save(by, version, {"ingredient": oil, "kind": "percent", "percent": None}))

    assert "takes a percent above 0" in said


def test_one_line_takes_what_is_left(by: By) -> None:
    """Two "to 100" lines, in two phases as well, are refused."""
    oil, wax = make_ingredient(by), make_ingredient(by)
    version = start(by, line(oil))
    phases = [{"letter": "A", "lines": [line(oil)]}, {"letter": "B", "lines": [line(wax)]}]

    said = refusal(lambda: save_version(by, version=version, phases=phases, edit=version.edit))

    assert said == "Two lines are “to 100”; only one can take what is left."
    assert version.lines.count() == 1


def test_the_database_keeps_one_to_100_line(by: By) -> None:
    """Written past the action, a second one does not get in."""
    version = start(by, line(make_ingredient(by)))
    phase = version.phases.get()
    second = Line(
        maker=by.maker,
        version=version,
        phase=phase,
        position=9,
        ingredient=make_ingredient(by),
        kind="to_100",
    )

    with pytest.raises(IntegrityError), transaction.atomic():
        Line.objects.bulk_create([second])


def test_an_ingredient_of_another_maker_is_not_taken(cast: Cast) -> None:
    """The line is refused as if it were not there."""
    theirs = make_ingredient(cast.stranger)
    version = start(cast.owner)

    assert "not one of yours" in refusal(lambda: save(cast.owner, version, line(theirs, "50")))


def test_a_reader_writes_nothing(cast: Cast) -> None:
    """The role says so, whatever the screen lets through."""
    with pytest.raises(PermissionDenied):
        start_formula(cast.reader, name="Reed balm", kind="leave-on", form="balm")


# -- sums


@pytest.mark.parametrize(("percent", "total"), [("29.9999", "99.9999"), ("30.0001", "100.0001")])
def test_a_sum_off_by_a_ten_thousandth_is_not_approved(by: By, percent: str, total: str) -> None:
    """The draft stands; approval says the exact figure."""
    version = start(by, line(make_ingredient(by), "70"), line(make_ingredient(by), percent))

    said = refusal(lambda: approve(by, version))

    assert total in said
    version.refresh_from_db()
    assert (version.state, version.frozen_at) == ("draft", None)


def test_thirds_to_eight_places_with_the_rest_to_100_are_exact(by: By) -> None:
    """33.33333333 twice leaves 33.33333334 to the third line."""
    rows = [line(make_ingredient(by), "33.33333333"), line(make_ingredient(by), "33.33333333")]
    version = approve(by, start(by, *rows, line(make_ingredient(by))))

    resolved = review_version(by.maker, version).resolved

    assert resolved.total == 100
    assert resolved.lines[-1].percent == D("33.33333334")


def test_a_rest_of_nothing_is_no_rest(by: By) -> None:
    """Percent lines that fill 100 leave nothing for "to 100"."""
    version = start(by, line(make_ingredient(by), "100"), line(make_ingredient(by)))

    assert refusal(lambda: approve(by, version))
    assert not review_version(by.maker, version).resolved.is_complete


def test_an_empty_version_is_not_approved(by: By) -> None:
    """A draft may be empty; a formula is not."""
    version = start(by)

    assert "100" in refusal(lambda: approve(by, version))


# -- circles


def test_a_formula_never_contains_itself_at_any_depth(by: By) -> None:
    """A is in B, B in C; A may not take C."""
    base = make_ingredient(by)
    first = start(by, line(base, "100"), name="A")
    inside_a = make_ingredient(by, "House A", made_from=first.formula)
    second = start(by, line(inside_a, "100"), name="B")
    inside_b = make_ingredient(by, "House B", made_from=second.formula)
    third = start(by, line(inside_b, "100"), name="C")
    inside_c = make_ingredient(by, "House C", made_from=third.formula)

    for ingredient in (inside_a, inside_b, inside_c):
        said = refusal(partial(save, by, first, line(ingredient, "10")))
        assert "would contain itself" in said
    assert first.lines.get().ingredient == base


def test_an_ingredient_is_not_made_from_what_contains_it(by: By) -> None:
    """The circle closed from the other side: the line stands, then the origin is named."""
    oil = make_ingredient(by, "Infused oil")
    version = start(by, line(oil, "100"))

    assert refusal(lambda: change_ingredient(by, ingredient=oil, made_from=version.formula))
    oil.refresh_from_db()
    assert oil.made_from is None


# -- edits


def test_a_stale_edit_is_refused_and_nothing_is_lost(by: By) -> None:
    """Two windows: the second to save is told, and the first's lines stand."""
    oil, wax = make_ingredient(by), make_ingredient(by)
    version = start(by, line(oil, "10"))
    seen = version.edit
    save(by, version, line(oil, "20"))
    entries = JournalEntry.objects.filter(maker=by.maker).count()

    said = refusal(lambda: save(by, version, line(wax, "30"), edit=seen))

    assert "changed in another window" in said
    assert "What you typed is still here" in said
    assert [one.percent for one in version.lines.all()] == [D(20)]
    assert JournalEntry.objects.filter(maker=by.maker).count() == entries


def test_saving_lines_leaves_the_steps(by: By) -> None:
    """Steps go only when steps are given."""
    version = start(by, line(make_ingredient(by), "10"))
    save(by, version, line(make_ingredient(by), "20"), steps=[{"phase": "A", "text": "Melt", "max_c": D(75)}])
    version.refresh_from_db()

    save(by, version, line(make_ingredient(by), "30"))

    assert [(one.text, one.max_c, one.phase and one.phase.letter) for one in version.steps.all()] == [
        ("Melt", D(75), "A")
    ]


def test_200_lines_are_saved_with_names_in_any_script(by: By) -> None:
    """Each line half a percent, together exactly 100."""
    names = ["Масло какао", "シアバター", "زيت الزيتون", "Beurre de karité", "óleo — “rosa”", "𝔒𝔦𝔩"]
    rows = [
        line(make_ingredient(by, f"{names[number % len(names)]} {number}"), "0.5") for number in range(200)
    ]

    version = start(by, *rows, name="Étoile 星 ✦ <b>бальзам</b>")

    assert review_version(by.maker, version).resolved.total == 100
    assert [one.ingredient.name for one in version.lines.all()][:2] == ["Масло какао 0", "シアバター 1"]
    assert version.formula.name == "Étoile 星 ✦ <b>бальзам</b>"


# -- frozen


def frozen(by: By) -> FormulaVersion:
    """An approved version with a step."""
    version = start(by, line(make_ingredient(by), "100"))
    save(by, version, line(make_ingredient(by), "100"), steps=[{"phase": "A", "text": "Melt"}])
    version.refresh_from_db()
    return approve(by, version)


def test_an_approved_version_never_changes(by: By) -> None:
    """The way on is the next version, which starts from the same lines."""
    version = frozen(by)

    said = refusal(lambda: save(by, version, line(make_ingredient(by), "50"), edit=None))
    following = next_version(by, formula=version.formula)

    assert "Make the next version" in said
    assert (following.number, following.state) == (2, "draft")
    assert [(one.ingredient, one.percent) for one in following.lines.all()] == [
        (one.ingredient, one.percent) for one in version.lines.all()
    ]
    assert following.steps.get().phase == following.phases.get()


@pytest.mark.parametrize("model", [Line, Phase, Step])
@pytest.mark.parametrize("act", ["change", "remove", "add"])
def test_the_database_keeps_a_frozen_version(by: By, model: type[Line | Phase | Step], act: str) -> None:
    """Past the actions, nothing of a frozen version is changed, removed or added to."""
    rows: Any = model._base_manager.filter(version=frozen(by))
    row = rows.get()
    same = {one.attname: getattr(row, one.attname) for one in model._meta.concrete_fields}
    another: Any = model(**{**same, "id": None, "uuid": uuid4(), "position": 8})
    acts: dict[str, Callable[[], Any]] = {
        "change": lambda: rows.update(position=7),
        "remove": lambda: rows._raw_delete("default"),
        "add": lambda: rows.bulk_create([another]),
    }

    with pytest.raises(IntegrityError, match="frozen"), transaction.atomic():
        acts[act]()
    assert rows.count() == 1


def test_the_database_keeps_the_mark_itself(by: By) -> None:
    """A frozen version is not thawed, and keeps its number."""
    rows = FormulaVersion._base_manager.filter(pk=frozen(by).pk)

    for change in ({"frozen_at": None}, {"number": 9}):
        with pytest.raises(IntegrityError), transaction.atomic():
            rows.update(**change)


def test_a_formula_keeps_its_use_once_approved(by: By) -> None:
    """Limits were checked for leave-on; rinse-off is another formula. Its name may change."""
    version = frozen(by)

    said = refusal(lambda: change_formula(by, formula=version.formula, kind="rinse-off"))
    change_formula(by, formula=version.formula, name="Reed balm, soft")

    assert "Start a variant" in said
    version.formula.refresh_from_db()
    assert (version.formula.name, version.formula.kind) == ("Reed balm, soft", "leave-on")


def test_one_draft_at_a_time(by: By) -> None:
    """A draft is gone on with, not piled up."""
    version = start(by)

    assert "still a draft" in refusal(lambda: next_version(by, formula=version.formula))


def test_a_withdrawn_version_needs_a_reason(by: By) -> None:
    """And was approved before."""
    version = frozen(by)

    assert "Say why" in refusal(lambda: withdraw_version(by, version=version, why=" "))
    assert withdraw_version(by, version=version, why="too greasy").state == "withdrawn"
    assert "nothing to withdraw" in refusal(lambda: withdraw_version(by, version=version, why="again"))


# -- reasons


def preserved(by: By, direct: str, through: str) -> FormulaVersion:
    """A lotion with phenoxyethanol of its own, and more through a house premix of half of it."""
    phenoxyethanol = copy_from_catalogue(by, key="phenoxyethanol")
    glycerin = copy_from_catalogue(by, key="glycerin")
    premix = start(by, line(phenoxyethanol, "50"), line(glycerin, "50"), name="Premix")
    approve(by, premix)
    house = make_ingredient(by, "House premix", made_from=premix.formula)
    return start(by, line(glycerin), line(phenoxyethanol, direct), line(house, through), name="Lotion")


def stops(by: By, version: FormulaVersion) -> list[str]:
    """The messages of what would have to be answered as a stop about the preservative."""
    found = review_version(by.maker, version, on=by.today()).findings
    return [one.message for one in found if one.severity == "stop" and "henoxyethanol" in one.message]


def test_a_preservative_is_summed_through_a_premix(by: By) -> None:
    """0.6 % and half of 1 % are 1.1 %: over the 1.0 % of Reg (EC) 1223/2009 Annex V/29 (read)."""
    found = stops(by, preserved(by, "0.6", "1"))

    assert len(found) == 1
    assert "1.1" in found[0]


def test_at_its_limit_a_preservative_is_within_it(by: By) -> None:
    """0.5 % and half of 1 % are 1.0 % exactly: Annex V/29 says "1,0 %", so it is no excess."""
    assert stops(by, preserved(by, "0.5", "1")) == []


def test_a_hair_over_the_limit_is_over_it(by: By) -> None:
    """Unrounded: 0.50000001 % and 0.5 %."""
    assert len(stops(by, preserved(by, "0.50000001", "1"))) == 1


def test_each_stop_and_unknown_wants_a_reason_of_its_own(by: By) -> None:
    """Blank ones don't count; given ones stand on record with their finding."""
    version = preserved(by, "0.6", "1")
    reviewed = review_version(by.maker, version, on=by.today())
    reasons = reasons_for(reviewed)
    over = next(one for one in reviewed.to_answer if "1.1" in one.message)

    said = refusal(lambda: approve_version(by, version=version, reasons={**reasons, answer_key(over): "  "}))
    approved = approve_version(by, version=version, reasons={**reasons, answer_key(over): "a trial for me"})

    assert over.message in said
    kept = [one for one in approved.approved_despite if one["reason"] == "a trial for me"]
    assert [one["message"] for one in kept] == [over.message]


def test_an_unknown_composition_is_asked_about(by: By) -> None:
    """Unknown is never zero: without a composition a reason is asked."""
    version = start(by, line(make_ingredient(by, "Nameless blend"), "100"))

    unknown = [one for one in review_version(by.maker, version).to_answer if one.severity == "unknown"]

    assert any("Nameless blend" in one.message for one in unknown)
    assert "Without a reason" in refusal(lambda: approve_version(by, version=version))
