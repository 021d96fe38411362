"""What every page knows: the maker, the places, the day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from makers.http import address
from makers.models import Role
from makers.registries import navigation


@dataclass(frozen=True, slots=True)
class PlaceLink:
    """One of the main places as the head shows it."""

    title: str
    url: str
    current: bool


def house(request: HttpRequest) -> dict[str, Any]:
    """Context for signed-in pages below a maker; nothing elsewhere."""
    maker = getattr(request, "maker", None)
    if maker is None:
        return {}
    match = request.resolver_match
    spaces = set(match.app_names) if match else set()
    name = match.view_name if match else ""
    places = [
        PlaceLink(
            place.title,
            address(maker, place.view),
            place.view == name or bool(spaces & set(place.within)) or name in place.within,
        )
        for place in navigation
    ]
    membership = request.membership  # type: ignore[attr-defined]  # set with the maker
    menu = [("Workshop settings", address(maker, "house:settings"))]
    menu.append(("The journal", address(maker, "house:journal")))
    if membership.role != Role.READER:
        menu.append(("Export and backup", address(maker, "house:export")))
    return {
        "maker": maker,
        "membership": membership,
        "may_write": membership.role != Role.READER,
        "places": places,
        "current_place": next((place for place in places if place.current), None),
        "search_url": address(maker, "house:search"),
        "today": request.by.today(),  # type: ignore[attr-defined]  # set with the maker
        "menu": menu,
        "sign_out_url": reverse("sign-out"),
    }
