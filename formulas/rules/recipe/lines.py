"""One line of a recipe: an amount and a name, a heading, or words. Every quantity read is one that stands there."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from formulas.rules.recipe.measures import BARE, SPOONS, UNSURE, VAGUE, WORDS, kind_of, measures
from formulas.rules.recipe.numbers import SPAN, Count, Doubt, plain, read_count

LineKind = Literal["line", "heading", "words"]

_KEY_OF = {word: key for key, words in WORDS.items() for word in words}
_UNIT_WORDS = sorted({*_KEY_OF, *UNSURE, *VAGUE}, key=len, reverse=True)
_UNIT = "|".join(re.escape(word).replace(r"\ ", r"\.?\s*") for word in _UNIT_WORDS)
_AMOUNT = re.compile(rf"{SPAN}\s*-?\s*(?P<unit>(?i:{_UNIT})(?![\w])|[tT][bB]?(?![\w']))?\.?", re.UNICODE)
_TO_100 = re.compile(
    r"(?i)(?:\bq\.?\s?s\.?(?:\s*(?:to|ad))?\s*100\s*%?|\b(?:up\s)?(?:to|ad)\s*100\s*%|\b(?:up\s)?(?:to|ad)\s*100$"
    r"|\bbalance\b|\bremainder\b)"
)
_BULLET = re.compile(r"^(?:[•·▢☐*]+|-+(?=\s|\D)|\(?\d{1,2}[.)](?=\s+\S))\s*")
_PHASE = re.compile(r"(?i)^\W*(?:phase|part|stage)\s+[\w]{1,12}\b")
_DOING = re.compile(
    r"(?i)^(?:then\s|now\s|and\s)?(?:add|allow|apply|blend|boil|bring|combine|cool|cover|dissolve|fill|heat|keep|leave|"
    r"let|make|measure|melt|mix|once|place|pour|press|put|remove|repeat|sprinkle|stir|store|strain|take|turn|use|wait|"
    r"warm|weigh|when|while|whip|whisk|wrap)\b"
)
_ABOUT = re.compile(r"(?i)(?:\babout\b|\bapprox(?:imately|\.)?|\bca\.|\bcirca\b|\broughly\b|~)")
_HEAPED = re.compile(r"(?i)\b(?:heaped|heaping|rounded|generous|scant|big|large|small)\b")
_TIMES = re.compile(r"(?i)\d\s*[x×*]\s*[\d.]|\beach\b|\bapiece\b")
_TOTAL = re.compile(r"(?i)^(?:sub-?\s?|grand\s)?(?:total|sum|yield|makes)\b")
MOST_WORDS = 6
METRIC = frozenset({"mg", "g", "kg", "ml", "cl", "dl", "l"})
ROUNDED = Fraction(1, 10)
"""How far a mass in grams and in ounces may part by rounding to whole ounces."""


@dataclass(frozen=True, slots=True)
class Amount:
    """So many of a measure ("" where the line gives a number alone)."""

    count: Count
    unit: str
    typed: str


@dataclass(frozen=True, slots=True)
class RecipeLine:
    """What one line says.

    number: of the line in the text, from 1. amounts: to be added up; several only where the line says "plus".
    asks: what has to be answered before the line counts; may_mean: measures that would answer it.
    """

    number: int
    text: str
    kind: LineKind
    name: str = ""
    amounts: tuple[Amount, ...] = ()
    is_rest: bool = False
    asks: str = ""
    may_mean: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def read_recipe(text: str) -> tuple[RecipeLine, ...]:
    """All lines that say something."""
    return tuple(read_line(line, number) for number, line in enumerate(text.splitlines(), 1) if line.strip())


def read_line(text: str, number: int = 1) -> RecipeLine:
    """Read one line. Nothing raises; a line that isn't understood asks."""
    line = _BULLET.sub("", plain(text), count=1).strip()
    blank = RecipeLine(number, text.strip(), "words")
    if not line:
        return blank
    found = [hit for hit in _AMOUNT.finditer(line) if not _is_of_the_name(line, hit)]
    measured = [hit for hit in found if hit["unit"]]
    rest = _TO_100.search(line)
    if rest is not None:
        name = _name(line, [rest.span()])
        others = [hit for hit in measured if not rest.start() <= hit.start() < rest.end()]
        one = replace(blank, kind="line", name=name, is_rest=True)
        return replace(one, asks="It has an amount and is to 100 as well. Which?") if others else one
    if _PHASE.match(line) and not measured:
        return replace(blank, kind="heading", name=line.strip(" :#=*-"))
    if _TOTAL.match(line):
        return blank
    if _DOING.match(line) or _is_prose(line):
        asks = "An amount stands in these words. If it belongs to the recipe, give it a line of its own."
        sure = [hit for hit in measured if _key(hit["unit"]) in WORDS]
        return replace(blank, asks=asks if sure else "")
    if not found:
        return _without_number(blank, line)
    return _with_numbers(replace(blank, kind="line"), line, found, measured)


