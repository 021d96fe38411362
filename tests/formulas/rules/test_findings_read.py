"""How findings read: one sentence each, said once, with a cure wherever something is asked. No outside source.

Walks the catalogue and every substance that the tables of limits know.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from functools import cache

import pytest

from formulas.rules.catalogue import catalogue, catalogue_by_key, catalogue_compositions
from formulas.rules.composition import Composition, Constituent
from formulas.rules.findings import Finding
from formulas.rules.limit_rows import eu_limits
from formulas.rules.limits import ProductUse, check_limits
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import review
from formulas.rules.review.part_limits import check_part_limits
from formulas.rules.totals import Totals, substance_totals
from tests.formulas.rules.review_questions.pot import ask

D = Decimal
USES = (
    ProductUse("leave-on", "unknown"),
    ProductUse("leave-on", "eyes"),
    ProductUse("leave-on", "lips"),
    ProductUse("rinse-off", "body"),
)


def pure(name: str, percent: str) -> Totals:
    """A product of one substance and an oil."""
    key = next(row.substance for row in eu_limits().rows if row.inci == name)
    parts = (Constituent(key, name, "declared", D(100), None, D(100)),)
    lines = resolve(
        (FormulaLine("1", "x", name, D(percent)), FormulaLine("2", "o", "Oil", kind="to_100"))
    ).lines
    oil = (Constituent("o", "Oil", "declared", D(100), None, D(100)),)
    both = {"x": Composition("x", name, parts, "supplier"), "o": Composition("o", "Oil", oil, "supplier")}
    return substance_totals(lines, both)


@cache
def of_tables() -> tuple[tuple[str, tuple[Finding, ...]], ...]:
    """Where, and what was found there: the annexes alone."""
    found = []
    for name in dict.fromkeys(row.inci for row in eu_limits().rows if row.inci):
        for percent in ("0.004", "3"):
            totals = pure(name, percent)
            found += [(f"{percent} % {name}, {use}", check_limits(totals, use)) for use in USES]
            found.append((f"{percent} % {name} in a premix", check_part_limits(totals, USES[0], "premix")))
    return tuple(found)


@cache
def of_catalogue() -> tuple[tuple[str, tuple[Finding, ...]], ...]:
    """Every material at 3 % in oil, with the catalogue's own use levels."""
    found = []
    for material in catalogue():
        levels = {material.key: catalogue_by_key()[material.key].use_levels}
        if material.key == "sunflower-oil":
            continue
        asked = ask(
            f"sunflower-oil 97, {material.key} 3", use_levels=levels, compositions=catalogue_compositions()
        )
        found.append((material.key, review(asked.formula).findings))
    return tuple(found)


def every() -> Iterator[tuple[str, tuple[Finding, ...]]]:
    """Both walks."""
    yield from of_tables()
    yield from of_catalogue()


def test_whatever_asks_for_something_says_what_cures_it() -> None:
    """Stops, unknowns and cautions."""
    bare = {one.message for _, found in every() for one in found if one.severity != "note" and not one.cure}

    assert bare == set()


def test_nothing_is_said_twice_word_for_word() -> None:
    """Two rows of one limit make one finding."""
    twice = [where for where, found in every() if len({one.message for one in found}) < len(found)]

    assert twice == []


def test_what_a_mixture_bars_from_some_products_stops_no_premix() -> None:
    """Methylisothiazolinone is for what is rinsed off, Annex V/57 and with V/39: a premix may go there."""
    found = check_part_limits(pure("Methylisothiazolinone", "0.01"), USES[0], "premix")

    assert [(one.rule, one.severity) for one in found if "not allowed" in one.message] == [
        ("limits.part_barred", "caution")
    ]


@pytest.mark.parametrize("world", ["limits.", "uselevels.", "perfume."])
def test_a_finding_is_one_sentence(world: str) -> None:
    """No note of a table is put behind it as it stands; what a label quotes keeps its own stops."""
    broken = {
        one.message
        for _, found in every()
        for one in found
        if one.rule.startswith(world)
        and re.search(r"[.!?] +[A-Z]|entry \d+a?:|PROHIBITED|[<>]=|\.\.", unquoted(one.message))
    }

    assert broken == set()


def unquoted(text: str) -> str:
    """Without what stands in curly quotes."""
    return re.sub(r"“[^”]*”", "", text)


def test_an_oil_over_its_use_level_is_told_once() -> None:
    """Cinnamon bark oil at 0.1 %: the level on record and the remembered one on the skin are one fact, 0.07 %
    (Tisserand and Young 2014, from memory)."""
    key = "cinnamon-bark-oil"
    asked = ask(f"sunflower-oil 99.9, {key} 0.1", use_levels={key: catalogue_by_key()[key].use_levels})

    told = [one for one in review(asked.formula).findings if "0.07 % is the most" in one.message]

    assert [one.rule for one in told] == ["uselevels.high"]


@pytest.mark.parametrize(("area", "severity"), [("eyes", "stop"), ("unknown", "caution"), ("body", None)])
def test_a_colour_that_is_not_for_the_eyes(area: str, severity: str | None) -> None:
    """Reg (EC) 1223/2009 Annex IV/21, CI 15510: not in eye products."""
    found = check_limits(pure("CI 15510", "0.1"), ProductUse("leave-on", area))

    assert [one.severity for one in found if "CI 15510" in one.message] == ([severity] if severity else [])
