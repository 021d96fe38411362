"""At the bench: which lots a line may take, weighing, taking back."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import Q, QuerySet, Sum

from batches.actions.ledger import in_words, locked, owned, seal_over, write_line
from batches.actions.making_dates import rebound
from batches.actions.making_plan import State, open_batch, refuse_loop, refuse_trial
from batches.actions.making_readings import write_deviation
from batches.actions.once import once, part_key, still_new
from batches.models import (
    Batch,
    BatchLine,
    Hold,
    Lot,
    LotEntry,
    Weighing,
)
from batches.rules.lot_state import reasons_against
from batches.rules.weighing import Judged, judge, judge_range
from batches.trial_lots import without_trials
from makers.actions import By, Refused, happened, recording
from makers.actions.journal import Draft
from makers.models import Maker, Scale
from makers.models.fields import scaled

ZERO = Decimal(0)
SAY_WHY = "Say why, or correct the weighing."


def lots_for_lines(maker: Maker, lines: Iterable[BatchLine], day: date) -> dict[int, list[Lot]]:
    """The lots that each line may take on a day, in order of use, by the line's key; one query."""
    lines = list(lines)
    lots = list(usable_lots(maker, lines, day))
    return {
        line.pk: [
            lot
            for lot in lots
            if (
                lot.pk == line.rework_lot_id
                if line.rework_lot_id
                else lot.ingredient_id == line.ingredient_id
            )
        ]
        for line in lines
    }


def lots_for(maker: Maker, line: BatchLine, day: date) -> list[Lot]:
    """The lots that this line may take, in order of use: first expiry, then oldest receipt."""
    return list(usable_lots(maker, [line], day))


def usable_lots(maker: Maker, lines: Collection[BatchLine], day: date) -> QuerySet[Lot]:
    """The lots that some of these lines may take on a day, in order of use; none of a trial but for a trial."""
    bought = {line.ingredient_id for line in lines if line.ingredient_id}
    rework = {line.rework_lot_id for line in lines if line.rework_lot_id}
    wanted = Q(ingredient__in=bought)
    if rework:
        wanted |= Q(pk__in=rework)
    usable = Lot.objects.for_maker(maker).usable(day).filter(wanted).first_expiry_first()
    return without_trials(usable, maker, (line.batch_id for line in lines))


def held_by(line: BatchLine) -> Decimal:
    """Grams that a line holds now, corrections taken off."""
    return sum(line.weighings.order_by().values_list("grams", flat=True), ZERO)


def held_by_line(batch: Batch) -> dict[int, Decimal]:
    """Grams that each line of a batch holds now, by the line's key; one query."""
    rows = batch.weighings.values_list("line_id").annotate(sum=Sum("grams")).order_by("line_id")
    return dict(rows)


def judged_line(line: BatchLine, held: Decimal) -> Judged:
    """What a line holds against its plan."""
    if line.planned_g is None:
        return judge_range(line.low_g or ZERO, line.high_g or ZERO, held)
    return judge(line.planned_g, line.tolerance_g, held)


def name_of(line: BatchLine) -> str:
    """What a line takes, in words."""
    return str(line.ingredient) if line.ingredient is not None else f"Rework {line.rework_lot}"


def causes_of(by: By, lot: Lot) -> list[str]:
    """The causes of a lot's open holds, oldest first."""
    holds = Hold.objects.for_maker(by.maker).filter(lot=lot).open().order_by("pk")
    return list(holds.values_list("cause", flat=True))


