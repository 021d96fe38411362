"""What a dearer price does to margins: which products fall under what is wanted, said where the price is written."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from typing import Any

from django.contrib import messages

from formulas.costs import Costed, cost_everything
from makers.http import MakerRequest
from makers.rules.display import day_fact, in_a_row, plural

MOST_NAMED = 6
A_LITTLE = Fraction(1)
"""Percent by which a price is tried dearer to see which products take it."""


class Falling:
    """The margins before and after something is written down."""

    def __init__(self, request: MakerRequest) -> None:
        self.request = request
        self.fallen: list[Costed] = []
        self.on = request.by.today()

    def through(self, on: date, act: Callable[[], Any]) -> Any:
        """Carry out ``act`` and see which products it takes under what is wanted, on the day that it counts from."""
        self.on = max(on, self.on)
        before = {row.product.pk for row in self.under()}
        made = act()
        self.fallen = [row for row in self.under() if row.product.pk not in before]
        return made

    def under(self) -> list[Costed]:
        """Every product in use that stands under what is wanted."""
        _, costed = cost_everything(self.request.maker, self.on)
        return [row for row in costed if row.judged.standing == "under"]

    def say(self) -> None:
        """Name the products that fell."""
        if not self.fallen:
            return
        names = sorted(row.product.name for row in self.fallen)
        told = names[:MOST_NAMED]
        if len(names) > MOST_NAMED:
            told = [*told, f"{len(names) - MOST_NAMED} more"]
        when = "Now" if self.on == self.request.by.today() else f"From {day_fact(self.on)} on"
        verb = plural(len(names), "falls", "fall")
        messages.warning(self.request, f"{when} {in_a_row(told)} {verb} under what is wanted.")


def under_with(
    request: MakerRequest, *, ingredient: int | None = None, article: int | None = None
) -> list[Costed]:
    """The products under what is wanted today whose cost rests on this ingredient, or on this article."""
    book, costed = cost_everything(request.maker, request.by.today())
    dearer: dict[str, Any] = {
        "ingredients": None if ingredient is None else {ingredient: A_LITTLE},
        "articles": None if article is None else {article: A_LITTLE},
    }
    found = [
        row
        for row in costed
        if row.judged.standing == "under"
        and book.cost(row.product, **dearer).estimate.total != row.estimate.total
    ]
    return sorted(found, key=lambda row: row.product.name)
