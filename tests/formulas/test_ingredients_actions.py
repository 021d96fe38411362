"""What may be written down about ingredients and their facts, and what is refused."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, transaction
from django.utils import timezone

from formulas.actions.ingredients import (
    add_ingredient,
    add_source,
    add_substance,
    add_supplier,
    change_ingredient,
    confirm_fact,
    copy_from_catalogue,
)
from formulas.models import Formula, FormulaVersion, Ingredient, Line, Phase
from formulas.rules.catalogue import catalogue
from makers.actions import By, Refused
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_supplier,
)
from tests.formulas.journal import lines, newest, refusal


def test_an_ingredient_gets_a_code_and_each_fact_its_basis(by: By) -> None:
    """What was given rests on what the maker says; what was not given has no basis, for it is unknown."""
    row = add_ingredient(
        by,
        name="Rosehip oil",
        form="liquid",
        add_below_c=Decimal(40),
        basis="supplier",
        basis_source="Sheet, 2025",
    )

    assert row.code == "I-001"
    assert row.facts["add_below_c"]["basis"] == "supplier"
    assert row.facts["add_below_c"]["source"] == "Sheet, 2025"
    assert row.facts["form"]["by"] == str(by.user)
    assert "density_g_ml" not in row.facts
    assert row.density_g_ml is None
    assert newest(by).action == "ingredient.added"


def test_a_name_is_given_once(by: By) -> None:
    """The second ingredient of a name is refused, and nothing of it stays."""
    make_ingredient(by, "Shea butter")
    before = lines(by)

    with pytest.raises(Exception, match="There is an ingredient of that name"):
        make_ingredient(by, "Shea butter")

    assert lines(by) == before
    assert Ingredient.objects.for_maker(by.maker).count() == 1


def test_a_form_sent_twice_adds_one_ingredient(by: By) -> None:
    """The second sending of the same form gives back the first record."""
    key = uuid4()

    first = add_ingredient(by, name="Castor oil", entry_key=key)
    second = add_ingredient(by, name="Castor oil", entry_key=key)

    assert first == second
    assert Ingredient.objects.for_maker(by.maker).count() == 1


def test_a_reader_writes_nothing(cast: Cast) -> None:
    """Every action refuses a reader."""
    row = make_ingredient(cast.owner)

    for act in (
        lambda: add_ingredient(cast.reader, name="Beeswax"),
        lambda: change_ingredient(cast.reader, ingredient=row, note="x"),
        lambda: add_supplier(cast.reader, name="Dunlin"),
        lambda: make_composition(cast.reader, row),
        lambda: add_substance(cast.reader, inci_name="Reed Root Extract"),
        lambda: copy_from_catalogue(cast.reader, key=catalogue()[0].key),
    ):
        with pytest.raises(PermissionDenied):
            act()

    assert Ingredient.objects.for_maker(cast.maker).count() == 1


def test_a_stranger_cannot_change_it(cast: Cast) -> None:
    """Another maker's member does not find the ingredient."""
    row = make_ingredient(cast.owner)

    with pytest.raises(Ingredient.DoesNotExist):
        change_ingredient(cast.stranger, ingredient=row, note="mine now")


def test_a_stranger_adds_no_source_to_it(cast: Cast) -> None:
    """The database refuses a source of one maker's ingredient in another maker's book."""
    row = make_ingredient(cast.owner)
    supplier = make_supplier(cast.stranger)

    with pytest.raises(DatabaseError), transaction.atomic():
        add_source(cast.stranger, ingredient=row, supplier=supplier)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (
            {"ph_low": Decimal("7.5"), "ph_high": Decimal(4)},
            "pH range is the wrong way round: 7.5 is above 4",
        ),
        (
            {"melting_low_c": Decimal(40), "melting_high_c": Decimal(30)},
            "melting range is the wrong way round",
        ),
        ({"density_g_ml": Decimal("0.9")}, "A density of what"),
        ({"density_g_ml": Decimal(0), "density_kind": "liquid"}, "A density is above 0"),
        ({"ph_low": Decimal(15)}, "pH runs from 0 to 14"),
        ({"low_stock_g": Decimal(-1)}, "low-stock level is 0 g or more"),
    ],
)
def test_figures_that_cannot_be_are_refused(by: By, fields: dict[str, Any], words: str) -> None:
    """Ranges run upwards, and every figure has bounds."""
    with pytest.raises(Exception, match=words):
        make_ingredient(by, **fields)