def check_lot(by: By, batch: Batch, line: BatchLine, lot: Lot, moment: datetime) -> None:
    """Refuse a lot that this line can't take, with every reason."""
    if line.kind == BatchLine.Kind.REWORK:
        if lot.pk != line.rework_lot_id:
            raise Refused({"lot": f"This line takes the rework {line.rework_lot}, not {lot}."})
    elif lot.ingredient_id != line.ingredient_id:
        what = lot.ingredient or lot.article or f"rework of {lot.rework_of}"
        cure = (
            "Take in rework as a line of its own."
            if lot.rework_of_id
            else "For another ingredient, add a substitute."
        )
        raise Refused({"lot": f"{lot} is {what}; this line takes {line.ingredient}. {cure}"})
    against = reasons_against(
        lot.facts(causes_of(by, lot) if lot.held else ()), moment.astimezone(by.maker.zone).date()
    )
    if against:
        raise Refused({"lot": f"{lot} can't be used. " + " ".join(reason.text for reason in against)})
    refuse_trial(batch, lot)
    refuse_loop(batch, lot)


def check_grams(by: By, lot: Lot, grams: Decimal) -> None:
    """Refuse grams that can't be taken from a lot."""
    if not grams.is_finite() or grams <= 0:
        raise Refused({"grams": "A weighing is above 0 g."})
    if grams > lot.on_hand:
        left, written = in_words(by, lot.on_hand, "g"), in_words(by, grams, "g")
        raise Refused(
            {
                "grams": f"{left} of {lot} are left, {written} were written. Take a second lot for the rest, "
                "or count this one."
            }
        )


def check_first(by: By, line: BatchLine, lot: Lot, day: date, reason: str) -> None:
    """Refuse another lot than the first to expire, unless a reason is given."""
    goes_first = usable_lots(by.maker, [line], day)
    if reason or goes_first.values_list("pk", flat=True).first() in (None, lot.pk):
        return
    first = goes_first[0]
    date_words = f", good until {first.good_until:%Y-%m-%d}" if first.good_until else ""
    raise Refused({"why": f"{first} goes first{date_words}. Take it, or say why {lot} is taken."})


def check_tolerance(line: BatchLine, grams: Decimal, reason: str, more_follows: bool) -> str:
    """By how much these grams bring the line outside its plan, as a sentence; "" when it is within.

    Refuses it without a reason. more_follows: being short is nothing yet.
    """
    judged = judged_line(line, held_by(line) + grams)
    if judged.verdict == "within" or (judged.verdict == "under" and more_follows):
        return ""
    if not reason:
        raise Refused({"grams": judged.text, "why": SAY_WHY})
    return judged.fact


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

    why: needed where the lot is not the first to expire, or where the line ends outside its tolerance; that
    is a deviation too. more_follows: the rest comes from another lot; being short is no deviation yet.
    In a batch that is made already it is a correction, and the last good day is reckoned anew.
    """

    def act() -> Weighing:
        with recording(by, "weighed", why=why) as entry:
            still_new(Weighing, by, entry_key)
            current = open_batch(by, batch, State.MAKING, State.MADE)
            if current.held:
                raise Refused(f"{current} is on hold. Judge the hold first.")
            row = line_of(by, current, line)
            taken = locked(by, lot, "composition")
            moment = happened(by, occurred_at)
            reason = why.strip()
            check_lot(by, current, row, taken, moment)
            check_grams(by, taken, grams)
            check_first(by, row, taken, moment.astimezone(by.maker.zone).date(), reason)
            deviates = check_tolerance(row, grams, reason, more_follows)
            weighing = Weighing(
                maker=by.maker,
                batch=current,
                line=row,
                lot=taken,
                grams=grams,
                scale=owned(by, scale) if scale else current.scale,
                why=reason,
                occurred_at=moment,
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            weighing.full_clean()
            weighing.save()
            take_from_stock(by, entry, weighing, taken)
            if deviates:
                write_deviation(by, current, f"{name_of(row)}: {deviates} {reason}", row, moment)
            freeze_composition(by, taken)
            rebound(current)
            entry.about(current)
            entry.mention(taken, row.ingredient)
            entry.say(grams=grams, lot=taken.code, what=name_of(row), seal=seal_weighing(weighing))
        return weighing

    return once(Weighing, by, entry_key, act)


def take_from_stock(by: By, entry: Draft, weighing: Weighing, lot: Lot) -> LotEntry:
    """The stock ledger's line of a weighing; call inside a recording with the lot locked."""
    return write_line(
        by,
        entry,
        lot=lot,
        kind=LotEntry.Kind.WEIGHED,
        amount=-weighing.grams,
        batch=weighing.batch,
        occurred_at=weighing.occurred_at,
        why=weighing.why,
        entry_key=ledger_key(weighing),
    )


