"""Receiving a delivery."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied

from batches.actions.stock import LinesRefused, current_composition, receive_delivery
from batches.models import Delivery, Lot, LotEntry
from makers.actions import By, Refused
from makers.models import Document, JournalEntry
from tests.batches.stock.factories_stock import (
    in_days,
    line,
    make_article,
    make_composition,
    make_ingredient,
    make_lot,
    make_source,
    make_supplier,
    make_upload,
    receive,
)
from tests.cast import Cast


def test_every_line_becomes_a_lot_in_quarantine(by: By) -> None:
    """Ingredients in grams, articles in pieces; the amount as entered stays beside the exact grams."""
    delivery = receive(by, line(make_ingredient(by.maker), "2.5", "kg"), line(make_article(by.maker), "120"))

    oil, jar = delivery.lots.order_by("id")
    assert ("g", Decimal(2500), "2.5", "kg") == (oil.unit, oil.on_hand, oil.entered_amount, oil.entered_unit)
    assert ("pieces", Decimal(120)) == (jar.unit, jar.on_hand)
    assert {"quarantine"} == {oil.status, jar.status}


@pytest.mark.parametrize(
    ("amount", "unit", "grams"),
    [
        ("1", "oz", "28.3495"),
        ("1", "lb", "453.5923"),
        ("16", "oz", "453.5923"),
        ("1.5", "kg", "1500"),
        ("250", "mg", "0.25"),
        ("0.0001", "g", "0.0001"),
    ],
)
def test_pounds_and_ounces_are_exact_and_never_overstated(by: By, amount: str, unit: str, grams: str) -> None:
    """A pound is 453.59237 g (NIST SP 811 B.8); what is below 0.0001 g is left off."""
    lot = make_lot(by, amount=amount, unit=unit)

    assert Decimal(grams) == lot.on_hand


def test_freight_is_shared_by_value(by: By) -> None:
    """90 + 45 + 75 with 21 freight: the lots cost 99, 49.50 and 82.50 here."""
    lines = [line(make_ingredient(by.maker), cost=Decimal(cost)) for cost in ("90", "45", "75")]

    delivery = receive(by, *lines, freight=Decimal(21))

    assert [Decimal(99), Decimal("49.5"), Decimal("82.5")] == [
        lot.cost for lot in delivery.lots.order_by("id")
    ]


def test_freight_waits_for_an_unknown_cost(by: By) -> None:
    """An unknown cost is not 0: sharing by it would be a guess."""
    lines = [line(make_ingredient(by.maker), cost=Decimal(90)), line(make_ingredient(by.maker))]

    with pytest.raises(Refused, match="line 2 has none") as refused:
        receive(by, *lines, freight=Decimal(21))

    assert list(refused.value.error_dict) == ["freight"]


def test_an_unknown_cost_stays_unknown(by: By) -> None:
    """Without freight a lot may have no cost."""
    assert make_lot(by).cost is None


def test_the_composition_of_the_source_is_pinned_and_frozen(by: By) -> None:
    """Of two suppliers of one ingredient each lot keeps its own supplier's composition."""
    ingredient, supplier, other = make_ingredient(by.maker), make_supplier(by.maker), make_supplier(by.maker)
    mine = make_composition(ingredient, make_source(ingredient, supplier), number=1)
    theirs = make_composition(ingredient, make_source(ingredient, other), number=2)

    lot = make_lot(by, ingredient, supplier=supplier)

    mine.refresh_from_db()
    theirs.refresh_from_db()
    assert lot.composition == mine
    assert lot.source == mine.source
    assert mine.frozen_at is not None
    assert theirs.frozen_at is None


def test_the_composition_in_force_on_the_day_is_taken(by: By) -> None:
    """Of several the latest that was valid; one to come is not taken."""
    ingredient = make_ingredient(by.maker)
    make_composition(ingredient, number=1, valid_from=date(2025, 1, 1))
    second = make_composition(ingredient, number=2, valid_from=date(2026, 1, 1))
    make_composition(ingredient, number=3, valid_from=date(2026, 9, 1))

    assert second == current_composition(ingredient, None, date(2026, 8, 31))


