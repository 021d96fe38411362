"""Opening a maker's book, its members, scales, responsible parties, documents and contacts."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.files import File
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from makers.actions.by import OWNERS, By, Refused, happened
from makers.actions.journal import recording
from makers.models import (
    Contact,
    Document,
    Maker,
    Membership,
    OldSlug,
    ResponsibleParty,
    Role,
    Scale,
    ScaleCheck,
    User,
)
from makers.registries import opening_hooks

RESERVED = {"sign-in", "sign-out", "setup", "health", "static", "account", "house"}
SETTINGS = (
    "trading_name", "legal_name", "address", "country", "reactions_email", "reactions_phone", "website",
    "time_zone", "locale", "currency", "markets", "works_alone",
)  # fmt: skip


def free_slug(name: str) -> str:
    """An address for a new maker, never one that another has or had."""
    base = slugify(name)[:40] or "workshop"
    slug, number = base, 1
    while (
        slug in RESERVED
        or Maker.objects.filter(slug=slug).exists()
        or OldSlug.objects.filter(slug=slug).exists()
    ):
        number += 1
        slug = f"{base}-{number}"
    return slug


@transaction.atomic
def open_maker(
    *,
    user: User,
    trading_name: str,
    country: str,
    currency: str,
    time_zone: str,
    locale: str,
    markets: Sequence[str],
    scales: Sequence[tuple[str, Decimal, Decimal]] = (),
    clock: Callable[[], datetime] = timezone.now,
    clock_name: str = "server",
    **fields: Any,
) -> By:
    """Open a book: the maker, its first owner, scales, and what each world sets up. Returns who may act.

    scales: (name, readability in g, capacity in g).
    """
    maker = Maker(
        slug=free_slug(trading_name),
        trading_name=trading_name,
        country=country,
        currency=currency,
        time_zone=time_zone,
        locale=locale,
        markets=list(markets),
        **fields,
    )
    maker.full_clean()
    maker.save()
    Membership.objects.create(maker=maker, user=user, role=Role.OWNER)
    by = By(maker=maker, user=user, role=Role.OWNER, clock=clock, clock_name=clock_name)
    with recording(by, "maker.opened") as entry:
        entry.about(maker)
        entry.say(country=country, markets=list(markets), currency=currency)
    for name, readability, capacity in scales:
        add_scale(by, name=name, readability_g=readability, capacity_g=capacity)
    for hook in opening_hooks:
        hook.run(by)
    return by


def change_maker(by: By, *, why: str = "", **fields: Any) -> Maker:
    """Change the workshop's settings; owners only. Raises Refused for what can't stand."""
    with recording(by, "maker.changed", why=why, roles=OWNERS) as entry:
        maker = Maker.objects.select_for_update().get(pk=by.maker.pk)
        changed = {}
        for name, value in fields.items():
            if name not in SETTINGS:
                raise ValueError(f"{name} is not a setting.")
            if getattr(maker, name) != value:
                changed[name] = [getattr(maker, name), value]
                setattr(maker, name, value)
        maker.full_clean()
        maker.save(update_fields=[*changed] or None)
        entry.about(maker)
        entry.say(fields=", ".join(sorted(changed)).replace("_", " ") or "nothing", before_and_after=changed)
    return maker


def add_member(by: By, *, email: str, name: str, role: str, password: str) -> Membership:
    """Give a person a place in this house; a new person gets the password given here."""
    with recording(by, "member.added", roles=OWNERS) as entry:
        user = User.objects.filter(email=email.lower()).first()
        if user is None:
            user = User.objects.create_user(email, password, name=name)
        if Membership.objects.filter(maker=by.maker, user=user).exists():
            raise Refused({"email": f"{email} is a member already. Change the role in the list."})
        membership = Membership(maker=by.maker, user=user, role=role)
        membership.full_clean()
        membership.save()
        entry.about(membership, str(user))
        entry.say(role=role)
    return membership


def change_member(by: By, *, membership: Membership, role: str, active: bool) -> Membership:
    """Change a member's role, or end or renew the membership. One active owner always stays."""
    with recording(by, "member.changed", roles=OWNERS) as entry:
        membership = Membership.objects.for_maker(by.maker).select_for_update().get(pk=membership.pk)
        others = Membership.objects.filter(maker=by.maker, role=Role.OWNER, active=True).exclude(
            pk=membership.pk
        )
        if (role != Role.OWNER or not active) and not others.exists():
            raise Refused({"role": "One owner stays. Make somebody else an owner first."})
        membership.role, membership.active = role, active
        membership.full_clean()
        membership.save()
        entry.about(membership, str(membership.user))
        entry.say(role=role if active else "no longer a member")
    return membership


