"""Finishing a batch, and what came of it besides packs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from batches.actions.ledger import in_words, locked, write_line
from batches.actions.making_bench import held_by_line, name_of
from batches.actions.making_dates import bound_of, net_lots
from batches.actions.making_plan import State, open_batch
from batches.actions.making_readings import write_deviation
from batches.actions.once import once, still_new
from batches.actions.selling import bulk_left
from batches.models import Batch, BatchLine, Lot, LotEntry, Output, RetainedSample
from makers.actions import By, Refused, give_code, recording
from makers.actions.journal import Draft

ZERO = Decimal(0)
RELATIONS = [field.name for field in Batch._meta.concrete_fields if field.is_relation]
"""What a batch points to: fixed when it was planned."""
MAKES_A_LOT = (Output.Kind.LOT, Output.Kind.REWORK)


@dataclass(frozen=True, slots=True)
class LinesNow:
    """The lines of a batch as they stand: grams that each holds, and the keys of those a deviation explains."""

    lines: list[BatchLine]
    held: dict[int, Decimal]
    explained: set[int]

    @property
    def without(self) -> list[BatchLine]:
        """Lines that hold nothing and have no deviation that explains it.

        A line that has a substitute, an adjust line whose range starts at 0, and one whose plan came to 0 g on
        this scale may stay empty.
        """
        replaced = {line.instead_of_id for line in self.lines if line.instead_of_id}
        return [
            line
            for line in self.lines
            if self.held.get(line.pk, ZERO) <= 0
            and (line.planned_g or line.low_g)
            and line.pk not in replaced
            and line.pk not in self.explained
        ]


def lines_now(batch: Batch) -> LinesNow:
    """How the lines of a batch stand; a constant number of queries."""
    return LinesNow(
        lines=list(batch.lines.select_related("ingredient", "rework_lot")),
        held=held_by_line(batch),
        explained=set(batch.deviations.exclude(line=None).values_list("line_id", flat=True)),
    )


def finish_batch(
    by: By, *, batch: Batch, bulk_g: Decimal, made_on: date | None = None, why: str = ""
) -> Batch:
    """The batch is made: the bulk is weighed, and the last good day follows from what went in.

    why: needed where more came out than went in; it is written as a deviation.
    """
    with recording(by, "batch.made", why=why) as entry:
        batch = open_batch(by, batch, State.MAKING)
        day = made_on or by.today()
        if day > by.today():
            raise Refused({"made_on": f"{day:%Y-%m-%d} is still to come."})
        if not bulk_g.is_finite() or bulk_g <= 0:
            raise Refused({"bulk_g": "Weigh what you obtained: more than 0 g."})
        went_in = sum(net_lots(batch).values(), ZERO)
        if went_in <= 0:
            raise Refused("Nothing was weighed in yet.")
        unweighed = [name_of(line) for line in lines_now(batch).without]
        if unweighed:
            raise Refused(f"Not weighed yet: {', '.join(unweighed)}. Weigh them, or write why they stay out.")
        if bulk_g > went_in:
            fact = f"{in_words(by, bulk_g, 'g')} came out, {in_words(by, went_in, 'g')} went in."
            if not why.strip():
                cure = "Look at the tare and at what was written down, or say why it is so."
                raise Refused({"bulk_g": f"{fact} {cure}", "why": "Say why more came out than went in."})
            write_deviation(by, batch, f"{fact} {why.strip()}", None, by.now())
        batch.bulk_g, batch.made_on, batch.made_at, batch.state = bulk_g, day, by.now(), State.MADE
        bound = bound_of(batch)
        batch.best_before, batch.best_before_why = bound.day, bound.why
        batch.full_clean(exclude=RELATIONS)
        batch.save(update_fields=["bulk_g", "made_on", "made_at", "state", "best_before", "best_before_why"])
        entry.about(batch)
        entry.say(bulk=bulk_g, went_in=went_in, best_before=bound.day, because=bound.why)
    return batch


def yield_output(
    by: By,
    *,
    batch: Batch,
    kind: str,
    grams: Decimal,
    good_until: date | None = None,
    code: str = "",
    note: str = "",
    where: str = "",
    keep_until: date | None = None,
    entry_key: UUID | None = None,
) -> Output:
    """Write down what came of a batch besides packs: an ingredient lot, rework, samples, waste, filling loss.

    A lot or rework becomes a lot on stock, in quarantine until somebody decides. Waste is process waste,
    beside the bulk; everything else comes out of the bulk and can't be more than is left of it. where,
    keep_until: of a sample that is kept to look at later.
    """
    check_output(kind, grams, keep_until)

    def act() -> Output:
        with recording(by, "batch.yielded") as entry:
            still_new(Output, by, entry_key)
            states = (State.MADE, State.MAKING) if kind == Output.Kind.WASTE else (State.MADE,)
            current = open_batch(by, batch, *states)
            check_left(by, current, kind, grams)
            lot = None
            if kind in MAKES_A_LOT:
                lot = made_lot(by, entry, current, grams, good_until, code, **of_what(current, kind))
            output = Output(
                maker=by.maker,
                batch=current,
                kind=kind,
                grams=grams,
                lot=lot,
                note=note.strip(),
                occurred_at=by.now(),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            output.full_clean()
            output.save()
            if kind == Output.Kind.SAMPLE and (where.strip() or keep_until):
                keep_sample(by, current, grams, where, keep_until)
            entry.about(current)
            entry.mention(lot, current.makes)
            entry.say(kind=output.get_kind_display().lower(), grams=grams, lot=named(kind, lot))
        return output

    return once(Output, by, entry_key, act)


def named(kind: str, lot: Lot | None) -> str:
    """The lot as it stands after the word for its kind: "ingredient lot 26-L017", "set aside as rework lot 26-L018"."""
    if lot is None:
        return ""
    return lot.code if kind == Output.Kind.LOT else f"lot {lot.code}"


def check_output(kind: str, grams: Decimal, keep_until: date | None) -> None:
    """Refuse what can't be an output."""
    if kind not in Output.Kind.values:
        raise Refused({"kind": "Say what it became: lot, rework, sample, waste or filling loss."})
    if kind == Output.Kind.PACKS:
        raise ValueError("packs are filled by pack_batch")
    if not grams.is_finite() or grams <= 0:
        raise Refused({"grams": "Write more than 0 g."})
    if keep_until is not None and kind != Output.Kind.SAMPLE:
        raise Refused({"keep_until": "Only samples are kept."})


