"""Costs, margins, prices and rates on screen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from formulas.actions.costs import add_article_price, add_rate, set_cost_basis, set_product_cost
from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_price
from formulas.actions.products import add_article, add_product
from formulas.models import (
    Article,
    ArticlePrice,
    CostBasis,
    ExchangeRate,
    Ingredient,
    Price,
    Product,
    ProductCost,
)
from makers.actions import By
from makers.models import JournalEntry
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_ingredient, make_source
from tests.formulas.pages import page, text_of, url

D = Decimal
DAY = date(2026, 3, 2)


@dataclass
class Shop:
    """A product of 80 % oil and 20 % wax in a tin: the worked example of the rules, on record."""

    by: By
    oil: Ingredient
    wax: Ingredient
    tin: Article
    product: Product


def make_shop(by: By) -> Shop:
    """By hand: 62.5 g go in (60 g, 4 % lost); oil 1.00, wax 0.625, tin 1.20, work 1.44, 10 % overhead: 4.6915."""
    oil, wax = make_ingredient(by, "Mallow oil"), make_ingredient(by, "Teasel wax")
    add_price(by, source=make_source(by, oil, "Dunlin Oils"), on=DAY, amount=D(10), pack_g=D(500))
    add_price(by, source=make_source(by, wax, "Tern Waxes"), on=DAY, amount=D(50), pack_g=D(1000))
    tin = add_article(by, name="Tin")
    add_article_price(by, article=tin, on=DAY, amount=D(120), pieces=100)
    set_cost_basis(by, labour_per_hour=D(24), overhead_percent=D(10))
    product = make_ware(by, "Hand balm", [(oil, "80"), (wax, "20")], tin)
    return Shop(by, oil, wax, tin, product)


def make_ware(by: By, name: str, parts: list[tuple[Ingredient, str]], tin: Article) -> Product:
    """A product of these parts at 10.00, of which 50 % margin is wanted."""
    version = start_formula(by, name=f"{name} formula", kind="leave-on", form="balm", body_area="body")
    lines = [{"ingredient": row, "percent": D(percent)} for row, percent in parts]
    version = save_version(by, version=version, phases=[{"letter": "A", "name": "", "lines": lines}])
    product = add_product(
        by,
        formula=version.formula,
        name=name,
        net_amount=D(60),
        net_unit="g",
        fill_g=D(60),
        price=D(10),
        markets=["EU"],
        parts=[(tin, 1)],
    )
    set_product_cost(
        by,
        product=product,
        batch_units=25,
        batch_minutes=D(90),
        loss_percent=D(4),
        wanted_margin=D(50),
    )
    return product


@pytest.fixture
def shop(by: By) -> Shop:
    """The worked example."""
    return make_shop(by)


def plain(text: str) -> str:
    """The page without the marks that set figures in another face."""
    return text.replace("<b>", "").replace("</b>", "")


# -- one product


def test_the_page_of_a_product_reckons_the_worked_example(at_home: Client, shop: Shop) -> None:
    """Each line, the sum to four places, margin 53.085 %, markup 113.15 %, and 9.39 for the wanted 50 %."""
    text = page(at_home, shop.by, "products/P-001/cost/")

    for figure in (
        "62.5",
        "1.0000",
        "0.6250",
        "1.2000",
        "1.4400",
        "0.4265",
        "4.6915",
        "53.08",
        "113.15",
        "9.39",
    ):
        assert figure in text, figure
    assert "10.00 € for 500 g from Dunlin Oils, since 2 Mar 2026" in plain(text)
    assert "Not complete" not in text


def test_a_later_price_leaves_an_earlier_day_as_it_was(at_home: Client, shop: Shop) -> None:
    """Twice as dear from June: 1.00 for the oil in May, 2.00 in June."""
    add_price(shop.by, source=shop.oil.sources.get(), on=date(2026, 6, 1), amount=D(20), pack_g=D(500))

    may = page(at_home, shop.by, "products/P-001/cost/?on=2026-05-31")
    june = page(at_home, shop.by, "products/P-001/cost/?on=2026-06-01")
    assert "4.6915" in may
    assert "5.7915" in june  # 1.00 more for the oil, and its 10 %
    before = page(at_home, shop.by, "products/P-001/cost/?on=2026-01-01")
    assert "Mallow oil has no price yet." in before


def test_a_day_that_can_not_be_read_comes_back_beside_its_field(at_home: Client, shop: Shop) -> None:
    """What was typed stays; today is reckoned."""
    text = page(at_home, shop.by, "products/P-001/cost/?on=soonish")

    assert 'value="soonish"' in text
    assert 'aria-invalid="true"' in text
    assert "4.6915" in text


def test_margin_and_markup_are_tried_without_writing(at_home: Client, shop: Shop) -> None:
    """50 on either: 9.39 for the margin, 7.04 for the markup (4.6915 x 1.5 = 7.03725, rounded up)."""
    before = JournalEntry.objects.count()
    text = page(at_home, shop.by, "products/P-001/cost/?margin=50&markup=50")

    assert "Margin 50 % of the price" in text
    assert "9.39 €" in text
    assert "Markup 50 % on the cost" in text
    assert "7.04 €" in text
    assert "No price leaves 100 %" in plain(page(at_home, shop.by, "products/P-001/cost/?margin=100"))
    assert JournalEntry.objects.count() == before


def test_what_is_missing_is_listed_with_the_way_to_it(at_home: Client, shop: Shop) -> None:
    """A foreign price without a rate, and no hourly rate: at least that much, two links."""
    add_price(shop.by, source=shop.wax.sources.get(), on=DAY, amount=D(40), pack_g=D(1000), currency="GBP")
    set_cost_basis(shop.by, labour_per_hour=None, overhead_percent=D(10))
    text = page(at_home, shop.by, "products/P-001/cost/")

    assert "costs at least; not complete" in text
    assert "costs/rates/add/?currency=GBP" in text
    assert "costs/basis/" in text
    assert "2.4200" in text  # (1.00 + 1.20) and 10 %
    add_rate(shop.by, on=DAY, currency="GBP", rate=D("1.25"), source="the bank")
    text = page(at_home, shop.by, "products/P-001/cost/")
    assert "at 1 GBP = 1.25 EUR of 2 Mar 2026 (the bank)" in text
    assert "0.6250" in text


def test_what_a_cost_rests_on_is_written_on_one_page(at_home: Client, shop: Shop) -> None:
    """Wrong input comes back beside its field with everything typed; good input is written."""
    address = url(shop.by, "products/P-001/cost/change/")
    data = {
        "batch_units": "30", "batch_minutes": "60", "loss_percent": "100", "price": "11.5", "wanted_margin": "",
        "wanted_markup": "120",
    }  # fmt: skip

    bad = text_of(at_home.post(address, data))
    assert "100 % lost leaves nothing to fill" in plain(bad)
    assert 'value="11.5"' in bad
    assert at_home.post(address, {**data, "loss_percent": "2"}).status_code == 303
    shop.product.refresh_from_db()
    row = ProductCost.objects.get()
    assert (shop.product.price, row.wanted_margin, row.wanted_markup) == (D("11.5"), None, 120)


def test_work_and_overhead_are_written(at_home: Client, by: By) -> None:
    """Words where a figure goes come back; empty is not known."""
    address = url(by, "costs/basis/")
    bad = at_home.post(address, {"labour_per_hour": "a lot", "overhead_percent": "12"})

    assert bad.status_code == 200
    assert 'value="a lot"' in text_of(bad)
    assert at_home.post(address, {"labour_per_hour": "", "overhead_percent": "12"}).status_code == 303
    row = CostBasis.objects.get()
    assert (row.labour_per_hour, row.overhead_percent) == (None, 12)


# -- all products


def test_those_under_what_is_wanted_come_first(at_home: Client, shop: Shop) -> None:
    """One at 10.00 holds its 50 %; one that wants 60 % is under; one with nothing wanted comes last."""
    other = make_ware(shop.by, "Zinnia balm", [(shop.oil, "80"), (shop.wax, "20")], shop.tin)
    set_product_cost(shop.by, product=other, wanted_margin=D(60))
    plain = make_ware(shop.by, "Aster balm", [(shop.oil, "80"), (shop.wax, "20")], shop.tin)
    set_product_cost(shop.by, product=plain, wanted_margin=None)
    text = page(at_home, shop.by, "costs/")

    assert text.index("Zinnia balm") < text.index("Hand balm") < text.index("Aster balm")
    assert "11.73" in text  # 4.6915 / 0.4 = 11.72875
    assert "1</b><span>product is under" in text
    named = page(at_home, shop.by, "costs/?sort=name")
    assert named.index("Aster balm") < named.index("Hand balm") < named.index("Zinnia balm")
    csv = at_home.get(url(shop.by, "costs/?as=csv")).content.decode()
    assert "Zinnia balm,EUR,10.0000,4.6915,yes,53.0850,60" in csv
    assert "Hand balm" not in page(at_home, shop.by, "costs/?q=zinnia")


def test_what_if_names_those_that_fall_and_writes_nothing(at_home: Client, shop: Shop) -> None:
    """50 % margin of 10.00 bears a cost of 5.00; the oil is 1.10 of 4.6915: 28.1 % dearer passes it, 28 % doesn't."""
    before = JournalEntry.objects.count()

    def asked(what: str, percent: str) -> str:
        return page(at_home, shop.by, f"costs/what-if/?what={what}&percent={percent}")

    oil = f"i{shop.oil.pk}"
    assert "Falls under" in asked(oil, "28.1")
    calm = asked(oil, "28")
    assert "No product falls under" in calm
    assert "5.00" in calm
    assert "Falls under" in asked(f"a{shop.tin.pk}", "30")
    assert "Cheaper" not in asked(oil, "-10")
    assert "4.58" in asked(oil, "-10")
    assert JournalEntry.objects.count() == before