def line_of(by: By, batch: Batch, line: BatchLine) -> BatchLine:
    """The batch's own line, with what it takes. Refuses another batch's, and one that was replaced."""
    rows = BatchLine.objects.for_maker(by.maker).filter(batch=batch)
    asked = rows.filter(Q(pk=line.pk) | Q(instead_of=line.pk)).select_related("ingredient")
    found = {one.instead_of_id == line.pk: one for one in asked.order_by()}
    row: BatchLine | None = found.get(False)
    if row is None:
        raise Refused({"line": f"That line is not one of {batch}. Open the bench again."})
    instead = found.get(True)
    if instead is not None:
        raise Refused({"line": f"{instead.ingredient} goes in instead of {row.ingredient}. Take its line."})
    return row


def ledger_key(weighing: Weighing) -> UUID | None:
    """The key of the stock ledger's line that a weighing wrote: found again when it is taken back."""
    return part_key(weighing.uuid, "stock")


def ledger_line(weighing: Weighing) -> LotEntry | None:
    """The line of the stock ledger that a weighing wrote; by its figures where the key is another book's."""
    lines = LotEntry.objects.filter(maker=weighing.maker_id, kind=LotEntry.Kind.WEIGHED)
    alike = {"lot": weighing.lot_id, "batch": weighing.batch_id, "amount": -weighing.grams}
    return (
        lines.filter(entry_key=ledger_key(weighing)).first()
        or lines.filter(reversed_by__isnull=True, **alike).order_by("pk").first()
    )


def freeze_composition(by: By, lot: Lot) -> None:
    """A composition that a weighed lot binds never changes again."""
    composition = lot.composition
    if composition is not None and composition.frozen_at is None:
        composition.frozen_at = by.now()
        composition.save(update_fields=["frozen_at"])


def seal_weighing(weighing: Weighing) -> str:
    """The digest of what a weighing says, as the journal keeps it."""
    return seal_over(
        str(weighing.uuid),
        str(weighing.batch.uuid),
        str(weighing.line.uuid),
        str(weighing.lot.uuid),
        scaled(weighing.grams, 4),
        weighing.occurred_at.astimezone(UTC).isoformat(),
        weighing.why,
    )


def take_back(by: By, *, weighing: Weighing, why: str, entry_key: UUID | None = None) -> Weighing:
    """Take a mistaken weighing back: a further weighing reverses it, and the grams return to the lot."""
    if not why.strip():
        raise Refused({"why": "Say what was wrong: typed 12.1, meant 120.1."})

    def act() -> Weighing:
        with recording(by, "weighing.taken_back", why=why) as entry:
            still_new(Weighing, by, entry_key)
            current = open_batch(by, weighing.batch, State.MAKING, State.MADE)
            wrong = Weighing.objects.select_related("line", "lot", "scale").get(
                pk=weighing.pk, maker=by.maker
            )
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
            write_line(
                by,
                entry,
                lot=lot,
                kind=LotEntry.Kind.REVERSED,
                amount=wrong.grams,
                batch=current,
                reverses=ledger_line(wrong),
                why=why,
                entry_key=ledger_key(back),
            )
            rebound(current)
            entry.about(current)
            entry.mention(lot)
            entry.say(grams=wrong.grams, lot=lot.code, seal=seal_weighing(back))
        return back

    return once(Weighing, by, entry_key, act)
