"""Labels: the list, one label, its texts, names for a market."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.db.models import Q
from django.db.models.functions import Lower
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from batches.models import Batch
from formulas.models import Product, Substance
from labels.actions.labels import change_label, draft_label, name_substance
from labels.assembly import LabelPaper, assemble_one, differences, market_word
from labels.forms.labels import (
    ConfirmForm,
    LabelAddForm,
    LabelFilter,
    LabelTextsForm,
    NameForm,
    RunForm,
    SheetForm,
    WhyForm,
)
from labels.models import Label, PrintRun, SheetLayout
from labels.proof import Proof, proof_of
from labels.rules.entries import SECTIONS, percent_text
from labels.rules.tables import RULES_EDITION
from labels.standing import standings
from labels.views.fetch import fetch_label, url_of
from makers.actions import entries_about
from makers.forms.locale import current_mark
from makers.http import MakerRequest, address
from makers.models import Role
from makers.rules.display import in_a_row, in_mark
from makers.views.forms import carried_out
from makers.views.house import journal_rows
from makers.views.lists import Listing, Sort, read_filter, show_list

HEADINGS = {
    ("EU", "sorted"): "1 % and above, by weight",
    ("EU", "free"): "Below 1 %, any order",
    ("US", "sorted"): "Above 1 %, by weight",
    ("US", "free"): "1 % or less, any order",
    ("", "allergens"): "Perfume allergens",
    ("", "colours"): "Colours, last in any order",
}
US_PLANT_HINT = "A plant is printed in the US as Latin (Common) Part: Butyrospermum Parkii (Shea) Butter. "
EVERY_LABEL_HINT = "The name counts on every label of yours for this market."


LABELS = Listing(
    template="labels/label_list.html",
    fragment="labels/_label_list.html",
    sorts={
        "product": Sort("product_name", title="Product"),
        "market": Sort("market", title="Market"),
        "language": Sort("language", title="Language"),
        "state": Sort("state", title="State"),
    },
    default="product",
    name="labels",
    heads=(
        "product code", "product", "market", "language", "state", "issue", "approved", "stale because of", "waits for",
    ),
    cells=lambda row: [
        row.label.product.code, row.label.product.name, row.label.market, row.label.language, row.label.state,
        row.issue.number if row.issue else "", row.issue.approved_at.date().isoformat() if row.issue else "",
        ", ".join(row.stale), len(row.waits),
    ],
)  # fmt: skip


@require_GET
@vary_on_headers("HX-Request")
def label_list(request: MakerRequest) -> HttpResponse:
    """Products by markets, with the state of each label and whether it went stale."""
    asked = read_filter(request, LabelFilter, LABELS)
    rows = (
        Label.objects.for_maker(request.maker)
        .select_related("product__formula", "maker")
        .annotate(product_name=Lower("product__name"))
    )
    if words := asked.asked("q"):
        rows = rows.filter(Q(product__name__icontains=words) | Q(product__code__icontains=words))
    for name in ("market", "state"):
        if chosen := asked.asked(name):
            rows = rows.filter(**{name: chosen})
    return show_list(
        request,
        rows,
        LABELS,
        asked,
        shown=lambda labels: standings(request.maker, labels),
        context={"without": [] if asked.is_filtering else markets_without(request)},
    )


def markets_without(request: MakerRequest) -> list[dict[str, str]]:
    """Products in use that are sold to a market without a label of any state."""
    have = set(Label.objects.for_maker(request.maker).values_list("product_id", "market"))
    found = []
    for product in Product.objects.for_maker(request.maker).filter(active=True)[:200]:
        for market in product.markets:
            if (product.pk, market) not in have:
                found.append(
                    {
                        "product": product.name,
                        "code": product.code,
                        "market": market,
                        "word": market_word(market),
                    }
                )
    return found[:40]


@require_http_methods(["GET", "POST"])
def label_add(request: MakerRequest) -> HttpResponse:
    """Draft a label."""
    initial: dict[str, Any] = {"market": request.GET.get("market") or next(iter(request.maker.markets), "EU")}
    product = Product.objects.for_maker(request.maker).filter(code=request.GET.get("product", "")).first()
    if product is not None:
        initial["product"] = product.pk
    form = LabelAddForm(request.POST or None, initial=initial, maker=request.maker)
    gone = carried_out(request, form, lambda data: draft_label(request.by, **data), then=url_of)
    if gone is not None:
        return gone
    context = {
        "form": form,
        "title": "Draft a label",
        "act_word": "Draft this label",
        "trail": [("Labels", address(request.maker, "labels:labels"))],
        "none_yet": not Product.objects.for_maker(request.maker).exists(),
    }
    return render(request, "labels/one_form.html", context)


@require_GET
def label(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """One label: its list with reasons, what is required, what is to be confirmed, the proof."""
    return show_label(request, fetch_label(request, code, key))


def show_label(
    request: MakerRequest,
    row: Label,
    *,
    confirm: ConfirmForm | None = None,
    sheet: SheetForm | None = None,
    run: RunForm | None = None,
    withdraw: WhyForm | None = None,
) -> HttpResponse:
    """The page, with forms that came back in their place."""
    paper = assemble_one(row)
    proof = proof_of(paper) if paper else None
    issues = list(
        row.issues.select_related("approved_by", "pdf", "version__formula").prefetch_related(
            "print_runs__batch"
        )
    )
    issue = issues[0] if issues and row.state != Label.State.WITHDRAWN else None
    stale = (
        differences(issue, proof.paper.printed)
        if issue and proof and row.state == Label.State.APPROVED
        else ()
    )
    layout = SheetLayout.objects.for_maker(request.maker).first()
    newest = Batch.objects.for_maker(request.maker).filter(packs__product=row.product).order_by("-pk").first()
    start = {
        "layout": layout.uuid if layout else None,
        "batch": newest.code if newest else None,
        "start": 1,
        "copies": layout.columns * layout.rows if layout else 24,
    }
    sheet = sheet or SheetForm(maker=request.maker, label=row, initial=start)
    sheet.fields["batch"].help_text = without_batch(proof.paper) if proof else ""
    context = {
        "label": row,
        "market": market_word(row.market),
        "proof": proof,
        "paper": proof.paper if proof else None,
        "groups": groups_of(proof.paper) if proof else [],
        "issues": issues,
        "issue": issue,
        "stale": stale,
        "state": "stale" if stale else row.state,
        "edition": RULES_EDITION,
        "confirm": confirm or confirm_form(request, proof),
        "sheet": sheet,
        "run": run or RunForm(maker=request.maker, label=row, initial={"entry_key": uuid4()}),
        "runs": list(
            PrintRun.objects.for_maker(request.maker)
            .filter(issue__label=row)
            .select_related("issue", "batch")
        ),
        "withdraw": withdraw or WhyForm(maker=request.maker),
        "may_write": request.by.role != Role.READER,
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
        "findings": list(proof.paper.declaration.findings) if proof else [],
        "satisfied": sum(one.satisfied for one in proof.paper.requirements) if proof else 0,
    }
    return render(request, "labels/label.html", context)


def without_batch(paper: LabelPaper) -> str:
    """What a sheet without a batch leaves to be written by hand on each label, where the law asks for it."""
    asked = [one for one in paper.requirements if one.state != "not needed"]
    dated = paper.printed.get("keeps", "").startswith("date with each batch")
    needed = {one.key for one in asked}
    open_ = ["the code"] * ("batch" in needed) + ["the date"] * ("durability" in needed and dated)
    if not open_:
        return "Without one, its code is left blank; the law of this market doesn't ask for it."
    return f"Without one, write {in_a_row(open_)} on each label by hand: the law asks for it."


def confirm_form(request: MakerRequest, proof: Proof | None, data: Any = None) -> ConfirmForm:
    """The facts that wait, to be ticked."""
    facts = proof.paper.waiting if proof else ()
    texts = {fact.key: in_mark(fact.text, current_mark()) for fact in facts}
    choices = [
        (fact.key, f"{texts[fact.key]} ({fact.source})" if fact.source else texts[fact.key]) for fact in facts
    ]
    return ConfirmForm(data, maker=request.maker, choices=choices)


def groups_of(paper: LabelPaper) -> list[dict[str, Any]]:
    """The entries by section, each with what its fold shows."""
    number = 0
    found = []
    rules = "US" if paper.label.market == "US" else "EU"
    for section in SECTIONS:
        rows = []
        for entry in paper.declaration.section(section):
            number += 1
            parts = [
                {"name": part.ingredient, "label": "" if part.label == part.ingredient else part.label,
                 "percent": percent_text(part.percent), "memory": part.basis == "memory"}
                for part in entry.contributions
            ]  # fmt: skip
            rows.append(
                {"number": number, "entry": entry, "percent": percent_text(entry.percent), "parts": parts}
            )
        if rows:
            heading = HEADINGS.get((rules, section)) or HEADINGS.get(("", section), section)
            found.append({"heading": heading, "rows": rows})
    left_out = [
        {
            "omission": one,
            "percent": percent_text(one.percent),
            "parts": [part.ingredient for part in one.contributions],
        }
        for one in paper.declaration.left_out
    ]
    if left_out:
        found.append({"heading": "Looked at and left out", "left_out": left_out})
    return found


@require_http_methods(["GET", "POST"])
def texts(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """Edit what the maker writes on the label."""
    row = fetch_label(request, code, key)
    initial = {name: getattr(row, name) for name in LabelTextsForm.base_fields if hasattr(row, name)}
    form = LabelTextsForm(request.POST or None, initial=initial, maker=request.maker, market=row.market)
    gone = carried_out(
        request,
        form,
        lambda data: change_label(request.by, label=row, edit=data["edit"], **form.texts),
        then=url_of(row),
        said="The texts are written down. The label is a draft until it is approved.",
    )
    if gone is not None:
        return gone
    context = {
        "form": form,
        "title": f"Texts of the label for {market_word(row.market)}",
        "act_word": "Write down the texts",
        "trail": [("Labels", address(request.maker, "labels:labels")), (row.product.name, url_of(row))],
    }
    return render(request, "labels/one_form.html", context)


@require_http_methods(["GET", "POST"])
def name_substance_page(request: MakerRequest, code: str, key: str, substance: str) -> HttpResponse:
    """Give a substance the name that this maker prints in the label's market."""
    row = fetch_label(request, code, key)
    known = Substance.objects.known_to(request.maker).filter(key=substance).order_by("maker_id")
    found = get_object_or_404(known, pk__in=[one.pk for one in known[:1]])
    own = found.names.filter(maker=request.maker, market=row.market).first()
    start = (
        {"name": own.name, "basis": own.basis, "source": own.source}
        if own
        else {"name": found.us_name or found.inci_name}
    )
    form = NameForm(request.POST or None, initial=start, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: name_substance(request.by, substance=found, market=row.market, **data),
        then=url_of(row),
        said=lambda made: f"{found.inci_name} is printed as {made.name}.",
    )
    if gone is not None:
        return gone
    context = {
        "form": form,
        "title": f"{found.inci_name} on labels for {market_word(row.market)}",
        "act_word": "Write down the name",
        "hint": (US_PLANT_HINT if row.market == "US" else "") + EVERY_LABEL_HINT,
        "trail": [("Labels", address(request.maker, "labels:labels")), (row.product.name, url_of(row))],
    }
    return render(request, "labels/one_form.html", context)
