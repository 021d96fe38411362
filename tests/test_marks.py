"""In a workshop that writes a decimal comma every figure on every page has one: 1.500 g reads as 1500 g."""

from __future__ import annotations

from decimal import Decimal
from html.parser import HTMLParser

import pytest
from django.test import Client

from batches.actions.making import fill
from labels.actions import draft_label
from makers.forms.house import SetupForm
from makers.models import Maker
from makers.rules.display import in_mark
from tests.batches.making.factories_making import make_making
from tests.labels.factories_labels import make_product, make_version
from tests.test_crawl import NEEDS
from tests.world import World, addresses, make_world

pytestmark = pytest.mark.django_db

SPOKEN = ("aria-label", "title", "alt", "placeholder")
"""Attributes that are read out or shown."""
SETTINGS = "house:settings"
"""Shows how each land writes numbers."""
AS_PRINTED = ("Net Wt ", "United States: cup ", "Dir ", "Reg (E")
"""Beginnings of what is shown as another land prints or measures it, and of the names of laws."""


class Shown(HTMLParser):
    """The texts of a page that a person sees or hears."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what an attribute says."""
        self.silent += tag in ("script", "style")
        self.texts += [value for name, value in attrs if name in SPOKEN and value]

    def handle_endtag(self, tag: str) -> None:
        """Leave what isn't shown."""
        self.silent -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        """Note a text."""
        if not self.silent and data.strip():
            self.texts.append(data.strip())


def points_in(page: str) -> list[str]:
    """The texts of a page with a point in a figure; laws, addresses, quotes and codes are none."""
    reader = Shown()
    reader.feed(page)
    return [text for text in reader.texts if in_mark(text, ",") != text and not text.startswith(AS_PRINTED)]


def in_german(world: World) -> None:
    """What the world lacks of decimals: an EU label with small shares, fills; then the decimal comma."""
    by = world.cast.owner
    lines = [(world.example.oil, "93.65", ""), (world.example.wax, "5", ""), (world.lavender, "1.35", "")]
    product = make_product(by, make_version(by, "Sea lavender balm", lines))
    world.given["codes"]["labels"] = product.code
    world.given["others"]["key"] = draft_label(by, product=product, market="EU").address_key
    tin, scale = world.example.product, world.example.scale
    batch = make_making(by, world.example.version, product=tin, scale=scale, total_g=Decimal("536.4"))
    for net in ("50.2", "46.5", "49.9", "51.3", "50.1"):
        fill(by, batch=batch, product=tin, net_g=Decimal(net))
    world.given["codes"]["batches"] = batch.code
    Maker.objects.filter(pk=world.maker.pk).update(locale="de_DE")


def test_no_page_of_a_comma_workshop_writes_a_decimal_point(client: Client) -> None:
    """Every address of the world, also those of the label with small shares; traces of a lot and a batch."""
    world = make_world()
    client.force_login(world.cast.owner.user)
    old = addresses(world)
    in_german(world)
    trace, batch = old["batches:trace"], world.example.batches["B2"].code
    urls = {**old, **{f"{name} again": url for name, url in addresses(world).items() if url != old[name]}}
    urls |= {"of a lot": f"{trace}?q=L1", "of a batch": f"{trace}?q={batch}"}

    found = {}
    for name, url in urls.items():
        if name in (SETTINGS, "house:export-zip"):
            continue
        answer = client.get(url + NEEDS.get(name, ""))
        if answer.streaming:
            answer.getvalue()
        elif answer.status_code == 200 and "text/html" in answer.headers["Content-Type"]:
            found[name] = points_in(answer.content.decode())

    assert len(found) > 100
    assert {name: points for name, points in found.items() if points} == {}


def test_the_check_itself_sees_a_point() -> None:
    """And no point where a law, a version, an address or what was typed has one."""
    seen = "<p title='3.5 g'>100.00</p><p>21 CFR 701.3, “0.5 g”, https://a.example/1.2 and 1,5 g</p>"
    assert points_in(seen) == ["3.5 g", "100.00"]


def test_the_guided_start_says_the_scales_step_as_it_is_to_be_typed() -> None:
    """Its reader has no workshop yet: the country chosen on the page before says the mark."""
    for style, step in (("de_DE", "0,1"), ("en_IE", "0.1")):
        field = SetupForm(initial={"locale": style}, maker=None).fields["scale_step"]
        assert f"{step} on most kitchen scales" in str(field.help_text)
        assert field.clean(step) == Decimal("0.1")
