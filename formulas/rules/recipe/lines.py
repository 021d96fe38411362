"""One line of a recipe: an amount and a name, a heading, or words. Every quantity read is one that stands there."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from html import unescape

from formulas.rules.recipe.amounts import AMOUNT, UNIT, between_of, key_of, kind_of_word, name_of
from formulas.rules.recipe.beside import (
    DOING,
    HOW_MUCH,
    MOST_WORDS,
    OWN_LINE,
    is_heading,
    is_prose,
    is_step,
    said_beside,
    tells_an_amount,
    without_phase,
)
from formulas.rules.recipe.leftover import PREPARED, UNKNOWN_UNIT, is_of_the_name, left_over
from formulas.rules.recipe.listed import is_list, unless_listed
from formulas.rules.recipe.measures import WORDS, kind_of
from formulas.rules.recipe.numbers import NUMBER, Doubt, plain, read_count
from formulas.rules.recipe.said import Amount, RecipeLine
from formulas.rules.recipe.settling import METRIC, added, names_apart, settle
from formulas.rules.recipe.strays import is_foreign
from formulas.rules.recipe.tongues import WATERY, folded, may_speak_of_amounts, says
from formulas.rules.recipe.traps import (
    ABOUT,
    AS_NEEDED,
    ASIDE,
    ASKED,
    BALANCED,
    BALANCED_LINE,
    BY_MASS,
    HEAPED,
    LINK,
    NUMBERED,
    NUMBERED_NAME,
    TO_100,
    TO_WHOLE,
)
from formulas.rules.recipe.twice import told_apart

LONGEST_LINE = 600
"""Characters up to which a line is read; what is longer is a passage of words, and is not searched for amounts."""
IN_FIGURES = "How much? Write it in figures."
_BULLET = re.compile(
    r"^(?:[•·▢☐*✓✔]+|\[[ xX]?\]|-+(?=\s|\D)|\(?\d{1,2}[.)](?=\s+\S)|\(?[A-Za-z]\)(?=\s+\S)|[A-Z]\.(?=\s+[A-Z0-9]))\s*"
)
_CELLS = re.compile(rf"(?P<number>(?<![\w.,]){NUMBER})\s*[|;]\s*(?=(?i:{UNIT})(?!\w))")
_LEADERS = re.compile(
    r"\s*(?:\.{3,}|…+|_{2,}|·{2,}|-{3,}|={2,})\s*|(?:(?<=\s)\.\s+){2,}\.?\s*|\s\.\s+\.(?=\d)\s*"
)
_ODD_POINT = re.compile(r"(?i)(?:^|\s)·\d|\s\.\s+\d|\bpoint\s+\d")
_BETWEEN = re.compile(rf"(?i)\b(?:between|from)\s+(?P<one>{NUMBER})\s+(?:and|to)\s+(?=\d|[.,]\d)")
_RANGE_OR_NAME = re.compile(r"(?:[^\W_]\)?[\s-]*|^\W*)\x00(?:\s+-\s*|-\s+)$")
"""A range behind a word, whose number its low end may be, or one that begins a line, where a count may stand."""
_ALL_OF_A_KIND = re.compile(
    r"\W*(?:oils|waxes|butters|fats|liquids|powders|ole|fette|huiles|beurres|aceites|oli|olien)\W*"
)
_SPACED = re.compile(
    rf"(?<![\d.,/])(?<!(?i:polysorbate)\s)\d{{1,3}}(?:\s\d{{3}})+(?:[.,]\d+)?\s*-?\s*(?:(?i:{UNIT})(?!\w))"
)


def read_recipe(text: str, without: Collection[int] = ()) -> tuple[RecipeLine, ...]:
    """All lines that say something. without: numbers of lines that were left out, a title say, and decide nothing."""
    rows = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    lines = [read_line(line, number) for number, line in rows]
    if not is_list([line for _, line in rows]):
        lines = [unless_listed(line) for line in lines]
    if len(lines) > 1 and lines[0].asks in {HOW_MUCH, IN_FIGURES}:
        lines[0] = replace(lines[0], asks="How much? If it is the title, leave it out.")
    return tuple(told_apart(lines, without))


def read_line(text: str, number: int = 1) -> RecipeLine:
    """Read one line. Nothing raises; a line that isn't understood asks."""
    blank = RecipeLine(number, text.strip(), "words")
    if len(text) > LONGEST_LINE:
        tells = re.search(r"\d", text) or may_speak_of_amounts(text)
        return replace(blank, asks=OWN_LINE) if tells else blank
    line = _tidied(text)
    if is_heading(line):
        return replace(blank, kind="heading", name=line.strip(" :#=*-"))
    beside = said_beside(line)
    if beside is not None:
        return replace(blank, asks=beside)
    line, is_phase = without_phase(line)
    if is_phase:
        return replace(blank, kind="heading", name=line)
    found = [hit for hit in AMOUNT.finditer(line) if not _is_of_the_name(line, hit)]
    measured = [hit for hit in found if hit["unit"]]
    if rest := _rest(blank, line, measured):
        return rest
    if is_step(line):
        return blank
    if DOING.match(line) or is_prose(line):
        return replace(blank, asks=OWN_LINE if tells_an_amount(line, found) else "")
    if not found:
        return _without_number(blank, line)
    notes = tuple(f"“{said}” is taken for a temperature or a time." for said in _asides(text))
    one = replace(blank, kind="line", name=name_of(line, [hit.span() for hit in found]), notes=notes)
    if asks := _trap(text, line):
        return replace(one, asks=asks, may_mean=("g",))
    return _with_numbers(one, line, found, measured)


