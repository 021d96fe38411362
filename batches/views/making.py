"""Batches on screen: the list, planning, the batch record."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from batches.actions.making import open_points, plan_batch, shortages_of
from batches.actions.making_bench import judged_line
from batches.forms.making import PlanForm
from batches.models import Batch, BatchLine, Output, Weighing
from batches.rules.balance import BatchFigures, account, theoretical_units
from batches.rules.planning import least_weighing
from formulas.models import FormulaVersion, Product
from makers.actions import entries_about
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on, wants_fragment
from makers.registries import panels_for
from makers.views.house import journal_rows
from makers.views.lists import Sort, csv_response, keyset_page, pager, wants_csv, words_of

SORTS = {"newest": Sort("pk", int), "code": Sort("code"), "formula": Sort("formula__name")}


@require_GET
@vary_on_headers("HX-Request")
def batch_list(request: MakerRequest) -> HttpResponse:
    """The batches, newest first."""
    rows = Batch.objects.for_maker(request.maker).select_related("formula", "product", "makes")
    words, state = words_of(request), request.GET.get("state", "")
    if words:
        rows = rows.filter(Q(code__icontains=words) | Q(formula__name__icontains=words))
    if state in Batch.State.values:
        rows = rows.filter(state=state)
    if wants_csv(request):
        heads = ["code", "formula", "for", "state", "planned g", "bulk g", "made on", "best before"]
        return csv_response(
            "batches",
            heads,
            rows.order_by("pk"),
            lambda row: [
                row.code, row.formula.name, row.purpose, row.state, row.planned_g, row.bulk_g, row.made_on,
                row.best_before,
            ],
        )  # fmt: skip
    page = keyset_page(request, rows, SORTS, "-newest")
    context = {
        "page": page,
        "pager": pager(request, page),
        "words": words,
        "state": state,
        "states": Batch.State.choices,
    }
    template = "batches/making/_batch_list.html" if wants_fragment(request) else "batches/making/batch_list.html"
    return render(request, template, context)


@require_http_methods(["GET", "POST"])
def plan(request: MakerRequest) -> HttpResponse:
    """Plan a batch: see the grams first, then write it down."""
    form = PlanForm(request.POST or None, initial=plan_start(request), maker=request.maker)
    preview: dict[str, Any] = {}
    if request.method == "POST" and form.is_valid():
        try:
            if request.POST.get("do") == "look":
                preview = look_at(request, form.plan)
            else:
                made = plan_batch(request.by, **form.plan)
                messages.success(request, f"Batch {made} is planned.")
                return moved_on(address(request.maker, "batches:batch", code=made.code), request)
        except ValidationError as refusal:
            show_refusal(form, refusal)
    return render(request, "batches/making/plan.html", {"form": form, "preview": preview})


def plan_start(request: MakerRequest) -> dict[str, Any]:
    """Where a plan starts: from the version or product in the address."""
    start: dict[str, Any] = {"purpose": "sale", "planned_for": request.by.today()}
    code = request.GET.get("product", "")[:20]
    product = Product.objects.for_maker(request.maker).filter(code=code).first() if code else None
    formula_code = request.GET.get("formula", "")[:20]
    if product is not None:
        start |= {"product": product.pk, "fill_g": product.fill_g}
        versions = FormulaVersion.objects.filter(formula=product.formula_id)
    else:
        versions = FormulaVersion.objects.for_maker(request.maker).filter(formula__code=formula_code)
    best = versions.filter(state="approved").order_by("-number").first() or versions.order_by("-number").first()
    if best is not None:
        start["version"] = best.pk
    return start


def look_at(request: MakerRequest, plan_data: dict[str, Any]) -> dict[str, Any]:
    """What the plan would be: made and taken back within one transaction, so that it is the same reckoning."""
    with transaction.atomic():
        made = plan_batch(request.by, **{**plan_data, "code": ""})
        least = least_weighing(made.scale.readability_g, made.scale.repeatability_g)
        lines = list(made.lines.select_related("ingredient"))
        found = {
            "planned_g": made.planned_g,
            "lines": lines,
            "short": shortages_of(request.maker, made, request.by.today()),
            "small": [line for line in lines if line.planned_g is not None and line.planned_g < least],
            "least": least,
            "scale": made.scale,
        }
        transaction.set_rollback(True)
    return found


@dataclass(slots=True)
class LineView:
    """A line with its weighings as the record shows them."""

    line: BatchLine
    weighings: list[Weighing] = field(default_factory=list)
    held: Decimal = Decimal(0)
    verdict: str = ""
    off: Decimal | None = None

    @property
    def percent_off(self) -> Decimal | None:
        """The difference in percent of the plan."""
        if self.off is None or not self.line.planned_g:
            return None
        return self.off * 100 / self.line.planned_g

    @property
    def lots(self) -> list[Any]:
        """The lots whose grams still count, each once."""
        taken = {one.reverses_id for one in self.weighings if one.reverses_id}
        return list(
            dict.fromkeys(one.lot for one in self.weighings if one.reverses_id is None and one.pk not in taken)
        )


def fetch_batch(request: MakerRequest, code: str) -> Batch:
    """One of the maker's batches, or 404."""
    rows = Batch.objects.for_maker(request.maker).select_related(
        "formula", "version__formula", "product", "makes", "scale", "planned_by"
    )
    return get_object_or_404(rows, code=code)


