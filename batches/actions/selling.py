"""Packs, places, recipients, dispatches and returns."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import F, Sum

from batches.actions.ledger import locked, owned
from batches.actions.once import first_of, once, part_key, still_new
from batches.models import (
    Batch,
    Dispatch,
    Lot,
    LotEntry,
    LotStatus,
    Output,
    Pack,
    PackBalance,
    PackEntry,
    Place,
    Recipient,
    RetainedSample,
    Return,
)
from formulas.models import Product
from makers.actions import By, Refused, give_code, recording
from makers.actions.house import save_contact
from makers.actions.journal import Draft

BUILT_IN = (
    (Place.Kind.WORKSHOP, "Workshop"),
    (Place.Kind.RETURNS, "Returns, to be judged"),
    (Place.Kind.KEPT, "Kept samples"),
)
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"


def set_up_places(by: By) -> None:
    """The places that every maker has; called when a book is opened."""
    for kind, name in BUILT_IN:
        if not Place.objects.for_maker(by.maker).filter(kind=kind).exists():
            add_place(by, name=name, kind=kind)


def built_in(by: By, kind: str) -> Place:
    """The workshop, the returns or the kept samples."""
    found = Place.objects.for_maker(by.maker).filter(kind=kind).first()
    if found is None:
        set_up_places(by)
        found = Place.objects.for_maker(by.maker).get(kind=kind)
    return found


def add_place(by: By, *, name: str, kind: str, **contact: str) -> Place:
    """Add a stall box or a shop on sale-or-return."""
    with recording(by, "place.added") as entry:
        place = Place(maker=by.maker, name=name, kind=kind)
        place.code = give_code(by, "place", place)
        if any(contact.values()):
            place.contact = save_contact(by, name=contact.pop("contact_name", "") or name, **contact)
        place.full_clean()
        place.save()
        entry.about(place)
        entry.say(kind=place.get_kind_display().lower())
    return place


def add_recipient(
    by: By,
    *,
    kind: str,
    name: str = "",
    email: str = "",
    phone: str = "",
    address: str = "",
    market: str = "",
    note: str = "",
) -> Recipient:
    """Add who packs go to. The name and how to reach them are kept apart, and can be erased."""
    with recording(by, "recipient.added") as entry:
        recipient = Recipient(maker=by.maker, kind=kind, market=market, made_at=by.now())
        recipient.code = give_code(by, "recipient", recipient)
        if name or email or phone or address or note:
            recipient.contact = save_contact(
                by, name=name, email=email, phone=phone, address=address, note=note
            )
        elif kind != Recipient.Kind.MARKET:
            raise Refused({"name": "Write who it is, so that you can reach them when it matters."})
        recipient.full_clean()
        recipient.save()
        entry.about(recipient)
        entry.say(kind=recipient.get_kind_display().lower())
    return recipient


def move(by: By, draft: Draft, *, entry_key: UUID | None = None, **fields: Any) -> PackEntry:
    """Write one line of the packs' ledger inside a recording; the database moves the balances."""
    to_place = fields.get("to_place")
    if to_place is not None:
        PackBalance.objects.get_or_create(maker=by.maker, pack=fields["pack"], place=to_place)
    fields.setdefault("occurred_at", by.now())
    line = PackEntry(maker=by.maker, user=by.user, entered_at=by.now(), entry_key=entry_key, **fields)
    line.full_clean()
    line.save()
    draft.change.setdefault("moves", []).append([str(line.uuid), line.kind, line.units])
    return line


def there(pack: Pack, place: Place) -> int:
    """How many units of a pack are at a place."""
    found = PackBalance.objects.filter(pack=pack, place=place).values_list("units", flat=True).first()
    return found or 0


def enough(pack: Pack, place: Place, units: int, field: str = "units") -> None:
    """Refuse to take more than is there."""
    if units <= 0:
        raise Refused({field: "Write how many, 1 or more."})
    here = there(pack, place)
    if units > here:
        raise Refused({field: f"{here} of {pack} are at {place}; {units} can't leave. Count, or take fewer."})


def next_pack_code(batch: Batch) -> str:
    """The batch's code with the next letter, short enough to print."""
    taken = batch.packs.count()
    letter = (
        LETTERS[taken] if taken < len(LETTERS) else f"{LETTERS[taken % len(LETTERS)]}{taken // len(LETTERS)}"
    )
    return f"{batch.code[: 19 - len(letter)]}-{letter}"


