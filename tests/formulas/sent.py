"""What a browser would send for the form on a page."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

from django.test import Client


class Fields(HTMLParser):
    """Collects the fields of the POST forms of a page, by name, as lists of values."""

    def __init__(self) -> None:
        super().__init__()
        self.data: dict[str, Any] = {}
        self.inside = False
        self.select = self.area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take what a tag gives."""
        given = dict(attrs)
        if tag == "form":
            self.inside = given.get("method") == "post"
        elif self.inside:
            take = getattr(self, f"take_{tag}", None)
            if take is not None:
                take(given)

    def take_input(self, given: dict[str, str | None]) -> None:
        """A field of one line, hidden or not; boxes only where they are ticked."""
        name, value, kind = given.get("name") or "", given.get("value") or "", given.get("type")
        if kind in ("checkbox", "radio"):
            if "checked" not in given:
                return
            value = value or "on"
        if kind != "file":
            self.data.setdefault(name, []).append(value)

    def take_select(self, given: dict[str, str | None]) -> None:
        """A choice starts."""
        self.select = given.get("name") or ""

    def take_option(self, given: dict[str, str | None]) -> None:
        """The option that is chosen."""
        if self.select and "selected" in given:
            self.data[self.select] = [given.get("value") or ""]

    def take_textarea(self, given: dict[str, str | None]) -> None:
        """A field of several lines starts."""
        self.area = given.get("name") or ""
        self.data[self.area] = [""]

    def handle_data(self, data: str) -> None:
        """The text of a field of several lines."""
        if self.area:
            self.data[self.area][0] += data

    def handle_endtag(self, tag: str) -> None:
        """A choice or a field of several lines ends."""
        if tag == "textarea":
            self.data[self.area][0] = self.data[self.area][0].removeprefix("\n")
            self.area = ""
        elif tag == "select":
            self.select = ""


def inputs_of(text: str) -> dict[str, Any]:
    """The fields of the page's POST forms."""
    fields = Fields()
    fields.feed(text)
    return fields.data


def sent_back(client: Client, address: str) -> dict[str, Any]:
    """What is sent when the form at an address is sent as it came."""
    return inputs_of(client.get(address).content.decode())
