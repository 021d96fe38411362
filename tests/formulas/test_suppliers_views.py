"""Suppliers, sources, prices, use levels and substances of one's own on screen."""

from __future__ import annotations

from django.test import Client

from formulas.actions.ingredients import (
    add_supplier,
)
from formulas.models import Substance, Supplier
from makers.actions import By
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    make_ingredient,
    make_source,
)
from tests.formulas.pages import page, text_of, url


def test_a_source_of_a_new_supplier_is_added_at_once(at_home: Client, by: By) -> None:
    """The supplier comes along; the same name again is the same supplier."""
    row = make_ingredient(by)
    for code in ("R-1", "R-2"):
        data = {"new_supplier": "Brackwater Oils", "article_code": code}
        assert at_home.post(url(by, "ingredients/I-001/sources/add/"), data).status_code == 303

    assert Supplier.objects.for_maker(by.maker).count() == 1
    assert row.sources.count() == 2


def test_a_source_needs_a_supplier(at_home: Client, by: By) -> None:
    """The sentence says so, and the article stays."""
    make_ingredient(by)

    text = text_of(at_home.post(url(by, "ingredients/I-001/sources/add/"), {"article_code": "R-77"}))

    assert "Choose a supplier, or name a new one." in text
    assert "R-77" in text


def test_only_ones_own_suppliers_are_offered_and_taken(at_home: Client, cast: Cast) -> None:
    """Another maker's supplier is neither listed nor accepted."""
    row = make_ingredient(cast.owner)
    theirs = add_supplier(cast.stranger, name="Strange Oils")
    address = "ingredients/I-001/sources/add/"

    assert "Strange Oils" not in page(at_home, cast.owner, address)
    answer = at_home.post(url(cast.owner, address), {"supplier": theirs.pk, "article_code": "R"})

    assert answer.status_code == 200
    assert not row.sources.exists()


def test_a_source_is_preferred_by_its_button(at_home: Client, by: By) -> None:
    """The page says by which one reviews go."""
    row = make_ingredient(by)
    make_source(by, row)
    second = make_source(by, row)

    at_home.post(url(by, f"ingredients/I-001/sources/{second.uuid}/prefer/"))

    assert row.sources.get(preferred=True) == second


def test_a_price_is_written_and_shown(at_home: Client, by: By) -> None:
    """With its pack and day; a pack of nothing comes back."""
    source = make_source(by, make_ingredient(by))
    data = {"source": source.pk, "on": "2025-04-01", "amount": "46.50", "pack_g": "1000"}
    address = "ingredients/I-001/prices/add/"

    bad = at_home.post(url(by, address), {**data, "pack_g": "0"})
    assert bad.status_code == 200
    assert at_home.post(url(by, address), data).status_code == 303

    assert source.prices.count() == 1
    assert "46.50" in page(at_home, by, "ingredients/I-001/")


def test_a_use_level_is_written_confirmed_and_taken_off(at_home: Client, by: By) -> None:
    """Each step on its page, each seen on the ingredient's."""
    row = make_ingredient(by)
    data = {
        "kind": "leave-on",
        "market": "EU",
        "high": "0.8",
        "source": "Certificate, category 5B",
        "basis": "read",
    }
    assert at_home.post(url(by, "ingredients/I-001/use-levels/add/"), data).status_code == 303
    level = row.use_levels.get()
    text = page(at_home, by, "ingredients/I-001/")
    assert "sold in EU" in text
    assert "not given" in text.split("sold in EU")[1].split("</tr>")[0]

    at_home.post(
        url(by, f"ingredients/I-001/use-levels/{level.uuid}/confirm/"), {"basis": "Certificate 2025"}
    )
    level.refresh_from_db()
    assert level.basis == "confirmed"
    remove = url(by, f"ingredients/I-001/use-levels/{level.uuid}/remove/")
    assert "Say why it goes" in text_of(at_home.post(remove, {"why": ""}))
    at_home.post(remove, {"why": "Withdrawn"})

    assert not row.use_levels.exists()


def test_a_use_level_over_100_or_without_an_end_comes_back(at_home: Client, by: By) -> None:
    """What was typed stays."""
    row = make_ingredient(by)
    for typed, words in (
        ({"high": "101"}, "101"),
        ({}, "at least one end"),
        ({"low": "3", "high": "2"}, "above"),
    ):
        data = {"kind": "any", "source": "sheet 12", "basis": "supplier", **typed}
        text = text_of(at_home.post(url(by, "ingredients/I-001/use-levels/add/"), data))
        assert words in text
        assert "sheet 12" in text

    assert not row.use_levels.exists()


def test_a_supplier_is_added_changed_and_found(at_home: Client, by: By) -> None:
    """Its page lists what it sells; a name is given once."""
    assert at_home.post(url(by, "suppliers/add/"), {"name": "Dunlin", "country": "IE"}).status_code == 303
    row = Supplier.objects.for_maker(by.maker).get()
    change = {"name": "Dunlin Oils", "country": "IE", "contact": "orders@example.org", "active": "on"}

    assert at_home.post(url(by, f"suppliers/{row.uuid}/"), change).status_code == 303

    assert "Dunlin Oils" in page(at_home, by, "suppliers/?q=dunlin")
    assert "No supplier fits" in page(at_home, by, "suppliers/?q=zzz")
    assert "Dunlin Oils" in text_of(at_home.post(url(by, "suppliers/add/"), {"name": "Dunlin Oils"}))
    assert Supplier.objects.for_maker(by.maker).count() == 1


def test_a_substance_of_ones_own_is_added_once(at_home: Client, by: By) -> None:
    """A name that is known already comes back."""
    data = {"inci_name": "Eelmere Reed Root Extract", "cas": "", "source": "supplier"}

    assert at_home.post(url(by, "ingredients/substances/add/"), data).status_code == 303
    again = at_home.post(url(by, "ingredients/substances/add/"), data)

    assert "It is here already" in text_of(again)
    assert Substance.objects.filter(maker=by.maker).count() == 1
