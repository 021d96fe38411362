"""The bench: one line at a time, what it proposes, refuses, keeps, and how a device's queue speaks to it."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from decimal import Decimal
from html import unescape
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from batches.actions.making import deviate, read
from batches.models import Reading, Weighing
from makers.actions import By
from makers.http import address
from makers.models import Scale
from tests.batches.making.factories_making import (
    line_at,
    lot_for,
    make_made,
    make_making,
    make_plan,
    make_version,
    percent_line,
    weigh_line,
)
from tests.batches.stock.factories_stock import in_days, make_ingredient, make_lot

JSON = {"Accept": "application/json"}


def text_of(response: Any) -> str:
    """A page as it is read, its data for the script left out."""
    page = re.sub(r"<script.*?</script>", " ", response.content.decode(), flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def bench(by: By, code: str) -> str:
    """The bench of a batch."""
    return address(by.maker, "batches:bench", code=code)


def entry(by: By, batch: Any, grams: str = "700", position: int = 1, **fields: Any) -> dict[str, Any]:
    """What the form sends."""
    line = line_at(batch, position)
    given = {"line": line.pk, "grams": grams, "entry_key": str(uuid4()), **fields}
    if "lot" not in given and "scan" not in given:
        given["lot"] = lot_for(by, line).code
    return given


def test_the_bench_shows_the_first_line_that_waits(at_home: Client, by: By) -> None:
    """Target, tolerance, and the first lot to expire."""
    batch = make_making(by)
    lot = lot_for(by, line_at(batch), good_until=in_days(by, 30))

    text = text_of(at_home.get(bench(by, batch.code)))

    assert f"Phase A, line 1 {line_at(batch).ingredient} Target 700.0 g 696.5 to 703.5" in text
    assert f"{lot.code} Released first to expire" in text
    assert "0 of 2" in text


def test_what_is_recorded_leads_to_the_next_line(at_home: Client, by: By) -> None:
    """And at the end to the bulk."""
    batch = make_making(by)

    for position, grams in ((1, "700"), (2, "300")):
        sent = at_home.post(bench(by, batch.code), entry(by, batch, grams, position))
        response = at_home.get(sent["Location"])

    assert "All lines are in" in text_of(response)
    assert "Weigh the bulk and finish" in text_of(response)


def test_another_line_can_be_asked_for(at_home: Client, by: By) -> None:
    """By its number; a number that is none shows the first that waits."""
    batch = make_making(by)

    assert "line 2" in text_of(at_home.get(bench(by, batch.code), {"line": "2"}))
    assert "line 1" in text_of(at_home.get(bench(by, batch.code), {"line": "77"}))
    assert "line 1" in text_of(at_home.get(bench(by, batch.code), {"line": "²"}))


def test_a_line_left_out_by_a_deviation_waits_no_more(at_home: Client, by: By) -> None:
    """It is passed over."""
    batch = make_making(by)
    deviate(by, batch=batch, line=line_at(batch), text="Mouldy.")

    assert "line 2" in text_of(at_home.get(bench(by, batch.code)))


def test_a_scanned_lot_goes_before_the_proposed_one(at_home: Client, by: By) -> None:
    """In any case of letters."""
    batch = make_making(by)
    first, scanned = lot_for(by, line_at(batch)), lot_for(by, line_at(batch), code="Bag-7")

    at_home.post(
        bench(by, batch.code), entry(by, batch, lot=first.code, scan="bag-7", why="The first is sealed.")
    )

    assert Weighing.objects.get().lot == scanned


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"grams": ""}, "Write the net grams here"),
        ({"grams": "7OO"}, "7OO"),
        ({"grams": "800"}, "100 g over; 3.5 g is allowed"),
        ({"grams": "", "gross": "100", "tare": "120"}, "not heavier than the empty one"),
        ({"scan": "NOBODY"}, "No lot is called “NOBODY”"),
        ({"lot": ""}, "Which lot is it from?"),
        ({"grams": "1e3"}, "1e3"),
    ],
)
def test_what_can_not_be_recorded_comes_back_as_typed(
    at_home: Client, by: By, fields: dict[str, str], said: str
) -> None:
    """With a sentence, on the same line, under the same key."""
    batch = make_making(by)
    data = entry(by, batch, **fields)  # type: ignore[arg-type]

    response = at_home.post(bench(by, batch.code), data)

    assert response.status_code == 200
    assert said in text_of(response) + response.content.decode()
    assert data["entry_key"] in response.content.decode()
    for typed in fields.values():
        if typed:
            assert f'value="{typed}"' in response.content.decode()
    assert Weighing.objects.count() == 0


def test_gross_and_tare_make_the_net(at_home: Client, by: By) -> None:
    """812.4 with the bowl, the bowl alone 112.4."""
    batch = make_making(by)

    at_home.post(bench(by, batch.code), entry(by, batch, "", gross="812.4", tare="112.4"))

    assert Weighing.objects.get().grams == 700


def test_a_lot_in_quarantine_is_said_beside_the_scan(at_home: Client, by: By) -> None:
    """The sentence says what it lacks."""
    batch = make_making(by)
    lot = lot_for(by, line_at(batch), released=False)

    text = text_of(at_home.post(bench(by, batch.code), entry(by, batch, scan=lot.code)))

    assert f"{lot} can't be used. It is in quarantine" in text


def test_a_german_bench_reads_commas(at_home: Client, by: By) -> None:
    """700,5 is seven hundred and a half; the hint's sign is told to the script."""
    by.maker.locale = "de_DE"
    by.maker.save()
    batch = make_making(by)

    sent = at_home.post(bench(by, batch.code), entry(by, batch, "700,5"))
    response = at_home.get(sent["Location"])

    assert Weighing.objects.get().grams == Decimal("700.5")
    assert 'data-mark=","' in response.content.decode()


