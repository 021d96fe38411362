"""Batches on screen: the list, planning, the batch record."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import DateField, Q, Value
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from batches.actions.making import open_points, plan_batch, shortages_of
from batches.actions.making_bench import judged_line
from batches.actions.making_review import gate_words
from batches.forms.lists import BatchFilter
from batches.forms.making import PlanForm
from batches.models import Batch, BatchLine, BatchStep, Output, Weighing
from batches.rules.balance import account, percent, theoretical_units
from batches.rules.planning import least_weighing
from batches.trials import TrialRow, notes_of, rows_of
from batches.views.gates import WIDE, cooling_of, setting_of
from batches.views.holds import holds_on
from batches.views.record_parts import figures_of, fill_parts, reading_rows
from formulas.models import FormulaVersion, Ingredient, Product
from makers.actions import entries_about
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.models import Role, Scale
from makers.registries import panels_for
from makers.views.house import journal_rows
from makers.views.lists import LATEST, WRITTEN, Listing, Sort, read_filter, show_list

JOURNAL_ROWS = 15
BATCHES = Listing(
    template="batches/making/batch_list.html",
    fragment="batches/making/_batch_list.html",
    sorts={
        "newest": WRITTEN,
        "code": Sort("code", title="Code"),
        "formula": Sort("formula__name", title="Formula"),
        "state": Sort("state", title="State"),
        "made": Sort("day", date, "Made"),
        "planned": Sort("planned_g", Decimal, "Planned grams"),
    },
    default="-newest",
    name="batches",
    heads=("code", "formula", "for", "state", "on hold", "planned g", "bulk g", "made on", "best before"),
    cells=lambda row: [
        row.code, row.formula.name, row.purpose, row.state, "yes" if row.held else "no", row.planned_g, row.bulk_g,
        row.made_on, row.best_before,
    ],
)  # fmt: skip


@require_GET
@vary_on_headers("HX-Request")
def batch_list(request: MakerRequest) -> HttpResponse:
    """The batches, newest first."""
    asked = read_filter(request, BatchFilter, BATCHES)
    rows = (
        Batch.objects.for_maker(request.maker)
        .select_related("formula", "product", "makes")
        .annotate(day=Coalesce("made_on", "planned_for", Value(LATEST), output_field=DateField()))
    )
    if words := asked.asked("q"):
        rows = rows.filter(Q(code__icontains=words) | Q(formula__name__icontains=words))
    if state := asked.asked("state"):
        rows = rows.filter(held=True) if state == "hold" else rows.filter(state=state)
    if purpose := asked.asked("purpose"):
        rows = rows.filter(purpose=purpose)
    return show_list(request, rows, BATCHES, asked)


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
    if request.GET.get("for") == Batch.Purpose.TRIAL:
        start["purpose"] = Batch.Purpose.TRIAL
    number = request.GET.get("version", "")
    wanted = int(number) if number.isascii() and number.isdigit() and len(number) < 5 else 0
    best = (
        versions.filter(number=wanted).first()
        or versions.filter(state="approved").order_by("-number").first()
        or versions.order_by("-number").first()
    )
    if best is not None:
        start["version"] = best.pk
        start |= likely_use(request, best) if product is None and start["purpose"] == "sale" else {}
    return {**start, "scale": usual_scale(request, start["purpose"])}


def likely_use(request: MakerRequest, version: FormulaVersion) -> dict[str, Any]:
    """The product of a formula that is sold as one thing alone; the ingredient that one which isn't sold makes."""
    sold = list(Product.objects.for_maker(request.maker).filter(formula=version.formula_id, active=True)[:2])
    if sold:
        return {"product": sold[0].pk, "fill_g": sold[0].fill_g} if len(sold) == 1 else {}
    rows = Ingredient.objects.for_maker(request.maker).filter(made_from=version.formula_id, active=True)
    made = list(rows[:2])
    return {"purpose": Batch.Purpose.STOCK, "makes": made[0].pk} if len(made) == 1 else {}


def usual_scale(request: MakerRequest, purpose: str) -> int | None:
    """The scale of the newest batch for this purpose, else the one that carries most.

    The finest may not carry a batch's main line, and a trial's scale is seldom a batch's.
    """
    scales = Scale.objects.for_maker(request.maker).filter(active=True)
    batches = Batch.objects.for_maker(request.maker).filter(scale__in=scales, purpose=purpose)
    last = batches.order_by("-pk").first()
    best = scales.order_by("-capacity_g", "readability_g").first()
    return last.scale_id if last is not None else best.pk if best is not None else None


