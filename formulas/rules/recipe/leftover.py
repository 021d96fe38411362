"""What stands on a line beside its amount and name: numbers that belong to the name, words that change the amount."""

from __future__ import annotations

import re
from collections.abc import Sequence

from formulas.rules.recipe.measures import VAGUE
from formulas.rules.recipe.said import Amount
from formulas.rules.recipe.strays import HERE, ask_beside, varies
from formulas.rules.recipe.traps import NUMBERED

_COUNTED = re.compile(rf"(?i)\s*(?:{'|'.join(sorted(VAGUE, key=len, reverse=True))})\b")
_LONG = re.compile(r"\d{3,}|\d{2,}/\d{2,}")
_LENGTH = re.compile(r"(?i)\s*-?\s*(?:inch(?:es)?|in|cm|mm|\")(?![^\W_])")
_LETTERED = re.compile(r"(?<![^\W\d_])[^\W\d_]{1,3}-$")
_PLACES = re.compile(r"\d(?:,\d){1,3}-[^\W\d_]{3}")
"""Where groups hang on a molecule: 1,2-hexanediol."""
_ORDINAL = re.compile(r"(?i)\d*(?:1st|2nd|3rd|\dth)\b")
_RATIO = re.compile(r"\d\s?:\s?\x00|^[^\x00]*\x00\s?:\s?\d")
PREPARED = re.compile(
    r"(?i)\b(?:cut|torn|broken|divided|sliced|chopped|split|snapped|halved)\b[^\d;]*\bin(?:to)?\s+$"
)
"""Before a number that says into how many pieces something is cut; a length is no amount either."""

UNKNOWN_UNIT = re.compile(
    r"(?<![\w.,])\d[\d.,/]*\s?[^\W\d_]{1,3}(?:\.\s?[^\W\d_]{1,3}){0,2}\.?(?=[\s)\],;]|$)"
)
"""A number with a short word behind it, which may be a measure that we don't know."""

_ELSEWHERE = re.compile(
    r"(?<!\w)(?:U\.?K\.?|U\.?S\.?A?\.?|AUS?|NZ|(?i:british|american|australian|canadian|imperial|imp|jp|aus|metric))(?!\w)"
)
_BY_VOLUME = re.compile(r"(?i)(?<!\w)(?:vol|volume|fluid|liquid|fl)(?!\w)")


def is_of_the_name(before: str, number: str, after: str, *, is_next: bool) -> bool:
    """Whether a number alone within a line is of its name ("Vitamin B 5 oil", "red 30 lake", "Ester 1000 5 g").

    is_next: an amount follows at once. What else stands alone is a quantity of something, and is asked.
    """
    if NUMBERED.search(before):
        return not _COUNTED.match(after)
    if _LETTERED.search(before) or _PLACES.match(f"{number}{after}") or _ORDINAL.match(f"{number}{after}"):
        return True
    if before.strip() and (
        _RATIO.search(f"{before[-4:]}\x00{after}") or _LENGTH.match(after) or PREPARED.search(before)
    ):
        return True
    if not _LONG.fullmatch(number) or not re.search(r"[^\W\d_]\)?\s+$", before):
        return False
    return is_next


def left_over(
    line: str, taken: Sequence[tuple[int, int]], amounts: Sequence[Amount]
) -> tuple[str, tuple[str, ...]]:
    """What has to be asked for what the amounts leave, and the measures that may be meant; ("", ()) if nothing.

    taken: where the amounts stand in the line.
    """
    left = line
    for start, end in sorted(taken, reverse=True):
        left = f"{left[:start]}{HERE}{left[end:]}"
    if asks := ask_beside(left, amounts):
        return asks, ("g",)
    units = [amount.unit for amount in amounts]
    if (place := _ELSEWHERE.search(left)) and any(varies(unit) for unit in units):
        asks = f"“{place.group(0)}” says where: choose that region and take the word out, or weigh it once."
        return asks, ("g",)
    if units == ["oz"] and _BY_VOLUME.search(left):
        return "Ounces: by weight or fluid ounces?", ("oz", "fl oz")
    return "", ()
