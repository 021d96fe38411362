"""The formula desk: one working surface for a version, with its review."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods
from django.views.decorators.vary import vary_on_headers

from formulas.actions.formulas import Reviewed, review_lines, save_version
from formulas.assembly import as_rule_line
from formulas.forms.formulas import DeskForm, LineForm, NextVersionForm, VariantForm, WhyForm
from formulas.models import FormulaVersion, Ingredient, Step
from formulas.rules.percent import FormulaLine, LineKind, grams
from formulas.views.versions import fetch_version, stored_lines, version_url
from makers.actions import entries_about
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, moved_on, wants_fragment
from makers.models import Scale
from makers.registries import panels_for
from makers.rules.display import figure
from makers.views.house import journal_rows

EMPTY_LINES = 3
MORE_LINES = 5
MOST_ROWS = 330


@dataclass(slots=True)
class DeskLine:
    """A line as the desk shows it."""

    number: int
    line: FormulaLine
    phase: str
    form: LineForm | None
    percent: Decimal | None = None
    grams: Decimal | None = None
    grams_high: Decimal | None = None
    findings: tuple[Any, ...] = ()
    ingredient: Ingredient | None = None


def known_ingredients(request: MakerRequest) -> dict[str, Ingredient]:
    """The maker's ingredients by name and by code, for typing."""
    known: dict[str, Ingredient] = {}
    for row in Ingredient.objects.for_maker(request.maker).filter(active=True).select_related("maker"):
        known[row.code.casefold()] = row
        known[row.name.casefold()] = row
    return known


@require_http_methods(["GET", "POST"])
@vary_on_headers("HX-Request")
def version_page(request: MakerRequest, code: str, number: int | None = None) -> HttpResponse:
    """The working surface: lines with percent, total, mass, and the review beside them."""
    version = fetch_version(request, code, number)
    editable = not version.is_frozen and request.by.role != "reader"
    if request.method == "POST":
        return desk_post(request, version)
    forms = stored_forms(request, version) if editable else []
    head = DeskForm(initial=desk_start(request, version), maker=request.maker)
    return show_desk(request, version, head, forms, stored_desk_lines(version, forms), editable)


def desk_start(request: MakerRequest, version: FormulaVersion) -> dict[str, Any]:
    """Where the desk starts: 1 000 g on the first scale, or what the address asks."""
    mass, scale = request.GET.get("mass") or Decimal(1000), request.GET.get("scale")
    first = Scale.objects.filter(maker=request.maker, active=True).order_by("-readability_g").first()
    return {"edit": version.edit, "mass": mass, "scale": scale or (first and first.pk)}


def stored_forms(request: MakerRequest, version: FormulaVersion) -> list[LineForm]:
    """A form for each stored line and a few empty ones."""
    known = known_ingredients(request)
    forms = []
    lines = stored_lines(version)
    for index, line in enumerate(lines):
        initial = {
            "phase": line.phase.letter,
            "ingredient": line.ingredient.name,
            "kind": line.kind,
            "percent": line.percent,
            "adjust_low": line.adjust_low,
            "adjust_high": line.adjust_high,
            "ph_low": line.ph_low,
            "ph_high": line.ph_high,
            "purpose": line.purpose,
        }
        forms.append(LineForm(initial=initial, prefix=f"line-{index}", maker=request.maker, known=known))
    last = lines[-1].phase.letter if lines else "A"
    for index in range(len(lines), len(lines) + EMPTY_LINES):
        forms.append(
            LineForm(initial={"phase": last}, prefix=f"line-{index}", maker=request.maker, known=known)
        )
    return forms


def stored_desk_lines(version: FormulaVersion, forms: list[LineForm]) -> list[DeskLine]:
    """Stored lines, each with its form where there is one."""
    return [
        DeskLine(
            index + 1,
            as_rule_line(line),
            line.phase.letter,
            forms[index] if index < len(forms) else None,
            ingredient=line.ingredient,
        )
        for index, line in enumerate(stored_lines(version))
    ]


def posted_forms(request: MakerRequest) -> list[LineForm]:
    """The rows as they were typed, in the order asked for."""
    known = known_ingredients(request)
    count = 0
    while count < MOST_ROWS and f"line-{count}-ingredient" in request.POST:
        count += 1
    forms = [
        LineForm(request.POST, prefix=f"line-{index}", maker=request.maker, known=known)
        for index in range(count)
    ]
    order = list(range(count))
    move, _, place = request.POST.get("do", "").partition(":")
    if move in {"up", "down"} and place.isascii() and place.isdigit() and int(place) < count:
        index, other = int(place), int(place) + (-1 if move == "up" else 1)
        if 0 <= other < count:
            order[index], order[other] = order[other], order[index]
    return [forms[index] for index in order]


