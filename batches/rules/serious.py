"""Whether a reaction counts as serious, by each market's own definition, from the facts asked one by one.

The definitions differ, so there is no single tick: an infection or a lasting mark is serious in the United
States alone, treatment by a nurse in Australia alone. A fact that was not asked keeps a "no" from being
certain. Canada and New Zealand define none for cosmetics.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Verdict = Literal["serious", "not serious", "unknown"]

EU_TERMS = ("incapacity", "disability", "hospital", "birth_defect", "life", "death")
US_TERMS = (
    "death",
    "life",
    "hospital",
    "disability",
    "birth_defect",
    "infection",
    "disfigurement",
    "prevented",
)
AU_TERMS = ("death", "hospital", "medical")
"""Treated by or under a doctor or nurse; a stay in hospital is such a treatment."""

WORDS = {
    "incapacity": "being unable to do the usual things",
    "disability": "disability",
    "hospital": "a stay in hospital",
    "birth_defect": "a defect at birth",
    "life": "danger to life",
    "death": "death",
    "infection": "infection",
    "disfigurement": "lasting marks, rash, burns or loss of hair",
    "prevented": "treatment to prevent worse",
    "medical": "treatment by a doctor or nurse",
}


@dataclass(frozen=True, slots=True)
class Definition:
    """One market's definition."""

    market: str
    terms: tuple[str, ...]
    duty: str
    source: str


DEFINITIONS = (
    Definition(
        "EU",
        EU_TERMS,
        "The authority of the country where it happened is told without delay; "
        "20 calendar days from first hearing of it is the working guideline (from memory).",
        "Reg (EC) 1223/2009 Art. 2(1)(p) and 23(1)",
    ),
    Definition(
        "GB",
        EU_TERMS,
        "The Secretary of State is told without delay.",
        "Reg (EC) 1223/2009 as it applies in Great Britain, Art. 23",
    ),
    Definition(
        "US",
        US_TERMS,
        "FDA is told within 15 business days of receipt, with a copy of the label.",
        "FD&C Act 604(5) and 605, 21 U.S.C. 364, 364a",
    ),
    Definition(
        "AU",
        AU_TERMS,
        "It is reported to the ACCC within 2 days of anybody in the firm hearing of it, "
        "if anyone thinks that the product may have caused it.",
        "Australian Consumer Law s 131",
    ),
)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a definition makes of the facts."""

    market: str
    verdict: Verdict
    text: str
    source: str


def definition_of(market: str) -> Definition:
    """The definition of "US", "EU", "GB" or "AU"; KeyError for a market that has none."""
    return {definition.market: definition for definition in DEFINITIONS}[market]


def judge(facts: Mapping[str, str]) -> tuple[Judgement, ...]:
    """One judgement for each definition. facts: name to "yes", "no" or "not asked"; missing: not asked."""
    return tuple(judge_by(definition, facts) for definition in DEFINITIONS)


def judge_by(definition: Definition, facts: Mapping[str, str]) -> Judgement:
    """Serious as soon as one term is met; not serious only if each was asked and answered no."""
    met = [term for term in definition.terms if facts.get(term) == "yes"]
    open_terms = [term for term in definition.terms if facts.get(term, "not asked") == "not asked"]
    if met:
        named = ", ".join(WORDS[term] for term in met)
        return Judgement(definition.market, "serious", f"By {named}. {definition.duty}", definition.source)
    if open_terms:
        count = len(open_terms)
        return Judgement(
            definition.market,
            "unknown",
            f"{count} fact{'s' * (count > 1)} not asked yet. Until then it can't be called not serious.",
            definition.source,
        )
    return Judgement(definition.market, "not serious", "None of its terms is met.", definition.source)
