"""The list, the plan, the record and its acts, as a member, a reader and a stranger see them."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from batches.actions.making import deviate, fill, read, take_back, yield_output
from batches.models import Batch, Deviation, Output, Release, Weighing
from makers.actions import By
from makers.models import JournalEntry
from tests.batches.making.factories_making import (
    line_at,
    lot_for,
    make_made,
    make_making,
    make_plan,
    make_product,
    make_released,
    make_rework,
    make_version,
    percent_line,
    scale_of,
    weigh_line,
)
from tests.batches.pages import act_on, text_of, url
from tests.batches.stock.factories_stock import make_ingredient
from tests.cast import PASSWORD, make_scale

# -- the list


def test_the_list_is_filtered_and_found_by_words(at_home: Client, by: By) -> None:
    """By state, code and formula; a state that is none shows all."""
    version = make_version(by, name="Marram balm")
    planned, making = make_plan(by, version, code="PLAN-1"), make_making(by, code="BENCH-1")

    def codes(**query: str) -> set[str]:
        page = at_home.get(url(by, "batches"), query).content.decode()
        return {code for code in (planned.code, making.code) if f"/{code}/" in page}

    assert codes() == {"PLAN-1", "BENCH-1"}
    assert codes(state="planned") == {"PLAN-1"}
    assert codes(state="nonsense") == {"PLAN-1", "BENCH-1"}
    assert codes(q="marram") == {"PLAN-1"}
    assert codes(q="bench-") == {"BENCH-1"}
    assert codes(q="zzz") == set()


@pytest.mark.parametrize("sort", ["newest", "-newest", "code", "-formula", "nonsense"])
def test_the_list_is_sorted_and_whole(at_home: Client, by: By, sort: str) -> None:
    """Every batch once."""
    for number in range(3):
        make_plan(by, code=f"B-{number}")

    page = at_home.get(url(by, "batches"), {"sort": sort}).content.decode()

    assert sorted(re.findall(r'href="[^"]*/batches/(B-\d)/"', page)) == ["B-0", "B-1", "B-2"]


def test_the_list_as_csv_and_as_fragment(at_home: Client, by: By) -> None:
    """Figures as figures; htmx gets the table alone."""
    batch = make_plan(by)

    response = at_home.get(url(by, "batches"), {"as": "csv"})
    fragment = at_home.get(url(by, "batches"), headers={"HX-Request": "true"})

    assert f"{batch.code},{batch.formula.name},sale,planned,no,1000.0000" in response.content.decode()
    assert b"<html" not in fragment.content
    assert batch.code in fragment.content.decode()


def test_an_empty_list_says_what_fills_it(at_home: Client, by: By) -> None:
    """With the way there."""
    assert "No batch yet. Plan the first" in text_of(at_home.get(url(by, "batches")))


# -- planning


def test_a_plan_starts_from_the_only_product_and_a_scale_that_carries_it(at_home: Client, by: By) -> None:
    """The finest scale carries 200 g; the batch before names the scale from then on."""
    version = make_version(by)
    tin = make_product(version)
    fine = make_scale(by.maker, "0.01", "200", "Fine")
    large = make_scale(by.maker, "0.1", "6000", "Bench")
    there = f"{url(by, 'plan')}?formula={version.formula.code}"

    first = at_home.get(there).context["form"].initial
    make_plan(by, version, scale=fine)
    second = at_home.get(there).context["form"].initial
    make_product(version)
    third = at_home.get(there).context["form"].initial

    assert (first["product"], first["fill_g"], first["scale"]) == (tin.pk, tin.fill_g, large.pk)
    assert second["scale"] == fine.pk
    assert "product" not in third


def test_a_plan_of_what_is_not_sold_makes_its_ingredient(at_home: Client, by: By) -> None:
    """An infusion without a product is made for the shelf; two ingredients made of it are left to be chosen."""
    version = make_version(by)
    there = f"{url(by, 'plan')}?formula={version.formula.code}"
    made = make_ingredient(by.maker, "Calendula infusion", made_from=version.formula)

    first = at_home.get(there).context["form"].initial
    make_ingredient(by.maker, "Calendula infusion, strong", made_from=version.formula)
    second = at_home.get(there).context["form"].initial

    assert (first["purpose"], first["makes"]) == ("stock", made.pk)
    assert second["purpose"] == "sale"
    assert "makes" not in second


def plan_data(by: By, **fields: Any) -> dict[str, Any]:
    """A plan as typed."""
    version = fields.pop("version", None) or make_version(by)
    given = {"purpose": "sale", "version": version.pk, "scale": scale_of(by.maker).pk, "total_g": "1000"}
    return {**given, **fields}


def test_a_plan_is_looked_at_before_it_is_written(at_home: Client, by: By) -> None:
    """Grams, shortages and what the scale is too coarse for; nothing is kept."""
    version = make_version(
        by,
        percent_line(make_ingredient(by.maker, "Jojoba"), "99.9"),
        percent_line(make_ingredient(by.maker, "Rose oil"), "0.1"),
    )

    text = text_of(at_home.post(url(by, "plan"), plan_data(by, version=version, do="look")))

    assert "1 000.0 g in steps of 0.1 g" in text
    assert "Jojoba: 0.0 g here and usable, 999.0 g needed: 999.0 g short" in text
    assert "Rose oil: 1.0 g is less than 8.2 g" in text
    assert Batch.objects.count() == 0
    version.refresh_from_db()
    assert not JournalEntry.objects.filter(action="batch.planned").exists()


def test_a_plan_is_written_once(at_home: Client, by: By) -> None:
    """A double tap leads to the same batch."""
    data = plan_data(by, total_g="", units="20", fill_g="50", loss_percent="2.5", entry_key=uuid4())

    first, second = at_home.post(url(by, "plan"), data), at_home.post(url(by, "plan"), data)

    batch = Batch.objects.get()
    assert batch.planned_g == Decimal("1025.7")
    assert (first.status_code, second.status_code) == (303, 303)
    assert first["Location"] == second["Location"] == url(by, "batch", code=batch.code)


def test_a_plan_that_can_not_be_keeps_what_was_typed(at_home: Client, by: By) -> None:
    """In the maker's own decimal sign: no silent factor of ten."""
    by.maker.locale = "de_DE"
    by.maker.save()

    response = at_home.post(
        url(by, "plan"), plan_data(by, total_g="", units="20", fill_g="50.5.5", loss_percent="2,5")
    )

    page = response.content.decode()
    assert response.status_code == 200
    assert 'value="50.5.5"' in page
    assert 'value="2,5"' in page
    assert Batch.objects.count() == 0


