"""Reading a recipe from elsewhere: typed or pasted, worked out line by line, written down as a draft."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from formulas.actions.recipes import NEW, write_recipe
from formulas.forms.formulas import FormulaForm
from formulas.forms.recipes import RecipeForm, RecipeLineForm
from formulas.models import BodyArea, FormulaVersion, ProductForm, ProductKind
from formulas.recipe_limits import limits_of
from formulas.recipes import CATALOGUE, Answers, Reading, Row, Shelf, open_shelf, read_text, work_out
from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.recipe.grams import weigh_line
from formulas.rules.recipe.said import RecipeLine
from formulas.views.versions import version_url
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, moved_on

MOST_LINES = 200
TOO_LONG = f"More than {MOST_LINES} lines: a formula holds {MOST_LINES}. Leave out what doesn't belong."


@dataclass
class Shown:
    """A row of the table with its form."""

    row: Row
    form: RecipeLineForm | None
    from_catalogue: bool = False

    @property
    def is_open(self) -> bool:
        """Whether something is to be answered."""
        if self.form is None or self.row.is_out:
            return False
        weighed = self.row.weighed
        settled = self.row.key and not weighed.asks and (weighed.is_exact or weighed.unit == "rest")
        return not settled or bool(self.form.is_bound and self.form.errors)


@require_http_methods(["GET", "POST"])
def recipe_read(request: MakerRequest) -> HttpResponse:
    """Take the text; show what was read; write the draft once nothing is open. Until then nothing is kept."""
    form = RecipeForm(request.POST or None, request.FILES or None, maker=request.maker)
    shelf = open_shelf(request.maker)
    wants_draft = request.POST.get("do") == "write"
    head = FormulaForm(request.POST if wants_draft else None, initial=head_of(request), maker=request.maker)
    context: dict[str, Any] = {"form": form, "head": head, "names": shelf.all_names}
    if request.method == "POST" and form.is_valid() and not form.asks:
        if len(form.cleaned_data["text"].splitlines()) > MOST_LINES:
            form.add_error("text", TOO_LONG)
            return render(request, "formulas/recipe.html", context)
        reading, shown = show_rows(request, shelf, form)
        if wants_draft and is_ready(form, head, reading, shown):
            try:
                version = write(request, form, head, reading, shown)
            except ValidationError as refusal:
                show_refusal(head, refusal)
            else:
                messages.success(request, "The draft is written down. The review says what it thinks of it.")
                return moved_on(version_url(request, version), request)
        elif wants_draft:
            messages.error(request, "Nothing is written yet: what is open stands beside its line.")
        context |= {"reading": reading, "shown": shown, "limits": as_read(request, head, reading)}
    return render(request, "formulas/recipe.html", context)


def head_of(request: MakerRequest) -> dict[str, Any]:
    """What was typed of the formula's name and kind so far; it outlives working out again."""
    return {name: request.POST[name] for name in FormulaForm.base_fields if name in request.POST}


@dataclass
class Limits:
    """What the limits say of a recipe for the use that the draft's head names. use: the words of that use."""

    use: str
    findings: tuple[Finding, ...]


def as_read(request: MakerRequest, head: FormulaForm, reading: Reading) -> Limits | None:
    """The recipe against the limits, its ranges with both ends; None while its percents aren't known."""
    if reading.asks:
        return None
    kind = _chosen(head, "kind", ProductKind.choices)
    area = _chosen(head, "body_area", BodyArea.choices)
    form = _chosen(head, "form", ProductForm.choices)
    use = ProductUse(kind, area)
    words = [ProductKind(kind).label.lower()]
    if area != BodyArea.UNKNOWN:
        words.append(f"used on {BodyArea(area).label.lower()}")
    found = limits_of(request.maker, reading, use, form=form, on=request.by.today())
    return Limits(", ".join(words), found)


def _chosen(head: FormulaForm, name: str, choices: Sequence[tuple[str, str]]) -> str:
    """What the head says, or shows as its first choice."""
    said = str(head[name].value() or "")
    return said if said in dict(choices) else choices[0][0]


