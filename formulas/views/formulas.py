"""Formulas: the list, starting and changing one, approving, withdrawing and following a version."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_POST

from formulas.actions.formulas import (
    Reviewed,
    Stale,
    answer_key,
    approve_version,
    change_formula,
    next_version,
    review_version,
    start_formula,
    withdraw_version,
)
from formulas.forms.formulas import FormulaForm, NextVersionForm, VariantForm
from formulas.models import Formula, FormulaVersion
from formulas.views.desk.surface import DeskLine, stored_desk_lines
from formulas.views.versions import fetch_version, version_url
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.views.forms import CHANGED, carried_out


@require_http_methods(["GET", "POST"])
def formula_start(request: MakerRequest) -> HttpResponse:
    """Start a formula."""
    form = FormulaForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            version = start_formula(request.by, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            return moved_on(version_url(request, version), request)
    return render(request, "formulas/formula_form.html", {"form": form, "title": "Start a formula"})


@require_http_methods(["GET", "POST"])
def formula_change(request: MakerRequest, code: str) -> HttpResponse:
    """Change what a formula is called and for."""
    formula = get_object_or_404(Formula.objects.for_maker(request.maker), code=code)
    initial = {name: getattr(formula, name) for name in FormulaForm.base_fields}
    form = FormulaForm(request.POST or None, initial=initial, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: change_formula(request.by, formula=formula, **data),
        then=address(request.maker, "formulas:detail", code=code),
        said=CHANGED,
    )
    if gone is not None:
        return gone
    context = {"form": form, "title": f"Change {formula}", "formula": formula}
    return render(request, "formulas/formula_form.html", context)


@require_http_methods(["GET", "POST"])
def approve_page(request: MakerRequest, code: str, number: int) -> HttpResponse:
    """Approve a version, with a reason for each stop and unknown."""
    version = fetch_version(request, code, number)
    reviewed = review_version(request.maker, version, on=request.by.today())
    typed = {
        answer_key(one): request.POST.get(f"reason-{index}", "")
        for index, one in enumerate(reviewed.to_answer)
    }
    refusal_text = ""
    if request.method == "POST":
        edit_text = request.POST.get("edit", "")
        edit = int(edit_text) if edit_text.isascii() and edit_text.isdigit() and len(edit_text) < 9 else None
        try:
            approve_version(request.by, version=version, reasons=typed, edit=edit)
        except Stale:
            refusal_text = (
                f"{version} was changed in another window since you looked at it. Below it stands as it is now: "
                "look at its lines again before you approve them."
            )
        except ValidationError as refusal:
            refusal_text = " ".join(refusal.messages)
        else:
            messages.success(request, f"{version} is approved and fixed. Batches for sale can be made to it.")
            return moved_on(version_url(request, version), request)
    context = {
        "version": version,
        "formula": version.formula,
        "reviewed": reviewed,
        "answers": [
            {"finding": one, "typed": typed[answer_key(one)], "name": f"reason-{index}"}
            for index, one in enumerate(reviewed.to_answer)
        ],
        "is_complete": reviewed.resolved.is_complete,
        "lines": lines_to_fix(version, reviewed),
        "steps": version.steps.count(),
        "refusal": refusal_text,
    }
    return render(request, "formulas/approve.html", context)


def lines_to_fix(version: FormulaVersion, reviewed: Reviewed) -> list[DeskLine]:
    """The lines that an approval fixes, each with its percent; the line "to 100" with what it takes."""
    shares = {one.key: one for one in reviewed.resolved.lines}
    lines = stored_desk_lines(version, [])
    for one in lines:
        if one.line is not None and one.line.key in shares:
            one.percent = shares[one.line.key].percent
    return lines


@require_POST
def version_next(request: MakerRequest, code: str) -> HttpResponse:
    """Start the next version."""
    version = fetch_version(request, code)
    form = NextVersionForm(request.POST, maker=request.maker)
    if form.is_valid():
        try:
            version = next_version(request.by, formula=version.formula, note=form.cleaned_data["note"])
        except ValidationError as refusal:
            messages.error(request, " ".join(refusal.messages))
    return moved_on(version_url(request, version), request)


@require_POST
def version_withdraw(request: MakerRequest, code: str, number: int) -> HttpResponse:
    """Withdraw an approved version."""
    version = fetch_version(request, code, number)
    try:
        withdraw_version(request.by, version=version, why=request.POST.get("why", ""))
    except ValidationError as refusal:
        messages.error(request, " ".join(refusal.messages))
    return moved_on(version_url(request, version), request)


@require_http_methods(["GET", "POST"])
def variant(request: MakerRequest, code: str, number: int) -> HttpResponse:
    """Start a variant from this version."""
    version = fetch_version(request, code, number)
    origin = version.formula
    form = VariantForm(request.POST or None, initial={"name": f"{origin.name}, variant"}, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: start_formula(
            request.by,
            name=data["name"],
            kind=origin.kind,
            form=origin.form,
            body_area=origin.body_area,
            used_in_water=origin.used_in_water,
            perfume_category=origin.perfume_category,
            parent=version,
        ),
        then=lambda made: version_url(request, made),
    )
    if gone is not None:
        return gone
    trail = [
        ("Formulas", address(request.maker, "formulas:list")),
        (str(version), version_url(request, version)),
    ]
    context = {"form": form, "title": f"Start a variant of {version}", "act_word": "Start this variant"}
    return render(request, "formulas/one_form.html", {**context, "trail": trail})
