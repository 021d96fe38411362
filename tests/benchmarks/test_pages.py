"""Each list page on the large book against the same page on the demo."""

from __future__ import annotations

import pytest
from django.test import Client

from makers.actions import By
from makers.http import address
from tests.benchmarks.conftest import Books
from tests.benchmarks.timing import Figures

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db]
PAGE_CEILING = 2.0
"""For a page of as many rows; fewer rows in the demo raise it in proportion, as far as MOST."""
MOST = 12.0
PAGES = {
    "formulas": "formulas:list",
    "ingredients": "formulas:ingredients",
    "suppliers": "formulas:suppliers",
    "articles": "formulas:articles",
    "products": "formulas:products",
    "deliveries": "batches:deliveries",
    "lots": "batches:lots",
    "batches": "batches:batches",
    "packs": "batches:packs",
    "places": "batches:places",
    "recipients": "batches:recipients",
    "dispatches": "batches:dispatches",
    "complaints": "batches:complaints",
    "recalls": "batches:recalls",
    "labels": "labels:labels",
    "sheets": "labels:sheets",
    "journal": "house:journal",
}


def visitor(by: By, view: str) -> tuple[Client, str]:
    """The book's owner, signed in, and the page's address."""
    client = Client()
    client.force_login(by.user, backend="django.contrib.auth.backends.ModelBackend")
    return client, address(by.maker, view)


@pytest.mark.parametrize("page", PAGES)
def test_a_list_page_hardly_feels_the_size_of_the_book(books: Books, figures: Figures, page: str) -> None:
    """The page opens on the large book in a bounded multiple of its time on the demo, row for row."""
    large, large_url = visitor(books.large.by, PAGES[page])
    demo, demo_url = visitor(books.demo, PAGES[page])
    shown, few = large.get(large_url), demo.get(demo_url)
    assert (shown.status_code, few.status_code) == (200, 200)
    rows = [answer.content.count(b"<tr") or answer.content.count(b"<li") for answer in (shown, few)]
    assert rows[0] >= rows[1] > 0
    figures.add(
        f"list of {page}",
        lambda: large.get(large_url),
        "same page, demo",
        lambda: demo.get(demo_url),
        min(PAGE_CEILING * rows[0] / rows[1], MOST),
        note=f"{rows[0]} against {rows[1]} rows",
    )
