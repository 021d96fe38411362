"""Finishing, yielding, releasing and amending a batch."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Max

from batches.actions.ledger import write_line
from batches.actions.making_bench import held_by, judged_line
from batches.actions.making_plan import State, open_batch
from batches.actions.once import once, still_new
from batches.actions.selling import bulk_left
from batches.models import Amendment, Batch, BatchLine, BatchNote, Lot, LotEntry, Output, Release, Weighing
from batches.rules.expiry import Limit, best_before
from makers.actions import OWNERS, By, Refused, give_code, recording
from makers.actions.journal import plain
from makers.registries import OpenPoint, release_checks


def net_lots(batch: Batch) -> dict[int, Decimal]:
    """Grams of each lot that a batch holds, by the lot's key."""
    from django.db.models import Sum

    rows = batch.weighings.values_list("lot_id").annotate(net=Sum("grams")).order_by("lot_id")
    return {lot: net for lot, net in rows if net > 0}


def limits_of(batch: Batch) -> list[Limit]:
    """The days of the lots in a batch, rework and in-house lots included."""
    lots = Lot.objects.filter(pk__in=net_lots(batch)).select_related("ingredient", "rework_of")
    return [
        Limit(lot.good_until, f"{lot.ingredient or 'rework'}, lot {lot.code}, good until {lot.good_until:%Y-%m-%d}")
        for lot in lots
        if lot.good_until is not None
    ]


def finish_batch(by: By, *, batch: Batch, bulk_g: Decimal, made_on: date | None = None) -> Batch:
    """The batch is made: the bulk is weighed, and the last good day follows from what went in."""
    with recording(by, "batch.made") as entry:
        batch = open_batch(by, batch, State.MAKING)
        day = made_on or by.today()
        if day > by.today():
            raise Refused({"made_on": f"{day:%Y-%m-%d} is still to come."})
        if bulk_g <= 0:
            raise Refused({"bulk_g": "Weigh what you obtained: more than 0 g."})
        went_in = sum(net_lots(batch).values(), Decimal(0))
        if went_in <= 0:
            raise Refused("Nothing was weighed in yet.")
        if bulk_g > went_in + batch.scale.readability_g * max(batch.lines.count(), 1):
            raise Refused(
                {
                    "bulk_g": f"{bulk_g.normalize():f} g came out, {went_in.normalize():f} g went in. More can't come "
                    "out: look at the tare and at what was written down."
                }
            )
        unweighed = [str(line.ingredient or line.rework_lot) for line in lines_without(batch)]
        if unweighed:
            raise Refused(f"Not weighed yet: {', '.join(unweighed)}. Weigh them, or write why they stay out.")
        life = batch.product.life_months if batch.product else None
        if batch.makes is not None:
            life = batch.makes.shelf_life_months
        bound = best_before(day, life, limits_of(batch))
        batch.state = State.MADE
        batch.bulk_g = bulk_g
        batch.made_on = day
        batch.made_at = by.now()
        batch.best_before = bound.day
        batch.best_before_why = bound.why
        batch.full_clean()
        batch.save()
        entry.about(batch)
        entry.say(bulk=bulk_g, went_in=went_in, best_before=bound.day, because=bound.why)
    return batch


def lines_without(batch: Batch) -> list[BatchLine]:
    """Lines that hold nothing and have no deviation that explains it. Adjust lines from 0 may stay empty."""
    found = []
    lines = list(batch.lines.select_related("ingredient", "rework_lot"))
    replaced = {line.instead_of_id for line in lines if line.instead_of_id}
    explained = set(batch.deviations.exclude(line=None).values_list("line_id", flat=True))
    for line in lines:
        optional = line.kind == BatchLine.Kind.ADJUST and not line.low_g
        if optional or line.pk in replaced or line.pk in explained:
            continue
        if held_by(line) <= 0:
            found.append(line)
    return found