def check_left(by: By, batch: Batch, kind: str, grams: Decimal) -> None:
    """Refuse more than is left of the bulk; process waste stands beside it."""
    left = bulk_left(batch)
    if kind != Output.Kind.WASTE and left is not None and grams > left:
        here, written = in_words(by, left, "g"), in_words(by, grams, "g")
        raise Refused({"grams": f"{here} of the bulk are left, {written} were written."})


def of_what(batch: Batch, kind: str) -> dict[str, Any]:
    """What a lot of this kind is of. Raises Refused where the batch makes no ingredient."""
    if kind == Output.Kind.REWORK:
        return {"rework_of": batch.formula}
    if batch.makes is None:
        raise Refused({"kind": f"{batch} makes no ingredient, so it gives no ingredient lot."})
    return {"ingredient": batch.makes}


def keep_sample(by: By, batch: Batch, grams: Decimal, where: str, keep_until: date | None) -> RetainedSample:
    """A sample of the bulk that is kept; call inside a recording."""
    sample = RetainedSample(
        maker=by.maker,
        batch=batch,
        grams=grams,
        where=where.strip(),
        keep_until=keep_until,
        kept_at=by.now(),
        user=by.user,
    )
    sample.full_clean()
    sample.save()
    return sample


def made_lot(
    by: By, entry: Draft, batch: Batch, grams: Decimal, good_until: date | None, code: str, **of: Any
) -> Lot:
    """A lot that a batch made, in quarantine, good no longer than the batch; call inside a recording."""
    bound = batch.best_before
    if good_until is not None and bound is not None and good_until > bound:
        raise Refused(
            {"good_until": f"The batch is good until {bound:%Y-%m-%d} at most. {batch.best_before_why}"}
        )
    lot = Lot(
        maker=by.maker,
        unit=Lot.Unit.GRAMS,
        origin=Lot.Origin.BATCH,
        from_batch=batch,
        entered_amount=format(grams, "f"),
        entered_unit="g",
        received_on=batch.made_on or by.today(),
        good_until=good_until or bound,
        **of,
    )
    lot.code = give_code(by, "lot", lot, wanted=code)
    lot.full_clean()
    lot.save()
    write_line(by, entry, lot=lot, kind=LotEntry.Kind.MADE, amount=grams, batch=batch)
    return lot


def correct_output(by: By, *, output: Output, why: str) -> Output:
    """Take a mistaken output back by a reversing row; of a lot, only what is still here can go back."""
    if not why.strip():
        raise Refused({"why": "Say what was wrong."})
    with recording(by, "batch.yield_corrected", why=why) as entry:
        batch = open_batch(by, output.batch, State.MADE, State.MAKING)
        output = Output.objects.select_related("lot").get(pk=output.pk, maker=by.maker)
        if output.reverses_id is not None:
            raise Refused("That entry takes another back.")
        if Output.objects.filter(reverses=output).exists():
            raise Refused("That was taken back already.")
        if output.kind == Output.Kind.PACKS:
            raise Refused("Packs are corrected by a count or by destroying units.")
        if output.lot is not None:
            take_lot_back(by, entry, batch, output.lot, output.grams, why)
        back = Output(
            maker=by.maker,
            batch=batch,
            kind=output.kind,
            grams=-output.grams,
            lot=output.lot,
            reverses=output,
            note=why.strip(),
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        back.full_clean()
        back.save()
        entry.about(batch)
        entry.mention(output.lot)
        entry.say(kind=output.get_kind_display().lower(), grams=output.grams)
    return back


def take_lot_back(by: By, entry: Draft, batch: Batch, lot: Lot, grams: Decimal, why: str) -> None:
    """Take what an output put on stock off it again; call inside a recording."""
    lot = locked(by, lot)
    if lot.on_hand < grams:
        gone = in_words(by, grams - lot.on_hand, "g")
        raise Refused(f"{gone} of lot {lot} were used since. Take that back first, or count the lot.")
    wrong = LotEntry.objects.filter(lot=lot, kind=LotEntry.Kind.MADE, reversed_by__isnull=True).first()
    write_line(
        by, entry, lot=lot, kind=LotEntry.Kind.REVERSED, amount=-grams, batch=batch, reverses=wrong, why=why
    )
