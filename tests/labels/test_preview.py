"""What the review says of labels before there is one: each thing once, with the markets that it is for."""

from __future__ import annotations

import pytest

from formulas.actions.formulas import review_version
from formulas.models import FormulaVersion
from formulas.rules.findings import Finding
from tests.cast import Cast
from tests.labels.factories_labels import compose, make_version, material

pytestmark = pytest.mark.django_db


def said(cast: Cast, version: FormulaVersion, rule: str) -> list[Finding]:
    """The findings of one rule, for a maker who sells to the EU and the US."""
    cast.maker.markets = ["EU", "US"]
    return [one for one in review_version(cast.maker, version).findings if one.rule == rule]


def test_what_waits_is_said_once_with_its_markets(cast: Cast) -> None:
    """Not word for word for each market."""
    wax, riddle = (
        material(cast.maker, "White wax", ("Cera Alba", "100")),
        material(cast.maker, "Riddle"),
    )
    version = make_version(cast.owner, "Balm", [(wax, "90", ""), (riddle, "10", "")], approve=False)

    [found] = said(cast, version, "label.waits")

    assert found.subject == "Label, EU and US"
    assert found.message == (
        "1 point would keep the labels for the European Union and the United States from approval: Riddle (10 % of "
        "the product): its composition is not known."
    )
    assert found.cure


def test_each_flip_is_a_sentence_of_its_own(cast: Cast) -> None:
    """One finding for each name that may move, for all markets that share it."""
    base = material(cast.maker, "Base", ("Cera Alba", "40", "60"), ("Tocopherol", "40", "60"))
    version = make_version(cast.owner, "Flip", [(base, "100", "")], approve=False)

    [found] = [one for one in said(cast, version, "label.order") if "EU" in one.subject]

    assert found.message.count(". ") == 0
    assert "may outweigh" in found.message
    assert found.message.startswith("On the label")
    assert found.cure


def test_the_order_of_a_blend_is_no_flip(cast: Cast) -> None:
    """An ingredient known by order alone."""
    blend = material(cast.maker, "Blend")
    made = compose(blend, ("Phenoxyethanol",), ("Benzoic Acid",), ("Dehydroacetic Acid",))
    for place, one in enumerate(made.constituents.order_by("pk"), start=1):
        one.rank = place
        one.save()
    water = material(cast.maker, "Water", ("Aqua", "100"))
    version = make_version(cast.owner, "Tonic", [(water, "96", ""), (blend, "4", "")], approve=False)

    assert said(cast, version, "label.order") == []
