"""What a formula is made of once in-house ingredients are followed down to what was bought."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from formulas.rules.interval import Interval, add
from formulas.rules.number import HUNDRED
from formulas.rules.percent import ResolvedLine
from formulas.rules.review.asked import Asked, IngredientFacts
from formulas.rules.straining import Way, what_is_left


@dataclass(frozen=True, slots=True)
class Part:
    """A bought ingredient within the product. percent: of the product; line: key of the formula's own line.

    strained: it was taken out again on the way, and percent goes from nothing to what may have dissolved.
    through: the names of the in-house ingredients that it is in, outermost first.
    """

    ingredient: str
    name: str
    percent: Interval
    line: str
    facts: IngredientFacts
    strained: bool = False
    through: tuple[str, ...] = ()


def parts_of(asked: Asked) -> tuple[Part, ...]:
    """Every bought ingredient with its percent, through premixes to any depth, in the order of the lines.

    A line without a percent is left out (``unmeasured`` has it); the sum's own question says that it is missing.
    """
    found: list[Part] = []
    for part in what_is_left(asked.resolved.lines) or ():
        if part.way is not None:
            _follow(asked, part.line, part.line.key, part.way, {}, found, part.line.strained)
    return tuple(found)


def unmeasured(asked: Asked) -> tuple[Part, ...]:
    """Bought ingredients of which it isn't known how much there is, because a line has no percent.

    They are in it all the same; both ends of their percent are open.
    """
    found: list[Part] = []
    for line in asked.resolved.lines:
        _follow_unmeasured(asked, line, line.key, {}, found, line.share is None, line.strained)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Opened:
    """A bought ingredient with its percent of the product over all ways in. parts: one for each way."""

    ingredient: str
    name: str
    percent: Interval
    parts: tuple[Part, ...]


def opened(asked: Asked) -> tuple[Opened, ...]:
    """What a formula with in-house ingredients is of, most of the product first; empty for one without any."""
    parts = parts_of(asked)
    if not any(part.through for part in parts):
        return ()
    by_ingredient: dict[str, list[Part]] = {}
    for part in parts:
        by_ingredient.setdefault(part.ingredient, []).append(part)
    found = [
        Opened(key, ways[0].name, add(way.percent for way in ways), tuple(ways))
        for key, ways in by_ingredient.items()
    ]
    return tuple(sorted(found, key=lambda one: (-(one.percent.high or HUNDRED), one.name)))


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
    asked: Asked,
    line: ResolvedLine,
    top: str,
    way: Way,
    path: Mapping[str, str],
    found: list[Part],
    strained: bool = False,
) -> None:
    inner = asked.formula.nested.get(line.ingredient)
    if inner is None or line.ingredient in path:
        facts = asked.facts_of(line.ingredient, line.name)
        through = tuple(path.values())
        found.append(Part(line.ingredient, line.name, way.whole, top, facts, strained, through))
        return
    for part in what_is_left(inner.formula.lines) or ():
        if part.way is not None:
            deeper, taken = way.then(part.way), strained or part.line.strained
            _follow(asked, part.line, top, deeper, {**path, line.ingredient: line.name}, found, taken)


def _follow_unmeasured(
    asked: Asked,
    line: ResolvedLine,
    top: str,
    path: Mapping[str, str],
    found: list[Part],
    is_open: bool,
    strained: bool,
) -> None:
    inner = asked.formula.nested.get(line.ingredient)
    if inner is None or line.ingredient in path:
        if is_open:
            facts, through = asked.facts_of(line.ingredient, line.name), tuple(path.values())
            found.append(
                Part(line.ingredient, line.name, Interval(None, None), top, facts, strained, through)
            )
        return
    for part in inner.formula.lines:
        taken, deeper = strained or part.strained, {**path, line.ingredient: line.name}
        _follow_unmeasured(asked, part, top, deeper, found, is_open or part.share is None, taken)
