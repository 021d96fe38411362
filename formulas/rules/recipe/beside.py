"""What a recipe says beside its lines: headings, steps, temperatures, the size of the whole."""

from __future__ import annotations

import re

from formulas.rules.recipe.amounts import AMOUNT, UNIT, key_of, name_of
from formulas.rules.recipe.numbers import NUMBER
from formulas.rules.recipe.tongues import folded, may_speak_of_amounts, says, speaks_an_amount, words_that_say
from formulas.rules.recipe.traps import AS_NEEDED, ASIDE, ONLY_ASIDE, PH_ALONE, TO_100, WHOLE

MOST_WORDS = 6
"""Words of a line that may be an ingredient without an amount; twice as many are prose."""
_PHASE = re.compile(r"(?i)^\W*(?:phase|part|stage|fas[ae]?|faza)\s+[\w]{1,12}\b")
_PHASE_BEFORE = re.compile(
    r"(?i)^\W*(?:phase|part|stage|fas[ae]?|faza)\s+(?:[a-z]|\d{1,2}|[ivx]{1,4}|one|two|three|four)\b\s*[:.)\-|]*\s*"
)
DOING = re.compile(
    r"(?i)^(?:step\s*\d*\s*[:.)-]?\s*|\d{1,2}\s+(?=melt|mix|add|heat|stir|pour(?!\s+cent)|weigh))?(?:then\s|now\s|and\s)?(?:add|adjust|allow|apply|blend|boil|bring|"
    r"check|combine|cool|cover|dissolve|fill|heat|keep|leave|let|make|measure|melt|mix|once(?=\s+(?:the|it|all|they|cool|every|you|this|your|[a-z]+ed\b))|place|pour(?!\s+(?:cent|l[ae]s?|l'|parfum|faire|une?)\b)|press|put|"
    r"remove|repeat|sprinkle|stir|store|strain|take|turn|use|wait|warm|weigh|when|while|whip|whisk|wrap)\b"
)
HOW_MUCH = "How much? The line gives no amount."
OWN_LINE = "An amount stands in these words. If it belongs to the recipe, give it a line of its own."
_IS_SUM = re.compile(r"(?i)^(?:(?:sub-?\s?|grand\s)?(?:total|sum)|recipe|batch|final|net|finished)\b")
_OF_A_WHOLE = re.compile(
    rf"(?i)(?<![^\W\d_])(?:{UNIT}|bars?|people|servings?|portions?|batch(?:es)?|recipe|about|approx\w*|circa|ca|of|each|"
    rf"up|to|and|or|the|total|weight|mass|an?|one|{words_that_say('number')}|small|large|x)(?![^\W\d_])"
)


def _has_more(text: str) -> bool:
    """Whether behind the size of the whole other words stand, as of an ingredient."""
    return bool(re.search(r"[^\W\d_]{2,}", _OF_A_WHOLE.sub(" ", text)))


def said_beside(line: str) -> str | None:
    """ "" for what is said beside the recipe: a temperature, a pH, the size of the whole. A question where an
    ingredient may stand there too. None for what may be a line of it."""
    if not line or ONLY_ASIDE.fullmatch(line) or PH_ALONE.fullmatch(line) or _KEEPS.match(folded(line)):
        return ""
    whole = WHOLE.match(line)
    if whole is None:
        return None
    if not _has_more(line[whole.end() :]):
        return ""
    return None if _IS_SUM.match(line) else OWN_LINE


_WHILE = (
    r"\d+(?:[.,]\d+)?(?:\s*(?:-|to|bis|a|à)\s*\d+)?\s*(?:[°º˚]\s*[CFcf]?|grad\w*|degr\w*|gradi|min(?:ut\w*)?|std|stund\w*|h|"
    r"heures?|horas?|or[ae]|uur|uren|hours?|hrs?|tag\w*|jours?|dias?|giorn\w*|dag\w*|days?|woch\w*|weeks?|semain\w*|seman\w*|"
    r"settiman\w*|weken|monat\w*|months?|mois|mes(?:es|i)?|maand\w*|rpm)(?!\w)"
)
_KEEPS = re.compile(
    r"(?:shelf[\s-]?life|keeps?|use within|best before|cure|curing|prep(?:aration)? time|cook(?:ing)? time|"
    rf"drying time|dry|haltbar\w*|reifezeit|conserv\w*|houdba\w*|bewa\w+)\W[^\d]*{_WHILE}[^\d]*"
    r"|page\s+\d+(?:\s+of\s+\d+)?\W*|posted\b.*"
)
"""Lines that tell how long something keeps, cures or takes."""