@pytest.mark.parametrize(
    ("query", "said"),
    [("what=&percent=5", "Choose"), ("what=i999999&percent=5", "Choose"), ("what=i1&percent=x", "x")],
)
def test_a_what_if_that_can_not_be_reckoned_says_so(
    at_home: Client, shop: Shop, query: str, said: str
) -> None:
    """Beside the field, and no table."""
    text = page(at_home, shop.by, f"costs/what-if/?{query}")

    assert said in text
    assert "wrong" in text
    assert "before and after" not in text


# -- prices and rates


def test_an_ingredients_prices_are_a_history_with_their_rates(at_home: Client, shop: Shop) -> None:
    """The newest first, what is to come marked, per kilogram in one's own currency."""
    ahead = shop.by.today() + timedelta(30)
    add_rate(shop.by, on=DAY, currency="GBP", rate=D("1.25"))
    source = shop.oil.sources.get()
    add_price(shop.by, source=source, on=DAY + timedelta(9), amount=D(16), pack_g=D(1000), currency="GBP")
    add_price(shop.by, source=source, on=ahead, amount=D(30), pack_g=D(1000))
    text = page(at_home, shop.by, f"ingredients/{shop.oil.code}/prices/")

    assert "still to come" in text
    assert "1 GBP = 1.25 EUR" in text
    assert "20.00 €</b>" in text  # 16 GBP a kg at 1.25
    assert text.index(str(ahead)) < text.index(str(DAY))
    csv = at_home.get(url(shop.by, f"ingredients/{shop.oil.code}/prices/?as=csv")).content.decode()
    assert "16.0000,GBP,1000.0000,20.0000" in csv


