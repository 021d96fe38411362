"""The page of an ingredient, and adding and changing one: what is shown, what comes back as typed."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from formulas.actions.ingredients import (
    change_ingredient,
    copy_from_catalogue,
)
from formulas.models import Ingredient
from makers.actions import By
from tests.cast import Cast, make_maker, make_member
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_source,
    part,
)
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import inputs_of, sent_back


def facts(**fields: Any) -> dict[str, Any]:
    """The form of an ingredient as a browser sends it."""
    return {
        "name": "Rosehip oil", "form": "liquid", "soluble_in": "oil", "basis": "supplier", **fields,
    }  # fmt: skip


# -- the page


def test_each_fact_says_what_it_rests_on(at_home: Client, by: By, furnished: Ingredient) -> None:
    """From memory is said and can be confirmed; what is not known says Unknown, never 0."""
    text = page(at_home, by, "ingredients/I-001/")

    assert "from memory" in text
    assert f"/{by.maker.slug}/ingredients/I-001/confirm/form/" in text
    works_from = text.split("Works from pH")[1].split("</tr>")[0]
    assert "Unknown" in works_from
    assert "0" not in works_from.split("Unknown")[1]


def test_two_suppliers_compositions_stand_apart(at_home: Client, by: By) -> None:
    """Each under its supplier with its own figures; the page says by which reviews go."""
    row = make_ingredient(by, "Olive emulsifier")
    for name, share in (("Alder", "61.5"), ("Birch", "58.25")):
        rest = str(100 - Decimal(share))
        source = make_source(by, row, name)
        make_composition(by, row, part("Glycerin", share), part("Aqua", rest), source=source)

    text = page(at_home, by, "ingredients/I-001/")

    alder = text.split("Composition 1 <small>Alder")[1].split("<section")[0]
    birch = text.split("Composition 2 <small>Birch")[1].split("<section")[0]
    assert "61.5" in alder
    assert "58.25" not in alder
    assert "58.25" in birch
    assert "Reviews go by this one" in alder
    assert "Reviews go by this one" not in birch


def test_an_order_alone_is_shown_as_what_follows_from_it(at_home: Client, by: By) -> None:
    """The second of two holds at most half; no figure was given, and the page says so."""
    make_composition(by, make_ingredient(by), part("Aqua", rank=1), part("Glycerin", rank=2))

    text = page(at_home, by, "ingredients/I-001/")

    second = text.split("no. 2 in their order")[0].rsplit("<tr", 1)[1]
    assert "not given" in second
    assert "50" in second
    assert "by order and sum, no. 2" in text


def test_thirds_are_rounded_outwards_on_the_page(at_home: Client, by: By) -> None:
    """The first of three holds a third at least: 33.33, and the third a third at most: 33.34."""
    make_composition(
        by, make_ingredient(by), part("Aqua", rank=1), part("Glycerin", rank=2), part("Xanthan Gum", rank=3)
    )

    text = page(at_home, by, "ingredients/I-001/")

    assert "33.33" in text
    assert "33.34" in text
    assert "33.333" not in text


def test_what_is_not_stated_says_unknown(at_home: Client, by: By) -> None:
    """A rest that nobody accounts for, and an allergen without an upper end."""
    row = make_ingredient(by, is_perfume=True)
    make_composition(by, row, part("Panthenol", "75"), part("Linalool", kind="within"))

    text = page(at_home, by, "ingredients/I-001/")

    assert "Not stated" in text
    assert "25 % of it is not accounted for" in text.replace("<b>", "").replace("</b>", "")
    assert text.split("Linalool")[1].split("</tr>")[0].count("Unknown") == 2
    assert "Allergens not stated" in text


def test_without_a_composition_the_page_says_so(at_home: Client, by: By) -> None:
    """Unknown, and where to write it."""
    make_ingredient(by)

    text = page(at_home, by, "ingredients/I-001/")

    assert "What is in it is not on record" in text
    assert "Write its composition" in text


# -- adding and changing


def test_an_ingredient_is_added_with_what_its_facts_rest_on(at_home: Client, by: By) -> None:
    """The answer leads to its page."""
    response = at_home.post(
        url(by, "ingredients/add/"),
        facts(density_g_ml="0.92", density_kind="liquid", basis_source="Sheet of May", roles=["emollient"]),
    )

    row = Ingredient.objects.for_maker(by.maker).get()
    assert response.status_code == 303
    assert response["Location"] == url(by, f"ingredients/{row.code}/")
    assert row.density_g_ml == Decimal("0.92")
    assert row.facts["density_g_ml"]["source"] == "Sheet of May"


def test_the_same_form_twice_adds_one(at_home: Client, by: By) -> None:
    """A double tap leads both times to the same page."""
    key = at_home.get(url(by, "ingredients/add/")).content.decode()
    key = key.split('name="entry_key" value="')[1].split('"')[0]

    answers = [at_home.post(url(by, "ingredients/add/"), facts(entry_key=key)) for _ in range(2)]

    assert [one.status_code for one in answers] == [303, 303]
    assert Ingredient.objects.for_maker(by.maker).count() == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"density_g_ml": "0,92x", "density_kind": "liquid"}, "0,92x"),
        ({"density_g_ml": "0.92"}, "A density of what"),
        ({"add_below_c": "about 40"}, "about 40"),
        ({"ph_low": "15"}, "14"),
        ({"low_stock_g": "-5"}, "-5"),
        ({"name": ""}, "Write the name here"),
        ({"ph_low": "7", "ph_high": "4"}, "wrong way round"),
    ],
)
def test_what_needs_a_hand_comes_back_with_what_was_typed(
    at_home: Client, by: By, typed: dict[str, str], words: str
) -> None:
    """Nothing is written down and nothing typed is lost."""
    sent = facts(note="smells of hay", **typed)

    text = text_of(at_home.post(url(by, "ingredients/add/"), sent))

    assert words in text
    assert "smells of hay" in text
    for value in typed.values():
        assert value in text
    assert not Ingredient.objects.for_maker(by.maker).exists()


@pytest.mark.parametrize(
    ("locale", "typed", "kept"),
    [
        ("en_IE", "1.5", "1.5"),
        ("de_DE", "1,5", "1.5"),
        ("de_DE", "1.500,5", "1500.5"),
        ("en_IE", "1,500.5", "1500.5"),
        ("en_IE", "1,5", None),
        ("de_DE", "1.5", None),
        ("de_DE", "1.500", None),
    ],
)
def test_numbers_are_read_in_the_makers_way(
    client: Client, db: None, locale: str, typed: str, kept: str | None
) -> None:
    """Comma and point by the maker's locale; what reads two ways is asked back."""
    by = make_member(make_maker(locale=locale))
    client.force_login(by.user)

    response = client.post(url(by, "ingredients/add/"), facts(low_stock_g=typed))

    found = Ingredient.objects.for_maker(by.maker).first()
    if kept is None:
        assert response.status_code == 200
        assert f'value="{typed}"' in text_of(response)
        assert found is None
    else:
        assert found is not None
        assert found.low_stock_g == Decimal(kept)


