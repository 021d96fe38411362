"""Who sees the pages of ingredients and suppliers, and who writes on them."""

from __future__ import annotations

import pytest
from django.test import Client

from formulas.models import Ingredient
from makers.actions import By
from tests.cast import Cast
from tests.formulas.pages import page, url

PAGES = (
    "ingredients/",
    "ingredients/?q=lav&role=perfume&state=short&sort=-code",
    "ingredients/?as=csv",
    "ingredients/add/",
    "ingredients/catalogue/",
    "ingredients/catalogue/?q=lavender",
    "ingredients/catalogue/lavender-oil/",
    "ingredients/substances/add/",
    "ingredients/I-001/",
    "ingredients/I-001/change/",
    "ingredients/I-001/confirm/form/",
    "ingredients/I-001/sources/add/",
    "ingredients/I-001/papers/add/",
    "ingredients/I-001/prices/add/",
    "ingredients/I-001/use-levels/add/",
    "ingredients/I-001/use-levels/{level}/confirm/",
    "ingredients/I-001/use-levels/{level}/remove/",
    "ingredients/I-001/compositions/add/",
    "ingredients/I-001/compositions/1/confirm/",
    "suppliers/",
    "suppliers/?as=csv",
    "suppliers/add/",
    "suppliers/{supplier}/",
)
WRITES = (
    "ingredients/add/",
    "ingredients/catalogue/",
    "ingredients/catalogue/beeswax/",
    "ingredients/substances/add/",
    "ingredients/I-001/change/",
    "ingredients/I-001/confirm/form/",
    "ingredients/I-001/sources/add/",
    "ingredients/I-001/papers/add/",
    "ingredients/I-001/sources/{source}/prefer/",
    "ingredients/I-001/prices/add/",
    "ingredients/I-001/use-levels/add/",
    "ingredients/I-001/use-levels/{level}/confirm/",
    "ingredients/I-001/use-levels/{level}/remove/",
    "ingredients/I-001/compositions/add/",
    "ingredients/I-001/compositions/1/confirm/",
    "suppliers/add/",
    "suppliers/{supplier}/",
)


def filled(path: str, row: Ingredient) -> str:
    """The path with the identities of what the ingredient has."""
    source = row.sources.get()
    return path.format(level=row.use_levels.get().uuid, source=source.uuid, supplier=source.supplier.uuid)


def test_a_member_sees_every_page(at_home: Client, by: By, furnished: Ingredient) -> None:
    """Each page of ingredients answers."""
    for path in PAGES:
        page(at_home, by, filled(path, furnished))


def test_a_reader_sees_every_page_and_writes_on_none(
    client: Client, cast: Cast, furnished: Ingredient
) -> None:
    """Reading is 200; writing is refused as 403, and no page offers it on the list or the ingredient."""
    client.force_login(cast.reader.user)

    for path in PAGES:
        page(client, cast.reader, filled(path, furnished))
    for path in WRITES:
        assert client.post(url(cast.reader, filled(path, furnished)), {}).status_code == 403, path
    assert "Write a price" not in page(client, cast.reader, "ingredients/I-001/")
    assert "Add your own" not in page(client, cast.reader, "ingredients/")


def test_a_stranger_finds_nothing(client: Client, cast: Cast, furnished: Ingredient) -> None:
    """Another maker's member gets 404 everywhere, below this maker and for these records below his own."""
    client.force_login(cast.stranger.user)

    for path in PAGES:
        assert client.get(url(cast.owner, filled(path, furnished))).status_code == 404, path
    for path in WRITES:
        assert client.post(url(cast.owner, filled(path, furnished)), {}).status_code == 404, path
    for path in (*PAGES, *WRITES):
        if "I-001" in path or "{" in path:
            found = client.get(url(cast.stranger, filled(path, furnished)), follow=True)
            assert found.status_code in (404, 405), path


@pytest.mark.parametrize(
    "path",
    [
        "ingredients/I-999/",
        "ingredients/I-001/confirm/name/",
        "ingredients/I-001/compositions/9/confirm/",
        "ingredients/catalogue/unobtainium/",
        "suppliers/00000000-0000-4000-8000-000000000000/",
    ],
)
def test_what_is_not_there_is_404(at_home: Client, by: By, furnished: Ingredient, path: str) -> None:
    """A code, a field, a number or a key that nobody has."""
    assert at_home.get(url(by, path)).status_code == 404


def test_lists_and_records_are_not_posted_to(at_home: Client, by: By, furnished: Ingredient) -> None:
    """Pages that only show refuse a POST."""
    for path in ("ingredients/", "ingredients/I-001/", "suppliers/"):
        assert at_home.post(url(by, path)).status_code == 405