def test_decimals_are_read_in_the_makers_locale(at_home: Client, by: By) -> None:
    """1,5 is one and a half in German; a thousand and a half is never fifteen."""
    by.maker.locale = "de_DE"
    by.maker.save()

    at_home.post(url(by, "plan"), plan_data(by, total_g="1000,5"))

    assert Batch.objects.get().planned_g == Decimal("1000.5")


def test_a_refusal_stands_beside_its_field(at_home: Client, by: By) -> None:
    """A draft for sale."""
    page = text_of(at_home.post(url(by, "plan"), plan_data(by, version=make_version(by, approve=False))))

    assert "is a draft. Approve it first, or plan a trial." in page
    assert "What you typed is still here" in page


# -- the record


def test_every_state_of_a_batch_has_its_page(at_home: Client, by: By) -> None:
    """And says what comes next."""
    expected = {
        make_plan(by): "Start making",
        make_making(by): "Go to the bench",
        make_made(by): "Release or reject it",
        make_released(by): "Amend this record",
    }

    for batch, words in expected.items():
        response = at_home.get(url(by, "batch", code=batch.code))
        assert response.status_code == 200
        assert words in text_of(response), batch.state


def test_the_record_shows_corrections_and_sums(at_home: Client, by: By) -> None:
    """Both entries of a mistake, what each line is off, and the pot."""
    batch = make_making(by)
    wrong = weigh_line(by, batch, grams=Decimal("70.1"), why="slipped on the pad")
    take_back(by, weighing=wrong, why="meant 701")
    weigh_line(by, batch, lot=wrong.lot, grams=Decimal("701"))

    text = text_of(at_home.get(url(by, "batch", code=batch.code)))

    assert "70.1 g of" in text
    assert "took back −70.1 g" in text
    assert "+1.0" in text
    assert "meant 701" in text


