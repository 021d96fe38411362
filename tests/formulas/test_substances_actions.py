"""The shared reference of substances, and substances of one's own."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db.models.signals import post_migrate

from formulas.actions.ingredients import (
    add_substance,
    find_substance,
)
from formulas.models import Substance
from formulas.reference import load_reference
from formulas.rules.catalogue import substances
from makers.actions import By, Refused
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    substance,
)

# -- the shared reference


@pytest.mark.django_db
def test_reference_substances_are_there_after_migrating() -> None:
    """Every row of the data file is a shared substance, and loading again changes nothing."""
    shared = Substance.objects.filter(maker=None)

    assert shared.count() == len(substances())
    assert load_reference() == 0


@pytest.mark.django_db
def test_reference_substances_come_back_after_the_tables_were_emptied() -> None:
    """Whatever empties the database and says that it migrated finds the reference in place."""
    Substance.objects.filter(maker=None).delete()
    world = apps.get_app_config("formulas")

    post_migrate.send(sender=world, app_config=world, verbosity=0, interactive=False, using="default")

    assert Substance.objects.filter(maker=None).count() == len(substances())


@pytest.mark.django_db
def test_a_changed_data_file_changes_its_row_alone() -> None:
    """Loading brings a row that differs back to the file and leaves the others."""
    Substance.objects.filter(maker=None, key="glycerin").update(function="something else")

    assert load_reference() == 1
    assert substance("Glycerin").function != "something else"


# -- one's own


def test_a_substance_of_ones_own_stands_beside_the_shared_ones(cast: Cast) -> None:
    """It is found by its maker alone, however its name is written."""
    made = add_substance(cast.owner, inci_name="Eelmere Reed Root Extract")

    assert find_substance(cast.owner, "eelmere REED root extract") == made
    assert find_substance(cast.stranger, "Eelmere Reed Root Extract") is None
    assert made.basis == "confirmed"


def test_a_name_that_the_reference_has_is_not_added_again(by: By) -> None:
    """The refusal says under which name it is known."""
    with pytest.raises(Refused, match="as Glycerin"):
        add_substance(by, inci_name="GLYCERIN")


def test_a_name_in_any_script_is_kept(by: By) -> None:
    """Names without Latin letters are different substances."""
    first, second = (add_substance(by, inci_name=name) for name in ("ヨモギ葉エキス", "甘草根エキス"))

    assert first.key != second.key
    assert find_substance(by, "ヨモギ葉エキス") == first
