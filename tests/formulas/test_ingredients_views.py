"""Ingredients on screen: who sees what, what comes back as typed, how many queries."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from batches.actions.stock import count_in
from formulas.actions.ingredients import (
    add_price,
    add_supplier,
    change_ingredient,
    copy_from_catalogue,
)
from formulas.models import Ingredient, Substance, Supplier
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


PAGES = (
    "ingredients/",
    "ingredients/?q=lav&role=perfume&state=short&sort=-code",
    "ingredients/?as=csv",
    "ingredients/add/",
    "ingredients/catalogue/",
    "ingredients/catalogue/?q=lavender",
    "ingredients/catalogue/lavender-oil/",
    "ingredients/substances/add/",
    "ingredients/I-001/",
    "ingredients/I-001/change/",
    "ingredients/I-001/confirm/form/",
    "ingredients/I-001/sources/add/",
    "ingredients/I-001/prices/add/",
    "ingredients/I-001/use-levels/add/",
    "ingredients/I-001/use-levels/{level}/confirm/",
    "ingredients/I-001/use-levels/{level}/remove/",
    "ingredients/I-001/compositions/add/",
    "ingredients/I-001/compositions/1/confirm/",
    "suppliers/",
    "suppliers/?as=csv",
    "suppliers/add/",
    "suppliers/{supplier}/",
)
WRITES = (
    "ingredients/add/",
    "ingredients/catalogue/",
    "ingredients/catalogue/beeswax/",
    "ingredients/substances/add/",
    "ingredients/I-001/change/",
    "ingredients/I-001/confirm/form/",
    "ingredients/I-001/sources/add/",
    "ingredients/I-001/sources/{source}/prefer/",
    "ingredients/I-001/prices/add/",
    "ingredients/I-001/use-levels/add/",
    "ingredients/I-001/use-levels/{level}/confirm/",
    "ingredients/I-001/use-levels/{level}/remove/",
    "ingredients/I-001/compositions/add/",
    "ingredients/I-001/compositions/1/confirm/",
    "suppliers/add/",
    "suppliers/{supplier}/",
)


def filled(path: str, row: Ingredient) -> str:
    """The path with the identities of what the ingredient has."""
    source = row.sources.get()
    return path.format(level=row.use_levels.get().uuid, source=source.uuid, supplier=source.supplier.uuid)


# -- who sees what


def test_a_member_sees_every_page(at_home: Client, by: By, furnished: Ingredient) -> None:
    """Each page of ingredients answers."""
    for path in PAGES:
        page(at_home, by, filled(path, furnished))


def test_a_reader_sees_every_page_and_writes_on_none(
    client: Client, cast: Cast, furnished: Ingredient
) -> None:
    """Reading is 200; writing is refused as 403, and no page offers it on the list or the ingredient."""
    client.force_login(cast.reader.user)

    for path in PAGES:
        page(client, cast.reader, filled(path, furnished))
    for path in WRITES:
        assert client.post(url(cast.reader, filled(path, furnished)), {}).status_code == 403, path
    assert "Write a price" not in page(client, cast.reader, "ingredients/I-001/")
    assert "Add your own" not in page(client, cast.reader, "ingredients/")


def test_a_stranger_finds_nothing(client: Client, cast: Cast, furnished: Ingredient) -> None:
    """Another maker's member gets 404 everywhere, below this maker and for these records below his own."""
    client.force_login(cast.stranger.user)

    for path in PAGES:
        assert client.get(url(cast.owner, filled(path, furnished))).status_code == 404, path
    for path in WRITES:
        assert client.post(url(cast.owner, filled(path, furnished)), {}).status_code == 404, path
    for path in (*PAGES, *WRITES):
        if "I-001" in path or "{" in path:
            assert client.get(url(cast.stranger, filled(path, furnished))).status_code in (404, 405), path


@pytest.mark.parametrize(
    "path",
    [
        "ingredients/I-999/",
        "ingredients/I-001/confirm/name/",
        "ingredients/I-001/compositions/9/confirm/",
        "ingredients/catalogue/unobtainium/",
        "suppliers/00000000-0000-4000-8000-000000000000/",
    ],
)
def test_what_is_not_there_is_404(at_home: Client, by: By, furnished: Ingredient, path: str) -> None:
    """A code, a field, a number or a key that nobody has."""
    assert at_home.get(url(by, path)).status_code == 404