def test_a_changed_fact_rests_on_what_is_said_now(by: By) -> None:
    """A change renews the basis of what changed and leaves the other facts' basis."""
    row = copy_from_catalogue(by, key="shea-butter")
    before = row.facts["density_g_ml"]

    changed = change_ingredient(
        by, ingredient=row, melting_low_c=Decimal(33), basis="supplier", basis_source="Certificate of May"
    )

    assert changed.facts["melting_low_c"]["basis"] == "supplier"
    assert changed.facts["melting_low_c"]["source"] == "Certificate of May"
    assert changed.facts["density_g_ml"] == before
    assert newest(by).change["values"] == {"melting_low_c": "33"}


def test_a_fact_taken_away_is_unknown_and_rests_on_nothing(by: By) -> None:
    """An emptied figure loses its basis too."""
    row = make_ingredient(by, add_below_c=Decimal(40))

    changed = change_ingredient(by, ingredient=row, add_below_c=None)

    assert changed.add_below_c is None
    assert "add_below_c" not in changed.facts


def test_a_change_that_changes_nothing_is_not_written_down(by: By) -> None:
    """Sending a form back untouched leaves no line in the journal."""
    row = make_ingredient(by, note="as it is")
    before = lines(by)

    change_ingredient(by, ingredient=row, note="as it is")

    assert lines(by) == before


def test_a_stale_change_says_who_changed_it_to_what(cast: Cast) -> None:
    """A field that somebody changed meanwhile is not overwritten unseen."""
    row = make_ingredient(cast.owner, add_below_c=Decimal(40))
    change_ingredient(cast.worker, ingredient=row, add_below_c=Decimal(45))

    with pytest.raises(Refused) as error:
        change_ingredient(
            cast.owner, ingredient=row, was={"add_below_c": Decimal(40)}, add_below_c=Decimal("37.5")
        )

    assert "Tam Reed changed it to 45 at" in refusal(error)
    assert "you wrote 37.5" in refusal(error)
    row.refresh_from_db()
    assert row.add_below_c == Decimal(45)


def test_two_people_change_different_fields(cast: Cast) -> None:
    """Neither undoes the other."""
    row = make_ingredient(cast.owner, add_below_c=Decimal(40), note="")
    change_ingredient(cast.worker, ingredient=row, was={"note": ""}, note="smells of hay")
    change_ingredient(cast.owner, ingredient=row, was={"add_below_c": Decimal(40)}, add_below_c=Decimal(35))

    row.refresh_from_db()
    assert (row.note, row.add_below_c) == ("smells of hay", Decimal(35))


def test_no_ingredient_is_made_from_a_formula_that_contains_it(by: By) -> None:
    """A circle is refused, also through another in-house ingredient."""
    oil, infusion = make_ingredient(by, "Oil"), make_ingredient(by, "Infusion")
    formulas = []
    for name, inside in (("Steeping", oil), ("Balm", infusion)):
        formula = Formula.objects.create(maker=by.maker, code=name, name=name, kind="leave-on", form="balm")
        version = FormulaVersion.objects.create(
            maker=by.maker, formula=formula, number=1, made_at=timezone.now()
        )
        phase = Phase.objects.create(maker=by.maker, version=version, letter="A", position=1)
        Line.objects.create(
            maker=by.maker, version=version, phase=phase, position=1, ingredient=inside, percent=Decimal(100)
        )
        formulas.append(formula)
    change_ingredient(by, ingredient=infusion, made_from=formulas[0])

    for formula in formulas:
        with pytest.raises(Refused, match="contains Oil already"):
            change_ingredient(by, ingredient=oil, made_from=formula)


def test_a_fact_from_memory_is_confirmed_by_whom_and_against_what(by: By) -> None:
    """Confirming keeps the figure and changes what it rests on; the same words again change nothing."""
    row = copy_from_catalogue(by, key="shea-butter")
    before = row.form
    assert row.facts["form"]["basis"] == "memory"

    row = confirm_fact(by, ingredient=row, field="form", basis="Looked at the drum")
    count = lines(by)
    again = confirm_fact(by, ingredient=row, field="form", basis="Looked at the drum")

    assert row.form == before
    assert row.facts["form"]["basis"] == "confirmed"
    assert row.facts["form"]["by"] == str(by.user)
    assert row.facts["form"]["at"]
    assert again.facts == row.facts
    assert lines(by) == count


@pytest.mark.parametrize(
    ("field", "basis", "words"),
    [
        ("form", " ", "Say against what"),
        ("name", "sheet", "no fact to confirm"),
        ("add_below_c", "sheet", "not known yet"),
    ],
)
def test_a_confirmation_needs_a_basis_and_a_figure(by: By, field: str, basis: str, words: str) -> None:
    """Nothing is confirmed against nothing, and the unknown can't be confirmed."""
    row = make_ingredient(by, form="liquid")

    with pytest.raises(Refused, match=words):
        confirm_fact(by, ingredient=row, field=field, basis=basis)
