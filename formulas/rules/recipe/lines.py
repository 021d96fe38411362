"""One line of a recipe: an amount and a name, a heading, or words. Every quantity read is one that stands there."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product

from formulas.rules.recipe.leftover import PREPARED, UNKNOWN_UNIT, is_of_the_name, left_over, says_many
from formulas.rules.recipe.listed import is_list, unless_listed
from formulas.rules.recipe.measures import BARE, CAPITALS, SPOONS, UNSURE, VAGUE, WORDS, kind_of, measures
from formulas.rules.recipe.numbers import NUMBER, SPAN, Count, Doubt, plain, read_count
from formulas.rules.recipe.said import Amount, RecipeLine
from formulas.rules.recipe.tongues import ASKED_TOO, SHORTENED, SPOKEN_AMOUNT, WATERY
from formulas.rules.recipe.traps import (
    ABOUT,
    AS_NEEDED,
    ASIDE,
    ASKED,
    BY_MASS,
    HEAPED,
    LINK,
    NUMBERED,
    NUMBERED_NAME,
    ONLY_ASIDE,
    PH_ALONE,
    TO_100,
    TO_WHOLE,
    WHOLE,
)
from formulas.rules.recipe.twice import told_apart

_KEY_OF = {word: key for key, words in WORDS.items() for word in words}
_CLOSED_UP = {word.replace(" ", ""): key for word, key in _KEY_OF.items()}
_CLOSED_UP |= {word.replace(" ", ""): "?" + word for word in UNSURE}
_UNIT_WORDS = sorted({*_KEY_OF, *UNSURE, *VAGUE}, key=len, reverse=True)
_UNIT = "|".join(re.escape(word).replace(r"\ ", r"\.?\s*") for word in _UNIT_WORDS)
_AMOUNT = re.compile(
    rf"{SPAN}\s*-?\s*(?P<unit>(?i:{_UNIT})(?![\w])|[tT][bB]?(?![\w'])|(?:EL|TL)(?!\w))?\.?", re.UNICODE
)
_BULLET = re.compile(
    r"^(?:[•·▢☐*✓✔]+|\[[ xX]?\]|-+(?=\s|\D)|\(?\d{1,2}[.)](?=\s+\S)|\(?[A-Za-z]\)(?=\s+\S)|[A-Z]\.(?=\s+[A-Z0-9]))\s*"
)
_PHASE = re.compile(r"(?i)^\W*(?:phase|part|stage)\s+[\w]{1,12}\b")
_PHASE_BEFORE = re.compile(
    r"(?i)^\W*(?:phase|part|stage)\s+(?:[a-z]|\d{1,2}|[ivx]{1,4}|one|two|three|four)\b\s*[:.)\-|]*\s*"
)
_DOING = re.compile(
    r"(?i)^(?:step\s*\d*\s*[:.)-]?\s*|\d{1,2}\s+(?=melt|mix|add|heat|stir|pour(?!\s+cent)|weigh))?(?:then\s|now\s|and\s)?(?:add|adjust|allow|apply|blend|boil|bring|"
    r"check|combine|cool|cover|dissolve|fill|heat|keep|leave|let|make|measure|melt|mix|once|place|pour(?!\s+cent)|press|put|"
    r"remove|repeat|sprinkle|stir|store|strain|take|turn|use|wait|warm|weigh|when|while|whip|whisk|wrap)\b"
)
_CELLS = re.compile(rf"(?P<number>(?<![\w.,]){NUMBER})\s*[|;]\s*(?=(?i:{_UNIT})(?!\w))")
_WEIGHING = re.compile(
    r"(?i)^(?:then\s|now\s|and\s)?(?:add|measure(?:\s+out)?|weigh|take|use|stir\s+in|drop\s+in)\b"
)
_NAMING = re.compile(r"[^\W\d_]{2,}")
_NO_NAME = re.compile(
    r"(?i)\b(?:about|approx\w*|ca|circa|roughly|or|of|the|each|plus|and|total|weight|by|scant|generous)\b"
)
_LEADERS = re.compile(r"\s*(?:\.{3,}|…+|_{2,}|·{2,}|-{3,}|={2,})\s*")
_BETWEEN = re.compile(rf"(?i)\b(?:between|from)\s+(?P<one>{NUMBER})\s+(?:and|to)\s+(?=\d|[.,]\d)")
_SPACED = re.compile(rf"(?<![\d.,/])\d{{1,3}}(?:\s\d{{3}})+(?:[.,]\d+)?\s*-?\s*(?:(?i:{_UNIT})(?!\w))")
MOST_WORDS = 6
METRIC = frozenset({"mg", "g", "kg", "ml", "cl", "dl", "l"})
ROUNDED = Fraction(1, 10)
"""How far one amount said in two measures may part at the most, however roughly it is written."""
ZERO = Fraction(0)
LAST_FIGURE = Fraction(1, 2)
"""Half of the last figure written: so far a rounded number may be off."""


OWN_LINE = "An amount stands in these words. If it belongs to the recipe, give it a line of its own."
_IS_SUM = re.compile(r"(?i)^(?:(?:sub-?\s?|grand\s)?(?:total|sum)|recipe|batch|final|net|finished)\b")
_OF_A_WHOLE = re.compile(
    rf"(?i)(?<![^\W\d_])(?:{_UNIT}|bars?|people|servings?|portions?|batch(?:es)?|recipe|about|approx\w*|circa|ca|of|each|"
    r"up|to|and|or|the|total|weight|mass|an?|one|two|three|four|five|six|eight|ten|twelve|small|large|x)(?![^\W\d_])"
)


def _has_more(text: str) -> bool:
    """Whether behind the size of the whole other words stand, as of an ingredient."""
    return bool(re.search(r"[^\W\d_]{2,}", _OF_A_WHOLE.sub(" ", text)))


def read_recipe(text: str) -> tuple[RecipeLine, ...]:
    """All lines that say something."""
    rows = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    lines = [read_line(line, number) for number, line in rows]
    if not is_list([line for _, line in rows]):
        lines = [unless_listed(line) for line in lines]
    return tuple(told_apart(lines))


def read_line(text: str, number: int = 1) -> RecipeLine:
    """Read one line. Nothing raises; a line that isn't understood asks."""
    line = _tidied(text)
    blank = RecipeLine(number, text.strip(), "words")
    beside = _said_beside(line)
    if beside is not None:
        return replace(blank, asks=beside)
    line, is_phase = _without_phase(line)
    if is_phase:
        return replace(blank, kind="heading", name=line)
    found = [hit for hit in _AMOUNT.finditer(line) if not _is_of_the_name(line, hit)]
    measured = [hit for hit in found if hit["unit"]]
    if rest := _rest(blank, line, measured):
        return rest
    if _DOING.match(line) or _is_prose(line):
        return replace(blank, asks=OWN_LINE if _tells_an_amount(line, found) else "")
    if not found:
        return _without_number(blank, line)
    one = replace(blank, kind="line", name=_name(line, [hit.span() for hit in found]))
    if asks := _trap(text, line):
        return replace(one, asks=asks, may_mean=("g",))
    return _with_numbers(one, line, found, measured)


