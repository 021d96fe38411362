"""Seriousness by each market's own definition.

EU and GB: Reg (EC) 1223/2009 Art. 2(1)(p), read. US: 21 U.S.C. 364(5), read second hand. AU: Australian
Consumer Law s 131, read.
"""

from __future__ import annotations

import pytest

from batches.rules.serious import AU_TERMS, DEFINITIONS, EU_TERMS, US_TERMS, definition_of, judge, judge_by

ALL = {*EU_TERMS, *US_TERMS, *AU_TERMS}
ALL_NO = dict.fromkeys(ALL, "no")


def verdicts(**facts: str) -> dict[str, str]:
    """The verdict of each market, all other facts answered no."""
    return {one.market: one.verdict for one in judge({**ALL_NO, **facts})}


@pytest.mark.parametrize(
    ("fact", "serious_in"),
    [
        ("death", {"EU", "GB", "US", "AU"}),
        ("hospital", {"EU", "GB", "US", "AU"}),
        ("life", {"EU", "GB", "US"}),
        ("disability", {"EU", "GB", "US"}),
        ("birth_defect", {"EU", "GB", "US"}),
        ("incapacity", {"EU", "GB"}),
        ("infection", {"US"}),
        ("disfigurement", {"US"}),
        ("prevented", {"US"}),
        ("medical", {"AU"}),
    ],
)
def test_each_fact_is_serious_where_its_law_says_so(fact: str, serious_in: set[str]) -> None:
    """Three meanings of one word: six outcomes, eight outcomes, one kind of treatment."""
    assert {
        market for market, verdict in verdicts(**{fact: "yes"}).items() if verdict == "serious"
    } == serious_in


def test_nothing_of_the_list_is_not_serious() -> None:
    """Every fact asked and answered no."""
    assert set(verdicts().values()) == {"not serious"}


def test_a_fact_that_was_not_asked_keeps_a_no_from_being_certain() -> None:
    """Unknown is not no."""
    found = verdicts(infection="not asked")

    assert (found["US"], found["EU"], found["AU"]) == ("unknown", "not serious", "not serious")


def test_one_yes_is_enough_while_others_are_open() -> None:
    """Serious needs no further answer."""
    assert judge_by(definition_of("EU"), {"hospital": "yes"}).verdict == "serious"


def test_every_definition_names_its_source_and_every_term_its_words() -> None:
    """Terms that are met are read out in the maker's words."""
    for definition in DEFINITIONS:
        assert definition.source
        everything = judge_by(definition, dict.fromkeys(definition.terms, "yes"))
        assert "_" not in everything.text
