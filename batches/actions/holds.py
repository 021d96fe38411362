"""Holds: a stop on a lot, a batch or a pack until someone judges."""

from __future__ import annotations

from typing import Any, cast

from batches.actions.ledger import locked
from batches.actions.once import Repeated
from batches.models import Batch, Hold, Lot, Pack
from makers.actions import By, Refused, recording


def open_hold(
    by: By, *, cause: str, lot: Lot | None = None, batch: Batch | None = None, pack: Pack | None = None
) -> Hold:
    """Stop one lot, batch or pack. Raises Refused without a cause, or when not exactly one thing is named.

    An open hold of the same thing with the same cause is that hold: a second tap opens no second one.
    """
    things: list[Any] = [thing for thing in (lot, batch, pack) if thing is not None]
    if len(things) != 1:
        raise Refused("A hold is on one lot, one batch or one pack.")
    cause = cause.strip()
    if not cause:
        raise Refused({"cause": "Write the cause of the hold: whoever ends it has to know."})
    try:
        hold = _opened(by, cause, things[0], lot=lot, batch=batch, pack=pack)
    except Repeated as repeated:
        hold = repeated.record
    things[0].refresh_from_db(fields=["held"])
    return hold


def _opened(by: By, cause: str, wanted: Any, **kinds: Any) -> Hold:
    lot, batch, pack = kinds["lot"], kinds["batch"], kinds["pack"]
    with recording(by, "hold.opened", why=cause) as entry:
        thing = locked(by, wanted)
        kind = next(name for name, given in kinds.items() if given is not None)
        open_already = Hold.objects.for_maker(by.maker).filter(closed_at=None, cause=cause, **{kind: thing})
        if same := open_already.first():
            raise Repeated(same)
        hold = Hold(
            maker=by.maker,
            lot=thing if lot else None,
            batch=thing if batch else None,
            pack=thing if pack else None,
            cause=cause,
            opened_at=by.now(),
            opened_by=by.user,
        )
        hold.full_clean()
        hold.save()
        entry.about(thing)
        entry.mention(hold)
        entry.say(hold=hold.uuid)
    return hold


def close_hold(by: By, *, hold: Hold, why: str) -> Hold:
    """End a hold, once. Raises Refused without a reason, or when it was ended already.

    The same ending by the same person again changes nothing.
    """
    why = why.strip()
    if not why:
        raise Refused({"why": "Write why the hold can end: what was looked at, and what was found."})
    try:
        return _closed(by, hold, why)
    except Repeated as repeated:
        return cast(Hold, repeated.record)


def _closed(by: By, hold: Hold, why: str) -> Hold:
    with recording(by, "hold.closed", why=why) as entry:
        hold = locked(by, hold)
        if hold.closed_at is not None and (hold.closed_by, hold.closed_why) == (by.user, why):
            raise Repeated(hold)
        if hold.closed_at is not None:
            ended = hold.closed_at.astimezone(by.maker.zone)
            raise Refused(f"That hold was ended on {ended:%Y-%m-%d %H:%M} by {hold.closed_by}.")
        hold.closed_at, hold.closed_by, hold.closed_why = by.now(), by.user, why
        hold.full_clean()
        hold.save(update_fields=["closed_at", "closed_by", "closed_why"])
        thing = hold.lot or hold.batch or hold.pack
        entry.about(thing)
        entry.mention(hold)
        entry.say(hold=hold.uuid, cause=hold.cause)
    return hold
