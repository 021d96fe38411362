"""Papers of ingredients and of a supplier's articles: data sheets, certificates, safety sheets."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from formulas.actions.papers import date_paper, file_ingredient_paper
from formulas.forms.papers import IngredientPaperForm, PaperDateForm
from formulas.models import Composition, DatedPaper, Ingredient, Source, Supplier
from formulas.rules.papers import age, is_old
from formulas.views.ingredient_pages import Trail, done, fetch, form_page, trail_of, written_down
from makers.http import MakerRequest, address
from makers.models import Document, Maker
from makers.views.lists import Sort, csv_response, keyset_page, pager, wants_csv

MOST_PAPERS = 8
"""Papers on the page of an ingredient or a supplier; all of them have a page of their own."""

SORTS = {"kept": Sort("pk", int)}
CSV_HEADS = ("paper", "kind", "of", "dated", "age", "kept since", "size")


@dataclass(frozen=True, slots=True)
class PaperRow:
    """A paper as listed. of: what it is about, in words. on: kept since. issued_on: the day it bears."""

    record: Document
    of: str
    code: str
    on: datetime
    issued_on: date | None
    age: str
    is_old: bool


@dataclass(frozen=True, slots=True)
class Papers:
    """The newest papers, and whether there are more."""

    rows: list[PaperRow]
    more: bool


class PaperShelf:
    """The papers of some ingredients and sources: which they are, and what each is of."""

    def __init__(
        self, maker: Maker, today: date, *, sources: Collection[Source], own: Ingredient | None
    ) -> None:
        """sources: with supplier and ingredient loaded. own: the ingredient, where it is about one alone."""
        self.maker, self.today, self.own = maker, today, own
        self.sources = {source.uuid: source for source in sources}
        sheets = Composition.objects.for_maker(maker).filter(document__isnull=False)
        sheets = sheets.filter(ingredient=own) if own is not None else sheets.filter(source__in=sources)
        self.sheets = {
            one.document_id: one
            for one in sheets.select_related("source__supplier", "ingredient").order_by("number")
        }

    @property
    def rows(self) -> QuerySet[Any]:
        """The papers."""
        about = [*self.sources, *([self.own.uuid] if self.own is not None else [])]
        found: QuerySet[Any] = Document.objects.for_maker(self.maker).filter(
            Q(about__in=about) | Q(pk__in=[pk for pk in self.sheets if pk is not None])
        )
        return found

    def shown(self, papers: Iterable[Document]) -> list[PaperRow]:
        """Papers as listed. One query."""
        papers = list(papers)
        dated = dict(
            DatedPaper.objects.for_maker(self.maker)
            .filter(document__in=papers)
            .values_list("document", "issued_on")
        )
        return [self.row_of(paper, dated.get(paper.pk)) for paper in papers]

    def row_of(self, paper: Document, issued_on: date | None) -> PaperRow:
        """One paper as listed."""
        sheet = self.sheets.get(paper.pk)
        source = sheet.source if sheet else self.sources.get(paper.about) if paper.about else None
        ingredient = self.own or (sheet.ingredient if sheet else source.ingredient if source else None)
        words = str(source) if source else "Every source"
        if self.own is None and ingredient is not None:
            words = f"{ingredient.name} {source.article_code}".strip() if source else ingredient.name
        if sheet:
            words = (
                f"Composition {sheet.number}, {words[:1].lower() + words[1:] if source is None else words}"
            )
        return PaperRow(
            record=paper,
            of=words,
            code=ingredient.code if ingredient else "",
            on=timezone.localtime(paper.at),
            issued_on=issued_on,
            age=age(issued_on, self.today) if issued_on else "",
            is_old=issued_on is not None and is_old(paper.kind, issued_on, self.today),
        )

    def newest(self) -> Papers:
        """The newest few."""
        found = list(self.rows.order_by("-pk")[: MOST_PAPERS + 1])
        return Papers(self.shown(found[:MOST_PAPERS]), len(found) > MOST_PAPERS)


def shelf_of_ingredient(
    maker: Maker, row: Ingredient, sources: Collection[Source], today: date
) -> PaperShelf:
    """Papers filed with an ingredient, with its sources, or as the sheet of a composition."""
    return PaperShelf(maker, today, sources=sources, own=row)


def shelf_of_supplier(maker: Maker, sources: Collection[Source], today: date) -> PaperShelf:
    """Papers filed with what a supplier sells, or as the sheet of its composition."""
    return PaperShelf(maker, today, sources=sources, own=None)


def every_paper(
    request: MakerRequest, shelf: PaperShelf, *, title: str, name: str, trail: Trail, add_url: str = ""
) -> HttpResponse:
    """The page of all papers of an ingredient or a supplier, or all as CSV."""
    if wants_csv(request):
        return csv_response(
            f"papers-{name}",
            CSV_HEADS,
            shelf.shown(shelf.rows.order_by("-pk")),
            lambda row: [
                row.record.name, row.record.get_kind_display(), row.of, row.issued_on, row.age, row.on.date(),
                row.record.size,
            ],
        )  # fmt: skip
    page = keyset_page(request, shelf.rows, SORTS, "-kept")
    context = {
        "title": title,
        "page": page,
        "papers": shelf.shown(page.rows),
        "pager": pager(request, page),
        "trail": trail,
        "add_url": add_url,
    }
    return render(request, "formulas/papers.html", context)


@require_GET
def papers_of_ingredient(request: MakerRequest, code: str) -> HttpResponse:
    """Every paper of an ingredient."""
    row = fetch(request, code)
    sources = list(row.sources.select_related("supplier", "ingredient"))
    return every_paper(
        request,
        shelf_of_ingredient(request.maker, row, sources, request.by.today()),
        title=f"Papers of {row}",
        name=row.code,
        trail=trail_of(request, row),
        add_url=address(request.maker, "formulas:ingredient-paper-add", code=code),
    )


@require_GET
def papers_of_supplier(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """Every paper of what a supplier sells."""
    row: Supplier = get_object_or_404(Supplier.objects.for_maker(request.maker), uuid=uuid)
    sources = list(row.sources.select_related("supplier", "ingredient"))
    return every_paper(
        request,
        shelf_of_supplier(request.maker, sources, request.by.today()),
        title=f"Papers of {row}",
        name="supplier",
        trail=[
            ("Suppliers", address(request.maker, "formulas:suppliers")),
            (row.name, address(request.maker, "formulas:supplier", uuid=uuid)),
        ],
    )


@require_http_methods(["GET", "POST"])
def paper_add(request: MakerRequest, code: str) -> HttpResponse:
    """Keep a paper with the ingredient or with one of its sources."""
    row = fetch(request, code)
    posted = (request.POST, request.FILES) if request.method == "POST" else ()
    form = IngredientPaperForm(*posted, maker=request.maker, ingredient=row)

    def act() -> None:
        file_ingredient_paper(request.by, ingredient=row, **form.cleaned_data)

    if request.method == "POST" and written_down(form, act):
        return done(request, row, "The paper is kept.")
    said = "PDF or a picture. It stays as it is; a newer one is added beside it."
    return form_page(request, form, f"Keep a paper of {row}", "Keep it", trail_of(request, row), said=said)


@require_http_methods(["GET", "POST"])
def paper_date(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Write down the day that a kept paper bears."""
    row = fetch(request, code)
    sources = list(row.sources.select_related("supplier", "ingredient"))
    shelf = shelf_of_ingredient(request.maker, row, sources, request.by.today())
    paper: Document = get_object_or_404(shelf.rows, uuid=uuid)
    known = DatedPaper.objects.for_maker(request.maker).filter(document=paper).first()
    initial = {"issued_on": known.issued_on if known else None}
    form = PaperDateForm(request.POST or None, initial=initial, maker=request.maker)

    def act() -> None:
        date_paper(request.by, ingredient=row, document=paper, **form.cleaned_data)

    if request.method == "POST" and written_down(form, act):
        return done(request, row, "Its date is written down.")
    said = f"{paper.name}, {paper.get_kind_display().lower()}. The day on which it was issued, as it says itself."
    title = f"{row}: the date of a paper"
    return form_page(request, form, title, "Write it down", trail_of(request, row), said=said)
