"""The bench: one line at a time, large figures, for a phone in one hand."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_POST

from batches.actions.making import read, weigh
from batches.actions.making_bench import lots_for
from batches.forms.making import TemperatureForm, WeighForm
from batches.models import Batch, BatchLine
from batches.views.making import LineView, fetch_batch, line_views
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on


def next_line(views: list[LineView], asked: str) -> LineView | None:
    """The line asked for, else the first that holds nothing or too little."""
    if asked.isascii() and asked.isdigit():
        found = next((view for view in views if str(view.line.position) == asked), None)
        if found is not None:
            return found
    replaced = {view.line.instead_of_id for view in views if view.line.instead_of_id}
    for view in views:
        optional = view.line.kind == BatchLine.Kind.ADJUST
        if view.line.pk in replaced or optional:
            continue
        if not view.weighings or (view.verdict == "under" and not view.line.deviations.exists()):
            return view
    return None


@require_http_methods(["GET", "POST"])
def bench(request: MakerRequest, code: str) -> HttpResponse:
    """Weigh the next line, read the pot, see what is left."""
    batch = fetch_batch(request, code)
    form = None
    if request.method == "POST":
        form = WeighForm(request.POST, maker=request.maker, batch=batch)
        answer = record(request, batch, form)
        if answer is not None:
            return answer
    views = line_views(batch)
    asked = request.GET.get("line", "")
    if form is not None and form.cleaned_data.get("line"):
        asked = str(form.cleaned_data["line"].position)
    current = next_line(views, asked)
    return render(request, "batches/making/bench.html", bench_context(request, batch, views, current, form))


def record(request: MakerRequest, batch: Batch, form: WeighForm) -> HttpResponse | None:
    """Write the weighing down; None when the form has to come back. The queue on the device asks for JSON."""
    wants_json = request.headers.get("Accept", "").startswith("application/json")
    if form.is_valid():
        data = form.cleaned_data
        try:
            made = weigh(
                request.by,
                batch=batch,
                line=data["line"],
                lot=data["lot"],
                grams=data["grams"],
                why=data.get("why") or "",
                more_follows=data.get("more_follows", False),
                entry_key=data.get("entry_key"),
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, {"lot": "scan"})
        else:
            if wants_json:
                return JsonResponse({"written": True, "grams": str(made.grams), "lot": made.lot.code})
            messages.success(request, f"{made.grams.normalize():f} g of {made.lot} are in.")
            return moved_on(address(request.maker, "batches:bench", code=batch.code), request)
    if wants_json:
        return JsonResponse({"written": False, "sentences": [str(one) for errors in form.errors.values() for one in errors]})
    return None


def bench_context(
    request: MakerRequest, batch: Batch, views: list[LineView], current: LineView | None, form: WeighForm | None
) -> dict[str, Any]:
    """What the bench shows."""
    lots = lots_for(request.maker, current.line, request.by.today()) if current else []
    held = sum((view.held for view in views), Decimal(0))
    if current is not None and form is None:
        initial = {"line": current.line.pk, "lot": lots[0].code if lots else ""}
        form = WeighForm(initial=initial, maker=request.maker, batch=batch)
    todo = (current.line.planned_g or Decimal(0)) - current.held if current and current.line.planned_g else None
    steps = list(batch.steps.all())
    readings = list(batch.readings.filter(kind="temperature").order_by("occurred_at", "pk"))
    gate = gate_of(steps, current)
    return {
        "batch": batch,
        "views": views,
        "current": current,
        "form": form,
        "lots": lots,
        "proposal": lots[0] if lots else None,
        "held": held,
        "done": sum(1 for view in views if view.weighings and view.verdict != "under"),
        "todo": max(todo, Decimal(0)) if todo is not None else None,
        "low": max(todo - current.line.tolerance_g, Decimal(0)) if todo is not None and current else None,
        "high": max(todo + current.line.tolerance_g, Decimal(0)) if todo is not None and current else None,
        "gate": gate,
        "readings": readings[-6:],
        "last_reading": readings[-1] if readings else None,
        "waits": gate is not None and gate_waits(gate, readings),
        "temperature": TemperatureForm(maker=request.maker, prefix="pot"),
    }


def gate_of(steps: list[Any], current: LineView | None) -> Any:
    """The first step of the line's phase that has a temperature."""
    if current is None:
        return None
    for step in steps:
        if step.phase == current.line.phase and (step.max_c is not None or step.target_c is not None or step.min_c is not None):
            return step
    return None


def gate_waits(gate: Any, readings: list[Any]) -> bool:
    """Whether the last reading is not yet where the gate wants it; without one it waits."""
    if not readings:
        return True
    value = readings[-1].value
    if gate.max_c is not None and value > gate.max_c:
        return True
    return gate.min_c is not None and value < gate.min_c


@require_POST
def pot(request: MakerRequest, code: str) -> HttpResponse:
    """Read the pot's temperature."""
    batch = fetch_batch(request, code)
    form = TemperatureForm(request.POST, maker=request.maker, prefix="pot")
    wants_json = request.headers.get("Accept", "").startswith("application/json")
    if form.is_valid():
        try:
            made = read(
                request.by,
                batch=batch,
                kind="temperature",
                value=form.cleaned_data["value"],
                entry_key=form.cleaned_data.get("entry_key"),
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            if wants_json:
                return JsonResponse({"written": True})
            messages.success(request, f"{made.value.normalize():f} °C are written down.")
            return moved_on(address(request.maker, "batches:bench", code=code), request)
    if wants_json:
        return JsonResponse({"written": False, "sentences": [str(one) for errors in form.errors.values() for one in errors]})
    views = line_views(batch)
    current = next_line(views, "")
    context = bench_context(request, batch, views, current, None)
    context["temperature"] = form
    return render(request, "batches/making/bench.html", context)
