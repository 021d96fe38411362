"""What a gram costs on a day, from the records: sources, dated prices, rates, in-house ingredients.

Worked examples reckoned by hand; that a pack's price divides by what is in it is arithmetic, no source.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext

from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_ingredient, add_price
from formulas.costs import price_per_gram
from formulas.models import ExchangeRate, Ingredient
from makers.actions import By
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_ingredient, make_source

D = Decimal
JUNE, JULY, AUGUST = date(2026, 6, 1), date(2026, 7, 1), date(2026, 8, 1)


def priced(by: By, name: str, amount: str, pack: str, *, on: date = JUNE, currency: str = "") -> Ingredient:
    """An ingredient of one source with one price."""
    row = make_ingredient(by, name)
    add_price(by, source=make_source(by, row), on=on, amount=D(amount), pack_g=D(pack), currency=currency)
    return row


def made_of(by: By, name: str, *parts: tuple[Ingredient, str]) -> Ingredient:
    """An in-house ingredient of these parts, its formula a draft."""
    version = start_formula(by, name=f"{name} formula", kind="leave-on", form="premix", body_area="body")
    lines = [{"ingredient": row, "percent": D(percent)} for row, percent in parts]
    version = save_version(by, version=version, phases=[{"letter": "A", "name": "", "lines": lines}])
    return add_ingredient(by, name=name, made_from=version.formula)


def test_the_price_in_force_is_the_latest_not_after_the_day(by: By) -> None:
    """12 EUR for 500 g is 0.024 EUR/g; a later price of 15 leaves June as it was; before the first is unknown."""
    row = priced(by, "Mallow oil", "12", "500")
    add_price(by, source=row.sources.get(), on=JULY, amount=D(15), pack_g=D(500))

    def cost(on: date) -> Decimal | None:
        return price_per_gram(by.maker, [row.pk], on)[row.pk].amount

    assert [cost(date(2026, 5, 31)), cost(JUNE), cost(date(2026, 6, 30)), cost(JULY)] == [
        None, D("0.024"), D("0.024"), D("0.03"),
    ]  # fmt: skip


def test_of_two_prices_of_one_day_the_one_written_last_counts(by: By) -> None:
    """So a slip is put right by writing the price again."""
    row = priced(by, "Mallow oil", "120", "500")
    add_price(by, source=row.sources.get(), on=JUNE, amount=D(12), pack_g=D(500))

    assert price_per_gram(by.maker, [row.pk], JUNE)[row.pk].amount == D("0.024")


def test_the_source_that_reviews_go_by_sets_the_price_before_a_newer_one(by: By) -> None:
    """Preferred: 0.02 since June. The other source's newer 0.01 counts only where the preferred has none."""
    row = priced(by, "Mallow oil", "10", "500")
    other = make_source(by, row, "Dunlin Oils")
    add_price(by, source=other, on=JULY, amount=D(5), pack_g=D(500))

    found = price_per_gram(by.maker, [row.pk], AUGUST)[row.pk]
    assert found.amount == D("0.02")
    row.sources.exclude(pk=other.pk).get().prices.all().delete()
    found = price_per_gram(by.maker, [row.pk], AUGUST)[row.pk]
    assert found.amount == D("0.01")
    assert "Dunlin Oils" in found.why


def test_a_foreign_price_goes_by_the_rate_in_force_on_its_own_day(by: By) -> None:
    """20 GBP for 400 g at 1.15 EUR is 0.0575 EUR/g; the rate of a later day doesn't touch it."""
    row = priced(by, "Mallow oil", "20", "400", currency="GBP", on=JULY)
    unknown = price_per_gram(by.maker, [row.pk], AUGUST)[row.pk]
    for on, worth in ((JUNE, "1.15"), (AUGUST, "1.30")):
        ExchangeRate.objects.create(maker=by.maker, on=on, currency="GBP", rate=D(worth), source="the bank")

    found = price_per_gram(by.maker, [row.pk], AUGUST)[row.pk]

    assert unknown.amount is None
    assert unknown.foreign == "GBP"
    assert "Record what 1 GBP was worth" in unknown.cure
    assert found.amount == D("0.0575")
    assert "1 GBP = 1.15 EUR" in found.why
    assert "the bank" in found.why


def test_in_house_ingredients_are_reckoned_through_their_formulas(by: By) -> None:
    """Inner: 50 % at 0.02 and 50 % at 0.04 = 0.03. Outer: 40 % inner, 60 % at 0.02 = 0.024 EUR/g."""
    cheap, dear = priced(by, "Mallow oil", "10", "500"), priced(by, "Teasel oil", "20", "500")
    inner = made_of(by, "Inner premix", (cheap, "50"), (dear, "50"))
    outer = made_of(by, "Outer premix", (inner, "40"), (cheap, "60"))

    found = price_per_gram(by.maker, [outer.pk, cheap.pk], JUNE)

    assert found[outer.pk].amount == D("0.024")
    assert found[cheap.pk].amount == D("0.02")
    assert "Outer premix formula, version 1" in found[outer.pk].why


def test_one_unknown_price_makes_the_in_house_ingredient_unknown_and_is_named(by: By) -> None:
    """Unknown is not zero: what is known gives a lower end, the amount itself is not there."""
    cheap, none = priced(by, "Mallow oil", "10", "500"), make_ingredient(by, "Teasel oil")
    outer = made_of(by, "Premix", (cheap, "50"), (none, "50"))

    found = price_per_gram(by.maker, [outer.pk], JUNE)[outer.pk]

    assert found.amount is None
    assert found.missing == ("Teasel oil",)
    assert found.at_least == D("0.01")


def test_another_makers_ingredient_is_not_there(cast: Cast) -> None:
    """Neither its price nor its name."""
    theirs = priced(cast.stranger, "Strange oil", "10", "500")

    assert price_per_gram(cast.owner.maker, [theirs.pk], AUGUST) == {}


def test_the_number_of_queries_does_not_grow_with_the_ingredients(by: By) -> None:
    """Two sizes, the same count."""
    rows = [priced(by, f"Oil {number}", "10", "500") for number in range(2)]
    made = made_of(by, "Premix", (rows[0], "50"), (rows[1], "50"))

    def count(keys: list[int]) -> int:
        with CaptureQueriesContext(connection) as seen:
            price_per_gram(by.maker, keys, AUGUST)
        return len(seen)

    few = count([made.pk])
    rows += [priced(by, f"More oil {number}", "10", "500") for number in range(8)]
    other = made_of(by, "Other premix", *[(row, "10") for row in rows])

    assert count([made.pk, other.pk]) == few
