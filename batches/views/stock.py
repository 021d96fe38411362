"""The list of lots, receiving a delivery, counting in, and the page of a delivery."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, cast

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import DateField, Q, QuerySet, Value
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from batches.actions.stock import LinesRefused, count_in, receive_delivery
from batches.forms.lists import DeliveryFilter, LotFilter
from batches.forms.stock import CountInForm, DeliveryForm, LineForm, things_of
from batches.models import Delivery, Lot
from batches.rules.lot_state import SOON_DAYS
from batches.views.shelf import rows_of
from formulas.actions.ingredients import add_supplier
from formulas.models import Ingredient, Supplier
from makers.actions import By, entries_about
from makers.forms.keeping import brought
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.registries import panels_for
from makers.rules.display import clock, plural
from makers.views.house import journal_rows
from makers.views.lists import LATEST, SOONEST_FIRST, Listing, Sort, read_filter, show_list, words_of

FIRST_LINES, MORE_LINES, MOST_LINES = 3, 3, 200
CURRENCIES = ("EUR", "USD", "GBP", "CAD", "AUD", "NZD", "CHF", "SEK", "DKK", "NOK", "PLN", "CZK")


def lots_in(state: str, rows: QuerySet[Lot], today: date) -> QuerySet[Lot]:
    """The lots that a choice of the filter leaves."""
    lots = cast(Any, rows)
    if state == "quarantine":
        return cast("QuerySet[Lot]", lots.on_stock().of_status("quarantine"))
    if state == "hold":
        return cast("QuerySet[Lot]", lots.held_back())
    if state == "expiring":
        return cast("QuerySet[Lot]", lots.on_stock().in_date(today).due_by(today + timedelta(days=SOON_DAYS)))
    if state == "expired":
        return cast("QuerySet[Lot]", lots.on_stock().past_date(today))
    if state == "rejected":
        return cast("QuerySet[Lot]", lots.of_status("rejected"))
    if state == "used":
        return cast("QuerySet[Lot]", lots.used_up())
    return cast("QuerySet[Lot]", lots if state == "all" else lots.on_stock())


LOTS = Listing(
    template="batches/stock/lot_list.html",
    fragment="batches/stock/_lot_list.html",
    sorts={
        "until": Sort("until", date, "Until", SOONEST_FIRST),
        "material": Sort("material", title="Of"),
        "code": Sort("code", title="Code"),
        "left": Sort("on_hand", Decimal, "Left"),
        "received": Sort("received_on", date, "Received"),
    },
    default="until",
    name="lots",
    heads=(
        "lot", "material", "state", "status", "on hold", "on hand", "unit", "good until", "date is",
        "received", "from", "supplier lot", "as entered", "cost", "currency",
    ),
    cells=lambda row: [
        row.lot.code, row.material, row.state.word or row.state.mark, row.lot.status,
        "yes" if row.lot.held else "no", row.lot.on_hand, row.lot.unit, row.lot.good_until or "",
        row.lot.date_kind, row.lot.received_on, row.supplier, row.lot.supplier_lot or "not given",
        f"{row.lot.entered_amount} {row.lot.entered_unit}",
        "" if row.lot.cost is None else row.lot.cost, row.lot.currency,
    ],
)  # fmt: skip


@require_GET
@vary_on_headers("HX-Request")
def lot_list(request: MakerRequest) -> HttpResponse:
    """Every lot, first to expire first."""
    today = request.by.today()
    asked = read_filter(request, LotFilter, LOTS)
    rows = Lot.objects.for_maker(request.maker).with_subject()
    if words := asked.asked("q"):
        rows = rows.found_by(words)
    if ingredient := asked.asked("ingredient"):
        rows = rows.filter(ingredient__code=ingredient)
    listed = lots_in(asked.asked("state"), rows, today).annotate(
        until=Coalesce("good_until", Value(LATEST), output_field=DateField()),
        material=Coalesce("ingredient__name", "article__name", "rework_of__name"),
    )
    return show_list(
        request,
        listed,
        LOTS,
        asked,
        shown=lambda lots: rows_of(request.maker, lots, today),
        context={"has_lots": Lot.objects.for_maker(request.maker).exists},
    )


class LineSet:
    """The lines of a delivery on the page: as many as were asked for, the empty ones left out."""

    def __init__(self, request: MakerRequest, supplier: Supplier | None, *, checked: bool) -> None:
        things = things_of(request.maker, supplier)
        posted = request.method == "POST"
        count = read_count(request.POST.get("lines", ""), FIRST_LINES) if posted else FIRST_LINES
        if posted and not checked:
            count = min(count + read_count(request.POST.get("more", ""), 0), MOST_LINES)
        self.forms: list[LineForm] = []
        for number in range(count):
            common: dict[str, Any] = {
                "maker": request.maker,
                "things": things,
                "prefix": f"line-{number}",
                "empty_permitted": True,
            }
            if checked:
                form = LineForm(request.POST, request.FILES, **common)
            elif posted:
                form = LineForm(initial=typed(request, f"line-{number}-"), **common)
            elif number == 0 and (code := words_of(request, "ingredient")):
                form = LineForm(initial={"thing": first_choice(request, code, things.by_key)}, **common)
            else:
                form = LineForm(**common)
            self.forms.append(form)

    def __iter__(self) -> Any:
        return iter(self.forms)

    def __len__(self) -> int:
        return len(self.forms)

    @property
    def written(self) -> list[tuple[int, LineForm]]:
        """The lines in which something stands, with their place on the page."""
        return [(number, form) for number, form in enumerate(self.forms) if form.has_changed()]

    def is_valid(self) -> bool:
        """Check every line, so that all of them say at once what they need."""
        good = [form.is_valid() for form in self.forms]
        return all(good)

    def show(self, refused: LinesRefused) -> None:
        """Put an action's sentences beside the lines that they speak of."""
        places = [number for number, _ in self.written]
        for number, refusal in refused.lines.items():
            show_refusal(self.forms[places[number]], refusal, {"ingredient": "thing", "unit": "amount"})