def _tidied(text: str) -> str:
    """The line without bullet, leaders, addresses, strokes between cells, temperatures and times."""
    line = plain(LINK.sub(" ", unescape(text).replace("\t", " | "))).strip(" |").replace("(s)", "s")
    line = _LEADERS.sub(" ", line)
    line = _BULLET.sub("", line, count=1).strip()
    line = _BETWEEN.sub(r"\g<one>-", _CELLS.sub(r"\g<number> ", BY_MASS.sub("", line)))
    without = ASIDE.sub(" ", line)
    has_amount = any(hit["unit"] for hit in AMOUNT.finditer(without))
    return " ".join(without.split()) if has_amount and not DOING.match(line) else line


def _asides(text: str) -> list[str]:
    """What was left aside of a line, to be said beside it: degrees may be a grade or a strength as well."""
    return [found.group(0).strip(" ,;()[]") for found in ASIDE.finditer(plain(text))]


def _rest(blank: RecipeLine, line: str, measured: list[re.Match[str]]) -> RecipeLine | None:
    """A line that takes what is left: to 100, to so many grams of the whole, as needed."""
    one = replace(blank, kind="line", is_rest=True)
    to_100 = TO_100.search(line)
    if to_100 is not None:
        one = replace(one, name=name_of(line, [to_100.span()]))
        beside = f"{line[: to_100.start()]} \x00 {line[to_100.end() :]}"
        if _says_more(beside):
            return replace(one, asks="It has an amount and is to 100 as well. Which?")
        if DOING.match(line):
            return replace(blank, asks=OWN_LINE)
        is_odd = BALANCED.search(to_100.group(0)) and not BALANCED_LINE.search(line)
        return replace(one, is_rest=False, asks=HOW_MUCH, may_mean=("g",)) if is_odd else one
    is_size = len(measured) == 1 and kind_of_word(measured[0]["unit"]) in {"mass", "volume"}
    whole = TO_WHOLE.search(line[: measured[0].start()]) if is_size and not DOING.match(line) else None
    if whole and re.search(r"[^\W\d_]", line[: whole.start()]):
        hit = measured[0]
        name = name_of(line, [(whole.start(), hit.end())])
        has_more = re.search(r"\w", line[hit.end() :]) or _says_more(line[: whole.start()])
        is_changed = says("other", "step").search(folded(line)) and not re.match(r"100\b", hit["first"])
        if has_more or is_changed or not WATERY.search(name):
            asks = f"“{line[whole.start() : hit.end()].strip()}”: is that the whole, or how much goes in?"
            return replace(one, is_rest=False, name=name, asks=asks, may_mean=("g",))
        count = read_count(hit["first"], hit["second"], between_of(hit))
        size = None if isinstance(count, Doubt) else Amount(count, key_of(hit["unit"]), hit.group(0).strip())
        note = f"The whole comes to {hit.group(0).strip()}, it says."
        return replace(one, name=name, notes=(note,), whole=size)
    needed = AS_NEEDED.search(line)
    if needed is not None:
        asks = "As needed: how much is it? If it takes what is left, write “to 100 %” behind it."
        return replace(one, is_rest=False, name=name_of(line, [needed.span()]), asks=asks, may_mean=("g",))
    return None


def _trap(text: str, line: str) -> str:
    """What is asked of a line whose amount isn't how much goes in."""
    if re.match(r"\s*\u2212\s?\d", text):
        return "A minus stands before it. How much goes in?"
    if _ODD_POINT.search(plain(text)):
        return "A point stands before it: a bullet, or a part of the number? How much is it?"
    for pattern, asks in ASKED:
        if pattern.search(line):
            return asks
    if spaced := _SPACED.search(line):
        return f"“{spaced.group(0).strip()}” may be one number or two. How much is it?"
    return ""


def _is_of_the_name(line: str, hit: re.Match[str]) -> bool:
    """Whether a number belongs to a name, not to an amount."""
    if hit["unit"]:
        return key_of(hit["unit"]) not in WORDS and bool(PREPARED.search(line[: hit.start()]))
    after = line[hit.end("first") :]
    amount = AMOUNT.match(after.lstrip())
    is_next = bool(amount and amount["unit"])
    return not hit["second"] and is_of_the_name(line[: hit.start()], hit["first"], after, is_next=is_next)


