"""What a recipe says beside its lines: headings, steps, temperatures, the size of the whole."""

from __future__ import annotations

import re

from formulas.rules.recipe.amounts import AMOUNT, UNIT, key_of, name_of
from formulas.rules.recipe.numbers import NUMBER
from formulas.rules.recipe.tongues import NUMBER_WORDS, SPOKEN_AMOUNT
from formulas.rules.recipe.traps import AS_NEEDED, ASIDE, ONLY_ASIDE, PH_ALONE, TO_100, WHOLE

MOST_WORDS = 6
"""Words of a line that may be an ingredient without an amount; twice as many are prose."""
_PHASE = re.compile(r"(?i)^\W*(?:phase|part|stage)\s+[\w]{1,12}\b")
_PHASE_BEFORE = re.compile(
    r"(?i)^\W*(?:phase|part|stage)\s+(?:[a-z]|\d{1,2}|[ivx]{1,4}|one|two|three|four)\b\s*[:.)\-|]*\s*"
)
DOING = re.compile(
    r"(?i)^(?:step\s*\d*\s*[:.)-]?\s*|\d{1,2}\s+(?=melt|mix|add|heat|stir|pour(?!\s+cent)|weigh))?(?:then\s|now\s|and\s)?(?:add|adjust|allow|apply|blend|boil|bring|"
    r"check|combine|cool|cover|dissolve|fill|heat|keep|leave|let|make|measure|melt|mix|once|place|pour(?!\s+cent)|press|put|"
    r"remove|repeat|sprinkle|stir|store|strain|take|turn|use|wait|warm|weigh|when|while|whip|whisk|wrap)\b"
)
_WEIGHING = re.compile(
    r"(?i)^(?:then\s|now\s|and\s)?(?:add|measure(?:\s+out)?|weigh|take|use|stir\s+in|drop\s+in)\b"
)
OWN_LINE = "An amount stands in these words. If it belongs to the recipe, give it a line of its own."
_IS_SUM = re.compile(r"(?i)^(?:(?:sub-?\s?|grand\s)?(?:total|sum)|recipe|batch|final|net|finished)\b")
_OF_A_WHOLE = re.compile(
    rf"(?i)(?<![^\W\d_])(?:{UNIT}|bars?|people|servings?|portions?|batch(?:es)?|recipe|about|approx\w*|circa|ca|of|each|"
    rf"up|to|and|or|the|total|weight|mass|an?|one|{NUMBER_WORDS}|small|large|x)(?![^\W\d_])"
)


def _has_more(text: str) -> bool:
    """Whether behind the size of the whole other words stand, as of an ingredient."""
    return bool(re.search(r"[^\W\d_]{2,}", _OF_A_WHOLE.sub(" ", text)))


def said_beside(line: str) -> str | None:
    """ "" for what is said beside the recipe: a temperature, a pH, the size of the whole. A question where an
    ingredient may stand there too. None for what may be a line of it."""
    if not line or ONLY_ASIDE.fullmatch(line) or PH_ALONE.fullmatch(line):
        return ""
    whole = WHOLE.match(line)
    if whole is None:
        return None
    if not _has_more(line[whole.end() :]):
        return ""
    return None if _IS_SUM.match(line) else OWN_LINE


def is_prose(line: str) -> bool:
    """A sentence of many words."""
    words = line.split()
    return len(words) > 2 * MOST_WORDS and line.endswith((".", "!"))


def tells_an_amount(line: str, found: list[re.Match[str]]) -> bool:
    """Whether words of a step may hold a line of the recipe. "20 C" is warmth, "2 c" a cup."""
    units = [hit["unit"] for hit in found if hit["unit"]]
    told = any(key_of(unit) != "?c" or unit.islower() for unit in units)
    bare = found and (_WEIGHING.match(line) or (len(line.split()) <= MOST_WORDS and _ENDS_SO.search(line)))
    return told or bool(SPOKEN_AMOUNT.search(line) or bare)


_PLACE = re.compile(r"(?i)\b(?:phase|part|stage|step|no\.?|number)\s+\d+\b")
_ENDS_SO = re.compile(
    rf"(?i)(?<!\bto)(?<!\bat)(?<!\bfor)(?<!below)(?<!under)(?<!until)(?<!step)(?<!phase)\s{NUMBER}$"
)


def without_phase(line: str) -> tuple[str, bool]:
    """The line after "Phase A:", and whether it is a heading alone."""
    if not _PHASE.match(line):
        return line, False
    before = _PHASE_BEFORE.match(line)
    measured = [hit for hit in AMOUNT.finditer(line) if hit["unit"]]
    if not measured:
        after = line[before.end() :] if before else ""
        says = re.search(r"\d", _PLACE.sub(" ", ASIDE.sub(" ", after))) or SPOKEN_AMOUNT.search(after)
        if re.search(r"[^\W\d_]{2,}", after) and (says or TO_100.search(after) or AS_NEEDED.search(after)):
            return after, False
        return line.strip(" :#=*-"), True
    if before is None or measured[0].start() < before.end():
        return line, False
    after = line[before.end() :]
    if name_of(after, [hit.span() for hit in AMOUNT.finditer(after)]):
        return after, False
    return before.group(0).strip(" :#=*-.)|"), True