def test_a_price_in_a_foreign_currency_is_written(at_home: Client, shop: Shop) -> None:
    """Three letters of a currency; others come back beside the field."""
    address = url(shop.by, f"ingredients/{shop.oil.code}/prices/add/")
    data = {
        "source": shop.oil.sources.get().pk, "on": "2026-04-01", "amount": "12", "pack_g": "500", "currency": "xqz",
    }  # fmt: skip

    bad = text_of(at_home.post(address, data))
    assert "is no currency" in bad
    assert 'value="xqz"' in bad
    assert at_home.post(address, {**data, "currency": "usd"}).status_code == 303
    assert Price.objects.latest("pk").currency == "USD"


def test_an_articles_prices_are_written_and_shown(at_home: Client, shop: Shop) -> None:
    """A piece of 100 for 130.00 is 1.30; none for nothing."""
    address = url(shop.by, "articles/A-001/prices/add/")
    data = {"on": "2026-04-01", "amount": "130", "pieces": "0", "currency": ""}

    bad = at_home.post(address, data)
    assert bad.status_code == 200
    assert at_home.post(address, {**data, "pieces": "100"}).status_code == 303
    text = page(at_home, shop.by, "articles/A-001/prices/")
    assert "1.30 €</b>" in text
    assert ArticlePrice.objects.count() == 2


