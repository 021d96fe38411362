"""Copying raw materials of the starter catalogue."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.actions.ingredients import (
    copy_from_catalogue,
)
from formulas.models import Ingredient, Source, UseLevel
from formulas.rules.catalogue import catalogue, catalogue_by_key, kind_levels
from makers.actions import By, Refused
from tests.cast import Cast, make_member
from tests.formulas.journal import newest

D = Decimal


def test_a_copy_brings_facts_composition_and_use_level_with_their_basis(by: By) -> None:
    """Figures seen in a source are "read", the rest is memory; both name where they are from."""
    row = copy_from_catalogue(by, key="cocoa-butter")

    assert row.name == "Cocoa butter"
    assert row.melting_low_c == Decimal(30)
    assert row.facts["melting_low_c"]["basis"] == "read"
    assert row.facts["density_g_ml"]["basis"] == "memory"
    assert row.facts["density_g_ml"]["source"]
    level = row.use_levels.get()
    assert (level.low, level.high, level.basis) == (Decimal(5), Decimal(80), "memory")
    composition = row.compositions.get()
    assert composition.basis == "memory"
    assert [str(one.substance) for one in composition.constituents.all()] == ["Theobroma Cacao Seed Butter"]
    assert newest(by).action == "ingredient.copied"


@pytest.mark.django_db
def test_every_material_of_the_catalogue_can_be_copied(by: By) -> None:
    """None is refused, and none loses a constituent on the way."""
    for material in catalogue():
        row = copy_from_catalogue(by, key=material.key)

        assert row.compositions.get().constituents.exists(), material.key
        assert set(row.roles) == {material.role}


def test_an_essential_oil_brings_what_it_contains_within(by: By) -> None:
    """Its allergens are within, and the supplier has not stated them yet."""
    row = copy_from_catalogue(by, key="lavender-oil")

    composition = row.compositions.get()
    within = composition.constituents.filter(kind="within")
    assert row.is_perfume
    assert within.filter(substance__key="linalool").exists()
    assert not composition.allergens_stated


def test_a_material_is_copied_once_under_a_name(by: By) -> None:
    """A second copy wants another name, and gets along with it."""
    copy_from_catalogue(by, key="shea-butter")

    with pytest.raises(Refused, match="Give the copy another name"):
        copy_from_catalogue(by, key="shea-butter")
    second = copy_from_catalogue(by, key="shea-butter", name="Shea butter, raw")

    assert second.name == "Shea butter, raw"
    assert Ingredient.objects.for_maker(by.maker).count() == 2


def test_what_is_not_in_the_catalogue_is_not_copied(by: By) -> None:
    """An unknown key is refused."""
    with pytest.raises(Refused, match="not in the catalogue"):
        copy_from_catalogue(by, key="unobtainium")


def test_a_worker_may_do_all_of_it(cast: Cast) -> None:
    """Ingredients are no owner's matter alone."""
    row = copy_from_catalogue(make_member(cast.maker, "worker"), key="beeswax")

    assert row.code == "I-001"
    assert catalogue_by_key()["beeswax"].name.casefold() == row.name.casefold()
    assert Source.objects.for_maker(cast.maker).count() == 0


def test_citric_acid_brings_a_level_for_bath_goods_of_its_own(by: By) -> None:
    """Common practice, no source: a little for acidity, a quarter of what fizzes in the tub."""
    row = copy_from_catalogue(by, key="citric-acid")

    levels = {level.kind: (level.low, level.high, level.basis) for level in row.use_levels.all()}
    assert levels == {"any": (D("0.05"), D(2), "memory"), "bath": (D(5), D(35), "memory")}


def test_every_level_of_a_kind_is_of_a_material_in_the_catalogue() -> None:
    """And its low end lies below its high end."""
    assert kind_levels().keys() <= catalogue_by_key().keys()
    for level in (one for levels in kind_levels().values() for one in levels):
        assert (level.low or 0) < (level.high or 0) <= 100
        assert level.kind in UseLevel.Kind.values
