"""Newton's law of cooling: checked against curves made from the law itself (textbook physics)."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.cooling import CoolingReading, draw, forecast

D = Decimal


def pot(start: float, room: float, rate: float, minutes: list[int], places: int = 1) -> list[CoolingReading]:
    """Readings of a pot that follows the law, rounded as a thermometer shows them."""
    return [
        CoolingReading(D(minute), round(D(str(room + (start - room) * math.exp(-rate * minute))), places))
        for minute in minutes
    ]


def test_a_pot_that_follows_the_law_is_forecast_to_the_minute() -> None:
    """72 °C in a room of 21 °C at k = 0.02: 40 °C at ln(51/19)/0.02 = 49.37 min."""
    found = forecast(pot(72, 21, 0.02, [0, 8, 16, 24], places=6), D(40), D(21))

    assert found.at is not None
    assert found.earliest is not None
    assert found.latest is not None
    assert abs(found.at - D("49.37")) < D("0.01")
    assert found.earliest < found.at < found.latest
    assert found.text.startswith("40 °C in about 25 min, between ")


def test_rounded_readings_still_come_within_the_band() -> None:
    """The same pot read to a whole degree."""
    found = forecast(pot(72, 21, 0.02, [0, 8, 16, 24], places=0), D(40), D(21))

    assert found.earliest is not None
    assert found.latest is not None
    assert found.earliest < D("49.37") < found.latest


@pytest.mark.parametrize(("count", "words"), [(1, "2 more readings"), (2, "1 more reading ")])
def test_fewer_than_three_readings_are_no_forecast(count: int, words: str) -> None:
    """It says how many are missing."""
    found = forecast(pot(72, 21, 0.02, [0, 8, 16][:count]), D(40), D(21))

    assert found.at is None
    assert words in found.text
    assert found.curve == ()


def test_without_the_room_there_is_no_forecast() -> None:
    """Unknown is never assumed."""
    assert forecast(pot(72, 21, 0.02, [0, 8, 16]), D(40), None).at is None


def test_a_target_at_the_rooms_temperature_is_never_promised() -> None:
    """The curve only creeps towards the room."""
    assert "too near" in forecast(pot(72, 21, 0.02, [0, 8, 16]), D("21.5"), D(21)).text


def test_a_pot_still_heating_has_no_forecast() -> None:
    """Only readings from the hottest on count: here one."""
    assert "2 more readings" in forecast(list(reversed_heat()), D(40), D(21)).text


def reversed_heat() -> list[CoolingReading]:
    """20, 45, 70 °C."""
    return [CoolingReading(D(0), D(20)), CoolingReading(D(5), D(45)), CoolingReading(D(10), D(70))]


def test_heating_before_cooling_does_not_spoil_the_fit() -> None:
    """The way up is left out."""
    down = [
        CoolingReading(one.minutes + 20, one.celsius) for one in pot(72, 21, 0.02, [0, 8, 16, 24], places=6)
    ]

    found = forecast([*reversed_heat(), *down], D(40), D(21))

    assert found.at is not None
    assert abs(found.at - D("69.37")) < D("0.01")


def test_a_pot_that_stands_still_is_not_cooling() -> None:
    """Three equal readings."""
    readings = [CoolingReading(D(minute), D(60)) for minute in (0, 5, 10)]

    assert forecast(readings, D(40), D(21)).at is None


def test_at_the_target_is_cool_enough() -> None:
    """ "Add below 40" includes 40."""
    found = forecast([CoolingReading(D(0), D(72)), CoolingReading(D(50), D("40.0"))], D(40), D(21))

    assert found.reached
    assert found.text == "40 °C: cool enough for 40 °C."


def test_two_readings_in_one_minute_do_not_break_the_fit() -> None:
    """The later one holds."""
    readings = [CoolingReading(D(5), D(72)), CoolingReading(D(5), D(71)), CoolingReading(D(5), D(70))]

    assert forecast(readings, D(40), D(21)).at is None


@given(
    start=st.integers(55, 90),
    room=st.integers(5, 25),
    rate=st.floats(0.005, 0.08),
    every=st.integers(2, 8),
    count=st.integers(3, 8),
)
def test_the_true_time_lies_in_the_band(start: int, room: int, rate: float, every: int, count: int) -> None:
    """For any pot that follows the law and is read to 0.1 degrees while hotter than the target."""
    target = 40
    readings = pot(start, room, rate, [every * number for number in range(count)])
    true = math.log((start - room) / (target - room)) / rate

    found = forecast(readings, D(target), D(room))

    if not found.reached and found.at is not None:
        assert found.earliest is not None
        assert found.earliest <= D(str(true)) + D("0.2")
        assert found.latest is None or D(str(true)) - D("0.2") <= found.latest


@given(readings=st.lists(st.tuples(st.integers(0, 300), st.decimals(-5, 120, places=1)), max_size=12))
def test_no_readings_ever_raise_and_the_drawing_stays_on_paper(readings: list[tuple[int, Decimal]]) -> None:
    """Typed at a bench, anything comes."""
    given_readings = [CoolingReading(D(minute), celsius) for minute, celsius in readings]

    found = forecast(given_readings, D(40), D(21))
    drawing = draw(given_readings, found)

    assert found.text
    assert (drawing is None) == (not readings)
    if drawing is not None:
        assert all(0 <= x <= drawing.width and 0 <= y <= drawing.height for x, y in drawing.dots)
        assert drawing.at_x is None or 0 <= drawing.at_x <= drawing.width
        assert 0 <= drawing.target_y <= drawing.height