def test_a_bench_of_a_batch_that_is_not_on_it_says_so(at_home: Client, by: By) -> None:
    """Planned: start it; made: a correction."""
    assert "Start it from its record" in text_of(at_home.get(bench(by, make_plan(by).code)))
    assert "All lines are in" in text_of(at_home.get(bench(by, make_made(by).code)))


# -- the pot


def test_the_gate_says_whether_the_pot_is_there(at_home: Client, by: By) -> None:
    """By the ingredient's own limit where it is lower than the step's; at the limit is there."""
    oil = make_ingredient(by.maker, "Lavender oil", add_below_c=Decimal(40))
    version = make_version(
        by, percent_line(oil, "100"), steps=[{"phase": "A", "text": "Cool", "max_c": Decimal(45)}]
    )
    batch = make_making(by, version)
    read(by, batch=batch, kind="temperature", value=Decimal("49.4"))
    assert "40 °C or below The pot was 49.4 °C" in text_of(at_home.get(bench(by, batch.code)))
    assert "It is not there yet" in text_of(at_home.get(bench(by, batch.code)))

    read(by, batch=batch, kind="temperature", value=Decimal(40))

    assert "It is not there yet" not in text_of(at_home.get(bench(by, batch.code)))


def test_a_cooling_pot_gets_a_forecast(at_home: Client, by: By) -> None:
    """From three readings and the room: a time with its band, and the picture."""
    oil = make_ingredient(by.maker, add_below_c=Decimal(40))
    batch = make_making(by, make_version(by, percent_line(oil, "100")))
    start = by.now() - timedelta(minutes=30)
    read(by, batch=batch, kind="room", value=Decimal(19), occurred_at=start)
    for minutes, value in ((0, "72.0"), (7, "65.1"), (14, "58.5"), (20, "54.4"), (27, "49.4")):
        moment = start + timedelta(minutes=minutes)
        read(by, batch=batch, kind="temperature", value=Decimal(value), occurred_at=moment)

    response = at_home.get(bench(by, batch.code))

    assert re.search(
        r"It reaches 40 °C at about \d\d:\d\d , between \d\d:\d\d and \d\d:\d\d", text_of(response)
    )
    assert b'class="line then"' in response.content


def test_a_warm_room_is_said_to_keep_it_from_setting(at_home: Client, by: By) -> None:
    """At the bench and on the record; common practice, no source."""
    batch = make_making(by)
    read(by, batch=batch, kind="room", value=Decimal(19))
    assert "it lingers" not in text_of(at_home.get(bench(by, batch.code)))
    read(by, batch=batch, kind="room", value=Decimal(28))

    for page in (bench(by, batch.code), address(by.maker, "batches:batch", code=batch.code)):
        assert "In a room this warm it lingers" in text_of(at_home.get(page))