def test_lists_and_records_are_not_posted_to(at_home: Client, by: By, furnished: Ingredient) -> None:
    """Pages that only show refuse a POST."""
    for path in ("ingredients/", "ingredients/I-001/", "suppliers/"):
        assert at_home.post(url(by, path)).status_code == 405


# -- the list


def test_the_list_serves_its_piece_alone(at_home: Client, by: By, furnished: Ingredient) -> None:
    """htmx gets the list without the page around it."""
    response = at_home.get(url(by, "ingredients/"), headers={"HX-Request": "true"})

    assert "Lavender oil" in text_of(response)
    assert "<html" not in text_of(response)
    assert "HX-Request" in response["Vary"]


def test_the_filter_leaves_what_was_asked_for(at_home: Client, by: By) -> None:
    """By words, role, supplier, shortness, unknown composition, and what was put away."""
    oil = make_ingredient(by, "Rosehip oil", roles=["emollient"], low_stock_g=Decimal(100))
    wax = make_ingredient(by, "Beeswax", roles=["wax"])
    make_ingredient(by, "Old stock", active=False)
    source = make_source(by, wax)
    make_composition(by, wax)

    def listed(query: str) -> set[str]:
        text = page(at_home, by, f"ingredients/?{query}")
        return {name for name in ("Rosehip oil", "Beeswax", "Old stock") if f">{name}</a>" in text}

    assert listed("") == {"Rosehip oil", "Beeswax"}
    assert listed("q=rose") == {"Rosehip oil"}
    assert listed("q=glycerin") == {"Beeswax"}
    assert listed("role=wax") == {"Beeswax"}
    assert listed(f"supplier={source.supplier.uuid}") == {"Beeswax"}
    assert listed("state=short") == {"Rosehip oil"}
    assert listed("state=unknown") == {"Rosehip oil"}
    assert listed("state=retired") == {"Old stock"}
    assert listed("q=nothing-like-it") == set()
    count_in(by, ingredient=oil, amount=Decimal(100), unit="g")
    assert listed("state=short") == {"Rosehip oil"}  # in quarantine: not free to use


