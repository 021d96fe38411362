"""Asking for pages below a maker."""

from __future__ import annotations

from typing import Any

from django.test import Client

from makers.actions import By


def url(by: By, path: str) -> str:
    """An address below the maker."""
    return f"/{by.maker.slug}/{path}"


def text_of(response: Any) -> str:
    """The page with its no-break spaces made plain and its tags left in."""
    found: str = response.content.decode()
    return found.replace("\u00a0", " ").replace("\u202f", " ")


def page(client: Client, by: By, path: str) -> str:
    """A page that answers."""
    response = client.get(url(by, path))
    assert response.status_code == 200, (path, response.status_code)
    return text_of(response)
