"""The filter over a list on a phone: all but its first field unfold, by themselves where they ask for something."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from makers.actions import By
from makers.http import address


def is_unfolded(at_home: Client, where: str, **asked: str) -> bool:
    """Whether the tick that unfolds the filter stands set on the page."""
    page = at_home.get(where, asked).content.decode()
    found = re.search(r'<span class="filter-fold"><input type="checkbox" id="([\w-]+)"( checked)?>', page)
    assert found is not None
    assert f'<label for="{found[1]}">' in page
    return bool(found[2])


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "asked", "unfolded"),
    [
        ("batches:batches", {}, False),
        ("batches:batches", {"q": "balm"}, False),
        ("batches:batches", {"state": "planned"}, True),
        ("batches:batches", {"state": "no such state"}, True),
        ("batches:batches", {"sort": "code"}, True),
        ("batches:lots", {"state": "stock"}, False),
        ("batches:lots", {"ingredient": "I-001"}, False),
        ("batches:lots", {"state": "all"}, True),
        ("formulas:ingredients", {}, False),
        ("formulas:ingredients", {"q": "shea"}, False),
        ("formulas:ingredients", {"role": "wax"}, True),
        ("formulas:ingredients", {"sort": "-name"}, True),
        ("formulas:ingredients", {"sort": "name"}, False),
    ],
)
def test_what_asks_for_something_is_never_folded_away(
    at_home: Client, by: By, name: str, asked: dict[str, str], *, unfolded: bool
) -> None:
    """The words are looked at apart, for their field stands open; the usual choices ask for nothing."""
    assert is_unfolded(at_home, address(by.maker, name), **asked) is unfolded


@pytest.mark.django_db
def test_the_tick_is_never_sent(at_home: Client, by: By) -> None:
    """It has no name: the address holds what was asked for and nothing of how the page was folded."""
    page = at_home.get(address(by.maker, "batches:batches")).content.decode()

    assert re.search(r'class="filter-fold"><input[^>]*name=', page) is None
