"""Writing what is in an ingredient: the rows of a composition, and substances of one's own."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from formulas.actions.formulas import WouldChange, what_would_change
from formulas.actions.ingredients import (
    add_composition,
    add_substance,
    confirm_composition,
    supposed_composition,
)
from formulas.actions.papers import file_ingredient_paper
from formulas.assembly import Supposed, in_force
from formulas.forms.ingredients import CompositionForm, ConfirmForm, ConstituentForm, SubstanceForm
from formulas.models import Composition, Ingredient, Source, Substance
from formulas.substances import known_substances
from formulas.views.ingredient_pages import done, fetch, form_page, trail_of, written_down
from makers.forms.keeping import brought
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on

MORE_ROWS = 5
MOST_ROWS = 200
ROW_FIELDS = ("substance", "kind", "low", "typical", "high", "rank", "incidental_reason")


class CompositionPage:
    """The head and the rows of the page, as typed or as they start."""

    def __init__(self, request: MakerRequest, row: Ingredient) -> None:
        self.request, self.row = request, row
        self.known = known_substances(request.maker)
        self.newest = (
            Composition.objects.for_maker(request.maker).filter(ingredient=row).order_by("-number").first()
        )
        self.number = self.newest.number if self.newest else 0
        self.head: CompositionForm
        self.rows: list[ConstituentForm]
        self.filled: list[dict[str, Any]] = []
        self.would: WouldChange | None = None
        self.goes_by: Composition | None = None
        self.model: Composition | None = None
        self.other_sources: list[Source] = []

    def start(self, source_uuid: str) -> None:
        """Start from the newest composition of the source asked for, else from the newest."""
        sources = list(self.row.sources.select_related("supplier"))
        source = next((one for one in sources if str(one.uuid) == source_uuid), None)
        records = Composition.objects.for_maker(self.request.maker).filter(ingredient=self.row)
        records = records.select_related("source__supplier").order_by("-number")
        records = records.prefetch_related("constituents__substance")
        model = records.filter(source=source).first() if source else records.first()
        starts: list[dict[str, Any]] = [
            {**{name: getattr(part, name) for name in ROW_FIELDS}, "substance": part.substance.inci_name}
            for part in (model.constituents.all() if model else [])
        ]
        initial: dict[str, Any] = {"valid_from": self.request.by.today(), "after": self.number}
        if source or model:
            initial["source"] = source or (model.source if model else None)
            self.other_sources = [one for one in sources if one.pk != getattr(initial["source"], "pk", None)]
        self.model = model
        self.head = CompositionForm(initial=initial, maker=self.request.maker, ingredient=self.row)
        self.rows = [self.row_form(index, initial=start) for index, start in enumerate(starts)]
        self.add_rows()

    def fill(self, parts: list[dict[str, Any]], *, origin: str) -> None:
        """Put rows that were read elsewhere in place of those it starts from."""
        self.known = known_substances(self.request.maker)
        self.filled = parts
        self.head.initial["origin"] = origin
        self.rows = [self.row_form(index, initial=part) for index, part in enumerate(parts)]

    def shown(self) -> HttpResponse:
        """The page as it stands."""
        context = {
            "ingredient": self.row,
            "head": self.head,
            "rows": self.rows,
            "number": self.number + 1,
            "more": MORE_ROWS,
            "may_add": len(self.rows) < MOST_ROWS,
            "unknown_names": self.unknown_names,
            "would": self.would,
            "goes_by": self.goes_by,
            "model": self.model,
            "other_sources": self.other_sources,
            "substances": sorted(one.inci_name for one in self.known.values()),
        }
        return render(self.request, "formulas/composition_form.html", context)

    def row_form(self, index: int, data: Any = None, **kwargs: Any) -> ConstituentForm:
        """The form of one row."""
        prefix = f"part-{index}"
        return ConstituentForm(data, prefix=prefix, maker=self.request.maker, known=self.known, **kwargs)

    def add_rows(self) -> None:
        """Put empty rows at the end."""
        for _ in range(min(MORE_ROWS, MOST_ROWS - len(self.rows))):
            self.rows.append(self.row_form(len(self.rows)))

    @property
    def typed_rows(self) -> int:
        """How many rows came with the request."""
        count = 0
        while count < MOST_ROWS and f"part-{count}-substance" in self.request.POST:
            count += 1
        return count

    def typed(self) -> None:
        """Take what was typed without judging it yet."""
        post = self.request.POST
        names = [name for name in CompositionForm.base_fields if name != "paper"]
        initial = {name: post.get(name, "") for name in names} | {"paper": brought(self.request, "paper")}
        self.head = CompositionForm(initial=initial, maker=self.request.maker, ingredient=self.row)
        self.rows = [
            self.row_form(index, initial={name: post.get(f"part-{index}-{name}", "") for name in ROW_FIELDS})
            for index in range(self.typed_rows)
        ]

    def read(self) -> bool:
        """Judge what was typed; True when every field holds."""
        post = self.request.POST
        self.head = CompositionForm(post, self.request.FILES, maker=self.request.maker, ingredient=self.row)
        self.rows = [self.row_form(index, post) for index in range(self.typed_rows)]
        self.head.below, self.head.row_word = self.rows, "substance"
        return all([self.head.is_valid(), *[form.is_valid() for form in self.rows]])

    def write(self) -> None:
        """File the sheet and write the composition, both or neither. Raises Refused."""
        data = dict(self.head.cleaned_data)
        paper, issued_on = data.pop("paper"), data.pop("issued_on")
        source = data["source"]
        parts = [form.part for form in self.rows if form.part]
        with transaction.atomic():
            document = (
                file_ingredient_paper(
                    self.request.by,
                    ingredient=self.row,
                    upload=paper,
                    kind="specification",
                    source=source,
                    issued_on=issued_on,
                )
                if paper
                else None
            )
            add_composition(
                self.request.by, ingredient=self.row, constituents=parts, document=document, **data
            )

    def suppose(self) -> None:
        """Find out what the composition would change, writing nothing. Raises Refused."""
        names = ("source", "basis", "origin", "allergens_stated")
        typed = supposed_composition(
            self.request.by,
            ingredient=self.row,
            constituents=[form.part for form in self.rows if form.part],
            **{name: self.head.cleaned_data[name] for name in names},
        )
        records = Composition.objects.for_maker(self.request.maker).filter(ingredient=self.row)
        chosen = in_force([*records.select_related("source__supplier"), typed])
        self.goes_by = None if chosen is typed else chosen
        self.would = what_would_change(
            self.request.maker, self.row, Supposed(composition=typed), on=self.request.by.today()
        )

    @property
    def unknown_names(self) -> list[str]:
        """Names that no substance has, each once."""
        return list(dict.fromkeys(form.unknown_name for form in self.rows if form.unknown_name))


@require_http_methods(["GET", "POST"])
def composition_add(request: MakerRequest, code: str) -> HttpResponse:
    """Write the next composition, starting from the one in force."""
    row = fetch(request, code)
    page = CompositionPage(request, row)
    act = request.POST.get("do", "save")
    if request.method == "GET":
        page.start(request.GET.get("source", ""))
    elif act == "more":
        page.typed()
        page.add_rows()
    elif act.startswith("own:"):
        add_own(request, act.removeprefix("own:"))
        page = CompositionPage(request, row)
        page.read()
    elif page.read():
        try:
            if act == "suppose":
                page.suppose()
                return page.shown()
            page.write()
        except ValidationError as refusal:
            page.head.data = seen_now(page)
            show_refusal(page.head, refusal)
        else:
            return done(request, row, "The composition is written down. Earlier ones stay as they are.")
    return page.shown()


def seen_now(page: CompositionPage) -> Any:
    """What was typed, after the compositions of now: sent again, it is written after them."""
    data: Any = page.request.POST.copy()
    data["after"] = str(page.number)
    return data


def add_own(request: MakerRequest, name: str) -> None:
    """Add the name as a substance of the maker's own; the page's other fields stay as they were typed."""
    form = SubstanceForm({"inci_name": name, "source": "written in a composition"}, maker=request.maker)
    if written_down(form, lambda: add_substance(request.by, **form.cleaned_data)):
        messages.success(request, f"{form.cleaned_data['inci_name']} is a substance of your own now.")
    else:
        messages.error(request, " ".join(str(text) for texts in form.errors.values() for text in texts))


@require_http_methods(["GET", "POST"])
def composition_confirm(request: MakerRequest, code: str, number: int) -> HttpResponse:
    """Confirm a composition as it stands."""
    row = fetch(request, code)
    records = Composition.objects.for_maker(request.maker).filter(ingredient=row)
    record: Composition = get_object_or_404(records, number=number)
    form = ConfirmForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and written_down(
        form, lambda: confirm_composition(request.by, composition=record, basis=form.cleaned_data["basis"])
    ):
        return done(request, row, f"Composition {number} is confirmed.")
    said = "Its figures stay as they are; what changes is what they rest on."
    title = f"{row}: confirm composition {number}"
    return form_page(request, form, title, "Confirm it", trail_of(request, row), said=said)


@require_http_methods(["GET", "POST"])
def substance_add(request: MakerRequest) -> HttpResponse:
    """Add a substance that the reference does not have."""
    initial = {"inci_name": request.GET.get("name", "")[:200]}
    form = SubstanceForm(request.POST or None, initial=initial, maker=request.maker)
    made: list[Substance] = []
    if request.method == "POST" and written_down(
        form, lambda: made.append(add_substance(request.by, **form.cleaned_data))
    ):
        messages.success(request, f"{made[0]} can be used in compositions now.")
        return moved_on(address(request.maker, "formulas:ingredients"), request)
    said = "Only what the shared list doesn't have. It is yours alone, and labels print it as you write it."
    return form_page(request, form, "Add a substance", "Add this substance", trail_of(request), said=said)
