"""Where packs stand, and who they go to."""

from __future__ import annotations

from typing import cast

from batches.models import Place, Recipient
from makers.actions import By, Refused, give_code, recording
from makers.actions.house import save_contact

BUILT_IN = (
    (Place.Kind.WORKSHOP, "Workshop"),
    (Place.Kind.RETURNS, "Returns, to be judged"),
    (Place.Kind.KEPT, "Kept samples"),
)


def set_up_places(by: By) -> None:
    """The places that every maker has; called when a book is opened."""
    for kind, name in BUILT_IN:
        if not Place.objects.for_maker(by.maker).filter(kind=kind).exists():
            add_place(by, name=name, kind=kind)


def built_in(by: By, kind: str) -> Place:
    """The workshop, the returns or the kept samples."""
    places = Place.objects.for_maker(by.maker).filter(kind=kind)
    place: Place | None = places.first()
    if place is None:
        set_up_places(by)
        place = cast(Place, places.get())
    return place


def add_place(
    by: By,
    *,
    name: str,
    kind: str,
    contact_name: str = "",
    email: str = "",
    phone: str = "",
    address: str = "",
    note: str = "",
) -> Place:
    """Add a stall box or a shop on sale-or-return, with who answers there."""
    with recording(by, "place.added") as entry:
        place = Place(maker=by.maker, name=name, kind=kind)
        place.code = give_code(by, "place", place)
        if contact_name or email or phone or address or note:
            place.contact = save_contact(
                by, name=contact_name or name, email=email, phone=phone, address=address, note=note
            )
        place.full_clean()
        place.save()
        entry.about(place)
        what = place.get_kind_display().lower()
        entry.say(kind=what if what != name.lower() else "which every book has")
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