def _without_number(blank: RecipeLine, line: str) -> RecipeLine:
    if may_speak_of_amounts(line) or is_foreign(line):
        return replace(blank, kind="line", name=line, asks=IN_FIGURES, may_mean=("g",))
    if line.endswith(":") or line.startswith(("#", "=")) or (line.isupper() and len(line) <= 2):
        return replace(blank, kind="heading", name=line.strip(" :#=*-"))
    count = len(line.split())
    is_short = count <= MOST_WORDS and not line.endswith((".", "!", "?"))
    if is_short or (count <= MOST_WORDS // 2 and line.endswith(".")) or UNKNOWN_UNIT.search(line):
        return replace(blank, kind="line", name=name_of(line, []), asks=HOW_MUCH, may_mean=("g",))
    return blank


def _with_numbers(
    one: RecipeLine, line: str, found: list[re.Match[str]], measured: list[re.Match[str]]
) -> RecipeLine:
    if ABOUT.search(line):
        one = replace(one, notes=(*one.notes, "The recipe says about."))
    taken = [hit.span() for hit in measured or found]
    amounts = _amounts_of(line, measured or found)
    if isinstance(amounts, str):
        return replace(one, asks=amounts)
    if measured and any(hit not in measured for hit in found):
        return replace(one, asks="There is a number beside the measure. What do they weigh together?")
    if HEAPED.search(line) and any(a.unit in WORDS and kind_of(a.unit) == "volume" for a in amounts):
        return replace(one, amounts=tuple(amounts), asks="Heaped, rounded or scant: what does it weigh?")
    if len(measured) > 1 and names_apart(line, measured):
        return replace(one, asks="Several amounts, and words on both sides. Are they of several ingredients?")
    if asks := _no_name(one.name):
        return replace(one, asks=asks, may_mean=("g",))
    settled = settle(one, *added(line, amounts, measured))
    asks, may_mean = left_over(line, taken, settled.amounts or amounts)
    if not asks or (settled.asks and not settled.amounts and settled.both is None):
        return settled
    return replace(settled, amounts=(), both=None, asks=asks, may_mean=may_mean)


def _amounts_of(line: str, hits: list[re.Match[str]]) -> list[Amount] | str:
    """Each number with its measure, or the question that one of them brings up."""
    amounts = []
    for hit in hits:
        count = read_count(hit["first"], hit["second"], between_of(hit))
        typed = hit.group(0).strip()
        if isinstance(count, Doubt):
            return count.sentence
        if count.low == 0 and len(hits) == 1:
            return f"“{typed}” is nothing. How much goes in?"
        if _is_two_numbers(line, hit):
            return f"“{typed}” may be a number and an amount. How much is it?"
        amount = Amount(count, key_of(hit["unit"]), typed)
        if _is_no_fraction(hit["first"], amount.unit):
            return f"“{amount.typed}”: a fraction, or one of the two?"
        amounts.append(amount)
    return amounts


def _is_two_numbers(line: str, hit: re.Match[str]) -> bool:
    """Whether a number may end a name and another begin the amount: "Polysorbate 20 - 30 g", "No. 165 1/2 tsp"."""
    before = ABOUT.sub("", line[: hit.start()])
    if NUMBERED.search(before) and hit["first"].isdigit():
        return True
    if hit["second"] and "/" not in hit["first"] and _RANGE_OR_NAME.search(f"{before}\x00{between_of(hit)}"):
        return True
    mixed = re.match(r"\d{2,}\s", hit["first"])
    return bool(mixed and re.search(r"\w", before))


def _no_name(name: str) -> str:
    """What is asked where no ingredient is named, or all of a kind together."""
    if not re.search(r"[^\W\d_]", name):
        return "Of what? No name stands there."
    return f"“{name}”: is that a sum, or what goes in?" if _ALL_OF_A_KIND.fullmatch(folded(name)) else ""


def _says_more(text: str) -> bool:
    """Whether an amount may stand there: a figure that is of no name, or words of one."""
    return bool(re.search(r"\d", NUMBERED_NAME.sub("", text))) or may_speak_of_amounts(text)


def _is_no_fraction(typed: str, unit: str) -> bool:
    """Whether "5/6" hardly is a fraction: halves, thirds and such of a spoon are, five sixths of a drop aren't."""
    _, stroke, under = typed.rpartition("/")
    if not stroke:
        return False
    usual = (
        ({2} if " " in typed else set())
        if unit == "drop"
        else {2, 3, 4}
        if unit in {*METRIC, "%", "grain"}
        else {2, 3, 4, 5, 6, 8, 16}
    )
    return int(under) not in usual
