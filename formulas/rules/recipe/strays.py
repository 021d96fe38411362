"""What stands on a line beside its amount and its name: words, marks and scripts that may change the amount.

A line counts without a question only where nothing of this kind is left once its amounts are out.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import cache

from formulas.rules.recipe.measures import UNSURE, kind_of
from formulas.rules.recipe.said import Amount
from formulas.rules.recipe.tongues import folded, says, words_that_say
from formulas.rules.recipe.traps import LIMITED, OF_A_PART, PER_EACH, SO_MANY_OF

HERE = "\x00"
"""Stands where an amount was taken out."""
_SAYS: tuple[tuple[str, str], ...] = (
    ("per", PER_EACH),
    ("each", SO_MANY_OF),
    ("limit", LIMITED),
    ("setting", "That is what the whole is made to. How much goes in, or is it no ingredient?"),
    ("other", "“{}” stands beside the amount. How much goes in, all told?"),
    ("total", "“{}”: is that what goes in, or the whole or a sum? Write what goes in."),
    ("number", "“{}” stands beside the amount. How much is it altogether?"),
    ("measure", "“{}” stands beside the amount. How much is it altogether?"),
    ("step", "“{}”: a step, or an ingredient of its own? How much goes in?"),
)
"""What is asked for a word of each kind that stands beside an amount, the surest question first."""
_STRENGTH = "“{}”: is that its strength, or measured by volume? How much of the whole goes in?"
_WHOLE = "All of the whole: is that its purity, or the whole itself? How much goes in?"
_UP_TO = "“{}”: is that the whole, or how much goes in?"
_MARK = "“{}” stands there. How much goes in?"

_NO_MARK = re.compile(
    r"[^\w\s\x00.,;:()\[\]'\"“”„«»‘’&/|%*®™°+=_~≈→➜@₋…–—-]"
    r"|~\s?~|//|\x00\s*[xX]\s*$|(?<=[^\W\d_])\s?[/\]%]\x00"
    r"|(?<!\d)\d\s?:\s?\d|\d\s?:\s?(?!1\b)\d"
    r"|[^\W\d_]{3,}\d+\s?(?:k?g|m?l|oz|%)(?!\w)|\x00[:'-][^\W\d_]\w*"
)
"""Marks that no name has: one that strikes out, a ratio, an amount grown to a word, an ending grown to an amount."""
_NONE_OF_IT = frozenset("℥℔✗✘❌☓✖")
"""Signs that strike out or measure; other signs adorn a line."""
_UNIT_ALONE = re.compile(
    r"(?<![\w'-])(?:g|kg|mg|ml|cl|dl|oz|lbs?|kilogram(?:me)?s?|gal|litr\w{1,3}|kilos?)(?![\w'])|/\s?#"
)
_PER_THING = re.compile(r"\x00\s*(?:/\s*|÷\s*)[^\W\d_]")
_SHARE_OF = re.compile(r"[^\W\d_]{2}\W+\x00\s*[(\[]?\s*of\b")
_GERMAN_PART = re.compile(r"(?<!\w)\w*ol(?:menge|gewicht)(?!\w)")
"""Made up of what the part is: Ölmenge, Gesamtölmenge, Ölgewicht."""
_ENDED = re.compile(r"\x00\s*-?\s?(?:ig\w{0,2}|os|owy|ny|sta)(?!\w)")
"""An ending that makes a percent a strength: 70 %-iger Alkohol."""
ALL_BUT = 99
"""Percent from which a figure is a purity or the whole itself, hardly a share of it."""
_HIGH = 50
"""Percent from which the figure of such a material is the strength it is sold in rather than a share. Chosen here."""
_JOINS = re.compile(r"\+|&|(?<!\w)(?:and|und|et|y|e|en|og|och)(?!\w)")
_JOINED = re.compile(rf"[^\W\d_]{{2,}}\s*(?:{_JOINS.pattern})\s*\x00\s*[^\W\d_]{{2,}}")
_SAID_AGAIN = re.compile(r"(?i)\x00\s*(?:\+|plus|and|&|to)\s*\x00")
_BETWEEN = re.compile(r"\x00[^\x00]*\x00")


def ask_beside(left: str, amounts: Sequence[Amount]) -> str:
    """The question that what is left of a line brings up, "" for none. left: the line with ``HERE`` for amounts."""
    left = _SAID_AGAIN.sub(HERE, left)
    low = folded(left)
    if asks := _marks(left, low):
        return asks
    shares = [amount for amount in amounts if amount.unit == "%"]
    if shares and (asks := _of_a_share(low, shares)):
        return asks
    if any(amount.unit in {"%", "part"} for amount in amounts) and (found := says("strength").search(low)):
        return _STRENGTH.format(_as_typed(left, found))
    for kind, asks in _SAYS:
        if found := says(kind).search(low):
            return asks.format(_as_typed(left, found))
    if found := _filling().search(low):
        return _UP_TO.format(_as_typed(left, found).strip(f" {HERE}"))
    if _JOINED.search(low) or (len(amounts) > 1 and _JOINS.search(_BETWEEN.sub(HERE, low))):
        return "Names that are joined: which of them does the amount go with?"
    return ""


def _marks(left: str, low: str) -> str:
    """Marks, scripts and measures that an ingredient's name doesn't have."""
    if is_foreign(left) and len(re.findall(r"[^\s\x00]+", left)) > 1:
        return NOT_READ
    bare = "".join(
        mark for mark in left if unicodedata.category(mark) not in {"So", "Mn", "Cf"} or mark in _NONE_OF_IT
    )
    if _PER_THING.search(low):
        return PER_EACH
    if found := _NO_MARK.search(bare):
        return _MARK.format(found.group(0).replace(HERE, "").strip())
    if found := _UNIT_ALONE.search(low):
        return f"“{_as_typed(left, found)}” stands without a figure. How much is it?"
    return ""


def _of_a_share(low: str, shares: Sequence[Amount]) -> str:
    """What a percent may be instead: one of a part, a strength, a purity."""
    most = max(amount.count.high for amount in shares)
    if ALL_BUT <= most <= 100:
        return _WHOLE
    if says("oils").search(low) or _SHARE_OF.search(low):
        return OF_A_PART
    if (says("oily").search(low) or _GERMAN_PART.search(low)) and _of_something().search(low):
        return OF_A_PART
    if _of_something().search(low) and not re.search(r"\x00\s*(?:of|de|di|d')\s", low):
        return OF_A_PART
    if found := _ENDED.search(low) or says("solved").search(low):
        return _STRENGTH.format(found.group(0).strip(f"{HERE} -"))
    if found := says("weak").search(low) or (says("strong").search(low) if most >= _HIGH else None):
        return _STRENGTH.format(found.group(0))
    return ""


def _as_typed(left: str, found: re.Match[str]) -> str:
    return left[found.start() : found.end()].strip()


@cache
def _of_something() -> re.Pattern[str]:
    """Behind a percent: of the oils, vom Öl, sur les huiles."""
    return re.compile(
        rf"\x00[\s,(\[]*(?:{words_that_say('part')})(?!\w)|\x00[^\x00]*(?<!\w)(?:based|bezogen|rapport|rispetto)(?!\w)"
    )


@cache
def _filling() -> re.Pattern[str]:
    """Right before an amount: up to it, of so much."""
    return re.compile(rf"(?<![\w\x00])(?:{words_that_say('fill')})\s+(?:ca\.?\s+|circa\s+)?\x00")


NOT_READ = "Written in letters that are not read here. How much goes in?"


def is_foreign(text: str) -> bool:
    """Whether letters stand there that are not Latin: their words for limits and parts are not known here."""
    return any(mark.isalpha() and "LATIN" not in unicodedata.name(mark, "LATIN") for mark in text)


def varies(unit: str) -> bool:
    """Whether a measure has another size in other regions."""
    return unit not in UNSURE and kind_of(unit) == "volume" and unit not in {"ml", "cl", "dl", "l", "drop"}
