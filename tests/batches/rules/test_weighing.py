"""Judging a weighing, and a lot for a line (states: ISO 22716 6.4.3 and 7.2.2 b, read)."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from batches.rules.lot_state import LotFacts
from batches.rules.weighing import device_judge, device_judge_range, judge, judge_range, reasons_not_usable
from formulas.rules.number import figure

D = Decimal
TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("held", "verdict", "off"),
    [("120.0", "within", "0"), ("121.2", "within", "1.2"), ("118.8", "within", "-1.2"), ("121.3", "over",
    "1.3"), ("118.7", "under", "-1.3"), ("0", "under", "-120")],
)  # fmt: skip
def test_at_the_tolerance_is_within_it(held: str, verdict: str, off: str) -> None:
    """120 g with 1.2 g allowed: strict beyond."""
    judged = judge(D(120), D("1.2"), D(held))

    assert (judged.verdict, judged.off_g) == (verdict, D(off))


def test_the_sentence_gives_the_figure_and_what_to_do() -> None:
    """Figure first, no blame."""
    assert judge(D("5.0"), D("0.2"), D("5.3")).text == (
        "0.3 g over; 0.2 g is allowed. Keep it and say why, or take some out and weigh again."
    )
    assert judge(D("5.0"), D("0.2"), D("4.0")).text.startswith("1 g short; 0.2 g is allowed.")


@pytest.mark.parametrize(
    ("held", "verdict"), [("1.3", "within"), ("7.5", "within"), ("7.6", "over"), ("1.2", "under")]
)
def test_the_ends_of_a_range_are_within(held: str, verdict: str) -> None:
    """What was added as needed."""
    assert judge_range(D("1.3"), D("7.5"), D(held)).verdict == verdict


@pytest.mark.parametrize("held", ["0", "60", "130"])
@pytest.mark.parametrize("grams", ["0.4", "1.2", "58.7", "61.3", "118.8", "121.2", "121.3"])
def test_a_device_judges_as_the_server_does(held: str, grams: str) -> None:
    """What is within, and the sentence with its figure put in, whatever is in already."""
    on_plan = judge(D(120), D("1.2"), D(held) + D(grams))
    in_range = judge_range(D("1.3"), D("61.3"), D(held) + D(grams))
    for judged, device in (
        (on_plan, device_judge(D(120), D("1.2"), D(held))),
        (in_range, device_judge_range(D("1.3"), D("61.3"), D(held))),
    ):
        shown = figure(abs(D(grams) - device.zero))
        if D(grams) > device.high:
            assert (judged.verdict, judged.text) == ("over", device.over.replace("{}", shown))
        elif D(grams) < device.low:
            assert (judged.verdict, judged.text) == ("under", device.under.replace("{}", shown))
        else:
            assert judged.verdict == "within"


def test_a_good_lot_of_the_lines_ingredient_has_nothing_against_it() -> None:
    """Its last day is still good; all that is left may be taken."""
    facts = LotFacts("released", D(50), good_until=TODAY)

    assert reasons_not_usable(facts, TODAY, lot_of="Beeswax", line_of="Beeswax", grams=D(50)) == []


def test_every_reason_is_given_not_the_first() -> None:
    """Other ingredient, quarantine, hold with its cause, expired."""
    facts = LotFacts("quarantine", D(50), good_until=date(2026, 11, 24), causes=("smells rancid",))

    marks = [
        reason.mark
        for reason in reasons_not_usable(facts, TODAY, lot_of="Shea", line_of="Beeswax", grams=D(60))
    ]

    assert marks == ["other", "quarantine", "hold", "expired", "short"]


def test_what_is_short_is_said_in_grams() -> None:
    """50 g left, 60 g wanted."""
    (reason,) = reasons_not_usable(
        LotFacts("released", D(50)), TODAY, lot_of="Beeswax", line_of="Beeswax", grams=D(60)
    )

    assert reason.text == "50 g are left of it, 10 g less than 60 g."
