"""The bench of the demo on a phone, with a network and without one."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.house import House, credentials, picture, sign_in

PARTS = 10_000
"""Stored masses are whole ten-thousandths of a gram."""


@dataclass(frozen=True, slots=True)
class Bench:
    """The batch being made in a demo of its own, opened on a phone."""

    page: Any
    house: House
    at: str
    code: str

    def open(self) -> None:
        """Load the bench."""
        self.page.goto(f"{self.at}/batches/{self.code}/bench/")

    def lines(self) -> list[dict[str, Any]]:
        """The lines that wait, as the page carries them for the time without a network."""
        found = json.loads(self.page.locator("#bench-data").text_content())
        return [line for line in found if line["waits"]]

    def record(self, grams: str) -> None:
        """Type the net grams and press the button."""
        self.page.get_by_label("Net grams").fill(grams)
        self.page.get_by_role("button", name="Record").tap()

    def leave_network(self) -> None:
        """From here on nobody answers."""
        self.page.context.set_offline(True)

    def come_back(self) -> None:
        """The network is there again."""
        self.page.context.set_offline(False)

    def weighed(self, line: dict[str, Any]) -> list[tuple[Any, ...]]:
        """What the server's book holds of a line: grams, lot, and whether it was entered after it happened."""
        return self.house.facts(
            "SELECT w.grams, l.code, w.entered_at > w.occurred_at FROM batches_weighing w "
            "JOIN batches_lot l ON l.id = w.lot_id WHERE w.line_id = ? ORDER BY w.id",
            line["line"],
        )

    def expect_line(self, line: dict[str, Any]) -> None:
        """This line is in hand."""
        expect(self.page.get_by_role("heading", level=1)).to_have_text(line["name"])
        expect(self.page.locator("[data-slot=target]")).to_have_text(line["target"])


@pytest.fixture
def bench(phone: Any, own_demo: House) -> Bench:
    """From signing in, by way of Today, to the bench."""
    at = sign_in(phone, own_demo, *credentials(own_demo))
    phone.get_by_role("link", name="Go to the bench").tap()
    phone.wait_for_url(re.compile(r"/bench/$"))
    (code,) = re.findall(r"/batches/([^/]+)/bench/", phone.url)
    assert code == own_demo.fact("SELECT code FROM batches_batch WHERE state = 'making'")
    return Bench(phone, own_demo, at, code)


def test_what_is_weighed_without_a_network_is_written_when_it_is_back(bench: Bench) -> None:
    """One line with a network; one without, kept on the device, seen there, and written once with its own time."""
    page = bench.page
    first, second, third = bench.lines()[:3]
    bench.expect_line(first)
    picture(page, "bench-1-before")

    bench.record(first["target"])

    expect(page.get_by_text(f"{first['target']} g of {first['lots'][0]['code']} are in.")).to_be_visible()
    assert bench.weighed(first) == [(float(first["target"]) * PARTS, first["lots"][0]["code"], 1)]
    bench.expect_line(second)

    bench.leave_network()
    bench.record(second["target"])

    words = f"{second['name']} {second['target']} g, {second['lots'][0]['code']}"
    expect(page.get_by_text(f"Kept on this device: {words}.")).to_be_visible()
    expect(page.get_by_role("heading", name="1 entry waits on this device")).to_be_visible()
    expect(page.locator("#bench-queue li")).to_contain_text([words])
    expect(page.get_by_text("sent by themselves when it is back")).to_be_visible()
    expect(page.locator(f"li[data-line='{second['line']}']")).to_contain_text(re.compile("Waiting$"))
    expect(page.get_by_text("are in.")).to_have_count(0)
    bench.expect_line(third)
    picture(page, "bench-2-kept")
    assert bench.weighed(second) == []

    bench.come_back()

    expect(page.get_by_text(f"{second['target']} g of {second['lots'][0]['code']} are in.")).to_be_visible()
    expect(page.locator("#bench-queue")).to_be_hidden()
    bench.expect_line(third)
    page.reload()
    expect(page.locator("#bench-queue")).to_be_hidden()
    here = page.locator(f"li[data-line='{second['line']}']")
    expect(here).to_contain_text(f"{second['target']} g")
    expect(here).to_contain_text(re.compile("weighed$"))
    assert bench.weighed(second) == [(float(second["target"]) * PARTS, second["lots"][0]["code"], 1)]


