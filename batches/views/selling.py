"""Packs, places, recipients and dispatches on screen."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q, Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from batches.actions.selling import (
    add_place,
    add_recipient,
    bulk_left,
    count_units,
    destroy_units,
    dispatch,
    keep_units,
    move_units,
    pack_batch,
)
from batches.actions.stock import open_hold
from batches.forms.selling import (
    ContactForm,
    CountForm,
    DestroyForm,
    DispatchForm,
    DispatchLineForm,
    KeepForm,
    MoveForm,
    PackForm,
    PlaceForm,
    RecipientForm,
)
from batches.forms.stock import HoldForm
from batches.models import Batch, Dispatch, Pack, PackBalance, PackEntry, Place, Recipient
from batches.tracing import Trace, read_packs
from batches.views.holds import holds_on
from formulas.models import Product
from makers.actions import OWNERS, entries_about
from makers.actions.house import erase_contact, save_contact
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.registries import panels_for
from makers.views.forms import carried_out
from makers.views.house import journal_rows

DISPATCH_ROWS = 4


def form_page(
    request: MakerRequest,
    form: Any,
    act: Callable[[dict[str, Any]], Any],
    *,
    title: str,
    act_word: str,
    back: tuple[str, str],
    done: str,
    then: Callable[[Any], str] | None = None,
    text: str = "",
) -> HttpResponse:
    """A page of one form: act on good input, come back with sentences otherwise."""
    gone = carried_out(request, form, act, then=then or back[1], said=done)
    if gone is not None:
        return gone
    context = {"form": form, "title": title, "act_word": act_word, "trail": [back], "text": text}
    return render(request, "batches/selling/one_form.html", context)


def day_now(request: MakerRequest) -> Any:
    """The maker's day."""
    return request.by.today()


def fetch_pack(request: MakerRequest, code: str) -> Pack:
    """One of the maker's packs, or 404."""
    found: Pack = get_object_or_404(
        Pack.objects.for_maker(request.maker).select_related("batch", "batch__formula", "product"), code=code
    )
    return found


