"""Papers of an ingredient: data sheets, certificates, safety sheets, each with what it is of."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from formulas.actions.papers import file_ingredient_paper
from formulas.forms.papers import IngredientPaperForm
from formulas.models import Composition, Ingredient, Source
from formulas.views.ingredient_pages import done, fetch, form_page, trail_of, written_down
from makers.http import MakerRequest
from makers.models import Document, Maker


@dataclass(frozen=True, slots=True)
class PaperRow:
    """A paper as listed. of: what it is about, in words."""

    record: Document
    of: str
    on: datetime


def paper_rows(maker: Maker, row: Ingredient, sources: list[Source]) -> list[PaperRow]:
    """Papers filed with an ingredient, with its sources, or as the sheet of a composition; the newest first.

    Two queries, however many sources and papers there are.
    """
    of = {source.uuid: str(source) for source in sources}
    sheets = {
        one.document_id: f"Composition {one.number}, {of.get(one.source.uuid) if one.source else 'every source'}"
        for one in Composition.objects.for_maker(maker)
        .filter(ingredient=row, document__isnull=False)
        .select_related("source__supplier")
    }
    papers = Document.objects.for_maker(maker).filter(about__in=[row.uuid, *of]).order_by("-pk")
    return [
        PaperRow(
            record=paper,
            of=sheets.get(paper.pk) or of.get(paper.about or row.uuid, "Every source"),
            on=timezone.localtime(paper.at),
        )
        for paper in papers
    ]


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