def test_a_device_judges_grams_in_the_words_of_the_server(bench: Bench) -> None:
    """Too much is refused with and without a network, until somebody says why; then it waits, and is written."""
    page = bench.page
    line = bench.lines()[0]
    grams = str(float(line["target"]) + 50)
    bench.record(grams)
    beside = page.locator("#id_grams_error")
    expect(beside).to_contain_text("50 g over;")
    server = beside.inner_text(), page.locator("#id_why_error").inner_text()
    picture(page, "bench-3-over")
    bench.open()
    bench.leave_network()

    page.get_by_label("Net grams").fill(grams)
    expect(page.locator("[data-slot=hint]")).to_have_text(server[0])
    page.get_by_role("button", name="Record").tap()

    expect(page.locator("#id_grams_error")).to_have_text(server[0])
    expect(page.locator("#id_why_error")).to_have_text(server[1])
    for name in ("Net grams", "Why another lot, or why off"):
        expect(page.get_by_label(name)).to_have_attribute("aria-invalid", "true")
        expect(page.get_by_label(name)).to_have_accessible_description(re.compile(r"over;|Say why"))
    expect(page.get_by_label("Net grams")).to_have_value(grams)
    expect(page.get_by_label("Net grams")).to_be_focused()
    expect(page.locator("#bench-queue")).to_be_hidden()
    picture(page, "bench-4-over-offline")

    page.get_by_label("Why another lot, or why off").fill("The jug slipped.")
    page.get_by_role("button", name="Record").tap()
    expect(page.get_by_role("heading", name="1 entry waits on this device")).to_be_visible()
    bench.come_back()

    expect(page.get_by_text(f"{grams} g of {line['lots'][0]['code']} are in.")).to_be_visible()
    assert [row[0] for row in bench.weighed(line)] == [float(grams) * PARTS]
    assert bench.house.facts("SELECT 1 FROM batches_deviation WHERE line_id = ?", line["line"]) == [(1,)]


def test_what_was_said_of_a_line_goes_with_it(bench: Bench) -> None:
    """A device that turns to the next line takes sentences, marks and the notice of the line before along."""
    page = bench.page
    first, second = bench.lines()[:2]

    def refused() -> None:
        bench.record("")
        expect(page.locator("#id_grams_error")).to_contain_text("Write the net grams here")
        expect(page.get_by_label("Net grams")).to_have_attribute("aria-invalid", "true")

    def turned(line: dict[str, Any]) -> None:
        page.locator(f"li[data-line='{line['line']}'] a").tap()
        bench.expect_line(line)
        expect(page.locator(".wrong, .form-notice, [aria-invalid]")).to_have_count(0)
        expect(page.get_by_label("Net grams")).to_have_accessible_description("")
        expect(page.get_by_label("Net grams")).to_be_focused()
        expect(page.locator("[aria-current=step]")).to_contain_text(line["name"])

    refused()
    expect(page.locator(".form-notice")).to_be_visible()
    bench.leave_network()
    turned(second)
    refused()
    expect(page.locator("#bench-queue")).to_be_hidden()
    turned(first)


def test_a_lot_that_ran_out_leaves_the_rest_to_be_weighed(bench: Bench) -> None:
    """Without a network too: what waits on the device is taken off the target, and all lines come to an end."""
    page = bench.page
    first, *others = bench.lines()
    bench.leave_network()
    page.get_by_text("Something else happened").tap()
    page.get_by_label("This lot ran out").check()
    bench.record("100")
    rest = float(first["target"]) - 100

    expect(page.locator("[data-slot=target]")).to_have_text(f"{rest:.1f}")
    expect(page.get_by_text("100.0 g wait on this device")).to_be_visible()
    bench.record(f"{rest:.1f}")
    for line in others:
        bench.expect_line(line)
        bench.record(line["target"])

    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing is left to weigh here")
    expect(page.get_by_label("Net grams")).to_be_hidden()
    expect(page.get_by_role("heading", name=f"{len(others) + 2} entries wait")).to_be_visible()
    picture(page, "bench-5-all-kept")
    bench.come_back()
    expect(page.get_by_role("heading", level=1)).to_have_text("All lines are in")
    assert [row[0] for row in bench.weighed(first)] == [100 * PARTS, rest * PARTS]
    assert all(len(bench.weighed(line)) == 1 for line in others)