def _said_beside(line: str) -> str | None:
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


def _tells_an_amount(line: str, found: list[re.Match[str]]) -> bool:
    """Whether words of a step may hold a line of the recipe. "20 C" is warmth, "2 c" a cup."""
    units = [hit["unit"] for hit in found if hit["unit"]]
    told = any(_key(unit) != "?c" or unit.islower() for unit in units)
    bare = found and (_WEIGHING.match(line) or (len(line.split()) <= MOST_WORDS and _ENDS_SO.search(line)))
    return told or bool(SPOKEN_AMOUNT.search(line) or bare)


def _tidied(text: str) -> str:
    """The line without bullet, leaders, addresses, strokes between cells, temperatures and times."""
    line = plain(LINK.sub(" ", text.replace("\t", " | "))).strip(" |").replace("(s)", "s")
    line = _LEADERS.sub(" ", line)
    line = _BULLET.sub("", line, count=1).strip()
    line = _BETWEEN.sub(r"\g<one> - ", _CELLS.sub(r"\g<number> ", BY_MASS.sub("", line)))
    without = ASIDE.sub(" ", line)
    has_amount = any(hit["unit"] for hit in _AMOUNT.finditer(without))
    return " ".join(without.split()) if has_amount and not _DOING.match(line) else line


_PLACE = re.compile(r"(?i)\b(?:phase|part|stage|step|no\.?|number)\s+\d+\b")
_ENDS_SO = re.compile(
    rf"(?i)(?<!\bto)(?<!\bat)(?<!\bfor)(?<!below)(?<!under)(?<!until)(?<!step)(?<!phase)\s{NUMBER}$"
)


