"""What pages with a form share: acting on good input and going on, or coming back with sentences."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse

from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, moved_on

Said = str | Callable[[Any], str]
"""Words, or what makes them of the record that was written."""


CHANGED = "The change is written down."


def on_the_list(made: Any) -> str:
    """What is said of a record that was added."""
    return f"{made} is on the list."


def carried_out(
    request: MakerRequest,
    form: Any,
    act: Callable[[dict[str, Any]], Any],
    *,
    then: Said,
    said: Said = "",
    names: dict[str, str] | None = None,
) -> HttpResponse | None:
    """Act on a form that was sent and holds, and go on; None where the page is shown again.

    act: takes the cleaned data; its refusal goes on the form. then: the address to go on to. said: what was
    written down. names: as ``show_refusal``.
    """
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        made = act(form.cleaned_data)
    except ValidationError as refusal:
        show_refusal(form, refusal, names)
        return None
    if words := said if isinstance(said, str) else said(made):
        messages.success(request, words)
    return moved_on(then if isinstance(then, str) else then(made), request)
