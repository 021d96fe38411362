"""The steps of a version and the names of its phases."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from formulas.actions.formulas import Stale, save_version, stored_phases, stored_steps
from formulas.forms.formulas import DeskForm, StepForm
from formulas.models import FormulaVersion
from formulas.views.stale import show_stale, steps_differ
from formulas.views.versions import fetch_version, version_url
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, moved_on

EMPTY_STEPS = 3
MOST_STEPS = 330
MOST_NAME = 80


@require_http_methods(["GET", "POST"])
def steps_page(request: MakerRequest, code: str, number: int) -> HttpResponse:
    """Edit the steps and the names of the phases."""
    version = fetch_version(request, code, number)
    if request.method == "POST":
        forms, count = [], 0
        while count < MOST_STEPS and f"step-{count}-text" in request.POST:
            forms.append(StepForm(request.POST, prefix=f"step-{count}", maker=request.maker))
            count += 1
        head = DeskForm(request.POST, maker=request.maker)
        check_phase_names(head, typed_names(request, version))
        good = [head.is_valid(), *(form.is_valid() for form in forms)]
        if request.POST.get("do") == "more":
            forms += [
                StepForm(prefix=f"step-{count + index}", maker=request.maker) for index in range(EMPTY_STEPS)
            ]
        elif all(good):
            try:
                save_steps(request, version, forms, head.cleaned_data.get("edit"))
            except Stale as refusal:
                typed = [form.step for form in forms if form.step]
                show_stale(head, version, refusal, steps_differ(stored_steps(version), typed))
            except ValidationError as refusal:
                show_refusal(head, refusal)
            else:
                messages.success(request, "The steps are written down.")
                return moved_on(version_url(request, version), request)
    else:
        head = DeskForm(initial={"edit": version.edit}, maker=request.maker)
        stored = list(version.steps.select_related("phase"))
        starts: list[dict[str, Any]] = [
            {
                "phase": step.phase.letter if step.phase else "",
                "text": step.text,
                "target_c": step.target_c,
                "min_c": step.min_c,
                "max_c": step.max_c,
                "minutes": step.minutes,
            }
            for step in stored
        ]
        starts += [{} for _ in range(EMPTY_STEPS)]
        forms = [
            StepForm(initial=start, prefix=f"step-{index}", maker=request.maker)
            for index, start in enumerate(starts)
        ]
    context = {
        "version": version,
        "formula": version.formula,
        "forms": forms,
        "head": head,
        "phases": typed_names(request, version),
    }
    return render(request, "formulas/steps.html", context)


def typed_names(request: MakerRequest, version: FormulaVersion) -> list[dict[str, str]]:
    """The phases by the names that were typed, or by those that they have."""
    return [
        {"letter": phase.letter, "name": request.POST.get(f"phase-name-{phase.letter}", phase.name)}
        for phase in version.phases.all()
    ]


def check_phase_names(head: DeskForm, phases: list[dict[str, str]]) -> None:
    """Ask for a shorter name rather than cut one."""
    for phase in phases:
        if (length := len(" ".join(phase["name"].split()))) > MOST_NAME:
            head.add_error(
                None,
                f"The name of phase {phase['letter']} has {length} signs. A name holds {MOST_NAME}: shorten it.",
            )


def save_steps(
    request: MakerRequest, version: FormulaVersion, forms: list[StepForm], edit: int | None
) -> None:
    """Write the steps and phase names, leaving the lines as they are."""
    phases = stored_phases(version)
    for phase in phases:
        typed = request.POST.get(f"phase-name-{phase['letter']}", phase["name"])
        phase["name"] = " ".join(typed.split())
    steps = [form.step for form in forms if form.step]
    save_version(request.by, version=version, phases=phases, steps=steps, edit=edit)