def read_count(text: str, otherwise: int) -> int:
    """A number of lines from the page, within bounds; ``otherwise`` for what can't be read."""
    return min(int(text), MOST_LINES) if text.isascii() and text.isdigit() and len(text) < 6 else otherwise


def typed(request: MakerRequest, prefix: str) -> dict[str, Any]:
    """What was typed and chosen in one line, to be shown again unchecked."""
    found = {key[len(prefix) :]: value for key, value in request.POST.items() if key.startswith(prefix)}
    found["document"] = brought(request, f"{prefix}document")
    found["amount"] = [found.pop("amount_amount", ""), found.pop("amount_unit", "")]
    return found


def first_choice(request: MakerRequest, code: str, by_key: Mapping[str, Any]) -> str:
    """The choice for an ingredient that the address names."""
    ingredient = Ingredient.objects.for_maker(request.maker).filter(code=code).first()
    key = f"i-{ingredient.uuid}" if ingredient else ""
    return key if key in by_key else ""


def supplier_asked(request: MakerRequest) -> Supplier | None:
    """The supplier chosen on the page, or named by the address."""
    asked = request.POST.get("supplier") or request.GET.get("supplier", "")
    if not (asked.isascii() and asked.isdigit() and len(asked) < 18):
        return None
    found: Supplier | None = Supplier.objects.for_maker(request.maker).filter(pk=int(asked)).first()
    return found


@require_http_methods(["GET", "POST"])
def receive(request: MakerRequest) -> HttpResponse:
    """Write down a delivery. "Add lines" and "Show what they sell" come back with what was typed."""
    supplier = supplier_asked(request)
    writing = request.method == "POST" and "write" in request.POST
    start: dict[str, Any] = {
        "received_on": request.by.today(),
        "currency": request.maker.currency,
        "supplier": supplier.pk if supplier else None,
    }
    if request.method == "POST" and not writing:
        start |= {key: value for key, value in request.POST.items() if key in DeliveryForm.base_fields}
    form = DeliveryForm(
        request.POST if writing else None, initial=start, maker=request.maker, currencies=CURRENCIES
    )
    lines = LineSet(request, supplier, checked=writing)
    if writing:
        whole = form.is_valid()
        if lines.is_valid() and whole:
            if not lines.written:
                form.add_error(None, "Nothing came yet. Write one line for each thing in the parcel.")
            else:
                try:
                    delivery = received(request.by, form, lines)
                except LinesRefused as refused:
                    lines.show(refused)
                except ValidationError as refused:
                    show_refusal(form, refused)
                else:
                    return done(request, delivery)
    form.below = lines.forms
    context = {"form": form, "lines": lines, "supplier": supplier, "more": MORE_LINES}
    return render(request, "batches/stock/receive.html", context)