def show_rows(request: MakerRequest, shelf: Shelf, form: RecipeForm) -> tuple[Reading, list[Shown]]:
    """Every line with its form: bound where the line still reads as when it was answered."""
    text, region, total = (form.cleaned_data[name] for name in ("text", "region", "total"))
    forms: dict[int, RecipeLineForm] = {}
    answers: dict[int, Answers] = {}
    for line in read_text(text)[0]:
        if line.kind == "heading" or (line.kind == "words" and not line.asks):
            continue
        one = forms[line.number] = line_form(request, shelf, line, region)
        if one.is_bound and one.is_valid():
            data = one.cleaned_data
            answers[line.number] = Answers(
                data["name"], data.get("meant") or "", data["grams"], bool(data["is_out"])
            )
    reading = work_out(shelf, text, region, answers, total)
    shown = [
        Shown(row, forms.get(row.line.number), row.key.startswith(f"{CATALOGUE}:")) for row in reading.rows
    ]
    return reading, shown


def line_form(request: MakerRequest, shelf: Shelf, line: RecipeLine, region: str) -> RecipeLineForm:
    """The form of one line."""
    match = shelf.names.match(line.name)
    sure = match.sure.name if match.sure else ""
    material = shelf.material(match.sure.key if match.sure else "")
    prefix = f"line-{line.number}"
    is_same = request.POST.get(f"{prefix}-typed") == line.text
    if is_same and (typed := shelf.find(request.POST.get(f"{prefix}-name", ""))):
        material = shelf.material(typed)
    form = RecipeLineForm(
        request.POST if is_same else None,
        prefix=prefix,
        maker=request.maker,
        initial={"typed": line.text, "name": sure},
        may_mean=weigh_line(line, region, material).may_mean,
        offers=tuple(one.name for one in match.offers),
    )
    if line.kind == "words":
        form.fields["is_out"].label = "Words only, a step"
    return form


def is_ready(form: RecipeForm, head: FormulaForm, reading: Reading, shown: list[Shown]) -> bool:
    """Whether everything is answered; says beside each line what isn't."""
    good = head.is_valid()
    for one in shown:
        if one.form is not None:
            good = (one.row.is_out or check_line(one, one.form)) and not one.form.errors and good
    if good and reading.asks:
        form.add_error("total" if "whole weigh" in reading.asks else "text", reading.asks)
        return False
    return good


def check_line(one: Shown, form: RecipeLineForm) -> bool:
    """Whether a line can go into a draft; an unbound form, of a line just typed, is bound to what it shows."""
    if not form.is_bound:
        form.is_bound, form.data = True, {form.add_prefix(key): value for key, value in form.initial.items()}
        form.full_clean()
    if one.row.line.kind == "words":
        form.add_error("is_out", one.row.line.asks)
        return False
    is_new = form.cleaned_data.get("is_new") and form.cleaned_data.get("name")
    if not one.row.key and not is_new and "name" not in form.errors:
        typed = form.cleaned_data.get("name")
        named = (
            f"“{typed}” is neither among yours nor in the catalogue." if typed else "Choose what it means."
        )
        form.add_error("name", f"{named} Take one that is, tick that it is new, or leave it out.")
    if one.row.weighed.asks and "grams" not in form.errors:
        form.add_error("meant" if "meant" in form.fields else "grams", one.row.weighed.asks)
    elif one.row.weighed.unit != "rest" and not one.row.weighed.is_exact:
        form.add_error("grams", "It is known within two ends only: weigh it once and write the grams.")
    return not form.errors


def write(
    request: MakerRequest, form: RecipeForm, head: FormulaForm, reading: Reading, shown: list[Shown]
) -> FormulaVersion:
    """Hand everything to the action."""
    meant = []
    for one in shown:
        if one.row.counts and one.form is not None:
            name = str(one.form.cleaned_data["name"] or "")
            meant.append((one.row.line.number, one.row.key or f"{NEW}:{name.casefold()}", name))
    return write_recipe(
        request.by, head=head.cleaned_data, text=form.cleaned_data["text"], reading=reading, meant=meant
    )
