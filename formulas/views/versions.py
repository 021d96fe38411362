"""Fetching a version for the pages that work on it."""

from __future__ import annotations

from django.http import Http404

from formulas.models import FormulaVersion, Line
from makers.http import MakerRequest, address


def version_url(request: MakerRequest, version: FormulaVersion) -> str:
    """The page of a version."""
    return address(request.maker, "formulas:version", code=version.formula.code, number=version.number)


def fetch_version(request: MakerRequest, code: str, number: int | None = None) -> FormulaVersion:
    """One version of the maker's formula, the newest when none is named; 404 otherwise."""
    versions = FormulaVersion.objects.for_maker(request.maker).filter(formula__code=code)
    versions = versions.select_related("formula", "formula__parent__formula", "approved_by")
    if number is not None:
        versions = versions.filter(number=number)
    found: FormulaVersion | None = versions.order_by("-number").first()
    if found is None:
        raise Http404
    return found


def stored_lines(version: FormulaVersion) -> list[Line]:
    """The stored lines with what showing them needs."""
    return list(
        version.lines.select_related("ingredient", "phase", "leaves").order_by(
            "phase__position", "position", "id"
        )
    )
