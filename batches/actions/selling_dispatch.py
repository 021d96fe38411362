"""Packs on their way: between places, to recipients, and back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import cast
from uuid import UUID

from django.db.models import Sum

from batches.actions.ledger import locked, owned
from batches.actions.once import once, part_key, still_new
from batches.actions.selling_packs import enough, move
from batches.actions.selling_places import built_in
from batches.models import Batch, Dispatch, Pack, PackEntry, Place, Recipient, Return
from batches.trial_lots import trial_behind
from makers.actions import By, Refused, give_code, recording
from makers.actions.journal import Draft


def may_leave(pack: Pack, day: date) -> None:
    """Refuse to let packs out that are not released, on hold, past their day on ``day``, or have a trial in them.

    Best before: the day itself is still good. Whether they go to a buyer or to a shop that may bring them back is
    all one; what comes back, is counted or destroyed is not asked.
    """
    batch = pack.batch
    if batch.state != Batch.State.RELEASED:
        raise Refused(f"{pack} stays: batch {batch} is {batch.get_state_display().lower()}, not released.")
    if batch.held or pack.held:
        raise Refused(
            f"{pack} stays: {'the batch' if batch.held else 'it'} is on hold until someone judges it."
        )
    if pack.best_before is not None and pack.best_before < day:
        raise Refused(
            f"{pack} stays: it was best before {pack.best_before:%Y-%m-%d}. Destroy what is left; if it left in "
            "time, write down the day on which it did."
        )
    trial = trial_behind(batch)
    if trial is not None:
        raise Refused(
            f"{pack} stays: trial {trial} is in it, and trials are never sold. Destroy what is left."
        )


def move_units(
    by: By, *, pack: Pack, units: int, from_place: Place, to_place: Place, why: str = ""
) -> PackEntry:
    """Move units between places; a shop on sale-or-return is out of the house."""
    with recording(by, "pack.moved", why=why) as entry:
        pack, from_place, to_place = locked(by, pack, "batch"), owned(by, from_place), owned(by, to_place)
        if from_place == to_place:
            raise Refused({"to_place": "They are there already."})
        if Place.Kind.RETURNS in (from_place.kind, to_place.kind):
            raise Refused("What came back is judged, not moved. Open the return.")
        if Place.Kind.KEPT in (from_place.kind, to_place.kind):
            raise Refused("Kept samples stay kept.")
        enough(pack, from_place, units)
        if to_place.is_out:
            may_leave(pack, by.today())
        line = move(
            by,
            entry,
            pack=pack,
            kind=PackEntry.Kind.MOVED,
            units=units,
            from_place=from_place,
            to_place=to_place,
            why=why,
        )
        entry.about(pack)
        entry.mention(pack.batch, from_place, to_place)
        entry.say(units=units, origin=str(from_place), target=str(to_place))
    return line


def dispatch(
    by: By,
    *,
    recipient: Recipient,
    on: date,
    lines: Sequence[tuple[Pack, int, Place]],
    market: str = "",
    reference: str = "",
    note: str = "",
    entry_key: UUID | None = None,
) -> Dispatch:
    """Send packs to a recipient, or write down what a market day sold. lines: (pack, units, from where)."""
    if not lines:
        raise Refused("Nothing is on the list. Choose at least one pack.")
    if on > by.today():
        raise Refused({"on": f"{on:%Y-%m-%d} is still to come. Write it down on the day."})

    def act() -> PackEntry:
        with recording(by, "dispatch.sent") as entry:
            still_new(PackEntry, by, part_key(entry_key, 0))
            sent = Dispatch(
                maker=by.maker,
                recipient=owned(by, recipient),
                on=on,
                market=market or recipient.market,
                reference=reference,
                note=note,
                entered_at=by.now(),
                user=by.user,
            )
            sent.code = give_code(by, "dispatch", sent)
            sent.full_clean()
            sent.save()
            moved = []
            for index, line in enumerate(lines):
                try:
                    moved.append(send_line(by, entry, sent, line, part_key(entry_key, index)))
                except Refused as refusal:
                    refusal.line = index
                    raise
            entry.about(sent)
            entry.mention(recipient)
            what = ", ".join(f"{one.units} of {one.pack}" for one in moved)
            entry.say(what=what, recipient=recipient.code, on=on)
        return moved[0]

    first = once(PackEntry, by, part_key(entry_key, 0), act)
    return cast(Dispatch, first.dispatch)


def send_line(
    by: By, entry: Draft, sent: Dispatch, line: tuple[Pack, int, Place], entry_key: UUID | None
) -> PackEntry:
    """Let one pack's units leave with a dispatch; call inside a recording."""
    pack, units, place = line
    pack, place = locked(by, pack, "batch"), owned(by, place)
    may_leave(pack, sent.on)
    if pack.packed_on > sent.on:
        raise Refused({"on": f"{pack} was packed after that day, on {pack.packed_on:%Y-%m-%d}."})
    if place.kind in (Place.Kind.RETURNS, Place.Kind.KEPT):
        raise Refused(f"Packs at {place} are not for sale.")
    enough(pack, place, units)
    entry.mention(pack, pack.batch)
    return move(
        by,
        entry,
        pack=pack,
        kind=PackEntry.Kind.DISPATCHED,
        units=units,
        from_place=place,
        dispatch=sent,
        entry_key=entry_key,
    )


