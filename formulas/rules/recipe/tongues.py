"""Words of several languages that make an amount something else than how much goes in.

The words stand in ``data/recipe_words.csv``: everyday words, common practice, no source. Case and accents
don't count, "maximo" is "máximo"; a star stands for any ending.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache

from formulas.rules.tables import read_table


def folded(text: str) -> str:
    """Small letters without accents, as many as there were: places found in it are places in the text."""
    return "".join(_fold(mark) for mark in text)


@cache
def _fold(mark: str) -> str:
    low = mark.lower()
    base = unicodedata.normalize("NFKD", low)[:1]
    return base if base.isalpha() and base < "\u0250" else low if len(low) == 1 else mark


@cache
def words_that_say(*says: str) -> str:
    """A pattern for text that is ``folded``, of all words that say one of these."""
    words = {folded(row["word"]) for row in read_table("recipe_words.csv") if row["says"] in says}
    ordered = sorted(words, key=lambda word: (-len(word), word))
    return "|".join(_pattern(word) for word in ordered)


def _pattern(word: str) -> str:
    stem = re.escape(word.removesuffix("*")).replace(r"\ ", r"\s+")
    return stem + (r"\w*" if word.endswith("*") else "")


@cache
def says(*kinds: str) -> re.Pattern[str]:
    """Finds a word of these kinds that stands alone, in text that is ``folded``."""
    return re.compile(rf"(?<![\w.-])(?<!\bin )(?<!\binto )(?:{words_that_say(*kinds)})(?![\w-])")


LOOKS_LIKE = re.compile(
    r"(?<!\w)[lIO]\s?[/.,]\s?\d|\|\s?/\s?\d|(?<!\w)[lI]\s+\d+/\d|(?<!\w)[lIO]\d|\d[lIO][\d.,]|\d[IO](?!\w)|"
    r"\d:\d+(?:[.,]\d+)?\s?(?:g|kg|mg|ml|l|oz|tsp|tbsp|%)(?!\w)"
)
"""A letter or a mark where a figure may have stood."""

WATERY = re.compile(
    r"(?i)(?<!\w)(?:water|aqua|eau|agua|acqua|wasser|hydrosol|hydrolate?|juice|infusion|tea|base|oil)(?!\w)"
)
"""What fills up to a whole as a rule."""

_ONE = r"\d[\d.,/]*|an?|one|ein(?:e[nmrs]?)?|une?|un[oa]?|een|um|uma|en|et|ett"
_STIRRED_IN = re.compile(r"(?:stir|whisk|mix|drop|fold|beat|rub|pour|work)\s+in\b")
_BEFORE = r"(?<!\binto )(?<!\bin )(?<!\bto )(?<!\bonto )(?<!\bdans )(?<!\bim )(?<!\bwith )(?<!\bper )"


@cache
def _spoken() -> re.Pattern[str]:
    numbers, measures = words_that_say("number"), words_that_say("measure")
    return re.compile(
        rf"{_BEFORE}(?<![\w.,/])(?:{_ONE}|some|{numbers})\s+(?:[^\W\d_]+\s+){{0,2}}(?:{measures})(?!\w)|"
        rf"^\W*(?:{measures})\s+(?:of|de|d'|di|van|von)\b"
    )


def speaks_an_amount(text: str) -> bool:
    """Whether a count and a measure stand there, "a good pinch" or "2 cuillerées" say."""
    return bool(_spoken().search(_STIRRED_IN.sub("stir", folded(text))))


def may_speak_of_amounts(text: str) -> bool:
    """Whether any word of an amount stands there: a number, a measure, a share of another line."""
    low = folded(text).replace("-", " ")
    return bool(says("number", "measure", "each").search(low) or re.search(r"[℥℔]|\d\s?:\s?\d", text))