def line_views(batch: Batch) -> list[LineView]:
    """The lines of a batch with what each holds, in two queries."""
    lines = list(batch.lines.select_related("ingredient", "rework_lot__rework_of"))
    views = {line.pk: LineView(line) for line in lines}
    for one in batch.weighings.select_related("lot", "user", "scale").order_by("pk"):
        view = views[one.line_id]
        view.weighings.append(one)
        view.held += one.grams
    for view in views.values():
        if view.weighings:
            judged = judged_line(view.line, view.held)
            view.verdict, view.off = judged.verdict, judged.off_g
    return list(views.values())


def figures_of(batch: Batch, went_in: Decimal, outputs: list[Output]) -> BatchFigures:
    """The grams of a batch by where they went."""
    sums: dict[str, Decimal] = {}
    for one in outputs:
        sums[one.kind] = sums.get(one.kind, Decimal(0)) + one.grams
    return BatchFigures(
        went_in_g=went_in,
        bulk_g=batch.bulk_g,
        waste_g=sums.get("waste", Decimal(0)),
        packs_g=sums.get("packs", Decimal(0)),
        lots_g=sums.get("lot", Decimal(0)),
        rework_g=sums.get("rework", Decimal(0)),
        samples_g=sums.get("sample", Decimal(0)),
        fill_loss_g=sums.get("fill_loss", Decimal(0)),
    )


@require_GET
def batch_page(request: MakerRequest, code: str) -> HttpResponse:
    """The batch record."""
    return show_batch(request, fetch_batch(request, code))


def show_batch(request: MakerRequest, batch: Batch, forms: dict[str, Any] | None = None) -> HttpResponse:
    """The batch record, with forms that came back where there are any."""
    from batches.views.making_acts import act_forms

    lines = line_views(batch)
    went_in = sum((view.held for view in lines), Decimal(0))
    outputs = list(batch.outputs.select_related("lot", "pack", "product").order_by("pk"))
    figures = figures_of(batch, went_in, outputs)
    fills = list(batch.fills.select_related("product"))
    points = open_points(batch) if batch.state == Batch.State.MADE else []
    units = sum(one.units or 0 for one in outputs if one.kind == "packs")
    context = {
        "batch": batch,
        "lines": lines,
        "went_in": went_in,
        "off": went_in - batch.planned_g,
        "outputs": outputs,
        "figures": figures,
        "account": account(figures),
        "units": units,
        "theoretical": theoretical_units(went_in, batch.fill_g) if batch.fill_g else None,
        "readings": list(batch.readings.select_related("user", "step")),
        "fills": fills,
        "fill_mean": sum((one.net_g for one in fills), Decimal(0)) / len(fills) if fills else None,
        "checks": list(batch.checks.select_related("user")),
        "deviations": list(batch.deviations.select_related("judgement", "user", "line__ingredient")),
        "releases": list(batch.releases.select_related("user").order_by("-pk")),
        "amendments": list(batch.amendments.select_related("user")),
        "remarks": list(batch.remarks.select_related("user")),
        "packs": list(batch.packs.select_related("product").order_by("pk")),
        "holds": list(batch.holds.filter(closed_at=None)),
        "steps": list(batch.steps.all()),
        "points": [
            {"point": point, "name": f"point-{index}", "typed": request.POST.get(f"point-{index}", "")}
            for index, point in enumerate(points)
        ],
        "short": shortages_of(request.maker, batch, request.by.today()) if batch.state == "planned" else [],
        "forms": {**act_forms(request, batch), **(forms or {})},
        "panels": panels_for(request.maker, batch),
        "journal": journal_rows(request.maker, entries_about(request.maker, batch.uuid)[:20]),
        "is_owner": request.by.role == "owner",
    }
    return render(request, "batches/making/batch.html", context)
