"""The smallest valid ingredients, suppliers and compositions."""

from __future__ import annotations

import itertools
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from formulas.actions.ingredients import add_composition, add_ingredient, add_source, add_supplier
from formulas.models import Composition, Ingredient, Source, Substance, Supplier
from formulas.rules.composition import substance_key
from makers.actions import By

_numbers = itertools.count(1)
PDF = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"


def substance(name: str) -> Substance:
    """The shared substance of an INCI name."""
    return Substance.objects.get(maker=None, key=substance_key(name))


def make_ingredient(by: By, name: str = "", **fields: Any) -> Ingredient:
    """An ingredient."""
    return add_ingredient(by, name=name or f"Sea buckthorn oil {next(_numbers)}", **fields)


def make_supplier(by: By, name: str = "") -> Supplier:
    """A supplier."""
    return add_supplier(by, name=name or f"Brackwater Oils {next(_numbers)}")


def make_source(by: By, ingredient: Ingredient, name: str = "", **fields: Any) -> Source:
    """An article of a new supplier."""
    return add_source(by, ingredient=ingredient, supplier=make_supplier(by, name), **fields)


def part(name: str, typical: str = "", **fields: Any) -> dict[str, Any]:
    """One constituent by its INCI name."""
    figure = Decimal(typical) if typical else None
    return {"substance": substance(name), "typical": figure, **fields}


def make_composition(by: By, ingredient: Ingredient, *parts: dict[str, Any], **fields: Any) -> Composition:
    """A composition; of glycerin alone when nothing else is given."""
    given = {"valid_from": date(2025, 3, 1), **fields}
    return add_composition(
        by, ingredient=ingredient, constituents=parts or (part("Glycerin", "100"),), **given
    )


def make_sheet(name: str = "sheet.pdf", content: bytes = PDF) -> SimpleUploadedFile:
    """A supplier's sheet as a browser sends it."""
    return SimpleUploadedFile(name, content, content_type="application/pdf")
