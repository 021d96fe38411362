"""What a formula is made of once in-house ingredients are followed down to what was bought."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from formulas.rules.interval import Interval, add
from formulas.rules.percent import ResolvedLine
from formulas.rules.review.asked import Asked, IngredientFacts


@dataclass(frozen=True, slots=True)
class Part:
    """A bought ingredient within the product. percent: of the product; line: key of the formula's own line."""

    ingredient: str
    name: str
    percent: Interval
    line: str
    facts: IngredientFacts


def parts_of(asked: Asked) -> tuple[Part, ...]:
    """Every bought ingredient with its percent, through premixes to any depth, in the order of the lines.

    A line without a percent is left out; the sum's own question says that it is missing.
    """
    found: list[Part] = []
    for line in asked.resolved.lines:
        if line.share is not None:
            _follow(asked, line, line.key, line.share, (), found)
    return tuple(found)


def percent_where(parts: Iterable[Part], wanted: Callable[[Part], bool]) -> Interval:
    """The percent of the product that the wanted parts make together."""
    return add(part.percent for part in parts if wanted(part))


def named(parts: Iterable[Part]) -> str:
    """Their names, each once: "shea butter, cocoa butter and beeswax"."""
    return joined(dict.fromkeys(part.name for part in parts))


def joined(names: Iterable[str]) -> str:
    """Words in a row, with "and" before the last."""
    words = list(names)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def keys_of(parts: Iterable[Part]) -> tuple[str, ...]:
    """The formula's own lines that bring them, each once."""
    return tuple(dict.fromkeys(part.line for part in parts))


def _follow(
    asked: Asked, line: ResolvedLine, top: str, percent: Interval, path: tuple[str, ...], found: list[Part]
) -> None:
    inner = asked.formula.nested.get(line.ingredient)
    if inner is None or line.ingredient in path:
        facts = asked.facts_of(line.ingredient, line.name)
        found.append(Part(line.ingredient, line.name, percent, top, facts))
        return
    for part in inner.formula.lines:
        if part.share is not None:
            _follow(asked, part, top, part.share.of(percent), (*path, line.ingredient), found)