def add_scale(
    by: By, *, name: str, readability_g: Decimal, capacity_g: Decimal, repeatability_g: Decimal | None = None
) -> Scale:
    """Add a scale with its step and the most it carries, in grams."""
    with recording(by, "scale.added") as entry:
        scale = Scale(
            maker=by.maker,
            name=name,
            readability_g=readability_g,
            capacity_g=capacity_g,
            repeatability_g=repeatability_g,
        )
        scale.full_clean()
        scale.save()
        entry.about(scale)
        entry.say(readability=readability_g, capacity=capacity_g)
    return scale


def check_scale(
    by: By,
    *,
    scale: Scale,
    weight_g: Decimal,
    shown_g: Decimal,
    note: str = "",
    occurred_at: datetime | None = None,
) -> ScaleCheck:
    """Write down what a test weight showed."""
    with recording(by, "scale.checked") as entry:
        check = ScaleCheck(
            maker=by.maker,
            scale=scale,
            weight_g=weight_g,
            shown_g=shown_g,
            note=note,
            occurred_at=happened(by, occurred_at),
            entered_at=by.now(),
            user=by.user,
        )
        check.full_clean()
        check.save()
        entry.about(scale)
        entry.say(weight=weight_g, shown=shown_g)
    return check


def set_responsible(by: By, *, market: str, name: str, address: str, contact: str = "") -> ResponsibleParty:
    """Set who answers for products in a market."""
    with recording(by, "responsible.set", roles=OWNERS) as entry:
        party, _ = ResponsibleParty.objects.get_or_create(
            maker=by.maker, market=market, defaults={"name": name, "address": address}
        )
        party.name, party.address, party.contact = name, address, contact
        party.full_clean()
        party.save()
        entry.about(party)
        entry.say(market=market, address=address, contact=contact)
    return party


def file_document(
    by: By, upload: Any, kind: str, about: UUID | None = None, *, told: Sequence[UUID] = ()
) -> Document:
    """Keep an uploaded file with a record. ``upload.content_type`` must be the kind found in its content.

    told: further records whose journal tells of it.
    """
    with recording(by, "document.added") as entry:
        digest = hashlib.sha256()
        for chunk in upload.chunks():
            digest.update(chunk)
        upload.seek(0)
        document = Document(
            maker=by.maker,
            kind=kind,
            name=(upload.name or "paper").replace("\\", "/").rsplit("/", 1)[-1][:200],
            size=upload.size,
            content_type=upload.content_type,
            sha256=digest.hexdigest(),
            about=about,
            user=by.user,
            at=by.now(),
        )
        # Wrapped, so that a large upload is copied, not moved: should this be taken back, it can be tried again.
        document.file.save("paper", File(upload), save=False)
        document.save()
        entry.about(document)
        entry.say(kind=kind, size=upload.size, sha256=document.sha256)
        entry.mentions += [one for one in dict.fromkeys((about, *told)) if one is not None]
    return document


def save_contact(by: By, *, contact: Contact | None = None, **fields: str) -> Contact:
    """Add or change personal data. The journal says only that they changed."""
    with recording(by, "contact.changed") as entry:
        if contact is None:
            contact = Contact(maker=by.maker)
        else:
            contact = Contact.objects.for_maker(by.maker).select_for_update().get(pk=contact.pk)
            if contact.erased_at is not None:
                raise Refused("This contact was erased; write a new one.")
        for name in ("name", "email", "phone", "address", "note"):
            if name in fields:
                setattr(contact, name, fields[name])
        contact.full_clean()
        contact.save()
        entry.about(contact, "contact")
    return contact


def erase_contact(by: By, *, contact: Contact, why: str) -> Contact:
    """Erase the personal data of a contact for good; records that point to it stay whole."""
    with recording(by, "contact.erased", why=why, roles=OWNERS) as entry:
        contact = Contact.objects.for_maker(by.maker).select_for_update().get(pk=contact.pk)
        contact.forget()
        contact.erased_at = by.now()
        contact.save()
        entry.about(contact, "contact")
    return contact