def _without_phase(line: str) -> tuple[str, bool]:
    """The line after "Phase A:", and whether it is a heading alone."""
    if not _PHASE.match(line):
        return line, False
    before = _PHASE_BEFORE.match(line)
    measured = [hit for hit in _AMOUNT.finditer(line) if hit["unit"]]
    if not measured:
        after = line[before.end() :] if before else ""
        says = re.search(r"\d", _PLACE.sub(" ", ASIDE.sub(" ", after))) or SPOKEN_AMOUNT.search(after)
        if re.search(r"[^\W\d_]{2,}", after) and (says or TO_100.search(after) or AS_NEEDED.search(after)):
            return after, False
        return line.strip(" :#=*-"), True
    if before is None or measured[0].start() < before.end():
        return line, False
    after = line[before.end() :]
    if _name(after, [hit.span() for hit in _AMOUNT.finditer(after)]):
        return after, False
    return before.group(0).strip(" :#=*-.)|"), True


def _rest(blank: RecipeLine, line: str, measured: list[re.Match[str]]) -> RecipeLine | None:
    """A line that takes what is left: to 100, to so many grams of the whole, as needed."""
    one = replace(blank, kind="line", is_rest=True)
    to_100 = TO_100.search(line)
    if to_100 is not None:
        one = replace(one, name=_name(line, [to_100.span()]))
        beside = f"{line[: to_100.start()]} \x00 {line[to_100.end() :]}"
        is_more = re.search(r"\d", NUMBERED_NAME.sub("", beside)) or says_many(beside)
        return replace(one, asks="It has an amount and is to 100 as well. Which?") if is_more else one
    is_size = len(measured) == 1 and kind_of_word(measured[0]["unit"]) in {"mass", "volume"}
    whole = TO_WHOLE.search(line[: measured[0].start()]) if is_size and not _DOING.match(line) else None
    if whole and re.search(r"[^\W\d_]", line[: whole.start()]):
        hit = measured[0]
        name = _name(line, [(whole.start(), hit.end())])
        is_fill = WATERY.search(name) and not SHORTENED.search(line) and not says_many(line[: whole.start()])
        if not is_fill and not re.match(r"100\b", hit["first"]):
            asks = f"“{line[whole.start() : hit.end()].strip()}”: is that the whole, or how much goes in?"
            return replace(one, is_rest=False, name=name, asks=asks, may_mean=("g",))
        count = read_count(hit["first"], hit["second"], _between(hit))
        size = None if isinstance(count, Doubt) else Amount(count, _key(hit["unit"]), hit.group(0).strip())
        note = f"The whole comes to {hit.group(0).strip()}, it says."
        return replace(one, name=name, notes=(note,), whole=size)
    needed = AS_NEEDED.search(line)
    if needed is not None:
        asks = "As needed: how much is it? If it takes what is left, write “to 100 %” behind it."
        return replace(one, is_rest=False, name=_name(line, [needed.span()]), asks=asks, may_mean=("g",))
    return None


