"""Papers kept with an ingredient or with one supplier's source of it, and the day that each bears."""

from __future__ import annotations

import hashlib
from datetime import date
from typing import Any

from formulas.models import DatedPaper, Ingredient, Source
from makers.actions import By, Refused, recording
from makers.actions.house import file_document
from makers.actions.journal import holding_chain
from makers.models import Document


def file_ingredient_paper(
    by: By,
    *,
    ingredient: Ingredient,
    upload: Any,
    kind: str,
    source: Source | None = None,
    issued_on: date | None = None,
) -> Document:
    """Keep an uploaded paper. The same file of the same kind, sent again for the same record, is kept once.

    issued_on: the day that the paper bears. Raises Refused for a day after today. The journals of the ingredient and
    of the supplier tell of it.
    """
    if ingredient.maker_id != by.maker.pk or (source and source.ingredient_id != ingredient.pk):
        raise ValueError("That source is of another ingredient, or the ingredient of another maker.")
    about = source.uuid if source else ingredient.uuid
    told = (ingredient.uuid, source.supplier.uuid) if source else (ingredient.uuid,)
    refuse_coming(by, issued_on)
    digest = hashlib.sha256()
    for chunk in upload.chunks():
        digest.update(chunk)
    upload.seek(0)
    with holding_chain(by.maker):
        kept = Document.objects.for_maker(by.maker).filter(about=about, kind=kind, sha256=digest.hexdigest())
        document: Document = kept.first() or file_document(by, upload, kind, about, told=told)
        if issued_on is not None:
            date_paper(by, ingredient=ingredient, document=document, issued_on=issued_on)
    return document


def date_paper(by: By, *, ingredient: Ingredient, document: Document, issued_on: date) -> DatedPaper:
    """Write down which day a kept paper bears, or put it right; the journal keeps what it was.

    Raises Refused for a day after today.
    """
    refuse_coming(by, issued_on)
    with holding_chain(by.maker):
        row: DatedPaper | None = DatedPaper.objects.for_maker(by.maker).filter(document=document).first()
        if row is not None and row.issued_on == issued_on:
            return row
        with recording(by, "paper.dated") as entry:
            was = row.issued_on if row is not None else None
            row = row or DatedPaper(maker=by.maker, document=document)
            row.issued_on = issued_on
            row.full_clean()
            row.save()
            entry.about(document)
            entry.mention(ingredient)
            entry.say(on=issued_on.isoformat(), was=was.isoformat() if was else "")
    return row


def refuse_coming(by: By, issued_on: date | None) -> None:
    """Refuse a day that is still to come."""
    if issued_on is not None and issued_on > by.today():
        raise Refused(
            {"issued_on": "That day is still to come. A paper bears the day on which it was issued."}
        )