def _is_of_the_name(line: str, hit: re.Match[str]) -> bool:
    """A number alone within a name ("Vitamin B 5 oil", "red 30 lake") is no amount."""
    if hit["unit"]:
        return False
    at_start = hit.start() == 0
    at_end = hit.end() >= len(line.rstrip(" .)"))
    return not (at_start or at_end)


def _is_prose(line: str) -> bool:
    words = line.split()
    return len(words) > 2 * MOST_WORDS and line.endswith((".", "!"))


def _key(typed: str | None) -> str:
    """The measure's key; "?" and the word itself for one that is unsure."""
    if not typed:
        return ""
    word = " ".join(typed.replace(".", " ").split())
    if word in SPOONS:
        return "?" + word
    low = word.lower()
    if low in UNSURE or low in VAGUE:
        return "?" + low
    return _KEY_OF.get(low) or _KEY_OF[low.replace(" ", "")]


def _without_number(blank: RecipeLine, line: str) -> RecipeLine:
    if line.endswith(":") or line.startswith(("#", "=")) or (line.isupper() and len(line) <= 2):
        return replace(blank, kind="heading", name=line.strip(" :#=*-"))
    if len(line.split()) <= MOST_WORDS and not line.endswith((".", "!", "?")):
        asks = "How much? The line gives no amount."
        return replace(blank, kind="line", name=_name(line, []), asks=asks, may_mean=("g",))
    return blank


def _with_numbers(
    one: RecipeLine, line: str, found: list[re.Match[str]], measured: list[re.Match[str]]
) -> RecipeLine:
    one = replace(one, name=_name(line, [hit.span() for hit in found]))
    if _ABOUT.search(line):
        one = replace(one, notes=("The recipe says about.",))
    if _TIMES.search(line):
        return replace(one, asks="So many of something: what do they weigh together?", may_mean=("g",))
    amounts = []
    for hit in measured or found:
        count = read_count(hit["first"], hit["second"], _between(hit))
        if isinstance(count, Doubt):
            return replace(one, asks=count.sentence)
        amounts.append(Amount(count, _key(hit["unit"]), hit.group(0).strip()))
    if measured and any(hit not in measured for hit in found):
        return replace(one, asks="There is a number beside the measure. What do they weigh together?")
    if _HEAPED.search(line) and any(a.unit in WORDS and kind_of(a.unit) == "volume" for a in amounts):
        return replace(one, amounts=tuple(amounts), asks="Heaped, rounded or scant: what does it weigh?")
    return _settle(one, line, amounts, measured)


def _between(hit: re.Match[str]) -> str:
    if hit["second"] is None:
        return ""
    return hit.group(0)[len(hit["first"]) : hit.start("second") - hit.start()]


