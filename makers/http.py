"""The request as views below a maker see it, and small things that views share."""

from __future__ import annotations

from typing import Any, cast

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django_htmx.middleware import HtmxDetails

from makers.actions.by import By
from makers.models import Maker, Membership, User


class MakerRequest(HttpRequest):
    """A request that the maker middleware let through."""

    user: User
    maker: Maker
    membership: Membership
    by: By
    htmx: HtmxDetails


def wants_fragment(request: HttpRequest) -> bool:
    """True when htmx wants a piece of the page rather than the page."""
    htmx = cast(Any, request).htmx
    return bool(htmx) and not htmx.boosted and not htmx.history_restore_request


def address(maker: Maker, name: str, **kwargs: Any) -> str:
    """The address of a view below a maker, like ``address(maker, "formulas:detail", code="F-001")``."""
    return reverse(name, kwargs={"maker": maker.slug, **kwargs})


def moved_on(url: str, request: HttpRequest) -> HttpResponse:
    """After a successful POST: a redirect for a plain form, HX-Redirect for htmx."""
    if wants_fragment(request):
        response = HttpResponse(status=204)
        response["HX-Redirect"] = url
        return response
    response = HttpResponse(status=303)
    response["Location"] = url
    return response