def look_at(request: MakerRequest, plan_data: dict[str, Any]) -> dict[str, Any]:
    """What the plan would be: made and taken back in one transaction, so that it is the same reckoning."""
    with transaction.atomic():
        made = plan_batch(request.by, **{**plan_data, "code": "", "entry_key": None})
        least = least_weighing(made.scale.readability_g, made.scale.repeatability_g)
        lines = list(made.lines.select_related("ingredient"))
        found = {
            "planned_g": made.planned_g,
            "lines": lines,
            "short": shortages_of(request.maker, made, request.by.today()),
            "small": [line for line in lines if line.planned_g is not None and line.planned_g < least],
            "least": least,
            "heavy": [line for line in lines if (line.planned_g or 0) > made.scale.capacity_g],
            "scale": made.scale,
            "plan": made,
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
        if self.off is None or self.line.planned_g is None:
            return None
        return percent(self.off, self.line.planned_g)

    @property
    def lots(self) -> list[Any]:
        """The lots whose grams still count, each once."""
        taken = {one.reverses_id for one in self.weighings if one.reverses_id}
        return list(
            dict.fromkeys(
                one.lot for one in self.weighings if one.reverses_id is None and one.pk not in taken
            )
        )


def fetch_batch(request: MakerRequest, code: str) -> Batch:
    """One of the maker's batches, or 404."""
    rows = Batch.objects.for_maker(request.maker).select_related(
        "formula", "version__formula", "product", "makes", "scale", "planned_by"
    )
    batch: Batch = get_object_or_404(rows, code=code)
    return batch


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
    points = open_points(batch) if batch.state == Batch.State.MADE else []
    readings = list(batch.readings.select_related("user", "step").order_by("occurred_at", "pk"))
    fills = list(batch.fills.select_related("product").order_by("pk"))
    units = sum(one.units or 0 for one in outputs if one.kind == Output.Kind.PACKS)
    reversed_keys = {one.reverses_id for one in outputs if one.reverses_id}
    holds = holds_on(request.maker, Q(batch=batch))
    context = {
        "batch": batch,
        "lines": lines,
        "went_in": went_in,
        "off": went_in - batch.planned_g,
        "outputs": [(one, one.reverses_id is None and one.pk not in reversed_keys) for one in outputs],
        "figures": figures,
        "account": account(figures),
        "units": units,
        "theoretical": theoretical_units(went_in, batch.fill_g) if batch.fill_g else None,
        "readings": reading_rows(batch, readings),
        "cooling": cooling_of(readings, None, WIDE),
        "setting": setting_of(batch, readings),
        "fill_parts": fill_parts(batch, fills, outputs),
        "checks": list(batch.checks.select_related("user", "step")),
        "deviations": list(batch.deviations.select_related("judgement__user", "user", "line__ingredient")),
        "releases": list(batch.releases.select_related("user").order_by("-pk")),
        "amendments": list(batch.amendments.select_related("user")),
        "trial_notes": trial_rows(request, batch),
        "remarks": list(batch.remarks.select_related("user")),
        "retained": list(batch.retained.select_related("pack")),
        "holds": holds,
        "open_holds": [hold for hold in holds if hold.closed_at is None],
        "steps": [(one, gate_words(one), gate_mark(one)) for one in batch.steps.all()],
        "points": [
            {"point": point, "name": f"point-{index}", "typed": request.POST.get(f"point-{index}", "")}
            for index, point in enumerate(points)
        ],
        "blocked": any(point.blocks for point in points),
        "short": shortages_of(request.maker, batch, request.by.today()) if is_early(batch) else [],
        "forms": {**act_forms(request, batch), **(forms or {})},
        "panels": panels_for(request.maker, batch),
        "journal": journal_rows(request.maker, entries_about(request.maker, batch.uuid)[:JOURNAL_ROWS]),
        "is_owner": request.by.role == Role.OWNER,
    }
    return render(request, "batches/making/batch.html", context)


def trial_rows(request: MakerRequest, batch: Batch) -> list[TrialRow]:
    """What a trial showed; nothing is asked for other batches."""
    if batch.purpose != Batch.Purpose.TRIAL:
        return []
    return rows_of(request.maker, notes_of(request.maker).filter(batch=batch))


def gate_mark(step: BatchStep) -> str:
    """Whether a step is reached by heating or by cooling."""
    return "cool" if step.max_c is not None and step.min_c is None else "heat"


def is_early(batch: Batch) -> bool:
    """Whether something may still have to be weighed."""
    return batch.state in (Batch.State.PLANNED, Batch.State.MAKING)