def is_step(line: str) -> bool:
    """Whether a sentence tells of doing something, and every figure in it counts degrees or time."""
    low = folded(line)
    if not says("step").search(low):
        return False
    left = re.sub(_WHILE, " ", low)
    return not re.search(r"\d", left) and not speaks_an_amount(left) and len(low.split()) > 2


def is_prose(line: str) -> bool:
    """A sentence of many words."""
    words = line.split()
    return len(words) > 2 * MOST_WORDS and line.endswith((".", "!"))


def tells_an_amount(line: str, found: list[re.Match[str]]) -> bool:
    """Whether words of a step may hold a line of the recipe. "20 C" is warmth, "2 c" a cup."""
    told = any(
        key_of(hit["unit"]) != "?c" or hit["unit"].islower() or len(hit["first"]) == 1
        for hit in found
        if hit["unit"]
    )
    left = _PLACE.sub(" ", ASIDE.sub(" ", line))
    return told or bool(speaks_an_amount(left) or _COUNTS.search(left) or _IN_ALL.search(folded(left)))


_PLACE = re.compile(r"(?i)\b(?:phase|part|stage|step|no\.?|number)\s+\d+\b")
_COUNTS = re.compile(
    rf"(?i)(?<!\bto)(?<!\bat)(?<!\bfor)(?<!below)(?<!under)(?<!until)(?<!about)(?<!ph)(?<!ph:)(?:^|[\s(]){NUMBER}(?![\w.,/%°º˚])"
    r"(?!\s*(?:to|-)\s*\d)(?!\s*(?:[°º˚CF]|degrees?|min|sec|s\b|h\b|hours?|hrs?|days?|weeks?|months?|minuten?|stunden?|tage?|rpm|"
    r"times?|mm|cm|inch|more|other|layers?|mou?lds?|tins?|jars?|bars?|bottles?|pots?|portions?|pieces?|steps?|and\s+\d))"
)
"""A number that counts neither degrees nor time nor what is filled."""
_IN_ALL = re.compile(
    r"(?<!\w)(?:equal\s+(?:parts?|amounts?|quantit\w+)|times\s+as|as\s+much|twice)|\d\s?:\s?\d"
)
_KNOWN_HEAD = re.compile(
    r"(?:(?:the\s+)?(?:oil|fat|water|aqueous|wax|butter|heated?|hot|cold|melt(?:ed)?|"
    r"cool(?:ing)?(?:[ -]?down)?|dry|wet|liquid|powder|fragrance|preservative|active)s?\s+"
    r"(?:phase|part|stage)|(?:ol|fett|wasser|wirkstoff|abkuhl)phase|"
    r"phase\s+(?:huileuse|grasse|aqueuse|froide)|fase\s+(?:acuosa|oleosa|grasa|acquosa|grassa|fria|fredda)|"
    r"(?:vet|water|olie|oel)fase|cool\s?-?down|ingredients|method|directions|instructions|equipment|you will need|"
    r"notes|zutaten|zubereitung|ingredientes|preparacion|ingredienti|preparazione|ingredienten|bereiding|preparation)"
)


def is_heading(line: str) -> bool:
    """Whether a few words name a phase or a part of the recipe: "Cool down phase:", "Oil phase", "Method"."""
    low = folded(line).strip(" :.#=*-")
    if re.search(r"\d", low) or len(low.split()) > MOST_WORDS - 1:
        return False
    return bool(_KNOWN_HEAD.fullmatch(low)) or (line.endswith(":") and not may_speak_of_amounts(line))


def _blank(found: re.Match[str]) -> str:
    return " " * len(found.group(0))


def without_phase(line: str) -> tuple[str, bool]:
    """The line after "Phase A:", and whether it is a heading alone."""
    if not _PHASE.match(line):
        return line, False
    before = _PHASE_BEFORE.match(line)
    measured = [hit for hit in AMOUNT.finditer(ASIDE.sub(_blank, line)) if hit["unit"]]
    if not measured:
        after = line[before.end() :] if before else line.partition(":")[2]
        told = _PLACE.sub(" ", ASIDE.sub(" ", after))
        tells = re.search(r"\d", told) or may_speak_of_amounts(told)
        if re.search(r"[^\W\d_]{2,}", after) and (tells or TO_100.search(after) or AS_NEEDED.search(after)):
            return after.strip(), False
        return line.strip(" :#=*-"), True
    if before is None or measured[0].start() < before.end():
        return line, False
    after = line[before.end() :]
    if name_of(after, [hit.span() for hit in AMOUNT.finditer(after)]):
        return after, False
    return before.group(0).strip(" :#=*-.)|"), True