def test_an_in_house_ingredient_shows_what_it_is_reckoned_from(at_home: Client, shop: Shop) -> None:
    """No price is asked for; its parts are."""
    version = start_formula(shop.by, name="Premix", kind="leave-on", form="premix", body_area="body")
    lines = [{"ingredient": shop.oil, "percent": D(100)}]
    save_version(shop.by, version=version, phases=[{"letter": "A", "name": "", "lines": lines}])
    made = make_ingredient(shop.by, "Oil premix", made_from=version.formula)
    text = page(at_home, shop.by, f"ingredients/{made.code}/prices/")

    assert "20.00 €</b>" in text
    assert "Reckoned through Premix, version 1" in text
    assert "Write a price" not in text


def test_a_rate_is_recorded_and_put_right(at_home: Client, by: By) -> None:
    """A second of the same day comes back beside its field."""
    address = url(by, "costs/rates/add/")
    data = {"currency": "gbp", "on": "2026-03-02", "rate": "1.25", "source": "bank"}

    assert "is your own currency" in text_of(at_home.post(address, {**data, "currency": "EUR"}))
    assert at_home.post(address, data).status_code == 303
    assert "Change that one." in text_of(at_home.post(address, data))
    row = ExchangeRate.objects.get()
    change = url(by, f"costs/rates/{row.uuid}/change/")
    assert 'value="0"' in text_of(at_home.post(change, {"rate": "0", "source": ""}))
    assert at_home.post(change, {"rate": "1.26", "source": "bank"}).status_code == 303
    assert "1.26" in page(at_home, by, "costs/rates/")


# -- who may


PAGES = (
    "costs/", "costs/what-if/", "costs/basis/", "costs/rates/", "costs/rates/add/", "products/P-001/cost/",
    "products/P-001/cost/change/", "articles/A-001/prices/", "articles/A-001/prices/add/",
    "ingredients/I-001/prices/", "ingredients/I-001/prices/add/",
)  # fmt: skip
WRITTEN = (
    "costs/basis/",
    "costs/rates/add/",
    *(path for path in PAGES if path.endswith(("change/", "prices/add/"))),
)


def test_strangers_find_nothing_and_readers_write_nothing(client: Client, cast: Cast) -> None:
    """404 for a member of another maker, 403 for a reader who sends; the reader sees every page."""
    make_shop(cast.owner)
    before = JournalEntry.objects.count()
    client.force_login(cast.stranger.user)
    assert {client.get(url(cast.owner, path)).status_code for path in PAGES} == {404}
    own = [path for path in PAGES if path.split("/")[0] != "costs"]
    assert {client.get(url(cast.stranger, path)).status_code for path in own} == {404}
    client.force_login(cast.reader.user)
    assert {client.get(url(cast.owner, path)).status_code for path in PAGES} == {200}
    assert {client.post(url(cast.owner, path)).status_code for path in WRITTEN} == {403}
    assert JournalEntry.objects.count() == before