def _trap(text: str, line: str) -> str:
    """What is asked of a line whose amount isn't how much goes in."""
    if re.match(r"\s*\u2212\s?\d", text):
        return "A minus stands before it. How much goes in?"
    for pattern, asks in (*ASKED, *ASKED_TOO):
        if pattern.search(line):
            return asks
    spaced = _SPACED.search(line)
    if spaced and not re.search(r"(?i)polysorbate\s+$", line[: spaced.start()]):
        return f"“{spaced.group(0).strip()}” may be one number or two. How much is it?"
    return ""


def _is_of_the_name(line: str, hit: re.Match[str]) -> bool:
    """Whether a number belongs to a name, not to an amount."""
    if hit["unit"]:
        return _key(hit["unit"]) not in WORDS and bool(PREPARED.search(line[: hit.start()]))
    after = line[hit.end("first") :]
    amount = _AMOUNT.match(after.lstrip())
    is_next = bool(amount and amount["unit"])
    return not hit["second"] and is_of_the_name(line[: hit.start()], hit["first"], after, is_next=is_next)


def _is_prose(line: str) -> bool:
    words = line.split()
    return len(words) > 2 * MOST_WORDS and line.endswith((".", "!"))


def _key(typed: str | None) -> str:
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
    key = _key(typed)
    return kind_of(key) if key in WORDS else ""


def _without_number(blank: RecipeLine, line: str) -> RecipeLine:
    if SPOKEN_AMOUNT.search(line):
        return replace(blank, kind="line", name=line, asks="How much? Write it in figures.", may_mean=("g",))
    if line.endswith(":") or line.startswith(("#", "=")) or (line.isupper() and len(line) <= 2):
        return replace(blank, kind="heading", name=line.strip(" :#=*-"))
    if (len(line.split()) <= MOST_WORDS and not line.endswith((".", "!", "?"))) or UNKNOWN_UNIT.search(line):
        asks = "How much? The line gives no amount."
        return replace(blank, kind="line", name=_name(line, []), asks=asks, may_mean=("g",))
    return blank


def _with_numbers(
    one: RecipeLine, line: str, found: list[re.Match[str]], measured: list[re.Match[str]]
) -> RecipeLine:
    if ABOUT.search(line):
        one = replace(one, notes=("The recipe says about.",))
    amounts = []
    for hit in measured or found:
        count = read_count(hit["first"], hit["second"], _between(hit))
        if isinstance(count, Doubt):
            return replace(one, asks=count.sentence)
        if _is_two_numbers(line, hit):
            return replace(
                one, asks=f"“{hit.group(0).strip()}” may be a number and an amount. How much is it?"
            )
        amount = Amount(count, _key(hit["unit"]), hit.group(0).strip())
        if _is_no_fraction(hit["first"], amount.unit):
            return replace(one, asks=f"“{amount.typed}”: a fraction, or one of the two?")
        amounts.append(amount)
    if measured and any(hit not in measured for hit in found):
        return replace(one, asks="There is a number beside the measure. What do they weigh together?")
    if HEAPED.search(line) and any(a.unit in WORDS and kind_of(a.unit) == "volume" for a in amounts):
        return replace(one, amounts=tuple(amounts), asks="Heaped, rounded or scant: what does it weigh?")
    if (
        len(measured) == 2
        and len({kind_of_word(hit["unit"]) for hit in measured}) == 2
        and _names_apart(line, measured)
    ):
        return replace(one, asks="Two amounts, and words on both sides. Are they of two ingredients?")
    settled = _settle(one, *_added(line, amounts, measured))
    if settled.asks:
        return settled
    asks, may_mean = left_over(line, [hit.span() for hit in measured or found], settled.amounts)
    return replace(settled, asks=asks, may_mean=may_mean) if asks else settled