def test_the_pot_and_the_room_are_read_at_once(at_home: Client, by: By) -> None:
    """And a repeat reads nothing twice."""
    batch = make_making(by)
    data = {"pot-value": "49.4", "pot-room": "19", "pot-entry_key": str(uuid4()), "at_line": "2"}
    page = address(by.maker, "batches:bench-pot", code=batch.code)

    for _ in range(2):
        response = at_home.post(page, data)

    assert response["Location"].endswith("?line=2")
    assert sorted(Reading.objects.values_list("kind", "value")) == [
        ("room", Decimal(19)),
        ("temperature", Decimal("49.4")),
    ]


def test_a_temperature_that_can_not_be_comes_back(at_home: Client, by: By) -> None:
    """What was typed stays."""
    batch = make_making(by)

    response = at_home.post(address(by.maker, "batches:bench-pot", code=batch.code), {"pot-value": "494"})

    assert response.status_code == 200
    assert 'value="494"' in response.content.decode()
    assert not Reading.objects.exists()


# -- the queue on a device


def test_the_queue_is_told_what_was_written(at_home: Client, by: By) -> None:
    """A second arrival of the same entry is written already."""
    batch = make_making(by)
    data = entry(by, batch)

    answers = [at_home.post(bench(by, batch.code), data, headers=JSON).json() for _ in range(2)]

    assert [answer["written"] for answer in answers] == [True, True]
    assert Weighing.objects.count() == 1


def test_what_the_queue_sent_is_said_on_the_page_it_opens_next(at_home: Client, by: By) -> None:
    """The weighing and the pot, once each."""
    batch = make_making(by)
    pot = address(by.maker, "batches:bench-pot", code=batch.code)
    sent = at_home.post(bench(by, batch.code), entry(by, batch), headers=JSON).json()
    at_home.post(pot, {"pot-value": "55"}, headers=JSON)

    first, second = (text_of(at_home.get(bench(by, batch.code))) for _ in range(2))

    assert f"700.0 g of {sent['lot']} are in." in first
    assert "55 °C are written down." in first
    assert "are in." not in second


def test_the_queue_is_told_why_something_was_not_written(at_home: Client, by: By) -> None:
    """In sentences, for the weighing and the pot."""
    batch = make_making(by)
    page = address(by.maker, "batches:bench-pot", code=batch.code)

    weighing = at_home.post(bench(by, batch.code), entry(by, batch, "900"), headers=JSON).json()
    pot = at_home.post(page, {"pot-value": "hot"}, headers=JSON).json()

    assert weighing["written"] is pot["written"] is False
    assert weighing["sentences"][0].startswith("200 g over")
    assert pot["sentences"]


def test_what_waited_on_a_device_keeps_its_own_time(at_home: Client, by: By) -> None:
    """Entered now, happened then; a clock that runs ahead counts as now."""
    batch = make_making(by)
    then = by.now() - timedelta(minutes=12)
    at_home.post(bench(by, batch.code), entry(by, batch, occurred_at=then.isoformat()), headers=JSON)
    ahead = (by.now() + timedelta(hours=3)).isoformat()
    at_home.post(bench(by, batch.code), entry(by, batch, "300", 2, occurred_at=ahead), headers=JSON)

    first, second = Weighing.objects.order_by("pk")
    assert abs(first.occurred_at - then) < timedelta(seconds=1)
    assert first.entered_at > first.occurred_at
    assert second.occurred_at <= second.entered_at


def test_the_page_carries_every_line_for_the_time_without_a_network(at_home: Client, by: By) -> None:
    """Targets, lots and what judges the grams, as they are shown; what still waits is marked."""
    batch = make_making(by)
    weigh_line(by, batch)
    lot = lot_for(by, line_at(batch, 2))

    page = at_home.get(bench(by, batch.code)).content.decode()

    data = json.loads(re.search(r'id="bench-data"[^>]*>(.*?)</script>', page, re.S).group(1))  # type: ignore[union-attr]
    assert [one["waits"] for one in data] == [False, True]
    assert data[1]["target"] == "300.0"
    assert Decimal(data[1]["judge"]["high"]) == Decimal("301.5")
    assert data[1]["judge"]["over"].startswith("{} g over; 1.5 g is allowed.")
    assert "Say why, or correct the weighing." in page
    assert data[1]["lots"][0]["code"] == lot.code