def test_a_source_without_a_composition_takes_the_general_one(by: By) -> None:
    """The ingredient's own, of no source."""
    ingredient = make_ingredient(by.maker)
    source = make_source(ingredient, make_supplier(by.maker))
    general = make_composition(ingredient)

    assert general == current_composition(ingredient, source, date(2026, 1, 1))


def test_a_composition_written_later_is_better_than_none(by: By) -> None:
    """The first to come is taken; with none at all the composition is unknown."""
    ingredient = make_ingredient(by.maker)
    assert current_composition(ingredient, None, date(2026, 1, 1)) is None

    later = make_composition(ingredient, valid_from=date(2026, 6, 1))

    assert later == current_composition(ingredient, None, date(2026, 1, 1))


def test_two_articles_of_one_supplier_are_not_guessed(by: By) -> None:
    """With two sources of the ingredient at this supplier, none is taken unless named."""
    ingredient, supplier = make_ingredient(by.maker), make_supplier(by.maker)
    make_source(ingredient, supplier, "A")
    second = make_source(ingredient, supplier, "B")

    assert make_lot(by, ingredient, supplier=supplier).source is None
    assert make_lot(by, ingredient, supplier=supplier, source=second).source == second


def test_another_suppliers_article_is_refused(by: By) -> None:
    """The source must be sold by who sent the parcel."""
    ingredient = make_ingredient(by.maker)
    source = make_source(ingredient, make_supplier(by.maker, "Knot Butters"))

    with pytest.raises(LinesRefused, match="is not sold by"):
        receive(by, line(ingredient, source=source))


def test_lot_codes_follow_each_other(by: By) -> None:
    """Two digits of the year, L, a number; deliveries have their own series."""
    year = f"{by.today():%y}"

    delivery = receive(by, line(make_ingredient(by.maker)), line(make_ingredient(by.maker)))

    assert f"R{year}-001" == delivery.code
    assert [f"{year}-L001", f"{year}-L002"] == list(
        delivery.lots.order_by("id").values_list("code", flat=True)
    )


def test_an_own_code_is_taken(by: By) -> None:
    """The maker's own word for a lot."""
    assert make_lot(by, code="ALMOND-7").code == "ALMOND-7"


def test_a_code_is_never_used_twice(by: By) -> None:
    """Neither again, nor twice in one parcel; the sentence names where it is."""
    make_lot(by, code="ALMOND-7")
    lines = [
        line(make_ingredient(by.maker), code="almond-7"),
        line(make_ingredient(by.maker), code="SHEA-1"),
        line(make_ingredient(by.maker), code="shea-1"),
    ]

    with pytest.raises(LinesRefused) as refused:
        receive(by, *lines)

    assert {0, 2} == set(refused.value.lines)
    assert "already the code of a lot" in refused.value.lines[0].messages[0]
    assert "is the code of line 2" in refused.value.lines[2].messages[0]


def test_all_wrong_lines_are_named_at_once_and_nothing_is_written(by: By) -> None:
    """A jar weighed, an oil counted, nothing of something, a volume: each has its sentence."""
    oil, jar = make_ingredient(by.maker), make_article(by.maker)
    lines = [
        line(jar, "3", "kg"),
        line(oil, "3", "pieces"),
        line(oil, "0"),
        line(oil, "1", "ml"),
        line(jar, "1.5"),
    ]

    with pytest.raises(LinesRefused) as refused:
        receive(by, *lines)

    assert {0, 1, 2, 3, 4} == set(refused.value.lines)
    assert "Line 1: This is counted" in refused.value.messages[0]
    assert not Delivery.objects.exists()
    assert not Lot.objects.exists()
    assert not JournalEntry.objects.exists()


def test_a_parcel_with_nothing_in_it_is_refused(by: By) -> None:
    """A delivery has a line at least."""
    with pytest.raises(Refused, match="Nothing came yet"):
        receive(by)