def _settle(one: RecipeLine, line: str, amounts: list[Amount], measured: list[re.Match[str]]) -> RecipeLine:
    """Which of the amounts count."""
    if len(amounts) == 1:
        return _single(one, amounts[0])
    unsure = next((amount for amount in amounts if not amount.unit or amount.unit.startswith("?")), None)
    if unsure is not None:
        return replace(
            one, asks=f"Several amounts, one of them unclear ({unsure.typed}). What does it weigh?"
        )
    parted = [line[a.end() : b.start()] for a, b in pairwise(measured)]
    if all(re.fullmatch(r"\s*(?:\+|plus|and|&)\s*", between) for between in parted):
        return replace(one, amounts=tuple(amounts))
    if len(amounts) == 2 and _says_the_same(parted[0]):
        chosen, note = _one_of_two(*amounts)
        if chosen is not None:
            return replace(one, amounts=(chosen,), notes=(*one.notes, note))
    return replace(one, asks="Several amounts. Which counts, or what do they weigh together?")


def _one_of_two(left: Amount, right: Amount) -> tuple[Amount | None, str]:
    """One amount said in two measures: the mass before a volume, the metric one of two that agree."""
    by_kind = {kind_of(amount.unit): amount for amount in (right, left)}
    if by_kind.keys() == {"mass", "volume"}:
        mass, volume = by_kind["mass"], by_kind["volume"]
        if mass.unit == "oz" and volume.unit in METRIC:
            return volume, f"{volume.typed} counts; {mass.typed} are fluid ounces or a weight."
        return mass, f"The mass counts, not {volume.typed}."
    first, second = sorted((left, right), key=lambda amount: amount.unit not in METRIC)
    if (
        len(by_kind) == 1
        and by_kind.keys() <= {"mass", "volume"}
        and first.unit in METRIC
        and _agree(first, second)
    ):
        return first, f"{second.typed} says the same."
    return None, ""


def _says_the_same(between: str) -> bool:
    """Whether two amounts are joined as one amount said twice: in brackets, after a stroke, an equals sign."""
    return bool(
        re.fullmatch(
            r"(?i)[^(\[]{0,60}[(\[/|=]\s*(?:about|approx\w*\.?|ca\.|or|~|=)?\s*|\s*[,;|]\s*", between
        )
    )


def _agree(left: Amount, right: Amount) -> bool:
    """Whether two amounts are the same but for rounding, in some region's measures."""
    sizes = [
        [amount.count.low * Fraction(size.low) for (key, _), size in measures().items() if key == amount.unit]
        for amount in (left, right)
    ]
    return any(abs(one - other) <= ROUNDED * max(one, other) for one in sizes[0] for other in sizes[1])


def _single(one: RecipeLine, amount: Amount) -> RecipeLine:
    """A line with one amount."""
    if amount.unit == "":
        return replace(one, amounts=(amount,), asks=f"{amount.typed} of what?", may_mean=BARE)
    if not amount.unit.startswith("?"):
        return replace(one, amounts=(amount,))
    word = amount.unit[1:]
    if word in SPOONS:
        return replace(
            one, amounts=(amount,), asks=f"“{word}”: teaspoon or tablespoon?", may_mean=("tsp", "tbsp")
        )
    if word in UNSURE:
        return replace(
            one, amounts=(amount,), asks=f"“{word}” can be several measures.", may_mean=UNSURE[word]
        )
    return replace(one, asks=f"How much is “{amount.typed}”? Weigh it once.", may_mean=("g",))


def _name(line: str, taken: list[tuple[int, int]]) -> str:
    """What is left of the line once its amounts are out."""
    for start, end in sorted(taken, reverse=True):
        line = f"{line[:start]} \x00 {line[end:]}"
    line = re.sub(r"[(\[]\s*[^()\[\]]*\x00[^()\[\]]*[)\]]", " ", line)
    line = re.sub(r"\x00", " ", line)
    line = re.sub(r"[(\[]\s*[)\]]", " ", line)
    line = re.sub(r"(?i)^\W*(?:about|approx\w*\.?|ca\.|plus|or)?\s*(?:of\s+(?:the\s+)?)?", "", line.strip())
    return " ".join(line.split()).strip(" ,;:/=|+~.-")