def test_another_ingredients_lots_are_not_offered(at_home: Client, by: By) -> None:
    """Nor unreleased ones."""
    batch = make_making(by)
    other, waiting = make_lot(by, released=True), lot_for(by, line_at(batch), released=False)

    page = at_home.get(bench(by, batch.code)).content.decode()

    assert other.code not in page
    assert waiting.code not in page


def test_the_script_keeps_to_the_page_policy() -> None:
    """Nothing from elsewhere, no evaluated text; a key also where the page came over plain http."""
    script = (Path(__file__).resolve().parents[3] / "batches/static/batches/bench.js").read_text(
        encoding="utf-8"
    )

    assert "http://" not in script
    assert "https://" not in script
    assert "innerHTML" not in script
    assert "crypto.getRandomValues" in script
    assert "randomUUID(" not in script


def test_a_line_left_for_later_comes_back(at_home: Client, by: By) -> None:
    """The second is recorded first."""
    batch = make_making(by)

    sent = at_home.post(bench(by, batch.code), entry(by, batch, "300", 2))

    assert "line 1" in text_of(at_home.get(sent["Location"]))


def test_each_weighing_keeps_the_scale_it_was_weighed_on(at_home: Client, by: By) -> None:
    """A little goes on the fine scale, which is proposed; the record says where it was another than planned."""
    batch = make_making(by)
    fine = Scale.objects.create(
        maker=by.maker, name="Pocket scale", readability_g=Decimal("0.001"), capacity_g=Decimal(1000)
    )
    coarse = batch.scale
    coarse.readability_g, coarse.capacity_g = Decimal(10), Decimal(20000)
    coarse.save()

    page = at_home.get(bench(by, batch.code)).content.decode()
    assert f'<option value="{fine.pk}" selected>' in page
    sent = at_home.post(bench(by, batch.code), entry(by, batch, scale=fine.pk))
    plain = at_home.post(bench(by, batch.code), entry(by, batch, "300", 2))

    assert (sent.status_code, plain.status_code) == (303, 303)
    assert list(Weighing.objects.order_by("pk").values_list("scale", flat=True)) == [fine.pk, coarse.pk]
    record = text_of(at_home.get(address(by.maker, "batches:batch", code=batch.code)))
    assert record.count("on Pocket scale") == 1


def test_a_scale_that_is_none_of_the_workshops_is_refused(at_home: Client, by: By) -> None:
    """And the grams stay."""
    batch = make_making(by)
    Scale.objects.create(
        maker=by.maker, name="Pocket scale", readability_g=Decimal("0.01"), capacity_g=Decimal(300)
    )

    response = at_home.post(bench(by, batch.code), entry(by, batch, scale=987654))

    assert response.status_code == 200
    assert "not one of the workshop" in text_of(response)
    assert 'value="700"' in response.content.decode()
    assert not Weighing.objects.exists()


def test_what_no_scale_weighs_finely_enough_or_at_once_is_said(at_home: Client, by: By) -> None:
    """With the least of the finest, or what the batch's own carries."""
    batch = make_making(by)
    scale = batch.scale
    scale.readability_g, scale.capacity_g = Decimal(10), Decimal(20000)
    scale.save()
    assert f"Less than 820 g, the least that {scale} weighs to 1 %." in text_of(
        at_home.get(bench(by, batch.code))
    )

    scale.readability_g, scale.capacity_g = Decimal("0.1"), Decimal(300)
    scale.save()
    assert f"More than {scale} carries at once, 300 g." in text_of(at_home.get(bench(by, batch.code)))


def test_the_address_of_the_pot_leads_to_the_bench_and_its_links_stay_there(at_home: Client, by: By) -> None:
    """A reload, or a link on a page whose reading was refused, ends on the bench."""
    batch = make_making(by)
    lot_for(by, line_at(batch))
    there = address(by.maker, "batches:bench-pot", code=batch.code)

    assert at_home.get(there)["Location"] == bench(by, batch.code)
    refused = at_home.post(there, {"pot-value": "warm", "at_line": "1"}).content.decode()
    assert f'data-here="{bench(by, batch.code)}"' in refused
    assert 'href="?line=' not in refused
