"""Papers kept with an ingredient or with one supplier's source of it."""

from __future__ import annotations

import hashlib
from typing import Any

from formulas.models import Ingredient, Source
from makers.actions import By
from makers.actions.house import file_document
from makers.actions.journal import holding_chain
from makers.models import Document


def file_ingredient_paper(
    by: By, *, ingredient: Ingredient, upload: Any, kind: str, source: Source | None = None
) -> Document:
    """Keep an uploaded paper. The same file of the same kind, sent again for the same record, is kept once."""
    if ingredient.maker_id != by.maker.pk or (source and source.ingredient_id != ingredient.pk):
        raise ValueError("That source is of another ingredient, or the ingredient of another maker.")
    about = source.uuid if source else ingredient.uuid
    digest = hashlib.sha256()
    for chunk in upload.chunks():
        digest.update(chunk)
    upload.seek(0)
    with holding_chain(by.maker):
        kept = Document.objects.for_maker(by.maker).filter(about=about, kind=kind, sha256=digest.hexdigest())
        return kept.first() or file_document(by, upload, kind, about)
