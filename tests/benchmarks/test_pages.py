"""Each list page on the large book against the same page on the small one."""

from __future__ import annotations

import pytest
from django.test import Client

from makers.http import address
from tests.benchmarks.conftest import Book, Books
from tests.benchmarks.timing import Figures

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db]
PAGE_CEILING = 5.0
"""A page shows 50 rows at most, and the small book fills 30 or more; the rest is what growth may cost."""
PAGES = {
    "formulas": "formulas:list",
    "ingredients": "formulas:ingredients",
    "lots": "batches:lots",
    "batches": "batches:batches",
    "packs": "batches:packs",
    "dispatches": "batches:dispatches",
    "complaints": "batches:complaints",
    "labels": "labels:labels",
    "journal": "house:journal",
}


def visitor(book: Book, view: str) -> tuple[Client, str]:
    """The book's owner, signed in, and the page's address."""
    client = Client()
    client.force_login(book.by.user, backend="django.contrib.auth.backends.ModelBackend")
    return client, address(book.by.maker, view)


@pytest.mark.parametrize("page", PAGES)
def test_a_list_page_hardly_feels_the_size_of_the_book(books: Books, figures: Figures, page: str) -> None:
    """The page opens on the large book in a bounded multiple of its time on the small one."""
    large, large_url = visitor(books.large, PAGES[page])
    small, small_url = visitor(books.small, PAGES[page])
    shown, few = large.get(large_url), small.get(small_url)
    assert (shown.status_code, few.status_code) == (200, 200)
    rows = [answer.content.count(b"<tr") or answer.content.count(b"<li") for answer in (shown, few)]
    assert rows[0] >= rows[1] > 20
    figures.add(
        f"list of {page}",
        lambda: large.get(large_url),
        "same page, small book",
        lambda: small.get(small_url),
        PAGE_CEILING,
        note=f"{rows[0]} against {rows[1]} rows",
    )
