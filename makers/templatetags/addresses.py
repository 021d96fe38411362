"""``{% to "formulas:detail" code=formula.code %}``: an address below the current maker."""

from __future__ import annotations

from typing import Any

from django import template

from makers.http import address

register = template.Library()


@register.simple_tag(takes_context=True)
def to(context: template.Context, name: str, **kwargs: Any) -> str:
    """The address of a view below the current maker; ``maker`` comes from the context or the request."""
    maker = context.get("maker") or context["request"].maker
    return address(maker, name, **kwargs)