def yield_output(
    by: By,
    *,
    batch: Batch,
    kind: str,
    grams: Decimal,
    good_until: date | None = None,
    code: str = "",
    note: str = "",
    entry_key: UUID | None = None,
) -> Output:
    """Write down what came of a batch besides packs: an ingredient lot, rework, samples, waste, filling loss.

    A lot or rework becomes a lot on stock, in quarantine until somebody decides. Waste is process waste, beside
    the bulk; everything else comes out of the bulk and can't be more than is left of it.
    """
    if grams <= 0:
        raise Refused({"grams": "Write more than 0 g."})

    def act() -> Output:
        with recording(by, "batch.yielded") as entry:
            still_new(Output, by, entry_key)
            current = open_batch(by, batch, State.MADE, *([State.MAKING] if kind == Output.Kind.WASTE else []))
            left = bulk_left(current)
            if kind != Output.Kind.WASTE and left is not None and grams > left:
                raise Refused({"grams": f"{left.normalize():f} g of the bulk are left, {grams.normalize():f} were written."})
            lot = None
            if kind == Output.Kind.LOT:
                if current.makes is None:
                    raise Refused({"kind": f"{current} makes no ingredient, so it gives no ingredient lot."})
                lot = made_lot(by, entry, current, grams, good_until, code, ingredient=current.makes)
            elif kind == Output.Kind.REWORK:
                lot = made_lot(by, entry, current, grams, good_until, code, rework_of=current.formula)
            elif kind == Output.Kind.PACKS:
                raise ValueError("packs are filled by pack_batch")
            output = Output(
                maker=by.maker,
                batch=current,
                kind=kind,
                grams=grams,
                lot=lot,
                note=note,
                occurred_at=by.now(),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            output.full_clean()
            output.save()
            entry.about(current)
            entry.mention(lot, current.makes)
            entry.say(kind=output.get_kind_display().lower(), grams=grams, lot=lot.code if lot else "")
        return output

    return once(Output, by, entry_key, act)


def made_lot(by: By, entry: Any, batch: Batch, grams: Decimal, good_until: date | None, code: str, **of: Any) -> Lot:
    """A lot that a batch made, in quarantine, good no longer than the batch."""
    bound = batch.best_before
    if good_until is not None and bound is not None and good_until > bound:
        raise Refused({"good_until": f"The batch is good until {bound:%Y-%m-%d} at most. {batch.best_before_why}"})
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
    """Take a mistaken output back by a reversing row; packs and lots that were used can't be taken back."""
    if not why.strip():
        raise Refused({"why": "Say what was wrong."})
    with recording(by, "batch.yield_corrected", why=why) as entry:
        batch = open_batch(by, output.batch, State.MADE, State.MAKING)
        if output.reverses_id or Output.objects.filter(reverses=output).exists():
            raise Refused("That was taken back already.")
        if output.kind == Output.Kind.PACKS:
            raise Refused("Packs are corrected by a count or by destroying units.")
        if output.lot is not None:
            lot = output.lot
            write_line(by, entry, lot=lot, kind=LotEntry.Kind.REVERSED, amount=-output.grams, batch=batch, why=why)
        back = Output(
            maker=by.maker,
            batch=batch,
            kind=output.kind,
            grams=-output.grams,
            lot=output.lot,
            reverses=output,
            note=why,
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        back.full_clean()
        back.save()
        entry.about(batch)
        entry.say(kind=output.get_kind_display().lower(), grams=output.grams)
    return back


def open_points(batch: Batch) -> list[OpenPoint]:
    """Everything that stands in the way of a release, asked of every world."""
    return [point for release_check in release_checks for point in release_check.points(batch)]


def own_points(batch: Batch) -> list[OpenPoint]:
    """What the batch record itself leaves open."""
    points = []
    if batch.held:
        points.append(OpenPoint("hold", "The batch is on hold.", blocks=True))
    for line in lines_without(batch):
        what = line.ingredient or line.rework_lot
        points.append(OpenPoint(f"line-{line.position}", f"{what} was not weighed.", blocks=True))
    for line in batch.lines.select_related("ingredient", "rework_lot"):
        held = held_by(line)
        if held <= 0:
            continue
        judged = judged_line(line, held)
        explained = line.deviations.exists()
        if judged.verdict != "within" and not explained:
            points.append(
                OpenPoint(f"off-{line.position}", f"{line.ingredient or line.rework_lot}: {judged.text}", blocks=False)
            )
    for one in batch.deviations.select_related("judgement"):
        judgement = getattr(one, "judgement", None)
        if judgement is None:
            points.append(OpenPoint(f"deviation-{one.pk}", f"Not judged yet: {one.text}", blocks=True))
        elif not judgement.accepted:
            points.append(OpenPoint(f"refused-{one.pk}", f"Not accepted: {one.text}", blocks=True))
    for one in batch.checks.filter(passed=False):
        points.append(OpenPoint(f"check-{one.pk}", f"{one.question}: no. {one.note}", blocks=False))
    lots = Lot.objects.filter(pk__in=net_lots(batch))
    for lot in lots:
        if lot.held:
            points.append(OpenPoint(f"lot-{lot.code}", f"Lot {lot.code} is on hold.", blocks=True))
        elif lot.status != "released":
            points.append(
                OpenPoint(f"lot-{lot.code}", f"Lot {lot.code} is {lot.get_status_display().lower()} now.", blocks=True)
            )
    left = bulk_left(batch)
    if left:
        points.append(
            OpenPoint("bulk", f"{left.normalize():f} g of the bulk have no account yet.", blocks=False)
        )
    return points


def content_of(batch: Batch) -> dict[str, Any]:
    """What a release signs: plan, lines, weighings, readings, fills, checks, deviations and outputs."""

    def rows(records: Any, *names: str) -> list[Any]:
        return [[plain(getattr(row, name)) for name in names] for row in records]

    return {
        "batch": [str(batch.uuid), batch.code, plain(batch.planned_g), plain(batch.bulk_g), plain(batch.made_on)],
        "lines": rows(batch.lines.all(), "uuid", "kind", "planned_g", "tolerance_g"),
        "weighings": rows(batch.weighings.all(), "uuid", "line_id", "lot_id", "grams", "why"),
        "readings": rows(batch.readings.order_by("id"), "uuid", "kind", "value", "conditions"),
        "fills": rows(batch.fills.all(), "uuid", "net_g"),
        "checks": rows(batch.checks.all(), "uuid", "question", "passed", "note"),
        "deviations": rows(batch.deviations.all(), "uuid", "text"),
        "outputs": rows(batch.outputs.exclude(kind="packs"), "uuid", "kind", "grams"),
    }


def content_digest(batch: Batch) -> str:
    """The digest over a batch's content."""
    text = json.dumps(content_of(batch), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def must_know_password(by: By, password: str) -> None:
    """Signing asks for the password again; a session alone is no signature."""
    if not by.user.check_password(password):
        raise Refused({"password": "That is not your password. A signature needs it."})


def release_batch(
    by: By,
    *,
    batch: Batch,
    decision: str,
    password: str,
    reasons: str = "",
    accepted: Mapping[str, str] | None = None,
) -> Release:
    """Sign the decision on a batch: "released" or "rejected".

    Blocking points refuse a release; the others need a reason each, by their name in ``accepted``. Where the
    workshop is not one person's, whoever weighed everything alone can't release it. The owner decides.
    """
    accepted = accepted or {}
    must_know_password(by, password)
    with recording(by, f"batch.{decision}", why=reasons, roles=OWNERS) as entry:
        batch = open_batch(by, batch, State.MADE)
        points = open_points(batch)
        if decision == "released":
            refuse_open_points(points, accepted)
        elif not reasons.strip():
            raise Refused({"reasons": "Say why it is rejected."})
        makers_of_it = set(batch.weighings.values_list("user_id", flat=True))
        alone = makers_of_it == {by.user.pk}
        if alone and decision == "released" and not by.maker.works_alone:
            raise Refused("You weighed all of it yourself; another owner looks at it and releases it.")
        release = Release(
            maker=by.maker,
            batch=batch,
            decision=decision,
            reasons=reasons,
            open_points=[
                {"name": point.name, "text": point.text, "reason": accepted.get(point.name, "")} for point in points
            ],
            meaning=f"{decision} by {by.user}" + (", who also made it" if alone else ""),
            content_digest=content_digest(batch),
            self_reviewed=alone,
            after_amendment=batch.amendments.aggregate(last=Max("pk"))["last"] or 0,
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        release.full_clean()
        release.save()
        batch.state = State.RELEASED if decision == "released" else State.REJECTED
        batch.save(update_fields=["state"])
        entry.about(batch)
        entry.mention(batch.version)
        entry.say(meaning=release.meaning, content=release.content_digest, points=release.open_points)
    return release


def refuse_open_points(points: list[OpenPoint], accepted: Mapping[str, str]) -> None:
    """Raise Refused while something blocks, or a reason is missing."""
    blocking = [point.text for point in points if point.blocks]
    if blocking:
        raise Refused("It can't be released yet. " + " ".join(blocking))
    unanswered = [point.text for point in points if not accepted.get(point.name, "").strip()]
    if unanswered:
        raise Refused("Without a reason for it, this can't be released: " + " ".join(unanswered))


def amend_batch(by: By, *, batch: Batch, what: str, why: str, password: str) -> Amendment:
    """Open a closed batch by a signed amendment; its release is void until it is given again."""
    if not what.strip() or not why.strip():
        raise Refused({"what" if not what.strip() else "why": "Say what is to change, and why."})
    must_know_password(by, password)
    with recording(by, "batch.amended", why=why, roles=OWNERS) as entry:
        batch = open_batch(by, batch, State.RELEASED, State.REJECTED)
        if batch.bulk_g is None:
            raise Refused(f"{batch} was given up before it was made; plan another.")
        amendment = Amendment(
            maker=by.maker,
            batch=batch,
            what=what,
            why=why,
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        amendment.full_clean()
        amendment.save()
        batch.state = State.MADE
        batch.save(update_fields=["state"])
        entry.about(batch)
        entry.say(what=what)
    return amendment


def note_batch(by: By, *, batch: Batch, text: str) -> BatchNote:
    """Add a remark; allowed at any time."""
    if not text.strip():
        raise Refused({"text": "Write the remark."})
    with recording(by, "batch.noted") as entry:
        note = BatchNote(
            maker=by.maker, batch=batch, text=text, occurred_at=by.now(), entered_at=by.now(), user=by.user
        )
        note.full_clean()
        note.save()
        entry.about(batch)
        entry.say(text=text)
    return note


__all__ = ["Weighing"]