def desk_post(request: MakerRequest, version: FormulaVersion) -> HttpResponse:
    """Work out again, make room for more lines, move a line, or save."""
    act = request.POST.get("do", "save")
    head = DeskForm(request.POST, maker=request.maker)
    forms = posted_forms(request)
    good = [head.is_valid(), *(form.is_valid() for form in forms)]
    if act == "save" and all(good):
        edit = head.cleaned_data.get("edit")
        try:
            save_version(request.by, version=version, phases=phases_of(version, forms), edit=edit)
        except ValidationError as refusal:
            show_refusal(head, refusal)
        else:
            messages.success(request, f"{version} is written down.")
            return moved_on(version_url(request, version) + desk_query(head), request)
    lines = typed_lines(forms)
    if act == "more" or len(lines) == len(forms):
        forms = forms + more_forms(request, forms)
    return show_desk(request, version, head, forms, lines, True)


def more_forms(request: MakerRequest, forms: list[LineForm]) -> list[LineForm]:
    """Empty rows after those that are there, in the phase of the last."""
    known = known_ingredients(request)
    phase = forms[-1].data.get(f"{forms[-1].prefix}-phase", "A") if forms else "A"
    return [
        LineForm(initial={"phase": phase}, prefix=f"line-{index}", maker=request.maker, known=known)
        for index in range(len(forms), len(forms) + MORE_LINES)
    ]


def desk_query(head: DeskForm) -> str:
    """Mass and scale as they stand in the address after saving."""
    mass, scale = head.data.get("mass", ""), head.cleaned_data.get("scale")
    return "?" + urlencode({"mass": mass, "scale": scale.pk if scale else ""})


def typed_lines(forms: list[LineForm]) -> list[DeskLine]:
    """The lines that can be read from what was typed."""
    lines: list[DeskLine] = []
    for form in forms:
        data = getattr(form, "cleaned_data", {})
        ingredient = data.get("ingredient")
        if ingredient is None:
            continue
        key = f"typed-{form.prefix}"
        kind: LineKind = data.get("kind") or "percent"
        line = FormulaLine(
            key=key,
            ingredient=str(ingredient.pk),
            name=ingredient.name,
            percent=data.get("percent") if kind == "percent" else None,
            kind=kind,
            adjust_low=data.get("adjust_low"),
            adjust_high=data.get("adjust_high"),
            purpose=data.get("purpose") or "",
        )
        lines.append(DeskLine(len(lines) + 1, line, data.get("phase") or "A", form, ingredient=ingredient))
    return lines


def phases_of(version: FormulaVersion, forms: list[LineForm]) -> list[dict[str, Any]]:
    """Rows grouped by phase letter, as save_version takes them; phases keep their names."""
    names = {phase.letter: phase.name for phase in version.phases.all()}
    phases: OrderedDict[str, dict[str, Any]] = OrderedDict()
    for form in forms:
        line = form.line
        if line is None:
            continue
        letter = form.cleaned_data["phase"]
        phases.setdefault(letter, {"letter": letter, "name": names.get(letter, ""), "lines": []})
        phases[letter]["lines"].append(line)
    return [phases[letter] for letter in sorted(phases)]


def show_desk(
    request: MakerRequest,
    version: FormulaVersion,
    head: DeskForm,
    forms: list[LineForm],
    lines: list[DeskLine],
    editable: bool,
) -> HttpResponse:
    """The desk with its review, as a page or as the fragment that htmx asked for."""
    steps = list(version.steps.select_related("phase"))
    lines.sort(key=lambda one: one.phase)
    for index, one in enumerate(lines, start=1):
        one.number = index
    reviewed = review_lines(
        request.maker,
        version,
        [one.line for one in lines],
        {one.line.key: one.phase for one in lines},
        steps,
        on=request.by.today(),
        mass_g=mass_of(head),
        scale=scale_of(head),
    )
    fill_in(lines, reviewed, head)
    used = {id(one.form) for one in lines}
    resolved = reviewed.resolved
    context = {
        "version": version,
        "formula": version.formula,
        "head": head,
        "phases": by_phase(version, lines),
        "spare_forms": [form for form in forms if id(form) not in used],
        "ingredients": sorted({row.name for row in known_ingredients(request).values()}) if editable else [],
        "editable": editable,
        "reviewed": reviewed,
        "passed": reviewed.passed,
        "total": resolved.total,
        "is_complete": resolved.is_complete,
        "line_count": len(lines),
        "mass": mass_of(head),
        "steps": [step_row(step) for step in steps],
        "waits_for": waits_for(reviewed),
    }
    if wants_fragment(request):
        return render(request, "formulas/_desk.html", context)
    context |= {
        "versions": list(version.formula.versions.order_by("-number")),
        "panels": panels_for(request.maker, version.formula),
        "journal": journal_rows(
            request.maker, entries_about(request.maker, version.formula.uuid, version.uuid)[:12]
        ),
        "why": WhyForm(maker=request.maker),
        "next_form": NextVersionForm(maker=request.maker),
        "variant_form": VariantForm(
            maker=request.maker, initial={"name": f"{version.formula.name}, variant"}
        ),
        "products": list(version.formula.products.all()),
    }
    return render(request, "formulas/version.html", context)


