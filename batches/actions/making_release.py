"""Signing the decision on a batch, amending it, giving a plan up, remarks."""

from __future__ import annotations

from collections.abc import Mapping

from django.db.models import Max

from batches.actions.holds import open_hold
from batches.actions.ledger import locked
from batches.actions.making_plan import State, open_batch
from batches.actions.making_review import content_digest, open_points
from batches.models import Amendment, Batch, BatchNote, Lot, LotStatus, Release
from makers.actions import OWNERS, By, Refused, recording
from makers.registries import OpenPoint


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
    if decision not in ("released", "rejected"):
        raise Refused({"decision": "Release it or reject it."})
    must_know_password(by, password)
    with recording(by, f"batch.{decision}", why=reasons, roles=OWNERS) as entry:
        batch = open_batch(by, batch, State.MADE)
        points = open_points(batch)
        if decision == "released":
            refuse_open_points(points, accepted)
        elif not reasons.strip():
            raise Refused({"reasons": "Say why it is rejected."})
        alone = set(batch.weighings.values_list("user_id", flat=True)) <= {by.user.pk}
        if alone and decision == "released" and not by.maker.works_alone:
            raise Refused("You weighed all of it yourself; another owner looks at it and releases it.")
        release = Release(
            maker=by.maker,
            batch=batch,
            decision=decision,
            reasons=reasons,
            open_points=[
                {"name": point.name, "text": point.text, "reason": accepted.get(point.name, "")}
                for point in points
            ],
            meaning=f"{decision} by {by.user}" + (", who also made it" if alone else ""),
            content_digest=content_digest(batch),
            self_reviewed=alone,
            after_amendment=batch.amendments.aggregate(last=Max("pk"))["last"] or 0,
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        release.full_clean(exclude=["open_points"])
        release.save()
        batch.state = State.RELEASED if decision == "released" else State.REJECTED
        batch.save(update_fields=["state"])
        entry.about(batch)
        entry.mention(batch.version)
        if decision == "rejected":
            hold_made_lots(by, batch)
        entry.say(meaning=release.meaning, content=release.content_digest, points=release.open_points)
    return release


def hold_made_lots(by: By, batch: Batch) -> None:
    """Stop what a rejected batch put on stock: its lots stand still until somebody judges each."""
    lots = Lot.objects.for_maker(by.maker).filter(from_batch=batch, held=False, on_hand__gt=0)
    for lot in lots.exclude(status=LotStatus.REJECTED).order_by("pk"):
        open_hold(by, lot=lot, cause=f"Batch {batch}, which it was made in, was rejected.")


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
            raise Refused(f"{batch} was given up before it was made. Plan another.")
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


def give_up_batch(by: By, *, batch: Batch, why: str) -> Batch:
    """Give up a planned batch: it is closed as rejected, and its code is never used again."""
    if not why.strip():
        raise Refused({"why": "Say why it is given up."})
    with recording(by, "batch.given_up", why=why) as entry:
        batch = open_planned(by, batch)
        release = Release(
            maker=by.maker,
            batch=batch,
            decision="rejected",
            reasons=why.strip(),
            meaning=f"given up by {by.user} before it was started",
            content_digest=content_digest(batch),
            self_reviewed=False,
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        )
        release.full_clean(exclude=["open_points"])
        release.save()
        batch.state = State.REJECTED
        batch.save(update_fields=["state"])
        entry.about(batch)
    return batch


def open_planned(by: By, batch: Batch) -> Batch:
    """Lock a batch that was not started. Raises Refused otherwise."""
    found = locked(by, batch)
    if found.is_closed:
        raise Refused(f"{found} is {found.get_state_display().lower()} already.")
    if found.state != State.PLANNED:
        raise Refused(f"{found} was started. Finish it, then reject it with its reasons.")
    return found
