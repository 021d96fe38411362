"""The search field at the head of every page: it keeps what was searched for, and nothing that a list was asked."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from makers.actions import By
from makers.http import address


def asked(at_home: Client, where: str) -> str:
    """What stands in the search field of a page asked for "zinc"."""
    page = at_home.get(where, {"q": "zinc"}).content.decode()
    found = re.search(r'<input id="find"[^>]*value="([^"]*)"', page)
    assert found is not None
    return found[1]


@pytest.mark.django_db
def test_the_search_page_keeps_its_words(at_home: Client, by: By) -> None:
    """So that they can be changed."""
    assert asked(at_home, address(by.maker, "house:search")) == "zinc"


@pytest.mark.django_db
@pytest.mark.parametrize(
    "name", ["batches:lots", "batches:packs", "formulas:ingredients", "formulas:catalogue", "house:journal"]
)
def test_a_lists_own_words_stay_in_the_list(at_home: Client, by: By, name: str) -> None:
    """They are in its filter."""
    where = address(by.maker, name)

    assert asked(at_home, where) == ""
    assert 'value="zinc"' in at_home.get(where, {"q": "zinc"}).content.decode()