STEPS_DOWN = {("lb", "oz"): 16, ("kg", "g"): 1000, ("l", "ml"): 1000}
"""So many of the second make one of the first: "1 lb 4 oz" is one amount."""


def _added(line: str, amounts: list[Amount], measured: list[re.Match[str]]) -> tuple[list[Amount], list[str]]:
    """The amounts with "1 lb 4 oz" made one, and what stands between those that are left."""
    joined, parted = amounts[:1], list[str]()
    for amount, (before, after) in zip(amounts[1:], pairwise(measured), strict=False):
        between = line[before.end() : after.start()]
        last = joined[-1]
        size = STEPS_DOWN.get((last.unit, amount.unit), 0)
        if re.fullmatch(r"\s*,?\s*(?:and\s)?", between) and last.count.is_whole and amount.count.high < size:
            low, high = (last.count.low + end / size for end in (amount.count.low, amount.count.high))
            joined[-1] = Amount(Count(low, high), last.unit, f"{last.typed} {amount.typed}")
            continue
        joined.append(amount)
        parted.append(between)
    return joined, parted


def _is_two_numbers(line: str, hit: re.Match[str]) -> bool:
    """Whether a number may end a name and another begin the amount: "Polysorbate 20 - 30 g", "No. 165 1/2 tsp"."""
    before = ABOUT.sub("", line[: hit.start()])
    if NUMBERED.search(before):
        return bool(hit["second"]) or " " in hit["first"]
    mixed = re.match(r"\d{2,}\s", hit["first"])
    return bool(mixed and re.search(r"\w", before))


def _is_no_fraction(typed: str, unit: str) -> bool:
    """Whether "5/6" hardly is a fraction: halves, thirds and such of a spoon are, five sixths of a drop aren't."""
    _, stroke, under = typed.rpartition("/")
    if not stroke:
        return False
    usual = (
        {2} if unit == "drop" else {2, 3, 4} if unit in {*METRIC, "%", "grain"} else {2, 3, 4, 5, 6, 8, 16}
    )
    return int(under) not in usual


def _between(hit: re.Match[str]) -> str:
    if hit["second"] is None:
        return ""
    return hit.group(0)[len(hit["first"]) : hit.start("second") - hit.start()]


def _settle(one: RecipeLine, amounts: list[Amount], parted: list[str]) -> RecipeLine:
    """Which of the amounts count. parted: what stands between each and the next."""
    if len(amounts) == 1:
        return _single(one, amounts[0])
    unsure = next((amount for amount in amounts if not amount.unit or amount.unit.startswith("?")), None)
    if unsure is not None:
        return replace(
            one, asks=f"Several amounts, one of them unclear ({unsure.typed}). What does it weigh?"
        )
    if all(re.fullmatch(r"\s*(?:\+|plus|and|&)\s*", between) for between in parted):
        return replace(one, amounts=tuple(amounts))
    if (
        len(amounts) == 2
        and amounts[0].unit == amounts[1].unit
        and re.fullmatch(r"\s*(?:-|to)\s*", parted[0])
    ):
        low, high = amounts[0].count.low, amounts[1].count.high
        if low < high:
            typed = f"{amounts[0].typed} to {amounts[1].typed}"
            return replace(one, amounts=(Amount(Count(low, high), amounts[0].unit, typed),))
    if len(amounts) == 2 and _says_the_same(parted[0]):
        chosen, note = _one_of_two(*amounts)
        if chosen is not None:
            return replace(one, amounts=(chosen,), notes=(*one.notes, note))
    several = replace(one, asks="Several amounts. Which counts, or what do they weigh together?")
    if {kind_of(amount.unit) for amount in amounts} == {"share", "mass"} and len(amounts) == 2:
        share, mass = sorted(amounts, key=lambda amount: kind_of(amount.unit) != "share")
        return replace(several, both=(share, mass))
    return several


