"""Doors that lead in: home, health."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse


def home(request: HttpRequest) -> HttpResponse:
    """Lead to the maker's Today."""
    return HttpResponse("")


def health(request: HttpRequest) -> HttpResponse:
    """Answer 200 while the application runs."""
    return HttpResponse("well\n", content_type="text/plain")


def today(request: HttpRequest) -> HttpResponse:
    """Today."""
    return HttpResponse("")
