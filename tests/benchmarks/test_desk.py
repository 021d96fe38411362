"""A change at the desk, there and back, against the same of an empty formula."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_composition, add_ingredient
from formulas.models import FormulaVersion, Substance
from makers.actions import By
from makers.http import address
from tests.benchmarks.timing import Figures
from tests.cast import make_maker, make_member
from tests.formulas.sent import inputs_of

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db]
LINES = 60
CEILING = 40.0
SHARES = tuple(map(Decimal, ("40", "25", "15", "8", "5", "4", "2", "1")))
"""Constituents of each ingredient, % of it."""
LIVE = {"HX-Request": "true"}


def draft_of(by: By, name: str, count: int) -> FormulaVersion:
    """A draft of so many lines, each of an ingredient of 8 constituents."""
    known = list(Substance.objects.filter(maker=None).order_by("key")[:400])
    version = start_formula(by, name=name, kind="leave-on", form="balm", body_area="body")
    lines: list[dict[str, Any]] = []
    for at in range(count):
        ingredient = add_ingredient(by, name=f"{name}, material {at}")
        parts = [
            {"substance": known[(at * 5 + step) % len(known)], "typical": share}
            for step, share in enumerate(SHARES)
        ]
        add_composition(by, ingredient=ingredient, constituents=parts, valid_from=date(2025, 3, 1))
        lines.append({"ingredient": ingredient, "percent": Decimal("1.5")})
    if lines:
        lines[-1] = {"ingredient": lines[-1]["ingredient"], "kind": "to_100"}
    return save_version(
        by, version=version, phases=[{"letter": "A", "name": "Melt", "lines": lines}], edit=version.edit
    )


def form_of(client: Client, by: By, version: FormulaVersion) -> tuple[str, dict[str, Any]]:
    """The desk's address and what its form sends."""
    where = address(by.maker, "formulas:version", code=version.formula.code, number=version.number)
    return where, inputs_of(client.get(where).content.decode())


def test_an_edit_at_sixty_lines_is_a_bounded_multiple_of_an_empty_form(figures: Figures) -> None:
    """What is typed comes back with total, grams, cost and review worked out anew."""
    by = make_member(make_maker("Bench of sixty"))
    client = Client(headers=LIVE)
    client.force_login(by.user, backend="django.contrib.auth.backends.ModelBackend")
    page = Client()
    page.force_login(by.user, backend="django.contrib.auth.backends.ModelBackend")
    full, full_form = form_of(page, by, draft_of(by, "Sixty", LINES))
    empty, empty_form = form_of(page, by, draft_of(by, "Nothing yet", 0))
    full_form["line-0-percent"] = ["2.5"]

    answers = [client.post(full, full_form), client.post(empty, empty_form)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].content.count(b"-percent") > LINES > answers[1].content.count(b"-percent")
    figures.add(
        f"an edit at {LINES} lines x 8",
        lambda: client.post(full, full_form),
        "an empty form's",
        lambda: client.post(empty, empty_form),
        CEILING,
    )