def pack_batch(
    by: By,
    *,
    batch: Batch,
    product: Product,
    units: int,
    grams: Decimal,
    packed_on: date | None = None,
    best_before: date | None = None,
    entry_key: UUID | None = None,
) -> Pack:
    """Fill units of a product from a batch for sale: the packs stand in the workshop, articles leave stock.

    grams: all that went into the packs. The batch must be made; packs leave the house only once it is released.
    """
    found = first_of(Output, by, entry_key)
    if found is not None and found.pack is not None:
        return found.pack  # type: ignore[no-any-return]  # the model's own row

    def act() -> Output:
        with recording(by, "pack.packed") as entry:
            still_new(Output, by, entry_key)
            current = locked(by, batch)
            check_packable(current, product, units, grams)
            day = packed_on or by.today()
            if day > by.today():
                raise Refused({"packed_on": f"{day:%Y-%m-%d} is still to come."})
            pack = Pack(
                maker=by.maker,
                batch=current,
                product=product,
                units=units,
                grams=grams,
                packed_on=day,
                best_before=best_before or current.best_before,
                best_before_why=current.best_before_why,
            )
            pack.code = give_code(by, "pack", pack, wanted=next_pack_code(current))
            pack.full_clean()
            pack.save()
            output = Output(
                maker=by.maker,
                batch=current,
                kind=Output.Kind.PACKS,
                grams=grams,
                units=units,
                product=product,
                pack=pack,
                occurred_at=by.now(),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            output.full_clean()
            output.save()
            move(
                by,
                entry,
                pack=pack,
                kind=PackEntry.Kind.PACKED,
                units=units,
                to_place=built_in(by, Place.Kind.WORKSHOP),
            )
            used = take_articles(by, entry, current, product, units)
            entry.about(pack)
            entry.mention(current, product)
            entry.say(units=units, product=str(product), grams=grams, articles=used)
        return output

    output = once(Output, by, entry_key, act)
    assert output.pack is not None  # noqa: S101 - made above
    return output.pack


def check_packable(batch: Batch, product: Product, units: int, grams: Decimal) -> None:
    """Refuse to pack what can't be packed, with a sentence that says why."""
    if batch.purpose == Batch.Purpose.TRIAL:
        raise Refused(f"{batch} is a trial. Trials are never sold, so they never become packs.")
    if batch.purpose != Batch.Purpose.SALE:
        raise Refused(f"{batch} makes an ingredient. Put it on stock as a lot.")
    if batch.state not in (Batch.State.MADE, Batch.State.RELEASED):
        raise Refused(f"{batch} is {batch.get_state_display().lower()}; packs are filled once it is made.")
    if batch.held:
        raise Refused(f"{batch} is on hold. Judge the hold first.")
    if product.formula_id != batch.formula_id:
        raise Refused({"product": f"{product} is made to another formula than {batch}."})
    if units <= 0:
        raise Refused({"units": "Write how many packs, 1 or more."})
    if grams <= 0:
        raise Refused({"grams": "Write the grams that went into the packs."})
    left = bulk_left(batch)
    if left is not None and grams > left:
        raise Refused(
            {"grams": f"{grams.normalize():f} g in packs, but {left.normalize():f} g of the bulk are left."}
        )


def bulk_left(batch: Batch) -> Decimal | None:
    """Grams of the bulk that no output has taken yet; None before the bulk is weighed."""
    if batch.bulk_g is None:
        return None
    taken = batch.outputs.exclude(kind=Output.Kind.WASTE).aggregate(sum=Sum("grams"))["sum"]
    return batch.bulk_g - (taken or Decimal(0))


def take_articles(by: By, draft: Draft, batch: Batch, product: Product, units: int) -> list[str]:
    """Take jars, lids and the rest from stock, first to expire first; what is not on stock is said, not refused."""
    from batches.actions.ledger import write_line

    said = []
    for part in product.parts.select_related("article"):
        wanted = Decimal(part.count * units)
        lots = (
            Lot.objects.for_maker(by.maker)
            .filter(article=part.article, status=LotStatus.RELEASED, held=False, on_hand__gt=0)
            .order_by(F("good_until").asc(nulls_last=True), "received_on", "pk")
            .select_for_update()
        )
        for lot in lots:
            if wanted <= 0:
                break
            amount = min(wanted, lot.on_hand)
            write_line(by, draft, lot=lot, kind=LotEntry.Kind.PACKED, amount=-amount, batch=batch)
            draft.mention(lot)
            said.append(f"{amount.normalize():f} {part.article} from {lot}")
            wanted -= amount
        if wanted > 0:
            said.append(f"{wanted.normalize():f} {part.article} not on stock")
    return said


def keep_units(
    by: By, *, pack: Pack, units: int, where: str = "", keep_until: date | None = None
) -> RetainedSample:
    """Keep units back as samples."""
    with recording(by, "pack.kept") as entry:
        pack = locked(by, pack)
        workshop = built_in(by, Place.Kind.WORKSHOP)
        enough(pack, workshop, units)
        sample = RetainedSample(
            maker=by.maker,
            batch=pack.batch,
            pack=pack,
            units=units,
            where=where,
            keep_until=keep_until,
            kept_at=by.now(),
            user=by.user,
        )
        sample.full_clean()
        sample.save()
        move(
            by,
            entry,
            pack=pack,
            kind=PackEntry.Kind.KEPT,
            units=units,
            from_place=workshop,
            to_place=built_in(by, Place.Kind.KEPT),
            why=where,
        )
        entry.about(pack)
        entry.mention(pack.batch)
        entry.say(units=units)
    return sample


def destroy_units(by: By, *, pack: Pack, units: int, place: Place, why: str) -> PackEntry:
    """Destroy units, with the reason."""
    if not why.strip():
        raise Refused({"why": "Say why they are destroyed."})
    with recording(by, "pack.destroyed", why=why) as entry:
        pack, place = locked(by, pack), owned(by, place)
        enough(pack, place, units)
        line = move(
            by, entry, pack=pack, kind=PackEntry.Kind.DESTROYED, units=units, from_place=place, why=why
        )
        entry.about(pack)
        entry.mention(pack.batch)
        entry.say(units=units, place=str(place))
    return line


def may_leave(pack: Pack) -> None:
    """Refuse to let packs out of the house that are not released, held, or past their day."""
    batch = pack.batch
    if batch.state != Batch.State.RELEASED:
        raise Refused(f"{pack} stays: batch {batch} is {batch.get_state_display().lower()}, not released.")
    if batch.held or pack.held:
        raise Refused(
            f"{pack} stays: {'the batch' if batch.held else 'it'} is on hold until someone judges it."
        )


def move_units(
    by: By, *, pack: Pack, units: int, from_place: Place, to_place: Place, why: str = ""
) -> PackEntry:
    """Move units between places; a shop on sale-or-return is out of the house."""
    with recording(by, "pack.moved", why=why) as entry:
        pack, from_place, to_place = locked(by, pack), owned(by, from_place), owned(by, to_place)
        if from_place == to_place:
            raise Refused({"to_place": "They are there already."})
        if Place.Kind.RETURNS in (from_place.kind, to_place.kind):
            raise Refused("What came back is judged, not moved. Open the return.")
        if Place.Kind.KEPT in (from_place.kind, to_place.kind):
            raise Refused("Kept samples stay kept.")
        enough(pack, from_place, units)
        if to_place.is_out:
            may_leave(pack)
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
    found = first_of(PackEntry, by, part_key(entry_key, 0))
    if found is not None and found.dispatch is not None:
        return found.dispatch  # type: ignore[no-any-return]  # the model's own row

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
            first: PackEntry | None = None
            said = []
            for index, (pack, units, place) in enumerate(lines):
                current = locked(by, pack)
                place = owned(by, place)
                may_leave(current)
                if current.packed_on > on:
                    raise Refused(
                        {"on": f"{current} was packed after that day, on {current.packed_on:%Y-%m-%d}."}
                    )
                if place.kind in (Place.Kind.RETURNS, Place.Kind.KEPT):
                    raise Refused(f"Packs at {place} are not for sale.")
                enough(current, place, units)
                line = move(
                    by,
                    entry,
                    pack=current,
                    kind=PackEntry.Kind.DISPATCHED,
                    units=units,
                    from_place=place,
                    dispatch=sent,
                    entry_key=part_key(entry_key, index),
                )
                first = first or line
                entry.mention(current, current.batch)
                said.append(f"{units} of {current}")
            entry.about(sent)
            entry.mention(recipient)
            entry.say(what=", ".join(said), recipient=recipient.code, on=on)
            assert first is not None  # noqa: S101 - lines is not empty
        return first

    line = once(PackEntry, by, part_key(entry_key, 0), act)
    assert line.dispatch is not None  # noqa: S101 - set above
    return line.dispatch


def still_out(sent: Dispatch, pack: Pack) -> int:
    """Units of a pack in a dispatch that have not come back."""
    went = (
        sent.entries.filter(pack=pack, kind=PackEntry.Kind.DISPATCHED).aggregate(sum=Sum("units"))["sum"] or 0
    )
    back = sent.returns.filter(pack=pack).aggregate(sum=Sum("units"))["sum"] or 0
    return int(went) - int(back)


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
    if (sent is None) == (place is None):
        raise ValueError("a return comes from a dispatch or from a place")
    with recording(by, "return.taken", why=reason) as entry:
        pack = locked(by, pack)
        if sent is not None:
            out = still_out(owned(by, sent), pack)
            if units > out or units <= 0:
                raise Refused({"units": f"{out} of {pack} are out with {sent}; write 1 to {out}."})
        else:
            assert place is not None  # noqa: S101 - checked above
            enough(pack, owned(by, place), units)
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


def count_units(by: By, *, pack: Pack, place: Place, found: int, why: str) -> PackEntry | None:
    """Correct the books to what a count found at a place; None when it agrees."""
    if not why.strip():
        raise Refused({"why": "Say how the difference came about, or that nobody knows."})
    if found < 0:
        raise Refused({"found": "A count is 0 or more."})
    with recording(by, "pack.counted", why=why) as entry:
        pack, place = locked(by, pack), owned(by, place)
        difference = found - there(pack, place)
        entry.about(pack)
        entry.mention(pack.batch, place)
        entry.say(found=found, place=str(place), difference=f"{difference:+d}")
        if difference == 0:
            return None
        ends = {"to_place": place} if difference > 0 else {"from_place": place}
        return move(by, entry, pack=pack, kind=PackEntry.Kind.COUNTED, units=abs(difference), why=why, **ends)
