"""Numbers with their measures within a line, and the name that is left beside them."""

from __future__ import annotations

import re

from formulas.rules.recipe.measures import CAPITALS, SPOONS, UNSURE, VAGUE, WORDS, kind_of
from formulas.rules.recipe.numbers import SPAN

_KEY_OF = {word: key for key, words in WORDS.items() for word in words}
_CLOSED_UP = {word.replace(" ", ""): key for word, key in _KEY_OF.items()}
_CLOSED_UP |= {word.replace(" ", ""): "?" + word for word in UNSURE}
_UNIT_WORDS = sorted({*_KEY_OF, *UNSURE, *VAGUE}, key=len, reverse=True)
UNIT = "|".join(re.escape(word).replace(r"\ ", r"\.?\s*") for word in _UNIT_WORDS)
AMOUNT = re.compile(
    rf"{SPAN}\s*-?\s*(?P<unit>(?i:{UNIT})(?![\w])(?!(?<=[lL])['-]\w)|[tT][bB]?(?![\w'])|(?:EL|TL)(?!\w))?\.?",
    re.UNICODE,
)


def key_of(typed: str | None) -> str:
    """The measure's key; "?" and the word itself for one that is unsure."""
    if not typed:
        return ""
    word = " ".join(typed.replace(".", " ").split())
    if word in SPOONS or word in CAPITALS:
        return "?" + word
    low = word.lower()
    if low in UNSURE or low in VAGUE:
        return "?" + low
    return _KEY_OF.get(low) or _CLOSED_UP.get(low.replace(" ", ""), "?" + low)


def kind_of_word(typed: str) -> str:
    """Whether a measure that is sure is a mass, a volume, a share or a part; "" for one that isn't."""
    key = key_of(typed)
    return kind_of(key) if key in WORDS else ""


def between_of(hit: re.Match[str]) -> str:
    """What stands between the two numbers of a range; "" for one number."""
    if hit["second"] is None:
        return ""
    return hit.group(0)[len(hit["first"]) : hit.start("second") - hit.start()]


def name_of(line: str, taken: list[tuple[int, int]]) -> str:
    """What is left of the line once its amounts are out."""
    for start, end in sorted(taken, reverse=True):
        line = f"{line[:start]} \x00 {line[end:]}"
    line = re.sub(r"[(\[]\s*[^()\[\]]*\x00[^()\[\]]*[)\]]", " ", line)
    line = re.sub(r"\x00", " ", line)
    line = re.sub(r"[(\[]\s*[)\]]", " ", line)
    line = re.sub(
        r"(?i)^[^\w(\[]*(?:about|approx\w*\.?|ca\.|circa|plus|and|to|or)?\s+(?:of\s+(?:the\s+)?)?",
        "",
        f" {line.strip()}",
    )
    line = re.sub(r"(?i)^\W*(?:of\s+(?:the\s+)?|(?:de|di|van|von)\s+|d')(?=[^\W\d_]{3})", "", line)
    line = re.sub(r"\s*[|;]\s*", " ", re.sub(r"\s*,(?:\s*,)+", ",", line))
    return " ".join(line.split()).strip(' ,;:/=|+~.-*_@≈<>→➜"“”„«»')
