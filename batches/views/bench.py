"""The bench: one line at a time, large figures, for a phone in one hand."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.actions.making import lots_for_lines, read, weigh
from batches.actions.making_bench import SAY_WHY, name_of
from batches.actions.once import part_key
from batches.forms.making import TemperatureForm, WeighForm
from batches.models import Batch, BatchLine, BatchStep, Lot
from batches.rules.planning import Balance, balance_for
from batches.rules.weighing import device_judge, device_judge_range
from batches.views.gates import cooling_of, gate_for, setting_of
from batches.views.making import LineView, fetch_batch, line_views
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.models import Scale
from makers.rules import display
from makers.rules.reading import decimal_mark

OPEN = (Batch.State.MAKING, Batch.State.MADE)
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class BenchLine:
    """A line as the bench shows it.

    todo: what is still to go in, g; None where only a range is asked. low, high: between what.
    """

    view: LineView
    lots: list[Lot]
    todo: Decimal | None
    low: Decimal
    high: Decimal

    def scale_of(self, own: Scale, scales: list[Scale]) -> tuple[Scale, str]:
        """The scale that suits what is still to go in, and what to know where none does."""
        grams = self.todo if self.todo is not None else self.high
        by_balance = {balance(one): one for one in reversed([own, *scales])}
        chosen = balance_for(grams, balance(own), by_balance)
        if grams <= 0 or chosen.suits(grams):
            return by_balance[chosen], ""
        if grams > chosen.capacity_g:
            return (
                own,
                f"More than {own} carries at once, {display.figure(chosen.capacity_g)} g. Weigh it in parts.",
            )
        finest = min(by_balance, key=lambda one: one.least_g)
        return (
            by_balance[finest],
            f"Less than {display.figure(finest.least_g)} g, the least that {by_balance[finest]} weighs to 1 %.",
        )

    @property
    def line(self) -> BatchLine:
        """The line itself."""
        return self.view.line

    @property
    def name(self) -> str:
        """What goes in."""
        return name_of(self.view.line)


def balance(scale: Scale) -> Balance:
    """What a scale can show and carry."""
    return Balance(scale.readability_g, scale.capacity_g, scale.repeatability_g)


def bench_line(view: LineView, lots: list[Lot]) -> BenchLine:
    """What is left to weigh of a line."""
    line, held = view.line, view.held
    if line.planned_g is None:
        low, high = line.low_g or ZERO, line.high_g or ZERO
        return BenchLine(view, lots, None, max(low - held, ZERO), max(high - held, ZERO))
    todo = line.planned_g - held
    return BenchLine(
        view, lots, max(todo, ZERO), max(todo - line.tolerance_g, ZERO), max(todo + line.tolerance_g, ZERO)
    )


def is_open(view: LineView, replaced: set[int], explained: set[int]) -> bool:
    """Whether a line still waits to be weighed."""
    line = view.line
    if line.pk in replaced or line.pk in explained or not (line.planned_g or line.low_g):
        return False
    return not view.weighings or view.held <= 0 or view.verdict == "under"


def pick(batch: Batch, views: list[LineView], asked: str) -> tuple[LineView | None, list[LineView]]:
    """The line asked for by its number, else the first that waits; and all that wait."""
    replaced = {view.line.instead_of_id for view in views if view.line.instead_of_id}
    explained = set(batch.deviations.exclude(line=None).values_list("line_id", flat=True))
    waiting = [view for view in views if is_open(view, replaced, explained)]
    named = next(
        (view for view in views if str(view.line.position) == asked and view.line.pk not in replaced), None
    )
    return named or next(iter(waiting), None), waiting


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
    asked = request.GET.get("line", "")
    if form is not None and form.cleaned_data.get("line"):
        asked = str(form.cleaned_data["line"].position)
    return show_bench(request, batch, asked, form)


def moment_of(request: MakerRequest, data: dict[str, Any]) -> datetime | None:
    """When a queued entry happened; a device whose clock runs ahead counts as now."""
    typed = data.get("occurred_at")
    return min(typed, request.by.now()) if isinstance(typed, datetime) else None


def wants_json(request: MakerRequest) -> bool:
    """Whether the queue on a device asks."""
    return request.headers.get("Accept", "").startswith("application/json")


def sentences(form: Any) -> JsonResponse:
    """What a form says, for the queue on a device."""
    found = [str(one) for errors in form.errors.values() for one in errors]
    return JsonResponse({"written": False, "sentences": found})


def record(request: MakerRequest, batch: Batch, form: WeighForm) -> HttpResponse | None:
    """Write the weighing down; None when the form has to come back.

    The queue on a device gets JSON; the sentence waits for the page that it opens next.
    """
    if form.is_valid():
        data = form.cleaned_data
        try:
            made = weigh(
                request.by,
                batch=batch,
                line=data["line"],
                lot=data["lot"],
                grams=data["grams"],
                scale=data.get("scale"),
                why=data.get("why") or "",
                more_follows=data.get("more_follows", False),
                entry_key=data.get("entry_key"),
                occurred_at=moment_of(request, data),
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, {"lot": "scan"})
        else:
            shown = display.grams(made.grams, mark=decimal_mark(request.maker.locale))
            messages.success(request, f"{display.with_unit(shown, 'g')} of {made.lot} are in.")
            if wants_json(request):
                return JsonResponse({"written": True, "grams": str(made.grams), "lot": made.lot.code})
            return moved_on(address(request.maker, "batches:bench", code=batch.code), request)
    return sentences(form) if wants_json(request) else None


def show_bench(
    request: MakerRequest,
    batch: Batch,
    asked: str,
    form: WeighForm | None = None,
    temperature: TemperatureForm | None = None,
) -> HttpResponse:
    """The bench, with forms that came back where there are any."""
    views = line_views(batch)
    current, waiting = pick(batch, views, asked)
    day = request.by.today()
    may_take = (
        lots_for_lines(request.maker, [view.line for view in views], day) if batch.state in OPEN else {}
    )
    lines = [bench_line(view, may_take.get(view.line.pk, [])) for view in views]
    now = next((one for one in lines if one.view is current), None)
    if now is not None and form is None:
        initial = {"line": now.line.pk, "lot": now.lots[0].code if now.lots else ""}
        form = WeighForm(initial=initial, maker=request.maker, batch=batch)
    scales = list(Scale.objects.filter(maker=request.maker, active=True))
    scale, small = now.scale_of(batch.scale, scales) if now is not None else (batch.scale, "")
    if form is not None:
        form.initial.setdefault("scale", scale.pk)
    readings = list(batch.readings.select_related("user").order_by("occurred_at", "pk"))
    steps = list(batch.steps.all())
    gate = gate_for(now.line, steps) if now is not None else None
    cooling = cooling_of(readings, gate.high if gate is not None and gate.mark == "cool" else None)
    last = cooling.readings[-1] if cooling is not None else None
    later = next((view for view in waiting if current is None or view.line.pk != current.line.pk), None)
    context = {
        "batch": batch,
        "is_open": batch.state in OPEN,
        "lines": lines,
        "current": now,
        "proposal": now.lots[0] if now is not None and now.lots else None,
        "form": form,
        "scales": scales,
        "small": small,
        "held": sum((view.held for view in views), ZERO),
        "done": len(views) - len(waiting),
        "waiting": {view.line.pk for view in waiting},
        "later": later,
        "gate": gate,
        "gate_waits": gate is not None and gate.waits(last.value if last is not None else None),
        "cooling": cooling,
        "setting": setting_of(batch, readings),
        "last_reading": last,
        "temperature": temperature or TemperatureForm(maker=request.maker, prefix="pot"),
        "mark": decimal_mark(request.maker.locale),
        "say_why": SAY_WHY,
        "offline": offline_lines(request, batch, lines, scales, waiting, steps)
        if batch.state in OPEN
        else [],
    }
    return render(request, "batches/making/bench.html", context)


def lot_words(lot: Lot, mark: str) -> str:
    """A lot in a list of choices: code, last good day, what is left."""
    day = display.day_fact(lot.good_until) if lot.good_until else "no date"
    left = display.with_unit(display.grams(lot.on_hand, 1, mark=mark, rounding="down"), "g")
    return f"{lot.code}, {day}, {left}"


def judge_of(view: LineView) -> dict[str, str]:
    """How a device judges grams into a line while nobody answers: as the server would, in its words."""
    line, held = view.line, view.held
    if line.planned_g is None:
        found = device_judge_range(line.low_g or ZERO, line.high_g or ZERO, held)
    else:
        found = device_judge(line.planned_g, line.tolerance_g, held)
    return {name: str(value) for name, value in asdict(found).items()}


def offline_lines(
    request: MakerRequest,
    batch: Batch,
    lines: list[BenchLine],
    scales: list[Scale],
    waiting: list[LineView],
    steps: list[BatchStep],
) -> list[dict[str, Any]]:
    """What a device needs to go on with the next lines while there is no network."""
    mark = decimal_mark(request.maker.locale)

    wait = {view.line.pk for view in waiting}

    def grams(value: Decimal) -> str:
        return display.grams(value, mark=mark)

    def gate(line: BatchLine) -> dict[str, str] | None:
        found = gate_for(line, steps)
        return {"where": found.where, "words": found.words} if found else None

    return [
        {
            "line": one.line.pk,
            "position": one.line.position,
            "phase": one.line.phase,
            "name": one.name,
            "target": grams(one.todo) if one.todo is not None else f"{grams(one.low)}–{grams(one.high)}",
            "within": f"{grams(one.low)} to {grams(one.high)}",
            "ranges": one.todo is None,
            "held": f"; {grams(one.view.held)} g are in" if one.view.held else "",
            "judge": judge_of(one.view),
            "gate": gate(one.line),
            "scale": one.scale_of(batch.scale, scales)[0].pk,
            "small": one.scale_of(batch.scale, scales)[1],
            "waits": one.line.pk in wait,
            "lots": [{"code": lot.code, "text": lot_words(lot, mark)} for lot in one.lots],
        }
        for one in lines
    ]


@require_http_methods(["GET", "POST"])
def pot(request: MakerRequest, code: str) -> HttpResponse:
    """Read the pot's temperature, and the room's where it was typed. Opened by a link, it leads to the bench."""
    batch = fetch_batch(request, code)
    if request.method != "POST":
        return redirect(address(request.maker, "batches:bench", code=code))
    form = TemperatureForm(request.POST, maker=request.maker, prefix="pot")
    line = request.POST.get("at_line", "")
    if form.is_valid():
        data = form.cleaned_data
        key, moment = data.get("entry_key"), moment_of(request, data)
        given: dict[str, Any] = {"batch": batch, "occurred_at": moment}
        try:
            if data.get("room") is not None:
                read(request.by, kind="room", value=data["room"], entry_key=part_key(key, "room"), **given)
            made = read(request.by, kind="temperature", value=data["value"], entry_key=key, **given)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            shown = display.figure(made.value, mark=decimal_mark(request.maker.locale))
            messages.success(request, f"{display.with_unit(shown, '°C')} are written down.")
            if wants_json(request):
                return JsonResponse({"written": True})
            there = address(request.maker, "batches:bench", code=code)
            return moved_on(f"{there}?line={line}" if line.isdecimal() else there, request)
    if wants_json(request):
        return sentences(form)
    return show_bench(request, batch, line, temperature=form)