def still_out(sent: Dispatch, pack: Pack) -> int:
    """Units of a pack in a dispatch that have not come back."""
    went = (
        sent.entries.filter(pack=pack, kind=PackEntry.Kind.DISPATCHED).aggregate(sum=Sum("units"))["sum"] or 0
    )
    back = sent.returns.filter(pack=pack).aggregate(sum=Sum("units"))["sum"] or 0
    return int(went) - int(back)


def check_return(by: By, pack: Pack, units: int, sent: Dispatch | None, place: Place | None) -> None:
    """Refuse more than is out with the dispatch, or stands at the place; one of the two is named."""
    match sent, place:
        case Dispatch(), None:
            out = still_out(owned(by, sent), pack)
            if units > out or units <= 0:
                raise Refused({"units": f"{out} of {pack} are out with {sent}; write 1 to {out}."})
        case None, Place():
            enough(pack, owned(by, place), units)
        case _:
            raise ValueError("a return comes from a dispatch or from a place")


def take_return(
    by: By,
    *,
    pack: Pack,
    units: int,
    on: date,
    reason: str,
    sent: Dispatch | None = None,
    place: Place | None = None,
) -> Return:
    """Take packs back from a dispatch or a shop; they wait among the returns until judged."""
    if not reason.strip():
        raise Refused({"reason": "Say why they came back."})
    if on > by.today():
        raise Refused({"on": f"{on:%Y-%m-%d} is still to come."})
    with recording(by, "return.taken", why=reason) as entry:
        pack = locked(by, pack)
        check_return(by, pack, units, sent, place)
        came_back = Return(
            maker=by.maker,
            dispatch=sent,
            pack=pack,
            units=units,
            on=on,
            reason=reason,
            entered_at=by.now(),
            user=by.user,
        )
        came_back.code = give_code(by, "return", came_back)
        came_back.full_clean()
        came_back.save()
        move(
            by,
            entry,
            pack=pack,
            kind=PackEntry.Kind.RETURNED,
            units=units,
            from_place=place,
            to_place=built_in(by, Place.Kind.RETURNS),
            dispatch=sent,
            came_back=came_back,
            why=reason,
        )
        entry.about(came_back)
        entry.mention(pack, pack.batch, sent, place)
        entry.say(units=units, pack=pack.code)
    return came_back


def waiting(came_back: Return) -> int:
    """Units of a return that nobody has judged yet."""
    judged = came_back.entries.filter(kind__in=[PackEntry.Kind.RESTORED, PackEntry.Kind.DESTROYED]).aggregate(
        sum=Sum("units")
    )["sum"]
    return came_back.units - int(judged or 0)


def judge_return(by: By, *, came_back: Return, units: int, verdict: str, why: str) -> PackEntry:
    """Judge returned packs: "restore" puts them back for sale, "destroy" takes them away."""
    if not why.strip():
        raise Refused({"why": "Say what you looked at and found."})
    if verdict not in ("restore", "destroy"):
        raise ValueError(f"{verdict} is no verdict")
    restore = verdict == "restore"
    with recording(by, "return.restored" if restore else "return.destroyed", why=why) as entry:
        came_back = locked(by, came_back)
        pack = locked(by, came_back.pack)
        left = waiting(came_back)
        if not 0 < units <= left:
            raise Refused({"units": f"{left} wait to be judged; write 1 to {left}."})
        if restore and (pack.held or pack.batch.held or pack.batch.state != Batch.State.RELEASED):
            raise Refused("Packs of a held or unreleased batch don't go back for sale.")
        line = move(
            by,
            entry,
            pack=pack,
            kind=PackEntry.Kind.RESTORED if restore else PackEntry.Kind.DESTROYED,
            units=units,
            from_place=built_in(by, Place.Kind.RETURNS),
            to_place=built_in(by, Place.Kind.WORKSHOP) if restore else None,
            came_back=came_back,
            why=why,
        )
        entry.about(came_back)
        entry.mention(pack, pack.batch)
        entry.say(units=units, pack=pack.code)
    return line
