"""When a cooling pot reaches a temperature: Newton's law fitted to the readings, with a band.

T(t) = room + (T0 - room) x exp(-k t). ln(T - room) is then a straight line in t, fitted by least squares. The
band comes from what the line leaves unexplained, and never is narrower than a thermometer's own error makes
it. It is a forecast to plan by, not a reading: the gate itself is passed by measuring.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import (
    ROUND_CEILING,
    ROUND_FLOOR,
    ROUND_HALF_EVEN,
    ROUND_HALF_UP,
    Context,
    Decimal,
    DivisionByZero,
    InvalidOperation,
    Overflow,
)

LEAST_READINGS = 3
LEAST_ERROR_C = Decimal("0.5")
"""Assumed error of one reading: a kitchen thermometer's. Common practice, no source."""
BAND = Decimal(2)
"""Half-width of the band in standard errors; about 95 %. Statistical custom."""
ABOVE_ROOM_C = Decimal(1)
"""Readings and targets nearer to the room than this are not used: the logarithm would magnify their error."""
LONGEST_MINUTES = 24 * 60

WIDE = Context(prec=34, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation, DivisionByZero, Overflow])
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class CoolingReading:
    """A temperature after so many minutes, counted from any start."""

    minutes: Decimal
    celsius: Decimal


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A point of the forecast with its band, degrees Celsius."""

    minutes: Decimal
    celsius: Decimal
    low: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the target is reached, in minutes of the readings' own count.

    at: None when it can't be said; ``text`` then says why. earliest, latest: the band around it; latest None
    when the band does not end within a day. reached: the last reading is at the target or below.
    """

    target_c: Decimal
    room_c: Decimal
    at: Decimal | None
    earliest: Decimal | None
    latest: Decimal | None
    reached: bool
    text: str
    curve: tuple[CurvePoint, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    """ln(T - room) = start - rate x minutes, with what is needed for a band."""

    start: Decimal
    rate: Decimal
    error: Decimal
    count: int
    mean_x: Decimal
    spread_x: Decimal

    def at(self, minutes: Decimal) -> Decimal:
        return WIDE.subtract(self.start, WIDE.multiply(self.rate, minutes))

    def half_band(self, minutes: Decimal) -> Decimal:
        """Half-width of the band of the line, in ln."""
        away = WIDE.divide(WIDE.power(minutes - self.mean_x, 2), self.spread_x)
        return WIDE.multiply(
            BAND * self.error, WIDE.sqrt(WIDE.divide(Decimal(1), Decimal(self.count)) + away)
        )


def forecast(
    readings: Sequence[CoolingReading], target_c: Decimal, room_c: Decimal | None, *, points: int = 24
) -> Forecast:
    """When the pot is at ``target_c``. Needs 3 readings, falling, and the room's temperature; else says so.

    Heating before cooling: only readings from the hottest on are used.
    """
    room = room_c if room_c is not None else ZERO
    ordered = sorted(readings, key=lambda reading: reading.minutes)
    if ordered and ordered[-1].celsius <= target_c:
        text = f"{_degrees(ordered[-1].celsius)} °C: cool enough for {_degrees(target_c)} °C."
        return Forecast(target_c, room, ordered[-1].minutes, None, None, True, text)

    def unknown(text: str) -> Forecast:
        return Forecast(target_c, room, None, None, None, False, text)

    if room_c is None:
        return unknown("Measure the room to get a forecast.")
    if target_c - room_c < ABOVE_ROOM_C:
        return unknown(
            f"{_degrees(target_c)} °C is too near to the room's {_degrees(room_c)} °C to say when. "
            "Use a cold bath."
        )
    used = _falling(ordered, room_c)
    if len(used) < LEAST_READINGS:
        missing = LEAST_READINGS - len(used)
        return unknown(f"{missing} more reading{'s' * (missing > 1)} of the cooling pot for a forecast.")
    line = _fit(used, room_c)
    if line is None or line.rate <= ZERO:
        return unknown("It is not cooling yet.")
    goal = WIDE.ln(target_c - room_c)
    at = WIDE.divide(line.start - goal, line.rate)
    if at - used[0].minutes > LONGEST_MINUTES:
        return unknown("At this rate it takes more than a day.")
    earliest, latest = _crossings(line, goal, at, used[0].minutes)
    last = used[-1].minutes
    return Forecast(
        target_c,
        room_c,
        at,
        max(earliest, last),
        latest,
        False,
        _sentence(target_c, max(at - last, ZERO), earliest - last, None if latest is None else latest - last),
        _curve(line, room_c, used[0].minutes, at if latest is None else latest, points),
    )


def _falling(readings: Sequence[CoolingReading], room_c: Decimal) -> list[CoolingReading]:
    """From the last of the hottest readings on, those well above the room, one for each minute."""
    if not readings:
        return []
    hottest = max(reading.celsius for reading in readings)
    first = max(place for place, reading in enumerate(readings) if reading.celsius == hottest)
    by_minute = {reading.minutes: reading for reading in readings[first:]}
    return [reading for reading in by_minute.values() if reading.celsius - room_c >= ABOVE_ROOM_C]


def _fit(readings: Sequence[CoolingReading], room_c: Decimal) -> _Line | None:
    count = len(readings)
    xs = [reading.minutes for reading in readings]
    ys = [WIDE.ln(reading.celsius - room_c) for reading in readings]
    mean_x = WIDE.divide(sum(xs, ZERO), Decimal(count))
    mean_y = WIDE.divide(sum(ys, ZERO), Decimal(count))
    spread_x = sum((WIDE.power(x - mean_x, 2) for x in xs), ZERO)
    if not spread_x:
        return None
    together = sum((WIDE.multiply(x - mean_x, y - mean_y) for x, y in zip(xs, ys, strict=True)), ZERO)
    slope = WIDE.divide(together, spread_x)
    start = WIDE.subtract(mean_y, WIDE.multiply(slope, mean_x))
    left = sum(
        (WIDE.power(y - start - WIDE.multiply(slope, x), 2) for x, y in zip(xs, ys, strict=True)), ZERO
    )
    error = WIDE.sqrt(WIDE.divide(left, Decimal(count - 2)))
    coolest = min(reading.celsius for reading in readings)
    least = WIDE.divide(LEAST_ERROR_C, coolest - room_c)
    return _Line(start, -slope, max(error, least), count, mean_x, spread_x)


def _crossings(line: _Line, goal: Decimal, at: Decimal, first: Decimal) -> tuple[Decimal, Decimal | None]:
    """Where the two edges of the band cross the goal, to a tenth of a minute outwards."""
    early = _search(lambda minutes: line.at(minutes) - line.half_band(minutes) <= goal, first, at)
    end = first + LONGEST_MINUTES

    def surely(minutes: Decimal) -> bool:
        return line.at(minutes) + line.half_band(minutes) <= goal

    late = at
    step = max(at - first, Decimal(1)) / 8
    while late < end and not surely(late):
        late += step
    if not surely(late):
        return early.quantize(Decimal("0.1"), rounding=ROUND_FLOOR), None
    late = _search(surely, max(late - step, at), late)
    return (
        early.quantize(Decimal("0.1"), rounding=ROUND_FLOOR),
        late.quantize(Decimal("0.1"), rounding=ROUND_CEILING),
    )


def _search(holds: Callable[[Decimal], bool], low: Decimal, high: Decimal) -> Decimal:
    """The first moment between low and high at which the condition holds, to 0.01 minutes."""
    while high - low > Decimal("0.01"):
        middle = (low + high) / 2
        if holds(middle):
            high = middle
        else:
            low = middle
    return high


def _curve(line: _Line, room_c: Decimal, start: Decimal, end: Decimal, points: int) -> tuple[CurvePoint, ...]:
    found = []
    for number in range(points + 1):
        minutes = start + (end - start) * number / points
        value, half = line.at(minutes), line.half_band(minutes)
        found.append(
            CurvePoint(
                minutes.quantize(Decimal("0.1")),
                _tenth(room_c + WIDE.exp(value)),
                _tenth(room_c + WIDE.exp(value - half)),
                _tenth(room_c + WIDE.exp(value + half)),
            )
        )
    return tuple(found)


def _sentence(target: Decimal, wait: Decimal, early: Decimal, late: Decimal | None) -> str:
    def whole(minutes: Decimal, rounding: str) -> int:
        return int(max(minutes, ZERO).quantize(Decimal(1), rounding=rounding))

    first = whole(early, ROUND_FLOOR)
    words = f"{_degrees(target)} °C in about {whole(wait, ROUND_HALF_UP)} min"
    if late is None:
        return f"{words}, not before {first} min. Too uncertain for more; read again."
    return f"{words}, between {first} and {whole(late, ROUND_CEILING)} min from the last reading."


def _degrees(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _tenth(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class CoolingDrawing:
    """The forecast on paper, in the drawing's units. path: through the readings, in ink.

    ahead: the forecast, dashed. band: its uncertainty, a closed area. target_y: the gate's level; at_x: where
    the forecast meets it, None when it does not. dots: the readings. title says the result in words.
    """

    width: int
    height: int
    title: str
    path: str
    ahead: str
    band: str
    target_y: Decimal
    at_x: Decimal | None
    dots: tuple[tuple[Decimal, Decimal], ...]
    hours: tuple[tuple[Decimal, str], ...]


def draw(
    readings: Sequence[CoolingReading],
    found: Forecast,
    *,
    width: int = 340,
    height: int = 190,
    margin: int = 24,
) -> CoolingDrawing | None:
    """Readings and forecast in one drawing; None without a reading. Minutes run right, warm is up."""
    ordered = sorted(readings, key=lambda reading: reading.minutes)
    if not ordered:
        return None
    minutes = [reading.minutes for reading in ordered] + [point.minutes for point in found.curve]
    warm = [found.target_c, *(reading.celsius for reading in ordered), *(point.high for point in found.curve)]
    cold = [found.target_c, *(reading.celsius for reading in ordered), *(point.low for point in found.curve)]
    start, span = min(minutes), max(max(minutes) - min(minutes), Decimal(1))
    low = min(cold)
    reach = max(max(warm) - low, Decimal(1))

    def x(minute: Decimal) -> Decimal:
        return _tenth(margin + (minute - start) * (width - 2 * margin) / span)

    def y(celsius: Decimal) -> Decimal:
        return _tenth(height - margin - (celsius - low) * (height - 2 * margin) / reach)

    upper = [f"{x(point.minutes)},{y(point.high)}" for point in found.curve]
    lower = [f"{x(point.minutes)},{y(point.low)}" for point in reversed(found.curve)]
    return CoolingDrawing(
        width=width,
        height=height,
        title=", ".join(_degrees(reading.celsius) for reading in ordered) + f" °C. {found.text}",
        path="M" + " ".join(f"{x(reading.minutes)},{y(reading.celsius)}" for reading in ordered),
        ahead="M" + " ".join(f"{x(point.minutes)},{y(point.celsius)}" for point in found.curve)
        if found.curve
        else "",
        band="M" + " ".join([*upper, *lower]) + "Z" if found.curve else "",
        target_y=y(found.target_c),
        at_x=x(found.at) if found.at is not None and found.curve else None,
        dots=tuple((x(reading.minutes), y(reading.celsius)) for reading in ordered),
        hours=tuple((x(start + span * part / 4), f"{int(span * part / 4)} min") for part in range(0, 5, 2)),
    )