def test_the_list_sorts_both_ways_and_goes_on(
    at_home: Client, by: By, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Declared sorts only; the next page starts where this one ended."""
    for name in ("Alder", "Birch", "Cedar"):
        make_ingredient(by, name)
    monkeypatch.setattr("makers.views.lists.keyset_page.__defaults__", (2,))

    text = page(at_home, by, "ingredients/?sort=-name")
    assert text.index(">Cedar<") < text.index(">Birch<")
    assert ">Alder<" not in text
    following = text.split('rel="next" href="')[1].split('"')[0].replace("&amp;", "&")
    assert ">Alder<" in page(at_home, by, f"ingredients/{following}")
    assert ">Alder<" in page(at_home, by, "ingredients/?sort=evil")


def test_the_list_says_what_is_on_hand_what_it_costs_and_what_is_known(at_home: Client, by: By) -> None:
    """Grams from the lots, the newest price of the preferred source per kilogram, the composition's state."""
    row = make_ingredient(by, "Rosehip oil", low_stock_g=Decimal(500))
    source = make_source(by, row)
    add_price(by, source=source, on=by.today(), amount=Decimal("9.20"), pack_g=Decimal(200))
    count_in(by, ingredient=row, amount=Decimal("410.05"), unit="g")

    text = page(at_home, by, "ingredients/")

    assert "410.0" in text
    assert "46.00" in text
    assert "Short" in text
    assert "Unknown" in text


def test_the_list_comes_as_csv(at_home: Client, by: By, furnished: Ingredient) -> None:
    """Everything that the filter leaves, with a name that can't be a formula of a spreadsheet."""
    make_ingredient(by, "=cmd()")

    lines = page(at_home, by, "ingredients/?as=csv").splitlines()

    assert lines[0].startswith("\ufeffcode,name")
    assert len(lines) == 3
    assert "Lavandula Angustifolia Oil" in lines[2]
    assert ",=cmd()" not in lines[1]


@pytest.mark.parametrize(
    "path", ["ingredients/", "ingredients/?as=csv", "ingredients/?state=short", "suppliers/"]
)
def test_a_list_takes_as_many_queries_for_thirty_as_for_one(at_home: Client, by: By, path: str) -> None:
    """The number of queries does not follow the number of rows."""

    def add(number: int) -> None:
        row = make_ingredient(by, f"Oil {number:02}", low_stock_g=Decimal(1))
        source = make_source(by, row)
        add_price(by, source=source, on=by.today(), amount=Decimal(1), pack_g=Decimal(100))
        make_composition(by, row, part("Glycerin", "60"), part("Aqua", "40"), source=source)

    add(0)
    count = queries(at_home, by, path)
    for number in range(1, 30):
        add(number)

    assert queries(at_home, by, path) == count


def test_the_page_takes_as_many_queries_for_thirty_compositions(
    at_home: Client, by: By, furnished: Ingredient
) -> None:
    """Sources, prices, compositions and constituents are fetched together."""
    make_composition(by, furnished, source=furnished.sources.get())
    count = queries(at_home, by, "ingredients/I-001/")

    for number in range(30):
        source = make_source(by, furnished, f"Supplier {number:02}")
        add_price(by, source=source, on=by.today(), amount=Decimal(1), pack_g=Decimal(100))
        make_composition(by, furnished, part("Glycerin", "60"), part("Aqua", "40"), source=source)

    assert queries(at_home, by, "ingredients/I-001/") <= count


def queries(client: Client, by: By, path: str) -> int:
    """How many queries a page takes."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.get(url(by, path))
    with CaptureQueriesContext(connection) as found:
        page(client, by, path)
    return len(found)


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
    row = copy_from_catalogue(by, key="cocoa-butter")
    sent = sent_back(at_home, url(by, "ingredients/I-001/change/"))

    at_home.post(url(by, "ingredients/I-001/change/"), sent)
    row.refresh_from_db()
    assert row.facts["melting_low_c"]["basis"] == "read"
    at_home.post(url(by, "ingredients/I-001/change/"), {**sent, "melting_low_c": "31", "basis": "supplier"})

    row.refresh_from_db()
    assert row.melting_low_c == Decimal(31)
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


# -- the catalogue


def test_the_catalogue_is_searched_by_name_inci_and_role(at_home: Client, by: By) -> None:
    """What fits is listed, the rest is not."""
    text = page(at_home, by, "ingredients/catalogue/?q=Butyrospermum")

    assert ">Shea butter</a>" in text
    assert ">Cocoa butter</a>" not in text
    assert ">Beeswax</a>" in page(at_home, by, "ingredients/catalogue/?q=wax")
    assert "nothing called" in page(at_home, by, "ingredients/catalogue/?q=unobtainium")


def test_copying_leads_back_to_the_search_and_marks_it_as_yours(at_home: Client, by: By) -> None:
    """Several are copied in a row; a double tap copies one and says so."""
    sent = {"key": "shea-butter", "q": "shea"}

    answers = [at_home.post(url(by, "ingredients/catalogue/"), sent) for _ in range(2)]

    assert {one["Location"] for one in answers} == {url(by, "ingredients/catalogue/?q=shea")}
    assert Ingredient.objects.for_maker(by.maker).count() == 1
    text = page(at_home, by, "ingredients/catalogue/?q=shea")
    assert "Yours" in text
    assert "among your ingredients already" in text


def test_a_material_shows_what_each_figure_rests_on_and_is_copied_by_name(at_home: Client, by: By) -> None:
    """What was read and what is memory stand apart; the name is the maker's."""
    text = page(at_home, by, "ingredients/catalogue/cocoa-butter/")
    assert "read in the source" in text.split("Melts from")[1].split("</tr>")[0]
    assert "from memory" in text.split("Density")[1].split("</tr>")[0]

    at_home.post(url(by, "ingredients/catalogue/cocoa-butter/"), {"name": "Cocoa butter, drops"})
    again = at_home.post(url(by, "ingredients/catalogue/cocoa-butter/"), {"name": "Cocoa butter, drops"})

    assert Ingredient.objects.for_maker(by.maker).get().name == "Cocoa butter, drops"
    assert "Give the copy another name" in text_of(again)


# -- suppliers, sources, prices, levels, substances


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


# -- found from elsewhere


def test_a_code_and_a_name_lead_to_the_page(at_home: Client, by: By) -> None:
    """The search box resolves the code and finds the name."""
    make_ingredient(by, "Rosehip oil")

    scanned = at_home.get(url(by, "search/?q=i-001"))

    assert scanned.status_code in (302, 303)
    assert scanned["Location"] == url(by, "ingredients/I-001/")
    assert "Rosehip oil" in page(at_home, by, "search/?q=roseh")
