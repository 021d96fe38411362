"""What is in an ingredient: which figures are kept, which are refused, and by which reviews go."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from formulas.actions.ingredients import (
    add_composition,
    add_substance,
    confirm_composition,
    copy_from_catalogue,
    prefer_source,
)
from formulas.assembly import in_force
from formulas.models import Composition, Ingredient
from formulas.overview import overview, with_paper
from makers.actions import By, Refused
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_source,
    part,
    substance,
)
from tests.formulas.journal import newest, refusal


def test_two_suppliers_of_one_ingredient_are_told_apart(by: By) -> None:
    """Each source has its own composition, numbered through; reviews go by the preferred one's."""
    row = make_ingredient(by, "Olive emulsifier")
    first, second = make_source(by, row, "Alder"), make_source(by, row, "Birch")
    of_first = make_composition(by, row, part("Glycerin", "60"), part("Aqua", "40"), source=first)
    of_second = make_composition(by, row, part("Glycerin", "55"), part("Aqua", "45"), source=second)

    assert (of_first.number, of_second.number) == (1, 2)
    assert in_force(row.compositions.select_related("source")) == of_first
    prefer_source(by, source=second)
    assert in_force(row.compositions.select_related("source")) == of_second
    assert in_force(row.compositions.select_related("source"), source_id=first.pk) == of_first


def test_the_next_composition_leaves_the_one_before_as_it_was(by: By) -> None:
    """A new sheet is a new number; a frozen one can't be edited by anybody."""
    row = make_ingredient(by)
    old = make_composition(by, row, part("Glycerin", "99.5"), part("Aqua", "0.5"))
    Composition.objects.filter(pk=old.pk).update(frozen_at=timezone.now())
    new = make_composition(by, row, part("Glycerin", "86.5"), part("Aqua", "13.5"))

    assert new.number == 2
    assert old.constituents.get(substance__key="aqua").typical == Decimal("0.5")
    with pytest.raises(DatabaseError), transaction.atomic():
        old.constituents.update(typical=Decimal(1))


def test_the_order_alone_is_a_composition(by: By) -> None:
    """No figure is needed; what is unknown stays unknown and is never taken for zero."""
    row = make_ingredient(by)
    made = make_composition(
        by, row, part("Aqua", rank=1), part("Glycerin", rank=2), part("Sodium Benzoate", rank=3)
    )

    assert [one.typical for one in made.constituents.all()] == [None, None, None]
    assert [one.rank for one in made.constituents.all()] == [1, 2, 3]


def test_a_composition_that_leaves_a_rest_is_kept_as_not_complete(by: By) -> None:
    """75 % panthenol with the rest not stated is what the supplier said."""
    row = make_ingredient(by)
    make_composition(by, row, part("Panthenol", "75"))

    listed = overview(by.maker, with_paper(Ingredient.objects.for_maker(by.maker)))

    assert (listed[0].paper, listed[0].paper_state) == ("Not complete", "unknown")


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([("Glycerin", {"typical": "80"}), ("Aqua", {"low": "30"})], "the lower ends make 110, 10 over 100"),
        ([("Glycerin", {"low": "60", "high": "40"})], "is above"),
        ([("Glycerin", {"typical": "100"}), ("Glycerin", {})], "already in this composition"),
        ([("Glycerin", {"typical": "100.1"})], "between 0 and 100"),
        ([("Linalool", {"kind": "within", "high": "5"})], "at least one substance that it declares"),
        (
            [("Aqua", {"rank": 1, "high": "20"}), ("Glycerin", {"rank": 2, "low": "30"})],
            "stands after Aqua",
        ),
        ([("Glycerin", {"typical": "100", "incidental": True})], "say why it counts as incidental"),
    ],
)
def test_figures_that_cannot_all_be_true_are_refused(
    by: By, parts: list[tuple[str, dict[str, Any]]], words: str
) -> None:
    """The refusal names the substance, and nothing of the composition stays."""
    figures = {"low", "typical", "high"}
    given = [
        {
            "substance": substance(name),
            **{key: Decimal(value) if key in figures else value for key, value in fields.items()},
        }
        for name, fields in parts
    ]
    row = make_ingredient(by)

    with pytest.raises(Refused) as error:
        add_composition(by, ingredient=row, constituents=given)

    assert words in refusal(error)
    assert not row.compositions.exists()


def test_a_composition_written_meanwhile_is_not_passed_over(by: By) -> None:
    """A form made before somebody's composition is told so; after a look it is written as the next."""
    row = make_ingredient(by)
    make_composition(by, row)

    with pytest.raises(Refused, match="Composition 1 was written meanwhile"):
        make_composition(by, row, part("Aqua", "100"), after=0)
    second = make_composition(by, row, part("Aqua", "100"), after=1)

    assert second.number == 2


def test_a_composition_sent_twice_is_one(by: By) -> None:
    """A double tap writes one composition."""
    row, key = make_ingredient(by), uuid4()

    first = make_composition(by, row, after=0, entry_key=key)
    second = make_composition(by, row, after=0, entry_key=key)

    assert first == second
    assert row.compositions.count() == 1


def test_a_source_of_another_ingredient_is_refused(by: By) -> None:
    """A composition belongs to the ingredient that its source sells."""
    other = make_source(by, make_ingredient(by))

    with pytest.raises(Refused, match="another ingredient"):
        make_composition(by, make_ingredient(by), source=other)


def test_anothers_own_substance_is_refused(cast: Cast) -> None:
    """What one maker added can't stand in another's composition."""
    theirs = add_substance(cast.stranger, inci_name="Eelmere Reed Root Extract")

    with pytest.raises(Refused, match="not one of your substances"):
        add_composition(
            cast.owner, ingredient=make_ingredient(cast.owner), constituents=[{"substance": theirs}]
        )


def test_a_composition_from_memory_is_confirmed_without_touching_a_figure(by: By) -> None:
    """Only what it rests on changes, and the journal keeps what that was."""
    row = copy_from_catalogue(by, key="shea-butter")
    record = row.compositions.get()
    before = list(record.constituents.values_list("substance", "low", "typical", "high"))

    confirmed = confirm_composition(by, composition=record, basis="Specification of May 2025")

    assert (confirmed.basis, confirmed.origin) == ("confirmed", "Specification of May 2025")
    assert list(record.constituents.values_list("substance", "low", "typical", "high")) == before
    assert newest(by).change["was"]["basis"] == "memory"
    with pytest.raises(Refused, match="against what"):
        confirm_composition(by, composition=record, basis="")