@require_GET
def pack(request: MakerRequest, code: str) -> HttpResponse:
    """One pack: where its units are, how they moved."""
    row = fetch_pack(request, code)
    trace = Trace(forward=False)
    read_packs(request.maker, trace, {row.batch_id})
    account = next(one for one in trace.accounts if one.pack.pk == row.pk)
    entries = row.entries.select_related("from_place", "to_place", "dispatch", "user", "came_back")
    holds = holds_on(request.maker, Q(pack=row) | Q(batch=row.batch_id))
    context = {
        "pack": row,
        "account": account,
        "balances": [
            one for one in row.balances.select_related("place").order_by("place__name") if one.units
        ],
        "holders": [one for one in trace.holders if one.pack.pk == row.pk],
        "entries": list(entries),
        "holds": holds,
        "open_holds": [hold for hold in holds if hold.closed_at is None],
        "hold_form": HoldForm(maker=request.maker),
        "panels": panels_for(request.maker, row),
        "waits": row.batch.state == Batch.State.MADE,
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/selling/pack.html", context)


@require_http_methods(["GET", "POST"])
def pack_add(request: MakerRequest, code: str) -> HttpResponse:
    """Fill packs from a batch."""
    batch = get_object_or_404(Batch.objects.for_maker(request.maker).select_related("formula"), code=code)
    start: dict[str, Any] = {"packed_on": day_now(request), "product": batch.product_id}
    left = bulk_left(batch)
    form = PackForm(request.POST or None, initial=start, maker=request.maker, formula=batch.formula)
    return form_page(
        request,
        form,
        lambda data: pack_batch(request.by, batch=batch, **data),
        title=f"Pack from {batch}",
        act_word="Write down the packs",
        back=(f"Batch {batch}", address(request.maker, "batches:batch", code=batch.code)),
        done="The packs are in the workshop.",
        then=lambda made: address(request.maker, "batches:pack", code=made.code),
        text=f"{left.normalize():f} g of the bulk are left." if left is not None else "",
    )


def pack_act(name: str) -> Callable[..., HttpResponse]:
    """The view of one act on a pack."""
    acts: dict[str, tuple[Any, Any, str, str]] = {
        "hold": (HoldForm, open_hold, "Put on hold:", "Put on hold"),
        "keep": (KeepForm, keep_units, "Keep samples of", "Keep them"),
        "destroy": (DestroyForm, destroy_units, "Destroy units of", "Write down that they are destroyed"),
        "move": (MoveForm, move_units, "Move units of", "Move them"),
        "count": (CountForm, count_units, "Count", "Write down the count"),
    }
    form_class, action, title, act_word = acts[name]

    @require_http_methods(["GET", "POST"])
    def view(request: MakerRequest, code: str) -> HttpResponse:
        row = fetch_pack(request, code)
        more = {"pack": row} if name in {"destroy", "move"} else {}
        form = form_class(request.POST or None, maker=request.maker, **more)

        def act(data: dict[str, Any]) -> Any:
            if name == "move":
                data = {**data, "from_place": data["place"]}
                del data["place"]
            return action(request.by, pack=row, **data)

        return form_page(
            request,
            form,
            act,
            title=f"{title} {row}",
            act_word=act_word,
            back=(f"Pack {row}", address(request.maker, "batches:pack", code=code)),
            done="Written down.",
        )

    return view


@require_http_methods(["GET", "POST"])
def place_add(request: MakerRequest) -> HttpResponse:
    """Add a stall or a shop."""
    return form_page(
        request,
        PlaceForm(request.POST or None, maker=request.maker),
        lambda data: add_place(request.by, **data),
        title="Add a place",
        act_word="Add this place",
        back=("Places", address(request.maker, "batches:places")),
        done="The place is on the list.",
    )


@require_GET
def place(request: MakerRequest, code: str) -> HttpResponse:
    """One place with what is there."""
    row = get_object_or_404(Place.objects.for_maker(request.maker).select_related("contact"), code=code)
    balances = (
        PackBalance.objects.filter(place=row, units__gt=0)
        .select_related("pack__product", "pack__batch")
        .order_by("pack__best_before", "pk")
    )
    context = {
        "place": row,
        "balances": list(balances),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/selling/place.html", context)


@require_http_methods(["GET", "POST"])
def recipient_add(request: MakerRequest) -> HttpResponse:
    """Add a recipient."""
    return form_page(
        request,
        RecipientForm(request.POST or None, maker=request.maker),
        lambda data: add_recipient(request.by, **data),
        title="Add a recipient",
        act_word="Add this recipient",
        back=("Recipients", address(request.maker, "batches:recipients")),
        done="The recipient is on the list.",
        then=lambda made: address(request.maker, "batches:recipient", code=made.code),
    )


@require_GET
def recipient(request: MakerRequest, code: str) -> HttpResponse:
    """One recipient with the dispatches."""
    row = get_object_or_404(Recipient.objects.for_maker(request.maker).select_related("contact"), code=code)
    sent = row.dispatches.annotate(units=Sum("entries__units", filter=Q(entries__kind="dispatched")))
    context = {
        "recipient": row,
        "sent": list(sent),
        "is_owner": request.by.role in OWNERS,
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/selling/recipient.html", context)


@require_http_methods(["GET", "POST"])
def recipient_contact(request: MakerRequest, code: str) -> HttpResponse:
    """Change how a recipient is reached."""
    row = get_object_or_404(Recipient.objects.for_maker(request.maker).select_related("contact"), code=code)
    contact = row.contact
    initial = {name: getattr(contact, name) for name in ContactForm.base_fields} if contact else {}

    def act(data: dict[str, Any]) -> Any:
        saved = save_contact(request.by, contact=contact, **data)
        if contact is None:
            Recipient.objects.filter(pk=row.pk).update(contact=saved)
        return saved

    return form_page(
        request,
        ContactForm(request.POST or None, initial=initial, maker=request.maker),
        act,
        title=f"How to reach {row}",
        act_word="Write it down",
        back=(f"Recipient {row}", address(request.maker, "batches:recipient", code=code)),
        done="Written down. The journal says only that it changed.",
    )


@require_http_methods(["POST"])
def recipient_erase(request: MakerRequest, code: str) -> HttpResponse:
    """Erase a recipient's personal data; what went to them stays on record."""
    request.by.must_be(OWNERS)
    row = get_object_or_404(Recipient.objects.for_maker(request.maker).select_related("contact"), code=code)
    why = request.POST.get("why", "").strip()
    if row.contact is None or row.contact.erased_at:
        messages.info(request, "There is nothing left to erase.")
    elif not why:
        messages.error(request, "Say why, for example that the person asked for it.")
    else:
        erase_contact(request.by, contact=row.contact, why=why)
        messages.success(request, f"The personal data of {row} are erased. Counts and traces stay whole.")
    return moved_on(address(request.maker, "batches:recipient", code=code), request)


def sending_places(request: MakerRequest) -> Any:
    """Places that packs are sent from."""
    kinds = [Place.Kind.WORKSHOP, Place.Kind.STALL, Place.Kind.SHOP]
    return Place.objects.filter(maker=request.maker, active=True, kind__in=kinds).order_by("pk")


def dispatch_rows(request: MakerRequest, places: Any, more: bool) -> list[DispatchLineForm]:
    """The rows as they were typed, or empty ones."""
    known: dict[str, Pack] = {}
    count = DISPATCH_ROWS
    if request.method == "POST":
        packs = Pack.objects.for_maker(request.maker).select_related("batch")
        known = {one.code.casefold(): one for one in packs}
        count = 0
        while count < 100 and f"row-{count}-pack" in request.POST:
            count += 1
    first = {"pack": request.GET.get("pack", "")[:20]}
    origin = places.filter(code=request.GET.get("from", "")[:20]).first()
    start = {"place": origin.pk} if origin is not None else {}

    def row(index: int, data: Any) -> DispatchLineForm:
        return DispatchLineForm(
            data,
            prefix=f"row-{index}",
            maker=request.maker,
            places=places,
            known=known,
            initial={**start, **first} if index == 0 else start,
        )

    rows = [row(index, request.POST or None) for index in range(count)]
    return rows + [row(count + index, None) for index in range(DISPATCH_ROWS if more else 0)]


def lines_typed(rows: list[DispatchLineForm], places: Any) -> list[tuple[Pack, int, Place]]:
    """The rows that name a pack, as dispatch takes them."""
    return [
        (row.cleaned_data["pack"], row.cleaned_data["units"], row.cleaned_data["place"] or places[0])
        for row in rows
        if row.cleaned_data.get("pack")
    ]


def show_on_row(head: DispatchForm, rows: list[DispatchLineForm], refusal: ValidationError) -> None:
    """Put a refusal beside the row that it speaks of; at the head where it speaks of a field there, or of all."""
    line = getattr(refusal, "line", None)
    keys = set(getattr(refusal, "error_dict", {}))
    if line is None or keys & set(head.fields):
        show_refusal(head, refusal)
        return
    row = [row for row in rows if row.is_bound and row.cleaned_data.get("pack")][line]
    for text in refusal.messages:
        row.add_error("units" if "units" in keys else "pack", text)


def not_in_heat(packs: Iterable[Pack]) -> list[Product]:
    """The products among them that are not sent above some temperature, each once, the most tender first."""
    found = {one.product for one in packs if one.product.not_above_c is not None}
    return sorted(found, key=lambda one: (one.not_above_c, one.name))


@require_http_methods(["GET", "POST"])
def dispatch_add(request: MakerRequest) -> HttpResponse:
    """Send packs."""
    places = sending_places(request)
    start: dict[str, Any] = {"on": day_now(request)}
    if request.GET.get("to"):
        chosen = Recipient.objects.for_maker(request.maker).filter(code=request.GET["to"][:20]).first()
        start["recipient"] = chosen and chosen.pk
    head = DispatchForm(request.POST or None, initial=start, maker=request.maker)
    more = request.method == "POST" and request.POST.get("do") == "more"
    rows = dispatch_rows(request, places, more)
    if request.method == "POST":
        bound = [row.is_valid() for row in rows if row.is_bound]  # every row says what it needs
        if head.is_valid() and all(bound) and not more:
            try:
                sent = dispatch(request.by, lines=lines_typed(rows, places), **head.cleaned_data)
            except ValidationError as refusal:
                show_on_row(head, rows, refusal)
            else:
                messages.success(request, f"{sent} is written down.")
                return moved_on(address(request.maker, "batches:dispatch", code=sent.code), request)
    sendable = (
        Pack.objects.for_maker(request.maker)
        .filter(balances__units__gt=0, balances__place__in=places)
        .select_related("product", "batch")
        .distinct()
        .order_by("best_before", "pk")
    )
    head.below, head.row_word = rows, "pack"
    named = {str(row["pack"].value() or "").strip().casefold() for row in rows}
    packs = list(sendable[:200])
    context = {
        "head": head,
        "rows": rows,
        "packs": packs,
        "warm": not_in_heat([one for one in packs if one.code.casefold() in named]),
    }
    return render(request, "batches/selling/dispatch_form.html", context)


@require_GET
def dispatch_page(request: MakerRequest, code: str) -> HttpResponse:
    """One dispatch: what went, what came back."""
    row = get_object_or_404(
        Dispatch.objects.for_maker(request.maker).select_related("recipient__contact", "user"), code=code
    )
    lines = row.entries.filter(kind=PackEntry.Kind.DISPATCHED).select_related(
        "pack__product", "pack__batch", "from_place"
    )
    context = {
        "sent": row,
        "lines": list(lines),
        "warm": not_in_heat(line.pack for line in lines),
        "returns": list(row.returns.select_related("pack")),
        "units": sum(line.units for line in lines),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/selling/dispatch.html", context)