def test_a_line_is_weighed_and_a_pack_sent_without_any_script(plain_phone: Any, own_demo: House) -> None:
    """Forms are forms: each act is a page that answers."""
    page, house = plain_phone, own_demo
    at = sign_in(page, house, *credentials(house))
    batch = house.fact("SELECT code FROM batches_batch WHERE state = 'making'")
    page.goto(f"{at}/batches/{batch}/bench/")
    name = page.get_by_role("heading", level=1).inner_text()
    target = page.locator("[data-slot=target]").inner_text()
    before = house.fact("SELECT count(*) FROM batches_weighing")

    page.get_by_label("Net grams").fill(target)
    page.get_by_role("button", name="Record").tap()

    expect(page.get_by_text(re.compile(rf"{target}\sg of \S+ are in\."))).to_be_visible()
    expect(page.get_by_role("heading", level=1)).not_to_have_text(name)
    assert house.fact("SELECT count(*) FROM batches_weighing") == before + 1

    where = (
        "FROM batches_packbalance x JOIN batches_pack p ON p.id = x.pack_id JOIN batches_batch b ON b.id = p.batch_id "
        "JOIN batches_place l ON l.id = x.place_id "
        "WHERE b.state = 'released' AND NOT b.held AND NOT p.held AND l.kind = 'stall' AND x.units > 1 "
        "AND p.best_before > date('now', '+2 day')"
    )
    pack, units, place = house.facts(f"SELECT p.code, x.units, l.name {where} ORDER BY p.code DESC")[0]
    page.goto(f"{at}/dispatches/add/")
    page.get_by_label("To", exact=True).select_option(index=3)
    row = page.get_by_role("group", name="Pack 1")
    row.get_by_label("Pack", exact=True).fill(pack)
    row.get_by_label("Units").fill("1")
    row.get_by_label("From").select_option(label=place)
    page.get_by_role("button", name="Write down the dispatch").tap()

    expect(page).to_have_url(re.compile(r"/dispatches/D-\d+/$"))
    expect(page.get_by_role("main")).to_contain_text(pack)
    assert house.fact(f"SELECT x.units {where} AND p.code = ?", pack) == units - 1


def test_a_refused_reading_of_the_pot_leaves_the_bench_where_it_is(bench: Bench) -> None:
    """The sentence stands at another address than the bench; what is right goes on from the bench all the same."""
    page = bench.page
    first, second = bench.lines()[:2]
    count = "SELECT count(*) FROM batches_reading"
    before = bench.house.fact(count)

    def read(degrees: str) -> None:
        page.get_by_label("Pot now").fill(degrees)
        page.get_by_role("button", name="Read").tap()

    def refused() -> None:
        read("warm")
        page.wait_for_url(re.compile(r"/bench/pot/$"))
        expect(page.get_by_label("Pot now")).to_have_attribute("aria-invalid", "true")

    refused()
    read("61")
    expect(page.get_by_text(re.compile(r"61\s°C are written down\."))).to_be_visible()
    expect(page).to_have_url(re.compile(rf"/bench/\?line={first['position']}$"))

    refused()
    bench.record(first["target"])
    expect(page.get_by_text(f"{first['target']} g of {first['lots'][0]['code']} are in.")).to_be_visible()
    expect(page).to_have_url(re.compile(r"/bench/$"))

    refused()
    page.locator(f"li[data-line='{second['line']}'] a").tap()
    expect(page).to_have_url(re.compile(rf"/bench/\?line={second['position']}$"))
    bench.expect_line(second)

    refused()
    bench.leave_network()
    bench.record(second["target"])
    expect(page.get_by_role("heading", name="1 entry waits on this device")).to_be_visible()
    bench.come_back()
    expect(page.get_by_text(f"{second['target']} g of {second['lots'][0]['code']} are in.")).to_be_visible()
    expect(page).to_have_url(re.compile(r"/bench/$"))
    assert len(bench.weighed(second)) == 1
    assert bench.house.fact(count) == before + 1
