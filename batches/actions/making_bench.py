"""At the bench: weighing, taking back, reading, filling, looking, deviating."""

from __future__ import annotations

import hashlib
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Sum

from batches.actions.ledger import in_words, locked, owned, write_line
from batches.actions.making_plan import State, open_batch, record_check
from batches.actions.once import once, still_new
from batches.models import (
    Batch,
    BatchLine,
    BatchStep,
    Check,
    Deviation,
    DeviationJudgement,
    Fill,
    Lot,
    LotEntry,
    Reading,
    Weighing,
)
from batches.rules.lot_state import LotFacts, reasons_against
from batches.rules.weighing import Judged, judge, judge_range
from formulas.models import Product
from makers.actions import By, Refused, happened, recording
from makers.models import Scale


def facts_of(lot: Lot, causes: tuple[str, ...] = ()) -> LotFacts:
    """A lot as the rules take it."""
    return LotFacts(
        status=lot.status,
        on_hand=lot.on_hand,
        good_until=lot.good_until,
        date_kind=lot.date_kind,
        causes=causes,
        held=lot.held,
    )


def lots_for(by_or_maker: Any, line: BatchLine, day: Any) -> list[Lot]:
    """The lots that this line may take, in order of use: first expiry, then oldest receipt."""
    maker = getattr(by_or_maker, "maker", by_or_maker)
    lots = Lot.objects.for_maker(maker).usable(day)
    if line.kind == BatchLine.Kind.REWORK:
        return list(lots.filter(pk=line.rework_lot_id))
    return list(lots.filter(ingredient=line.ingredient_id).first_expiry_first())


def held_by(line: BatchLine) -> Decimal:
    """Grams that a line holds now, corrections taken off."""
    return line.weighings.aggregate(sum=Sum("grams"))["sum"] or Decimal(0)


def judged_line(line: BatchLine, held: Decimal) -> Judged:
    """What a line holds against its plan."""
    if line.kind == BatchLine.Kind.ADJUST:
        return judge_range(line.low_g or Decimal(0), line.high_g or Decimal(0), held)
    return judge(line.planned_g or Decimal(0), line.tolerance_g, held)


def check_lot(by: By, batch: Batch, line: BatchLine, lot: Lot, moment: datetime) -> None:
    """Refuse a lot that this line can't take, with every reason."""
    if line.kind == BatchLine.Kind.REWORK:
        if lot.pk != line.rework_lot_id:
            raise Refused({"lot": f"This line takes the rework {line.rework_lot}, not {lot}."})
    elif lot.ingredient_id != line.ingredient_id:
        of = lot.ingredient or lot.article or lot.rework_of
        raise Refused(
            {"lot": f"{lot} is {of}; this line takes {line.ingredient}. For another ingredient, add a substitute."}
        )
    causes = tuple(lot.holds.filter(closed_at=None).order_by("pk").values_list("cause", flat=True)) if lot.held else ()
    day = moment.astimezone(by.maker.zone).date()
    against = reasons_against(facts_of(lot, causes), day)
    if against:
        raise Refused({"lot": f"{lot} can't be used. " + " ".join(reason.text for reason in against)})
    if lot.from_batch_id is not None:
        from batches.tracing import batches_behind

        if batch.pk in batches_behind([lot.from_batch] if lot.from_batch else []):
            raise Refused({"lot": f"{lot} was made from {batch} itself; a batch can't take in what it made."})


