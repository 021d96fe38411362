"""The lists of packs, places, recipients and dispatches."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import DateField, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce, Lower
from django.http import HttpResponse
from django.views.decorators.http import require_GET

from batches.forms.lists import DispatchFilter, PackFilter, PlaceFilter, RecipientFilter
from batches.models import Dispatch, Pack, PackBalance, PackEntry, Place, Recipient
from makers.http import MakerRequest
from makers.views.lists import LATEST, SOONEST_FIRST, WRITTEN, Listing, Sort, read_filter, show_list

IN_THE_HOUSE = (Place.Kind.WORKSHOP, Place.Kind.STALL)


def units_of(rows: QuerySet[Any], by: str) -> Coalesce:
    """The units of these rows for each record that ``by`` leads to; reckoned only for the rows that are looked at."""
    sums = rows.filter(**{by: OuterRef("pk")}).order_by().values(by).annotate(sum=Sum("units")).values("sum")
    return Coalesce(Subquery(sums), Value(0), output_field=IntegerField())


PACKS = Listing(
    template="batches/selling/pack_list.html",
    sorts={
        "newest": WRITTEN,
        "code": Sort("code", title="Code"),
        "product": Sort("product_name", title="Product"),
        "batch": Sort("batch__code", title="Batch"),
        "packed": Sort("packed_on", date, "Packed"),
        "until": Sort("until", date, "Best before", SOONEST_FIRST),
        "here": Sort("at_home", int, "In the house"),
        "units": Sort("units", int, "Packed units"),
    },
    default="-newest",
    name="packs",
    heads=(
        "code", "batch", "product", "state of the batch", "on hold", "units packed", "in the house", "packed on",
        "best before",
    ),
    cells=lambda row: [
        row.code, row.batch.code, row.product.name, row.batch.state, row.on_hold.lower(), row.units, row.at_home,
        row.packed_on, row.best_before,
    ],
)  # fmt: skip


@require_GET
def pack_list(request: MakerRequest) -> HttpResponse:
    """Packs, with what is still in the house."""
    asked = read_filter(request, PackFilter, PACKS)
    rows = (
        Pack.objects.for_maker(request.maker)
        .select_related("batch", "product")
        .annotate(
            at_home=units_of(PackBalance.objects.filter(place__kind__in=IN_THE_HOUSE), "pack"),
            until=Coalesce("best_before", Value(LATEST), output_field=DateField()),
            product_name=Lower("product__name"),
        )
    )
    if words := asked.asked("q"):
        rows = rows.filter(
            Q(code__icontains=words) | Q(product__name__icontains=words) | Q(batch__code__icontains=words)
        )
    on_hold, released = Q(held=True) | Q(batch__held=True), Q(batch__state="released")
    states = {"sale": released & ~on_hold, "hold": on_hold, "waiting": ~released}
    if state := asked.asked("state"):
        rows = rows.filter(states[state])
    if asked.asked("here"):
        rows = rows.filter(at_home__gt=0)
    return show_list(request, rows, PACKS, asked)


PLACES = Listing(
    template="batches/selling/place_list.html",
    sorts={
        "name": Sort("low_name", title="Name"),
        "code": Sort("code", title="Code"),
        "kind": Sort("kind", title="Kind"),
        "units": Sort("units", int, "Packs there"),
    },
    default="name",
    name="places",
    heads=("code", "name", "kind", "packs there"),
    cells=lambda row: [row.code, row.name, row.kind, row.units],
)


@require_GET
def place_list(request: MakerRequest) -> HttpResponse:
    """Where packs are."""
    asked = read_filter(request, PlaceFilter, PLACES)
    rows = Place.objects.for_maker(request.maker).annotate(
        units=units_of(PackBalance.objects.all(), "place"), low_name=Lower("name")
    )
    if words := asked.asked("q"):
        rows = rows.filter(Q(code__icontains=words) | Q(name__icontains=words))
    if kind := asked.asked("kind"):
        rows = rows.filter(kind=kind)
    if asked.asked("here"):
        rows = rows.filter(units__gt=0)
    return show_list(request, rows, PLACES, asked)


def named(path: str = "") -> Lower:
    """The name of a recipient's contact for sorting; empty where none is on record."""
    return Lower(Coalesce(f"{path}contact__name", Value("")))


RECIPIENTS = Listing(
    template="batches/selling/recipient_list.html",
    sorts={
        "newest": WRITTEN,
        "name": Sort("low_name", title="Name"),
        "code": Sort("code", title="Code"),
        "kind": Sort("kind", title="Kind"),
        "market": Sort("market", title="Market"),
        "sent": Sort("units", int, "Packs sent"),
    },
    default="-newest",
    name="recipients",
    heads=("code", "kind", "name", "e-mail", "telephone", "market", "packs sent"),
    cells=lambda row: [row.code, row.kind, *reached(row), row.market, row.units],
)


def reached(row: Recipient) -> tuple[str, str, str]:
    """Name, e-mail and telephone of a recipient; empty where they are not on record."""
    contact = row.contact
    return (contact.name, contact.email, contact.phone) if contact else ("", "", "")


def sent() -> QuerySet[Any]:
    """What left with a dispatch, pack by pack."""
    rows: QuerySet[Any] = PackEntry.objects.filter(kind=PackEntry.Kind.DISPATCHED)
    return rows


@require_GET
def recipient_list(request: MakerRequest) -> HttpResponse:
    """Who packs went to."""
    asked = read_filter(request, RecipientFilter, RECIPIENTS)
    rows = (
        Recipient.objects.for_maker(request.maker)
        .select_related("contact")
        .annotate(low_name=named(), units=units_of(sent(), "dispatch__recipient"))
    )
    if words := asked.asked("q"):
        rows = rows.filter(
            Q(code__icontains=words) | Q(contact__name__icontains=words) | Q(contact__email__icontains=words)
        )
    if kind := asked.asked("kind"):
        rows = rows.filter(kind=kind)
    rows = in_market(rows, asked.asked("market"))
    return show_list(request, rows, RECIPIENTS, asked)


def in_market(rows: QuerySet[Any], market: str) -> QuerySet[Any]:
    """The rows of a market; of no market for "none", all of them for nothing."""
    return rows.filter(market="" if market == "none" else market) if market else rows


DISPATCHES = Listing(
    template="batches/selling/dispatch_list.html",
    sorts={
        "on": Sort("on", date, "On"),
        "code": Sort("code", title="Code"),
        "to": Sort("low_name", title="To"),
        "market": Sort("market", title="Market"),
        "units": Sort("units", int, "Units"),
    },
    default="-on",
    name="dispatches",
    heads=("code", "on", "recipient", "units", "market", "reference"),
    cells=lambda row: [row.code, row.on, row.recipient.code, row.units, row.market, row.reference],
)


@require_GET
def dispatch_list(request: MakerRequest) -> HttpResponse:
    """What left, newest first."""
    asked = read_filter(request, DispatchFilter, DISPATCHES)
    rows = (
        Dispatch.objects.for_maker(request.maker)
        .select_related("recipient__contact")
        .annotate(low_name=named("recipient__"), units=units_of(sent(), "dispatch"))
    )
    if words := asked.asked("q"):
        rows = rows.filter(
            Q(code__icontains=words)
            | Q(reference__icontains=words)
            | Q(recipient__code__icontains=words)
            | Q(recipient__contact__name__icontains=words)
        )
    rows = in_market(rows, asked.asked("market"))
    return show_list(request, rows, DISPATCHES, asked)
