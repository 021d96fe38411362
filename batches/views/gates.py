"""What has to be so before a line goes in, and when the pot will be there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from batches.actions.making_review import gate_words
from batches.models import Batch, BatchLine, BatchStep, Reading
from batches.rules.cooling import CoolingDrawing, CoolingReading, Forecast, draw, forecast
from batches.rules.setting import setting_words
from formulas.rules.number import figure


@dataclass(frozen=True, slots=True)
class Gate:
    """A temperature that is asked for. mark: heat or cool. low, high: bounds in °C that are within it."""

    where: str
    words: str
    mark: str
    low: Decimal | None
    high: Decimal | None

    def waits(self, value: Decimal | None) -> bool:
        """Whether a pot of that temperature is not there yet; one that was not read waits."""
        if value is None:
            return True
        return (self.low is not None and value < self.low) or (self.high is not None and value > self.high)


def gate_for(line: BatchLine, steps: Sequence[BatchStep]) -> Gate | None:
    """The gate of a line: the heat limit of its ingredient, else the first step of its phase that has one."""
    below = line.ingredient.add_below_c if line.ingredient is not None else None
    step = next((one for one in steps if one.phase == line.phase and gate_words(one)), None)
    if below is not None and (step is None or step.max_c is None or below < step.max_c):
        where = f"{line.ingredient} goes in at or below this"
        return Gate(where, f"{figure(below)} °C or below", "cool", None, below)
    if step is None:
        return None
    cools = step.max_c is not None and step.min_c is None
    return Gate(
        f"Step {step.position}: {step.text[:80]}",
        gate_words(step),
        "cool" if cools else "heat",
        step.min_c,
        step.max_c,
    )


@dataclass(frozen=True, slots=True)
class Cooling:
    """Readings of the pot, and where they lead. at, earliest, latest: moments, None where nobody can say."""

    readings: list[Reading]
    found: Forecast | None
    drawing: CoolingDrawing | None
    at: datetime | None = None
    earliest: datetime | None = None
    latest: datetime | None = None


LEAST_SPAN = timedelta(minutes=2)
"""Readings nearer together than this make no curve."""
WIDE = (760, 200)
"""The curve's size on the batch record; the bench has the drawing's own, made for a phone."""


def cooling_of(
    readings: Sequence[Reading], target: Decimal | None, size: tuple[int, int] = (340, 190)
) -> Cooling | None:
    """The curve of the pot, with a forecast where a target and the room are known; None without a reading."""
    pot = [one for one in readings if one.kind == Reading.Kind.TEMPERATURE]
    if not pot:
        return None
    start = pot[0].occurred_at
    points = [CoolingReading(minutes_between(start, one.occurred_at), one.value) for one in pot]
    room = room_of(readings)
    goal = target if target is not None else min(one.value for one in pot)
    found = forecast(points, goal, room)
    spread = pot[-1].occurred_at - start
    drawing = draw(points, found, width=size[0], height=size[1]) if spread >= LEAST_SPAN else None

    def moment(minutes: Decimal | None) -> datetime | None:
        return None if minutes is None else start + timedelta(seconds=int(minutes * 60))

    if target is None or found.reached:
        return Cooling(pot, found if target is not None else None, drawing)
    return Cooling(pot, found, drawing, moment(found.at), moment(found.earliest), moment(found.latest))


def room_of(readings: Sequence[Reading]) -> Decimal | None:
    """The room's temperature as it was read last."""
    return next((one.value for one in reversed(readings) if one.kind == Reading.Kind.ROOM), None)


def setting_of(batch: Batch, readings: Sequence[Reading]) -> str:
    """What the room says of setting; "" where it wasn't read or says nothing."""
    room = room_of(readings)
    return "" if room is None else setting_words(room, batch.formula.form)


def minutes_between(start: datetime, end: datetime) -> Decimal:
    """Minutes from one moment to another."""
    return Decimal(int((end - start).total_seconds())) / 60