def weigh(
    by: By,
    *,
    batch: Batch,
    line: BatchLine,
    lot: Lot,
    grams: Decimal,
    scale: Scale | None = None,
    why: str = "",
    more_follows: bool = False,
    entry_key: UUID | None = None,
    occurred_at: datetime | None = None,
) -> Weighing:
    """Write down grams of a lot into a line, and take them from stock.

    why: needed where the lot is not the first to expire, or where the line ends outside its tolerance; that is
    written as a deviation too. more_follows: the rest comes from another lot, so being short is no deviation yet.
    """

    def act() -> Weighing:
        with recording(by, "weighed", why=why) as entry:
            still_new(Weighing, by, entry_key)
            current = open_batch(by, batch, State.MAKING)
            row = BatchLine.objects.select_related("ingredient", "rework_lot").get(pk=line.pk, batch=current)
            taken = locked(by, lot)
            moment = happened(by, occurred_at)
            if grams <= 0:
                raise Refused({"grams": "A weighing is above 0 g."})
            check_lot(by, current, row, taken, moment)
            if grams > taken.on_hand:
                raise Refused(
                    {
                        "grams": f"{in_words(by, taken.on_hand, 'g')} of {taken} are left, {in_words(by, grams, 'g')} "
                        "were written. Take a second lot for the rest, or count this one."
                    }
                )
            day = moment.astimezone(by.maker.zone).date()
            first = next(iter(lots_for(by, row, day)), None)
            reason = why.strip()
            if first is not None and first.pk != taken.pk and not reason:
                date = f", {first.good_until:%Y-%m-%d}" if first.good_until else ""
                raise Refused({"why": f"{first} goes first{date}. Take it, or say why {taken} is taken."})
            held = held_by(row) + grams
            judged = judged_line(row, held)
            off = judged.verdict == "over" or (judged.verdict == "under" and not more_follows)
            if off and not reason:
                raise Refused({"grams": judged.text, "why": "Say why, or correct the weighing."})
            weighing = Weighing(
                maker=by.maker,
                batch=current,
                line=row,
                lot=taken,
                grams=grams,
                scale=scale or current.scale,
                why=reason,
                occurred_at=moment,
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            weighing.full_clean()
            weighing.save()
            write_line(
                by,
                entry,
                lot=taken,
                kind=LotEntry.Kind.WEIGHED,
                amount=-grams,
                batch=current,
                occurred_at=moment,
                why=reason,
            )
            if off:
                deviation(by, current, f"{row.ingredient or row.rework_lot}: {judged.text} Reason: {reason}", row, moment)
            if row.kind == BatchLine.Kind.FORMULA and taken.composition is not None:
                freeze_composition(by, taken)
            entry.about(current)
            entry.mention(taken, row.ingredient)
            entry.say(
                grams=grams, lot=taken.code, what=str(row.ingredient or row.rework_lot), seal=seal_weighing(weighing)
            )
        return weighing

    return once(Weighing, by, entry_key, act)


def freeze_composition(by: By, lot: Lot) -> None:
    """A composition that a weighed lot binds never changes again."""
    composition = lot.composition
    if composition is not None and composition.frozen_at is None:
        composition.frozen_at = by.now()
        composition.save(update_fields=["frozen_at"])


def seal_weighing(weighing: Weighing) -> str:
    """The digest of a weighing as the journal keeps it."""
    parts = [
        str(weighing.uuid),
        str(weighing.batch.uuid),
        str(weighing.line.uuid),
        str(weighing.lot.uuid),
        format(weighing.grams, "f"),
        weighing.why,
    ]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def take_back(by: By, *, weighing: Weighing, why: str, entry_key: UUID | None = None) -> Weighing:
    """Take a mistaken weighing back: a further weighing reverses it, and the grams return to the lot."""
    if not why.strip():
        raise Refused({"why": "Say what was wrong: typed 12.1, meant 120.1."})

    def act() -> Weighing:
        with recording(by, "weighing.taken_back", why=why) as entry:
            still_new(Weighing, by, entry_key)
            current = open_batch(by, weighing.batch, State.MAKING, State.MADE)
            wrong = Weighing.objects.select_related("line", "lot").get(pk=weighing.pk, maker=by.maker)
            if wrong.reverses_id is not None:
                raise Refused("That entry takes another back; weigh again instead.")
            if Weighing.objects.filter(reverses=wrong).exists():
                raise Refused("That weighing was taken back already.")
            lot = locked(by, wrong.lot)
            back = Weighing(
                maker=by.maker,
                batch=current,
                line=wrong.line,
                lot=lot,
                grams=-wrong.grams,
                scale=wrong.scale,
                reverses=wrong,
                why=why,
                occurred_at=by.now(),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            back.full_clean()
            back.save()
            write_line(by, entry, lot=lot, kind=LotEntry.Kind.REVERSED, amount=wrong.grams, batch=current, why=why)
            entry.about(current)
            entry.mention(lot)
            entry.say(grams=wrong.grams, lot=lot.code, seal=seal_weighing(back))
        return back

    return once(Weighing, by, entry_key, act)


def deviation(by: By, batch: Batch, text: str, line: BatchLine | None, moment: datetime) -> Deviation:
    """Write a deviation down; call inside a recording."""
    record = Deviation(
        maker=by.maker, batch=batch, line=line, text=text, occurred_at=moment, entered_at=by.now(), user=by.user
    )
    record.full_clean()
    record.save()
    return record


def deviate(by: By, *, batch: Batch, text: str, line: BatchLine | None = None) -> Deviation:
    """Write down that something went otherwise than written."""
    if not text.strip():
        raise Refused({"text": "Write what went otherwise."})
    with recording(by, "batch.deviated") as entry:
        current = open_batch(by, batch, State.MAKING, State.MADE)
        record = deviation(by, current, text, line, by.now())
        entry.about(current)
        entry.say(text=text)
    return record


def judge_deviation(by: By, *, deviation: Deviation, accepted: bool, text: str) -> DeviationJudgement:
    """Say what a deviation means for the batch."""
    if not text.strip():
        raise Refused({"text": "Say what it means for the batch."})
    with recording(by, "deviation.judged") as entry:
        batch = open_batch(by, deviation.batch, State.MAKING, State.MADE)
        if DeviationJudgement.objects.filter(deviation=deviation).exists():
            raise Refused("That deviation is judged already.")
        judgement = DeviationJudgement(
            maker=by.maker,
            deviation=owned(by, deviation),
            accepted=accepted,
            text=text,
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        judgement.full_clean()
        judgement.save()
        entry.about(batch)
        entry.say(verdict="accepted" if accepted else "not accepted", text=text)
    return judgement


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
    """Write down a measured value with its conditions; a pH without its temperature says little, so it is asked."""
    bounds = {"temperature": (-40, 300), "room": (-40, 60), "pH": (0, 14)}
    if kind in bounds and not bounds[kind][0] <= value <= bounds[kind][1]:
        low, high = bounds[kind]
        raise Refused({"value": f"{value.normalize():f} can't be: it lies between {low} and {high}."})
    if kind in ("pH", "viscosity") and not conditions.strip():
        raise Refused({"conditions": "At what temperature and dilution, and by what? The figure alone says little."})

    def act() -> Reading:
        with recording(by, "batch.read") as entry:
            still_new(Reading, by, entry_key)
            current = open_batch(by, batch, State.MAKING, State.MADE)
            reading = Reading(
                maker=by.maker,
                batch=current,
                step=step,
                kind=kind,
                value=value,
                unit=unit or {"temperature": "°C", "room": "°C"}.get(kind, ""),
                conditions=conditions,
                occurred_at=happened(by, occurred_at),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            reading.full_clean()
            reading.save()
            entry.about(current)
            entry.say(kind=reading.get_kind_display().lower(), value=value, unit=reading.unit, record=str(reading.uuid))
        return reading

    return once(Reading, by, entry_key, act)


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
    if net_g <= 0:
        raise Refused({"net_g": "A fill is above 0 g."})

    def act() -> Fill:
        with recording(by, "batch.filled") as entry:
            still_new(Fill, by, entry_key)
            current = open_batch(by, batch, State.MAKING, State.MADE)
            if product.formula_id != current.formula_id:
                raise Refused({"product": f"{product} is made to another formula."})
            record = Fill(
                maker=by.maker,
                batch=current,
                product=owned(by, product),
                net_g=net_g,
                occurred_at=happened(by, occurred_at),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            record.full_clean()
            record.save()
            entry.about(current)
            entry.say(net=net_g, product=str(product), record=str(record.uuid))
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
    """Write down something looked at, or a step done."""
    with recording(by, "batch.checked") as entry:
        current = open_batch(by, batch, State.MAKING, State.MADE)
        record = record_check(by, current, kind, question, passed, note, occurred_at, step)
        entry.about(current)
        entry.say(question=question, answer="yes" if passed else "no", note=note)
    return record
