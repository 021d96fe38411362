"""Where an ingredient is used: versions through premixes, products, batches, labels; the same few queries."""

from __future__ import annotations

from decimal import Decimal

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from formulas.actions.formulas import next_version, withdraw_version
from formulas.models import FormulaVersion
from formulas.whereused import reach, where_used
from labels.actions import draft_label
from makers.actions import By
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_ingredient
from tests.formulas.pages import page
from tests.formulas.test_formula_actions import approve, line, save, start
from tests.formulas.test_supposing import infused, oil_of

__all__ = ["infused"]

D = Decimal


def used_words(by: By) -> list[tuple[str, str]]:
    """Current versions and the way in, as shown."""
    found = where_used(by.maker, oil_of(by), most=None)
    return [(str(use.version), one.way) for use in found.current for one in use.lines]


def test_premixes_are_followed_to_any_depth(by: By, infused: FormulaVersion) -> None:
    """Each version with the names passed through, outermost first, and the products sold of it."""
    assert used_words(by) == [
        ("Cream, version 1", "Ready premix → Infused oil"),
        ("Infusion, version 1", ""),
        ("Premix, version 1", "Infused oil"),
    ]
    assert [one.name for one in where_used(by.maker, oil_of(by), most=None).products] == ["Cream in a jar"]


def test_a_draft_of_a_premix_does_not_count_beside_its_approved_version(
    by: By, infused: FormulaVersion
) -> None:
    """The cream is made with the approved premix; what a draft leaves out is in it still, until that is approved."""
    infusion = FormulaVersion.objects.for_maker(by.maker).get(formula__name="Infusion")
    other = make_ingredient(by, "Other oil")

    draft = save(by, next_version(by, formula=infusion.formula), line(other, "100"))
    assert ("Cream, version 1", "Ready premix → Infused oil") in used_words(by)
    approve(by, draft)

    assert used_words(by) == []
    assert [str(use.version) for use in where_used(by.maker, oil_of(by), most=None).older] == [
        "Infusion, version 1"
    ]


def test_withdrawn_versions_stand_apart(by: By, infused: FormulaVersion) -> None:
    """They took it, and count no more."""
    withdraw_version(by, version=approve(by, infused), why="too greasy")

    found = where_used(by.maker, oil_of(by), most=None)

    assert "Cream, version 1" not in [str(use.version) for use in found.current]
    assert "Cream, version 1" in [str(use.version) for use in found.older]
    assert found.products == []


def test_a_long_list_is_cut_and_leads_to_all_of_it(at_home: Client, by: By) -> None:
    """Thirty versions, and a link to the rest."""
    oil = make_ingredient(by, "Carrier oil")
    for number in range(33):
        start(by, line(oil, "100"), name=f"Balm {number:02}")

    text = page(at_home, by, "ingredients/I-001/")

    assert "Balm 29, version 1" in text
    assert "Balm 30, version 1" not in text
    assert 'href="?uses=all#h-used"' in text
    assert "Balm 32, version 1" in page(at_home, by, "ingredients/I-001/?uses=all")


def test_the_page_names_products_and_labels_through_premixes(
    at_home: Client, by: By, infused: FormulaVersion
) -> None:
    """A label of a product two premixes up is one that names it."""
    draft_label(by, product=infused.formula.products.get(), market="EU")

    text = page(at_home, by, "ingredients/I-001/")

    labels = text[text.index('id="h-named-on"') :]
    assert "Cream in a jar" in text[text.index('id="h-used"') : text.index('id="h-named-on"')]
    assert "the European Union" in labels
    assert "a proof" in labels


def test_following_takes_the_same_queries_however_deep_and_many(by: By, infused: FormulaVersion) -> None:
    """Depth costs none, nor do versions."""

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            where_used(by.maker, oil_of(by), most=None)
        return len(queries)

    before = asked()
    inner = make_ingredient(by, "Cream as an ingredient", made_from=infused.formula)
    approve(by, infused)
    for number in range(5):
        start(by, line(inner, "100"), name=f"Deeper {number}")

    assert asked() == before
    assert len(used_words(by)) == 8


def test_nothing_of_another_maker_is_reached(by: By, cast: Cast, infused: FormulaVersion) -> None:
    """Not even where its lines point at the ingredient's number."""
    assert reach(cast.stranger.maker, oil_of(by)).taken == {}
