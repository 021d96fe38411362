"""The list of lots, receiving a delivery, counting in, and the page of a delivery."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, cast

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import DateField, QuerySet, Value
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from batches.actions.stock import LinesRefused, count_in, receive_delivery
from batches.forms.stock import CountInForm, DeliveryForm, LineForm, LotFilterForm, things_of
from batches.models import Delivery, Lot
from batches.rules.lot_state import SOON_DAYS
from batches.views.shelf import material_of, rows_of, supplier_of
from formulas.actions.ingredients import add_supplier
from formulas.models import Ingredient, Supplier
from makers.actions import By, entries_about
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on, wants_fragment
from makers.registries import panels_for
from makers.rules.display import clock, plural
from makers.views.house import journal_rows
from makers.views.lists import Sort, csv_response, keyset_page, pager, wants_csv, words_of

LATEST = date(9999, 12, 31)
SORTS = {
    "until": Sort("until", date),
    "material": Sort("material"),
    "code": Sort("code"),
    "left": Sort("on_hand", Decimal),
    "received": Sort("received_on", date),
}
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


@require_GET
def lot_list(request: MakerRequest) -> HttpResponse:
    """Every lot, first to expire first."""
    today = request.by.today()
    words, state = words_of(request), request.GET.get("state", "stock")
    rows = Lot.objects.for_maker(request.maker).with_subject()
    if words:
        rows = rows.found_by(words)
    if ingredient := words_of(request, "ingredient"):
        rows = rows.filter(ingredient__code=ingredient)
    listed = lots_in(state, rows, today).annotate(
        until=Coalesce("good_until", Value(LATEST), output_field=DateField()),
        material=Coalesce("ingredient__name", "article__name", "rework_of__name"),
    )
    if wants_csv(request):
        return lots_csv(listed, today)
    page = keyset_page(request, listed, SORTS, "until")
    context = {
        "page": page,
        "rows": rows_of(request.maker, page.rows, today),
        "pager": pager(request, page),
        "filter": LotFilterForm(request.GET or None, initial={"state": "stock"}, maker=request.maker),
        "filtered": bool(words or ingredient or state not in {"stock", ""}),
        "any": bool(page.rows) or Lot.objects.for_maker(request.maker).exists(),
    }
    template = "batches/stock/_lot_list.html" if wants_fragment(request) else "batches/stock/lot_list.html"
    return render(request, template, context)


def lots_csv(rows: QuerySet[Any], today: date) -> HttpResponse:
    """The list as CSV, in full."""
    heads = [
        "lot", "material", "state", "status", "on hold", "on hand", "unit", "good until", "date is",
        "received", "from", "supplier lot", "as entered", "cost", "currency",
    ]  # fmt: skip
    shown = {row.lot.pk: row.state for row in rows_of(rows[0].maker, rows, today)} if rows else {}
    return csv_response(
        "lots",
        heads,
        rows.order_by("until", "pk"),
        lambda lot: [
            lot.code, material_of(lot)[0],
            shown[lot.pk].word or shown[lot.pk].mark, lot.status,
            "yes" if lot.held else "no", lot.on_hand, lot.unit, lot.good_until or "", lot.date_kind,
            lot.received_on, supplier_of(lot), lot.supplier_lot or "not given",
            f"{lot.entered_amount} {lot.entered_unit}",
            "" if lot.cost is None else lot.cost, lot.currency,
        ],
    )  # fmt: skip


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
                form = LineForm(initial=typed(request.POST, f"line-{number}-"), **common)
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


def typed(data: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    """What was typed into one line, to be shown again unchecked."""
    found = {key[len(prefix) :]: value for key, value in data.items() if key.startswith(prefix)}
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


@require_GET
def delivery_list(request: MakerRequest) -> HttpResponse:
    """Every delivery, newest first."""
    rows = Delivery.objects.for_maker(request.maker).select_related("supplier").prefetch_related("lots")
    if words := words_of(request):
        rows = rows.filter(supplier__name__icontains=words) | rows.filter(reference__icontains=words)
    if wants_csv(request):
        return csv_response(
            "deliveries",
            ["delivery", "supplier", "reference", "received", "lots", "freight", "currency"],
            rows.order_by("received_on", "pk"),
            lambda row: [
                row.code, row.supplier.name, row.reference, row.received_on, len(row.lots.all()),
                "" if row.freight is None else row.freight, row.currency,
            ],
        )  # fmt: skip
    sorts = {"received": Sort("received_on", date), "code": Sort("code"), "supplier": Sort("supplier__name")}
    page = keyset_page(request, rows, sorts, "-received")
    context = {"page": page, "pager": pager(request, page), "words": words}
    return render(request, "batches/stock/delivery_list.html", context)


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