def mass_of(head: DeskForm) -> Decimal | None:
    """The mass asked for, if it can be read."""
    if head.is_bound:
        head.is_valid()
        return head.cleaned_data.get("mass")
    value = head.initial.get("mass")
    try:
        mass: Decimal | None = head.fields["mass"].clean(value)
        return mass
    except ValidationError:
        return None


def scale_of(head: DeskForm) -> Scale | None:
    """The scale asked for, if there is one."""
    if head.is_bound:
        head.is_valid()
        return head.cleaned_data.get("scale")
    try:
        scale: Scale | None = head.fields["scale"].clean(head.initial.get("scale"))
        return scale
    except ValidationError:
        return None


def fill_in(lines: list[DeskLine], reviewed: Reviewed, head: DeskForm) -> None:
    """Percent, grams and findings of each line."""
    resolved = {line.key: line for line in reviewed.resolved.lines}
    mass, scale = mass_of(head), scale_of(head)
    weights = {}
    if mass and reviewed.resolved.is_complete:
        step = scale.readability_g if scale else Decimal("0.0001")
        plan = grams(reviewed.resolved, mass, step)
        weights = {line.key: line for line in (*plan.lines, *plan.adjust)}
    for one in lines:
        found = resolved[one.line.key]
        one.percent = found.percent
        if one.line.key in weights:
            one.grams = weights[one.line.key].low_g
            one.grams_high = weights[one.line.key].high_g
        one.findings = tuple(
            finding
            for finding in reviewed.findings
            if one.line.key in finding.lines and finding.severity != "note"
        )


def by_phase(version: FormulaVersion, lines: list[DeskLine]) -> list[dict[str, Any]]:
    """Lines grouped by phase with their sums."""
    names = {phase.letter: phase.name for phase in version.phases.all()}
    groups: OrderedDict[str, list[DeskLine]] = OrderedDict()
    for one in lines:
        groups.setdefault(one.phase, []).append(one)
    return [
        {
            "letter": letter,
            "name": names.get(letter, ""),
            "lines": rows,
            "percent": sum((row.percent for row in rows if row.percent is not None), Decimal(0)),
            "grams": sum(
                (row.grams for row in rows if row.grams is not None and row.line.kind != "adjust"), Decimal(0)
            ),
        }
        for letter, rows in groups.items()
    ]


def waits_for(reviewed: Reviewed) -> str:
    """What approval still wants, in words."""
    if not reviewed.resolved.is_complete:
        return "Waits for exactly 100."
    count = len(reviewed.to_answer)
    return (
        f"{count} of the findings want{'s' * (count == 1)} a reason."
        if count
        else "Nothing stands in the way."
    )


def step_row(step: Step) -> dict[str, Any]:
    """A step as the part takes it."""
    gate, state = "", ""
    if step.target_c is not None:
        gate, state = f"{figure(step.target_c)} °C", "heat"
        if step.min_c is not None and step.max_c is not None:
            gate += f" ({figure(step.min_c)} to {figure(step.max_c)})"
    elif step.max_c is not None:
        gate, state = f"{figure(step.max_c)} °C or below", "cool"
    elif step.min_c is not None:
        gate, state = f"{figure(step.min_c)} °C or above", "heat"
    if step.minutes:
        gate += f"{', ' if gate else ''}{step.minutes} min"
    letter = f"{step.phase.letter}: " if step.phase else ""
    return {"text": letter + step.text, "gate": gate, "gate_state": state}