def _one_of_two(left: Amount, right: Amount) -> tuple[Amount | None, str]:
    """One amount said in two measures: the mass before a volume, the metric one of two that agree."""
    by_kind = {kind_of(amount.unit): amount for amount in (right, left)}
    if by_kind.keys() == {"mass", "volume"}:
        mass, volume = by_kind["mass"], by_kind["volume"]
        if mass.unit == "oz" and volume.unit in METRIC:
            return volume, f"{volume.typed} counts; {mass.typed} are fluid ounces or a weight."
        if mass.unit == "oz" and _agree(replace(mass, unit="fl oz"), volume):
            return None, ""
        return (mass, f"The mass counts, not {volume.typed}.") if _may_weigh(mass, volume) else (None, "")
    first, second = sorted((left, right), key=lambda amount: amount.unit not in METRIC)
    if (
        len(by_kind) == 1
        and by_kind.keys() <= {"mass", "volume"}
        and first.unit in METRIC
        and _agree(first, second)
    ):
        return first, f"{first.typed} counts; {second.typed} is the same, rounded or by another cup or spoon."
    return None, ""


LIGHTEST, HEAVIEST = Fraction(1, 10), Fraction(3)
"""g/ml: from a fluffy powder to a heavy one; what lies beyond is no one amount in two measures. Chosen here."""


def _may_weigh(mass: Amount, volume: Amount) -> bool:
    """Whether a mass may be that of a volume, in some region's measures."""
    grams, millilitres = (
        [Fraction(size.low) for (key, _), size in measures().items() if key == amount.unit]
        for amount in (mass, volume)
    )
    return any(
        LIGHTEST * volume.count.low * ml <= mass.count.low * g <= HEAVIEST * volume.count.high * ml
        for g, ml in product(grams, millilitres)
    )


def _names_apart(line: str, measured: list[re.Match[str]]) -> bool:
    """Whether words stand on more than one side of two amounts: they may be of two materials."""
    before, after = line[: measured[0].start()], line[measured[1].end() :]
    between = line[measured[0].end() : measured[1].start()]
    named = [bool(_NAMING.search(_NO_NAME.sub(" ", side))) for side in (before, between, after)]
    return sum(named) > 1


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
        [Fraction(size.low) for (key, _), size in measures().items() if key == amount.unit]
        for amount in (left, right)
    ]
    for one_size, other_size in product(*sizes):
        one, other = left.count.low * one_size, right.count.low * other_size
        may_miss = _off_by(left) * one_size + _off_by(right) * other_size
        if left.unit in METRIC and right.unit in METRIC:
            may_miss = ZERO
        if abs(one - other) <= min(may_miss, ROUNDED * max(one, other)):
            return True
    return False


def _off_by(amount: Amount) -> Fraction:
    """By how much the number may have been rounded, in its own measure: "4.2" by 0.05, "3 1/2" by a quarter."""
    under = re.search(r"\d/(\d+)", amount.typed)
    if under:
        return LAST_FIGURE / int(under.group(1))
    decimals = re.match(r"\D*\d+[.,](\d+)", amount.typed)
    return LAST_FIGURE / 10 ** len(decimals.group(1)) if decimals else LAST_FIGURE


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
    if choices := CAPITALS.get(word) or UNSURE.get(word):
        return replace(one, amounts=(amount,), asks=f"“{word}” can be several measures.", may_mean=choices)
    return replace(one, asks=f"How much is “{amount.typed}”? Weigh it once.", may_mean=("g",))


def _name(line: str, taken: list[tuple[int, int]]) -> str:
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
    line = re.sub(r"(?i)^of\s+(?:the\s+)?", "", line)
    line = re.sub(r"\s*[|;]\s*", " ", re.sub(r"\s*,(?:\s*,)+", ",", line))
    return " ".join(line.split()).strip(' ,;:/=|+~.-*_@≈<>→➜"“”„«»')