def test_the_pages_ask_as_often_for_many_products_as_for_one(at_home: Client, shop: Shop) -> None:
    """List, CSV, what if and one product: the same number of queries."""
    paths = (
        "costs/", "costs/?as=csv", f"costs/what-if/?what=i{shop.oil.pk}&percent=5", "products/P-001/cost/",
    )  # fmt: skip

    def counts() -> list[int]:
        found = []
        for path in paths:
            with CaptureQueriesContext(connection) as seen:
                at_home.get(url(shop.by, path))
            found.append(len(seen))
        return found

    counts()
    few = counts()
    for number in range(6):
        extra = make_ingredient(shop.by, f"Oil {number}")
        add_price(
            shop.by, source=make_source(shop.by, extra), on=DAY, amount=D(9), pack_g=D(100), currency="GBP"
        )
        add_rate(shop.by, on=DAY + timedelta(number), currency="GBP", rate=D("1.2"))
        make_ware(
            shop.by,
            f"Balm {number}",
            [(shop.oil, "80"), (extra, "20")],
            add_article(shop.by, name=f"Pot {number}"),
        )
    assert counts() == few


# -- what a dearer price does


def written(client: Client, shop: Shop, amount: str, on: str) -> str:
    """Write a price of the oil down; the page that follows."""
    data = {
        "source": str(shop.oil.sources.get().pk),
        "on": on,
        "amount": amount,
        "currency": "EUR",
        "pack_g": "500",
    }
    assert client.post(url(shop.by, f"ingredients/{shop.oil.code}/prices/add/"), data).status_code == 303
    return plain(page(client, shop.by, f"ingredients/{shop.oil.code}/prices/"))


def test_a_dearer_price_names_the_products_that_fall(at_home: Client, shop: Shop) -> None:
    """By hand: oil at 30.00 costs 2.00 more and its 10 %, so 6.89 of 10.00: 31 % is left where 50 is wanted."""
    today = shop.by.today()
    dear = make_ware(shop.by, "Barrier balm", [(shop.wax, "100")], shop.tin)
    assert "Under their margin" not in page(at_home, shop.by, f"ingredients/{shop.oil.code}/prices/")

    shown = written(at_home, shop, "30", today.isoformat())

    assert "Now Hand balm falls under what is wanted." in shown
    assert "Under their margin" in shown
    assert f'href="{url(shop.by, "products/P-001/cost/")}">Hand balm</a>' in shown
    assert f'href="{url(shop.by, "costs/")}">Costs and margins</a>' in shown
    assert dear.name not in shown

    again = written(at_home, shop, "31", today.isoformat())
    assert "falls under what is wanted" not in again
    assert "Under their margin" in again
    assert "falls under" not in written(at_home, shop, "10", today.isoformat())
    assert "Under their margin" not in page(at_home, shop.by, f"ingredients/{shop.oil.code}/prices/")


def test_a_price_of_a_later_day_says_from_when(at_home: Client, shop: Shop) -> None:
    """Today nothing falls yet."""
    later = shop.by.today() + timedelta(days=40)

    shown = written(at_home, shop, "30", later.isoformat())

    assert "From " in shown
    assert " on Hand balm falls under what is wanted." in shown
    assert "Under their margin" not in shown


def test_a_dearer_tin_names_them_too(at_home: Client, shop: Shop) -> None:
    """From 1.20 to 3.20 a piece."""
    data = {"on": shop.by.today().isoformat(), "amount": "320", "currency": "EUR", "pieces": "100"}

    at_home.post(url(shop.by, f"articles/{shop.tin.code}/prices/add/"), data)
    shown = plain(page(at_home, shop.by, f"articles/{shop.tin.code}/prices/"))

    assert "Now Hand balm falls under what is wanted." in shown
    assert "Under their margin" in shown