def test_a_change_touches_only_what_was_changed(at_home: Client, by: By) -> None:
    """The form sent back as it came changes nothing; one figure changes one fact and its basis."""
    row = copy_from_catalogue(by, key="shea-butter")
    sent = sent_back(at_home, url(by, "ingredients/I-001/change/"))

    at_home.post(url(by, "ingredients/I-001/change/"), sent)
    row.refresh_from_db()
    assert row.facts["melting_low_c"]["basis"] == "read"
    at_home.post(url(by, "ingredients/I-001/change/"), {**sent, "melting_low_c": "34", "basis": "supplier"})

    row.refresh_from_db()
    assert row.melting_low_c == Decimal(34)
    assert row.facts["melting_low_c"]["basis"] == "supplier"
    assert row.facts["melting_high_c"]["basis"] == "read"


def test_a_stale_form_is_asked_back_and_holds_when_sent_again(at_home: Client, cast: Cast) -> None:
    """Who changed it to what stands beside the field; what was typed stays and may be sent once more."""
    by = cast.owner
    row = make_ingredient(by, add_below_c=Decimal(40))
    sent = {
        **sent_back(at_home, url(by, "ingredients/I-001/change/")),
        "add_below_c": "37.5",
        "note": "new jar",
    }
    change_ingredient(cast.worker, ingredient=row, add_below_c=Decimal(45))

    response = at_home.post(url(by, "ingredients/I-001/change/"), sent)
    text = text_of(response)

    assert "Tam Reed changed it to" in text
    assert 'value="37.5"' in text
    assert "new jar" in text
    row.refresh_from_db()
    assert row.add_below_c == Decimal(45)
    again = at_home.post(url(by, "ingredients/I-001/change/"), inputs_of(text))
    row.refresh_from_db()
    assert again.status_code == 303
    assert (row.add_below_c, row.note) == (Decimal("37.5"), "new jar")


def test_a_fact_is_confirmed_on_its_page(at_home: Client, by: By, furnished: Ingredient) -> None:
    """The page shows what is on record; the answer leads back."""
    assert "On record: Liquid." in page(at_home, by, "ingredients/I-001/confirm/form/")

    empty = at_home.post(url(by, "ingredients/I-001/confirm/form/"), {"basis": ""})
    response = at_home.post(url(by, "ingredients/I-001/confirm/form/"), {"basis": "Poured it myself"})

    assert empty.status_code == 200
    assert response.status_code == 303
    furnished.refresh_from_db()
    assert furnished.facts["form"]["source"] == "Poured it myself"


def test_a_fact_written_in_another_window_is_not_wiped_by_a_form_that_never_touched_it(
    at_home: Client, by: By
) -> None:
    """The form that comes back shows the newer density, names it beside its field, and keeps it when sent again."""
    row = make_ingredient(by)
    there = url(by, "ingredients/I-001/change/")
    second = {**sent_back(at_home, there), "note": "second note"}
    first = {
        **sent_back(at_home, there),
        "density_g_ml": "0.91",
        "density_kind": "liquid",
        "note": "first note",
    }
    assert at_home.post(there, first).status_code == 303

    told = text_of(at_home.post(there, second))

    assert "changed it to 0.91 g/ml at" in " ".join(re.sub(r"<[^>]+>", "", told).split())
    assert "you wrote “second note”. Which holds?" in told
    assert inputs_of(told)["density_g_ml"] == ["0.91"]
    assert at_home.post(there, inputs_of(told)).status_code == 303
    row.refresh_from_db()
    assert (row.density_g_ml, row.note) == (Decimal("0.91"), "second note")