def test_the_account_closes_with_what_was_filled_and_set_aside(at_home: Client, by: By) -> None:
    """A1 of the worked fixture: 98.00 % of what went in, 99.70 % accounted for."""
    version = make_version(by)
    batch = make_made(by, version, bulk="980")
    yield_output(by, batch=batch, kind="waste", grams=Decimal(17))
    yield_output(by, batch=batch, kind="sample", grams=Decimal(980), where="Shelf R3")

    text = text_of(at_home.get(url(by, "batch", code=batch.code)))

    assert "Yield 98.00 % ; 99.70 % accounted for." in text
    assert "Not accounted for 3.0" in text
    assert "Still without an account" not in text
    assert "Kept: 980.0 g of the bulk, Shelf R3" in text


def test_readings_stand_beside_what_was_asked(at_home: Client, by: By) -> None:
    """Within and out by word, with the cooling curve from three on."""
    version = make_version(by, steps=[{"phase": "A", "text": "Add the oil", "max_c": Decimal(40)}])
    batch = make_making(by, version)
    step = batch.steps.get()
    for number, value in enumerate(("72", "55", "41.5")):
        moment = by.now() - timedelta(minutes=20 - 5 * number)
        read(
            by,
            batch=batch,
            kind="temperature",
            value=Decimal(value),
            step=step if value == "41.5" else None,
            occurred_at=moment,
        )

    response = at_home.get(url(by, "batch", code=batch.code))

    assert "41.5 °C 40 °C or below Out" in text_of(response)
    assert b'aria-labelledby="cool-title"' in response.content


def test_fills_are_judged_and_drawn(at_home: Client, by: By) -> None:
    """The mean of all, by the label's markets."""
    version = make_version(by)
    product = make_product(version, markets=["EU", "US"])
    batch = make_made(by, version)
    for net in ("50.1", "50.3", "49.9", "50.2", "50.0"):
        fill(by, batch=batch, product=product, net_g=Decimal(net))

    response = at_home.get(url(by, "batch", code=batch.code))

    assert "5 containers weighed, the mean is 50.10 g" in text_of(response)
    assert "EU:" in text_of(response)
    assert b'aria-label="Control chart of fills' in response.content


def test_a_batch_is_made_and_released_through_the_screens(at_home: Client, by: By) -> None:
    """Start, weigh at the bench, finish, account, sign."""
    batch = make_plan(by)
    start = {f"ok_{number}": "on" for number in range(4)}
    assert act_on(at_home, by, batch, "start", **start)["Location"] == url(by, "bench", code=batch.code)
    for line in batch.lines.all():
        lot = lot_for(by, line)
        data = {"line": line.pk, "lot": lot.code, "grams": str(line.planned_g), "entry_key": uuid4()}
        assert at_home.post(url(by, "bench", code=batch.code), data).status_code == 303
    act_on(at_home, by, batch, "finish", bulk_g="985", made_on=f"{by.today():%Y-%m-%d}")
    act_on(at_home, by, batch, "output", kind="sample", grams="985", entry_key=uuid4())
    page = at_home.get(url(by, "batch", code=batch.code)).content.decode()
    reasons = {name.replace("-", "_"): "looked at" for name in re.findall(r'name="(point-\d+)"', page)}

    response = act_on(
        at_home, by, batch, "release", decision="released", reasons="", password=PASSWORD, **reasons
    )

    assert response.status_code == 303, text_of(response)
    batch.refresh_from_db()
    assert batch.state == "released"
    assert "Signed over" in text_of(at_home.get(url(by, "batch", code=batch.code)))


def test_a_wrong_password_signs_nothing_and_keeps_what_was_typed(at_home: Client, by: By) -> None:
    """The fold stands open; the password itself is never sent back."""
    batch = make_made(by)

    response = act_on(
        at_home, by, batch, "release", decision="released", reasons="Smells fine.", password="guess-12",
        point_0="In the cool room.",
    )  # fmt: skip

    page = response.content.decode()
    assert "That is not your password" in text_of(response)
    assert "Smells fine." in page
    assert "In the cool room." in page
    assert "guess-12" not in page
    assert not Release.objects.exists()


