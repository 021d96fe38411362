"""What was typed into a form that arrived after the sign-in had run out: shown again, to be sent or left."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from makers.forms import cutoff
from makers.http import MakerRequest


@require_GET
def typed(request: MakerRequest) -> HttpResponse:
    """The form that was cut off, as text, with a button that sends it as it was."""
    cut = cutoff.claimed(request, request.maker.slug, str(request.user.uuid))
    response = render(request, "makers/typed.html", {"cut": cut})
    response["Cache-Control"] = "private, no-store"
    return response
