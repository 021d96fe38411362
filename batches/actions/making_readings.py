"""What is seen beside the scale: readings, fills, checks, and what went otherwise."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from uuid import UUID

from batches.actions.ledger import locked, owned, seal_over
from batches.actions.making_plan import State, open_batch, record_check
from batches.actions.once import once, still_new
from batches.models import Batch, BatchLine, BatchStep, Check, Deviation, DeviationJudgement, Fill, Reading
from formulas.models import Product
from formulas.rules.number import figure
from makers.actions import By, Refused, happened, recording
from makers.models.fields import scaled

BOUNDS = {"temperature": (-40, 300), "room": (-40, 60), "pH": (0, 14)}
"""What a reading can be at all: beyond it a digit slipped."""
UNITS = {"temperature": "°C", "room": "°C", "viscosity": "mPa·s"}
TELL = {
    "pH": "At what temperature and dilution, and with what meter or strip? The figure alone says little.",
    "viscosity": "With what spindle, at what speed and temperature? The figure alone says little.",
    "other": "What was measured, and how? The figure alone says little.",
}
"""Readings that are useless without their conditions, and what is asked."""


def write_deviation(by: By, batch: Batch, text: str, line: BatchLine | None, moment: datetime) -> Deviation:
    """Write a deviation down; call inside a recording."""
    record = Deviation(
        maker=by.maker,
        batch=batch,
        line=line,
        text=text,
        occurred_at=moment,
        entered_at=by.now(),
        user=by.user,
    )
    record.full_clean()
    record.save()
    return record


def deviate(
    by: By,
    *,
    batch: Batch,
    text: str,
    line: BatchLine | None = None,
    occurred_at: datetime | None = None,
) -> Deviation:
    """Write down that something went otherwise. line: what it is about, or what stays out for it."""
    if not text.strip():
        raise Refused({"text": "Write what went otherwise."})
    with recording(by, "batch.deviated") as entry:
        current = open_batch(by, batch, State.MAKING, State.MADE)
        if line is not None and (line.maker_id, line.batch_id) != (by.maker.pk, current.pk):
            raise Refused({"line": f"That line is not one of {current}."})
        record = write_deviation(by, current, text.strip(), line, happened(by, occurred_at))
        entry.about(current)
        entry.say(text=record.text)
    return record


def judge_deviation(by: By, *, deviation: Deviation, accepted: bool, text: str) -> DeviationJudgement:
    """Say what a deviation means for the batch."""
    if not text.strip():
        raise Refused({"text": "Say what it means for the batch."})
    with recording(by, "deviation.judged") as entry:
        deviation = locked(by, deviation)
        batch = open_batch(by, deviation.batch, State.MAKING, State.MADE)
        if DeviationJudgement.objects.filter(deviation=deviation).exists():
            raise Refused("That deviation is judged already.")
        judgement = DeviationJudgement(
            maker=by.maker,
            deviation=deviation,
            accepted=accepted,
            text=text.strip(),
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        judgement.full_clean()
        judgement.save()
        entry.about(batch)
        entry.say(verdict="accepted" if accepted else "not accepted", text=judgement.text)
    return judgement


def check_reading(kind: str, value: Decimal, conditions: str) -> None:
    """Refuse a figure that can't be, and one that says nothing without its conditions."""
    if kind in BOUNDS and not BOUNDS[kind][0] <= value <= BOUNDS[kind][1]:
        low, high = BOUNDS[kind]
        raise Refused({"value": f"{figure(value)} can't be: it lies between {low} and {high}."})
    if kind in TELL and not conditions.strip():
        raise Refused({"conditions": TELL[kind]})


def read(
    by: By,
    *,
    batch: Batch,
    kind: str,
    value: Decimal,
    unit: str = "",
    conditions: str = "",
    step: BatchStep | None = None,
    entry_key: UUID | None = None,
    occurred_at: datetime | None = None,
) -> Reading:
    """Write down a measured value with its conditions, which are asked where the figure alone says little."""
    check_reading(kind, value, conditions)

    def act() -> Reading:
        with recording(by, "batch.read") as entry:
            still_new(Reading, by, entry_key)
            current = open_batch(by, batch, State.MAKING, State.MADE)
            if step is not None and (step.maker_id, step.batch_id) != (by.maker.pk, current.pk):
                raise Refused({"step": f"That step is not one of {current}."})
            reading = Reading(
                maker=by.maker,
                batch=current,
                step=step,
                kind=kind,
                value=value,
                unit=unit or UNITS.get(kind, ""),
                conditions=conditions.strip(),
                occurred_at=happened(by, occurred_at),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            reading.full_clean()
            reading.save()
            entry.about(current)
            entry.say(
                kind=reading.get_kind_display().lower(),
                value=value,
                unit=reading.unit,
                seal=seal_of(reading, scaled(value, 6), reading.kind, reading.unit, reading.conditions),
            )
        return reading

    return once(Reading, by, entry_key, act)


def seal_of(record: Reading | Fill, *facts: object) -> str:
    """The digest of what a reading or a fill says, as the journal keeps it."""
    return seal_over(
        str(record.uuid),
        str(record.batch.uuid),
        record.occurred_at.astimezone(UTC).isoformat(),
        *facts,
    )


def fill(
    by: By,
    *,
    batch: Batch,
    product: Product,
    net_g: Decimal,
    entry_key: UUID | None = None,
    occurred_at: datetime | None = None,
) -> Fill:
    """Write down the net weight of one filled container."""
    if not net_g.is_finite() or net_g <= 0:
        raise Refused({"net_g": "A fill is above 0 g."})

    def act() -> Fill:
        with recording(by, "batch.filled") as entry:
            still_new(Fill, by, entry_key)
            current = open_batch(by, batch, State.MAKING, State.MADE)
            if owned(by, product).formula_id != current.formula_id:
                raise Refused({"product": f"{product} is made to another formula."})
            record = Fill(
                maker=by.maker,
                batch=current,
                product=product,
                net_g=net_g,
                occurred_at=happened(by, occurred_at),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            record.full_clean()
            record.save()
            entry.about(current)
            entry.say(net=net_g, product=str(product), seal=seal_of(record, scaled(net_g, 4), product.code))
        return record

    return once(Fill, by, entry_key, act)


def check(
    by: By,
    *,
    batch: Batch,
    question: str,
    passed: bool = True,
    note: str = "",
    kind: str = Check.Kind.OTHER,
    step: BatchStep | None = None,
    occurred_at: datetime | None = None,
) -> Check:
    """Write down something looked at, or a step done. One that is not so needs a note."""
    if not passed and not note.strip():
        raise Refused({"note": "Say what was seen instead."})
    with recording(by, "batch.checked") as entry:
        current = open_batch(by, batch, State.MAKING, State.MADE)
        if step is not None and (step.maker_id, step.batch_id) != (by.maker.pk, current.pk):
            raise Refused({"step": f"That step is not one of {current}."})
        record = record_check(by, current, kind, question, passed, note.strip(), occurred_at, step)
        entry.about(current)
        entry.say(question=question, answer="yes" if passed else "no", note=note)
    return record