def test_a_line_is_left_out_with_its_reason(at_home: Client, by: By) -> None:
    """From the record, so that the batch can be finished."""
    batch = make_making(by)
    weigh_line(by, batch, 1)
    refused = act_on(at_home, by, batch, "finish", bulk_g="690", made_on=f"{by.today():%Y-%m-%d}")
    assert f"Not weighed yet: {line_at(batch, 2).ingredient}" in text_of(refused)

    act_on(at_home, by, batch, "deviate", text="Mouldy.", line=line_at(batch, 2).pk)
    act_on(at_home, by, batch, "finish", bulk_g="690", made_on=f"{by.today():%Y-%m-%d}")

    batch.refresh_from_db()
    assert batch.state == "made"


def test_acts_of_the_record_write_what_they_say(at_home: Client, by: By) -> None:
    """Rework, substitute, reading, check, fill, remark, amendment, giving up."""
    version = make_version(by)
    product = make_product(version)
    rework = make_rework(by, make_made(by, version))
    batch = make_making(by, version)
    rice = make_ingredient(by.maker, "Rice bran oil")
    act_on(at_home, by, batch, "rework", lot=rework.pk, grams="200", why="x")
    act_on(at_home, by, batch, "substitute", line=line_at(batch).pk, ingredient=rice.pk, why="x")
    act_on(at_home, by, batch, "read", kind="pH", value="5.1", conditions="neat, 22 °C", entry_key=uuid4())
    act_on(at_home, by, batch, "check", kind="look", question="Even", passed="no", note="Grainy.")
    act_on(at_home, by, batch, "fill", product=product.pk, net_g="50.2", entry_key=uuid4())
    act_on(at_home, by, batch, "output", kind="waste", grams="3", entry_key=uuid4())
    act_on(at_home, by, batch, "note", text="Windy day.")

    kinds = sorted(batch.lines.values_list("kind", flat=True))
    assert kinds == ["formula", "formula", "rework", "substitute"]
    counts = [batch.readings.count(), batch.fills.count(), batch.outputs.count(), batch.remarks.count()]
    assert counts == [1, 1, 1, 1]
    assert batch.checks.filter(passed=False, note="Grainy.").exists()
    released, plan = make_released(by), make_plan(by)
    act_on(at_home, by, released, "amend", what="x", why="x", password=PASSWORD)
    act_on(at_home, by, plan, "give-up", why="x")
    released.refresh_from_db()
    plan.refresh_from_db()
    assert (released.state, plan.state) == ("made", "rejected")


def test_a_stale_form_is_told_the_state(at_home: Client, by: By) -> None:
    """The batch was finished in another tab."""
    batch = make_made(by)

    response = act_on(at_home, by, batch, "finish", bulk_g="5", made_on=f"{by.today():%Y-%m-%d}")

    assert f"{batch} is made already" in text_of(response)


def test_what_was_written_wrong_is_taken_back_on_its_own_page(at_home: Client, by: By) -> None:
    """A weighing, an output; a deviation is judged."""
    batch = make_made(by)
    weighing = batch.weighings.first()
    assert weighing is not None
    output = yield_output(by, batch=batch, kind="waste", grams=Decimal(3))
    deviation = deviate(by, batch=batch, text="Too early.")
    pages = {
        url(by, "weighing-back", code=batch.code, uuid=weighing.uuid): {"why": "x"},
        url(by, "output-back", code=batch.code, uuid=output.uuid): {"why": "x"},
        url(by, "deviation", code=batch.code, uuid=deviation.uuid): {"accepted": "yes", "text": "x"},
    }

    for page, data in pages.items():
        assert at_home.get(page).status_code == 200
        assert at_home.post(page, {}).status_code == 200
        assert at_home.post(page, data).status_code == 303

    assert Weighing.objects.filter(reverses=weighing).exists()
    assert Output.objects.filter(reverses=output).exists()
    assert Deviation.objects.get(judgement__accepted=True) == deviation


def test_an_unknown_act_is_no_page(at_home: Client, by: By) -> None:
    """And none is done by GET."""
    batch = make_plan(by)

    assert act_on(at_home, by, batch, "explode").status_code == 404
    opened = at_home.get(url(by, "batch-act", code=batch.code, act="start"))
    assert opened["Location"] == url(by, "batch", code=batch.code)
    batch.refresh_from_db()
    assert batch.state == "planned"
