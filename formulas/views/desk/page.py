"""The desk's page: worked out while it is typed, changed row by row, saved, gone back in."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods
from django.views.decorators.vary import vary_on_headers

from formulas.actions.formulas import Reviewed, review_lines
from formulas.forms.formulas import (
    DeskForm,
    ExchangeForm,
    LineForm,
    NextVersionForm,
    RoomForm,
    VariantForm,
    WhyForm,
)
from formulas.models import FormulaVersion, Line
from formulas.rules.lettering import phase_order
from formulas.rules.review.parts import opened
from formulas.views.desk.acts import WRITES, Typed, make_room_for, written
from formulas.views.desk.rows import Desk, load_known, moved_rows, posted_rows
from formulas.views.desk.surface import DeskLine, Surface, lay_out, materials, stored_desk_lines, typed_lines
from formulas.views.desk.unsaved import LEAVING, compare_left, is_unsaved, may_leave, way_out
from formulas.views.desk.words import step_row, undo_words, waits_for
from formulas.views.firmness import firmness_of
from formulas.views.versions import fetch_version, version_url
from makers.actions import entries_about
from makers.http import MakerRequest, moved_on, wants_fragment
from makers.models import Scale
from makers.registries import panels_for
from makers.views.house import journal_rows

START_MASS = Decimal(1000)


@dataclass(slots=True)
class Shown:
    """What the page is made of: its head, its rows, and what an act left to say."""

    head: DeskForm
    forms: list[LineForm]
    lines: list[DeskLine]
    editable: bool
    exchange: ExchangeForm | None = None
    room: RoomForm | None = None
    said: str = ""
    unsaved: bool = False
    focus: tuple[int, str] | None = None


@require_http_methods(["GET", "POST"])
@vary_on_headers("HX-Request")
def version_page(request: MakerRequest, code: str, number: int | None = None) -> HttpResponse:
    """The working surface: lines with percent, total, mass and cost, and the review beside them."""
    version = fetch_version(request, code, number)
    editable = not version.is_frozen and request.by.role != "reader"
    desk = Desk(request, version, load_known(request, version))
    if request.method == "POST":
        return desk_post(desk)
    forms = desk.stored_forms() if editable else []
    head = DeskForm(initial=start_of_head(request, version), maker=request.maker)
    return show_desk(desk, Shown(head, forms, stored_desk_lines(version, forms), editable))


def start_of_head(request: MakerRequest, version: FormulaVersion) -> dict[str, Any]:
    """Where the desk starts: 1 000 g on the first scale, or what the address asks."""
    mass, scale = request.GET.get("mass") or START_MASS, request.GET.get("scale")
    first = Scale.objects.filter(maker=request.maker, active=True).order_by("-readability_g").first()
    return {
        "edit": version.edit,
        "mass": mass,
        "scale": scale or (first and first.pk),
        "ph_low": version.ph_low,
        "ph_high": version.ph_high,
    }


def desk_post(desk: Desk) -> HttpResponse:
    """Work out again, make room for more lines, move or take out a line, or write something down."""
    request, version = desk.request, desk.version
    act = request.POST.get("do") or ("reckon" if wants_fragment(request) else "save")
    desk.live = act not in WRITES and act not in LEAVING
    rows = posted_rows(request.POST)
    moved = moved_rows(rows, act)
    rows = rows if moved is None else moved.rows
    forms = desk.typed_forms(rows)
    typed = Typed(desk, DeskForm(request.POST, maker=request.maker, live=desk.live), rows, forms)
    typed.check()
    shown = Shown(typed.head, forms, [], True)
    if moved is not None and moved.place is not None:
        shown.focus = (moved.place, act.partition(":")[0])
    if act in WRITES and written(typed, act, shown):
        return moved_on(version_url(request, version) + desk_query(typed.head), request)
    if act in LEAVING and may_leave(typed, act):
        return moved_on(way_out(request, version, act), request)
    if act == "room":
        make_room_for(typed, shown)
    shown.unsaved = is_unsaved(typed)
    shown.lines = typed_lines(version, shown.forms)
    if act == "more" or all(not form.is_empty for form in shown.forms):
        last = shown.lines[-1].phase if shown.lines else "A"
        shown.forms = shown.forms + desk.empty_forms(len(shown.forms), last)
    return show_desk(desk, shown)


def desk_query(head: DeskForm) -> str:
    """Mass and scale as they stand in the address after saving."""
    mass, scale = head.data.get("mass", ""), head.cleaned_data.get("scale")
    return "?" + urlencode({"mass": mass, "scale": scale.pk if scale else ""})


def show_desk(desk: Desk, shown: Shown) -> HttpResponse:
    """The desk with its review, as a page or as the fragment that htmx asked for."""
    request, version = desk.request, desk.version
    lines = sorted(shown.lines, key=lambda one: phase_order(one.phase))
    for number, one in enumerate(lines, start=1):
        one.number = number
    steps = list(version.steps.select_related("phase"))
    mass, scale = asked(shown.head, "mass"), asked(shown.head, "scale")
    if shown.head.is_bound:
        version.ph_low, version.ph_high = shown.head.ph
    reviewed = review_lines(
        request.maker,
        version,
        [one.line for one in lines if one.line is not None],
        {one.line.key: one.phase for one in lines if one.line is not None},
        steps,
        on=request.by.today(),
        mass_g=mass,
        scale=scale,
    ).without([one.name for one in lines if one.line is None])
    surface = lay_out(request.maker, version, lines, reviewed, mass=mass, scale=scale, on=request.by.today())
    context = surface_context(desk, shown, surface, reviewed, lines)
    if wants_fragment(request):
        return render(request, "formulas/_desk.html", {**context, "is_fragment": True})
    context |= page_context(request, version)
    context["steps"] = [step_row(step) for step in steps]
    return render(request, "formulas/version.html", context)


def surface_context(
    desk: Desk, shown: Shown, surface: Surface, reviewed: Reviewed, lines: list[DeskLine]
) -> dict[str, Any]:
    """What the desk itself shows."""
    version = desk.version
    used = {id(one.form) for one in lines}
    spare = [form for form in shown.forms if id(form) not in used]
    total = None if surface.lacks_share else reviewed.resolved.total
    fillers = [one for one in lines if one.kind == Line.Kind.TO_100]
    context = {
        "version": version,
        "formula": version.formula,
        "head": shown.head,
        "surface": surface,
        "phases": surface.phases,
        "materials": materials(surface),
        "spare_forms": spare,
        "spare_open": not lines or any(not form.is_empty for form in spare),
        "names": desk.known.names if shown.editable else [],
        "substances": desk.known.substance_names if shown.editable else [],
        "editable": shown.editable,
        "reviewed": reviewed,
        "opened": opened(reviewed.asked),
        "firmness": firmness_of(reviewed.asked),
        "total": total,
        "is_complete": reviewed.resolved.is_complete and all(one.line is not None for one in lines),
        "line_count": len(lines),
        "filler": next((one for one in fillers if total is None or one.percent is not None), None),
        "mass": surface.mass,
        "waits_for": waits_for(reviewed),
        "said": shown.said,
        "unsaved": shown.unsaved,
        "focus_key": f"line-{shown.focus[0]}" if shown.focus else "",
        "focus_act": shown.focus[1] if shown.focus else "",
        "shape": shape_of(shown, lines, spare),
        "has_ph": any(shown.head[name].value() not in (None, "") for name in ("ph_low", "ph_high")),
    }
    if shown.editable:
        known = [one for one in lines if one.ingredient is not None]
        used_rows = list({one.ingredient.pk: one.ingredient for one in known if one.ingredient}.values())
        context["exchange"] = shown.exchange or ExchangeForm(
            known=desk.known.ingredients, used=used_rows, prefix="exchange", maker=desk.request.maker
        )
        context["room"] = shown.room or RoomForm(
            lines=room_choices(known), prefix="room", maker=desk.request.maker
        )
        context["back"] = undo_words(version)
    return context


def room_choices(lines: list[DeskLine]) -> list[tuple[str, str]]:
    """The lines that can be given a percent while the others make room."""
    return [
        (one.index, f"{one.number}: {one.name}") for one in lines if one.kind != Line.Kind.ADJUST and one.form
    ]


def shape_of(shown: Shown, lines: list[DeskLine], spare: list[LineForm]) -> str:
    """Which fields the desk has and what is said of them: while this stays, only figures change.

    What is said of a percent in its column is left out: it changes with the figures, and the cursor stays.
    """
    parts = [
        f"{one.key}/{one.phase}/{one.kind}/{one.name}/{one.purpose}/{one.strained}/"
        f"{said_of(one.form, but='percent' if one.kind == Line.Kind.PERCENT else '')}"
        for one in lines
    ]
    parts += [f"{form.prefix}/{said_of(form)}" for form in spare]
    return "|".join([*parts, said_of(shown.head)])


def said_of(form: DeskForm | LineForm | None, but: str = "") -> str:
    """What a form has to say of its fields, but for one of them."""
    if form is None or not form.is_bound:
        return ""
    return ";".join(
        f"{name}: {' '.join(map(str, texts))}" for name, texts in form.errors.items() if name != but
    )


def page_context(request: MakerRequest, version: FormulaVersion) -> dict[str, Any]:
    """What stands around the desk."""
    formula = version.formula
    versions = list(formula.versions.order_by("-number"))
    return {
        "versions": versions,
        "compare_left": compare_left(version, [one.number for one in versions]),
        "panels": [*panels_for(request.maker, version), *panels_for(request.maker, formula)],
        "journal": journal_rows(request.maker, entries_about(request.maker, formula.uuid, version.uuid)[:12]),
        "why": WhyForm(maker=request.maker),
        "next_form": NextVersionForm(maker=request.maker),
        "variant_form": VariantForm(maker=request.maker, initial={"name": f"{formula.name}, variant"}),
        "products": list(formula.products.all()),
    }


def asked(head: DeskForm, name: str) -> Any:
    """The mass or the scale asked for, if it can be read."""
    if head.is_bound:
        head.is_valid()
        return head.cleaned_data.get(name)
    try:
        return head.fields[name].clean(head.initial.get(name))
    except ValidationError:
        return None