def received(by: By, form: DeliveryForm, lines: LineSet) -> Delivery:
    """Write the delivery down; a supplier that is new comes first, and stays out if the delivery does."""
    data = dict(form.cleaned_data)
    new = data.pop("new_supplier")
    with transaction.atomic():
        if data["supplier"] is None:
            data["supplier"] = add_supplier(by, name=new)
        return receive_delivery(by, lines=[line.facts for _, line in lines.written], **data)


def done(request: MakerRequest, delivery: Delivery) -> HttpResponse:
    """Lead to the delivery's page and say what was written."""
    count = delivery.lots.count()
    at = clock(request.by.now().astimezone(request.maker.zone))
    what = f"{count} {plural(count, 'lot')} in quarantine"
    messages.success(request, f"Written down, {at}: {what}. Decide about each before it is weighed.")
    return moved_on(address(request.maker, "batches:delivery", code=delivery.code), request)


@require_http_methods(["GET", "POST"])
def shelf_count(request: MakerRequest) -> HttpResponse:
    """Count in what was on the shelf before the book was opened, one lot at a time."""
    things = things_of(request.maker)
    start = {}
    if code := words_of(request, "ingredient"):
        start["thing"] = first_choice(request, code, things.by_key)
    posted = request.method == "POST"
    form = CountInForm(
        request.POST if posted else None,
        request.FILES if posted else None,
        initial=start,
        maker=request.maker,
        things=things,
    )
    if posted and form.is_valid():
        try:
            lot = count_in(request.by, entry_key=form.cleaned_data.get("entry_key"), **form.facts)
        except ValidationError as refusal:
            show_refusal(form, refusal, {"ingredient": "thing", "unit": "amount"})
        else:
            messages.success(request, f"{lot.code} is counted in and waits in quarantine for your decision.")
            if "next" in request.POST:
                return moved_on(address(request.maker, "batches:count-in"), request)
            return moved_on(address(request.maker, "batches:lot", code=lot.code), request)
    return render(request, "batches/stock/count_in.html", {"form": form, "any": len(things.by_key) > 0})


DELIVERIES = Listing(
    template="batches/stock/delivery_list.html",
    sorts={
        "received": Sort("received_on", date, "Received"),
        "code": Sort("code", title="Code"),
        "supplier": Sort("supplier__name", title="Supplier"),
        "reference": Sort("reference", title="Their reference"),
    },
    default="-received",
    name="deliveries",
    heads=("delivery", "supplier", "reference", "received", "lots", "freight", "currency"),
    cells=lambda row: [
        row.code, row.supplier.name, row.reference, row.received_on, len(row.lots.all()),
        "" if row.freight is None else row.freight, row.currency,
    ],
)  # fmt: skip


@require_GET
def delivery_list(request: MakerRequest) -> HttpResponse:
    """Every delivery, newest first."""
    asked = read_filter(request, DeliveryFilter, DELIVERIES)
    rows = Delivery.objects.for_maker(request.maker).select_related("supplier").prefetch_related("lots")
    if words := asked.asked("q"):
        rows = rows.filter(
            Q(code__icontains=words) | Q(supplier__name__icontains=words) | Q(reference__icontains=words)
        )
    return show_list(request, rows, DELIVERIES, asked)


@require_GET
def delivery(request: MakerRequest, code: str) -> HttpResponse:
    """One delivery with its lots and its money."""
    row = get_object_or_404(
        Delivery.objects.for_maker(request.maker).select_related("supplier", "user"), code=code
    )
    lots = list(Lot.objects.for_maker(request.maker).filter(delivery=row).with_subject().order_by("pk"))
    costs = [lot.cost for lot in lots if lot.cost is not None]
    context = {
        "delivery": row,
        "rows": rows_of(request.maker, lots, request.by.today()),
        "waiting": sum(lot.status == "quarantine" for lot in lots),
        "cost": sum(costs, start=Decimal(0)) if len(costs) == len(lots) else None,
        "panels": panels_for(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/stock/delivery.html", context)