def test_goods_do_not_come_tomorrow(by: By) -> None:
    """The day of the receipt is today or past."""
    with pytest.raises(Refused, match="still to come"):
        receive(by, line(make_ingredient(by.maker)), received_on=in_days(by, 1))


def test_an_earlier_day_is_kept_apart_from_the_day_of_writing(by: By) -> None:
    """The ledger says when the goods came and when it was written down."""
    day = by.today() - timedelta(days=40)

    entry = LotEntry.objects.get(lot=make_lot(by, received_on=day))

    assert day == entry.occurred_at.astimezone(by.maker.zone).date()
    assert by.today() == entry.entered_at.astimezone(by.maker.zone).date()


def test_a_certificate_is_kept_with_its_lot(by: By) -> None:
    """The file is filed under the lot, with its digest."""
    lot = make_lot(by, document=make_upload())

    paper = Document.objects.get(about=lot.uuid)

    assert (paper.kind, paper.name) == ("certificate", "certificate.pdf")


def test_one_certificate_serves_two_lots(by: By) -> None:
    """A paper that is kept already is filed with the second lot too, as the same file."""
    first = Document.objects.get(about=make_lot(by, document=make_upload()).uuid)

    second = Document.objects.get(about=make_lot(by, document=first).uuid)

    assert (first.file.name, first.sha256) == (second.file.name, second.sha256)


def test_a_repeated_submission_is_one_delivery(by: By) -> None:
    """The second tap gets the first delivery; the journal has one entry."""
    key, supplier, ingredient = uuid4(), make_supplier(by.maker), make_ingredient(by.maker)

    first = receive(by, line(ingredient), supplier=supplier, entry_key=key)
    second = receive(by, line(ingredient), supplier=supplier, entry_key=key)

    assert first == second
    assert Lot.objects.count() == 1
    assert JournalEntry.objects.count() == 1


def test_the_journal_names_every_lot(by: By) -> None:
    """One entry for the delivery, shown by each lot and each material."""
    ingredient = make_ingredient(by.maker)
    delivery = receive(by, line(ingredient, supplier_lot="AB-114"), line(ingredient))

    entry = JournalEntry.objects.get(action="delivery.received")

    assert entry.subject == delivery.uuid
    assert [lot["supplier_lot"] for lot in entry.change["lots"]] == ["AB-114", "not given"]
    mentioned = set(entry.mentions.values_list("subject", flat=True))
    assert {ingredient.uuid, *delivery.lots.values_list("uuid", flat=True)} <= mentioned


def test_a_reader_receives_nothing(cast: Cast) -> None:
    """Readers look."""
    supplier, ingredient = make_supplier(cast.maker), make_ingredient(cast.maker)

    with pytest.raises(PermissionDenied):
        receive(cast.reader, line(ingredient), supplier=supplier)


def test_another_makers_things_are_not_in_this_book(cast: Cast) -> None:
    """Neither supplier nor ingredient of another maker."""
    with pytest.raises(Refused, match="not in this book"):
        receive(cast.stranger, line(make_ingredient(cast.stranger.maker)), supplier=make_supplier(cast.maker))
    with pytest.raises(Refused, match="not in this book"):
        receive(cast.stranger, line(make_ingredient(cast.maker)))


def test_money_below_nothing_is_refused(by: By) -> None:
    """A cost or a freight is 0 or more."""
    with pytest.raises(LinesRefused, match="Money is 0 or more"):
        receive(by, line(make_ingredient(by.maker), cost=Decimal(-1)))
    with pytest.raises(Refused, match="Money is 0 or more"):
        receive(by, line(make_ingredient(by.maker), cost=Decimal(1)), freight=Decimal(-1))


def test_a_line_is_of_one_thing(by: By) -> None:
    """Not of none and not of two."""
    both = {**line(make_ingredient(by.maker)), "article": make_article(by.maker)}

    with pytest.raises(LinesRefused, match="Name one thing"):
        receive_delivery(
            by,
            supplier=make_supplier(by.maker),
            received_on=by.today(),
            currency="EUR",
            lines=[both],
        )
