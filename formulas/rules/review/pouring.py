"""How warm is it poured? The step is found by its words, and it is said which one was taken.

Words of six languages, from memory. Where none of them stands there, the hottest from the last addition on is taken:
a melt that is poured is no hotter than that.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.number import figure
from formulas.rules.review.asked import StepFacts

SHOWN = 40
"""Characters of a step's text that a sentence quotes."""

_AFTER = re.compile(r"\b(?:after|once|nach(?: dem)?|après|despu[eé]s de|dopo|na(?: het)?) (?:\w+ )?\w+", re.I)
"""What lies behind when the step begins: "after pouring, leave to set"."""
_POURS = re.compile(
    r"""\b(?:
      pour(?:s|ing)?|fill(?:s|ing)?|cast(?:s|ing)?|decant(?:s|ing)?
    | (?:ab|aus|ein|um|hinein)?gie(?:ß|ss)(?:en|e|t)?|(?:ab|ein|be|um)?f(?:ü|ue)ll(?:en|e|t)?
    | vers(?:er|ez|e|are|ate|a|i)|coul(?:er|ez|e|age)|remplir|remplissez|mouler|moulez
    | vert(?:er|ir)|viert[ae]|llen(?:ar|e|a)|envas(?:ar|e|a)
    | col(?:are|ate|ata)|invas(?:are|ate|a)|riemp(?:ire|ite|i)
    | (?:in|uit|over)?gieten|giet|(?:af)?vul(?:len|t)?|schenk(?:en|t)?
    )\b
    | \bin(?:to|\ die|\ den)\ (?:[\w-]+\ ){0,3}(?:mou?ld|tin|jar|pot|bottle|tube|form|dose|tiegel)(?:s|n|en)?\b""",
    re.I | re.X,
)
_VESSELS = re.compile(
    r"""\b(?:mou?lds?|tins?|jars?|formen|dosen|tiegel|moules?|moldes?|frascos?|stamp[oi]|vasett[oi]|vormen|potjes)\b""",
    re.I,
)
_SETS = re.compile(
    r"""\b(?:
      set|sets|setting|cool\w*|chill\w*|hard\w*|solidif\w*|firm|cures?|rests?|leave|stand|stay|overnight|fridge|freezer
    | un-?mou?ld\w*|de-?mou?ld\w*|store|label\w*|wrap\w*|lids?
    | (?:ab|aus)?k(?:ü|ue)hl\w*|erkalten|(?:aus)?h(?:ä|ae)rten|fest|ruhen|stehen|nacht|(?:aus|ent)formen
    | refroid\w*|durci\w*|prendre|repos\w*|laisse[rz]?|nuit|d[ée]moul\w*|frigo
    | enfri\w*|endure\w*|cuajar|dej[ae]r?|noche|desmold\w*
    | raffredd\w*|indur\w*|solidific\w*|ripos\w*|lasci\w*|notte|sform\w*
    | (?:af)?koel\w*|(?:uit)?hard\w*|opstijv\w*|rusten|laat|koelkast|ontvorm\w*
    )\b""",
    re.I | re.X,
)


@dataclass(frozen=True, slots=True)
class Pour:
    """How warm it is poured, in degrees Celsius, and in which words that is known. is_open: it may be more."""

    heat_c: Decimal
    step: str
    is_open: bool = False


def pour_of(steps: Sequence[StepFacts], phases: Collection[str]) -> Pour | None:
    """How warm it is poured by its steps; None where no step has a temperature.

    phases: the letters of the phases that have lines, whose steps are additions.
    """
    added = max((at for at, step in enumerate(steps) if step.phase in phases), default=0)
    pouring = _pouring(steps, added)
    if pouring is not None:
        return _at(steps, pouring)
    rest = [
        step for at, step in enumerate(steps) if at == added or (at > added and not _is_setting(step.text))
    ]
    heats = [(heat, step) for step in rest if (heat := step.meant_c) is not None]
    if not heats:
        return _before(steps[:added], "no step says that it is poured")
    heat, step = max(heats, key=lambda each: each[0])
    words = f"no step says that it is poured; {_quoted(step)} is the hottest from the last addition on"
    return Pour(heat, words, step.is_open)


def _pouring(steps: Sequence[StepFacts], added: int) -> int | None:
    """The last step that pours, where nothing is added after it."""
    for says in (_is_pouring, _names_vessel):
        found = [at for at, step in enumerate(steps) if at >= added and says(step.text)]
        if found:
            return found[-1]
    return None


def _is_pouring(text: str) -> bool:
    return bool(_POURS.search(_AFTER.sub(" ", text)))


def _names_vessel(text: str) -> bool:
    """Moulds or tins, and nothing of setting in them."""
    return bool(_VESSELS.search(text)) and not _is_setting(text)


def _is_setting(text: str) -> bool:
    return bool(_SETS.search(text)) and not _is_pouring(text)


def _at(steps: Sequence[StepFacts], at: int) -> Pour | None:
    step = steps[at]
    if step.meant_c is not None:
        return Pour(step.meant_c, _quoted(step), step.is_open)
    return _before(steps[:at], f"{_quoted(step)} has no temperature")


def _before(steps: Sequence[StepFacts], words: str) -> Pour | None:
    """By the last step before that has a temperature."""
    earlier = next((step for step in reversed(steps) if step.meant_c is not None), None)
    if earlier is None or earlier.meant_c is None:
        return None
    words = f"{words}; step {earlier.number} before it is at {figure(earlier.meant_c)} °C"
    return Pour(earlier.meant_c, words, earlier.is_open)


def _quoted(step: StepFacts) -> str:
    """ "step 3 “Pour into moulds”"; its number alone where it says nothing."""
    text = step.text.strip()
    short = text if len(text) <= SHOWN else f"{text[:SHOWN].rstrip()}…"
    return f"step {step.number} “{short}”" if text else f"step {step.number}"
