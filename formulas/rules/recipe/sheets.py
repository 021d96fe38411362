"""A spreadsheet's rows as lines of a recipe: the columns for name, amount and phase, where heads tell them.

A head that speaks of money, of a limit, of a strength or of a stock is never taken for an amount. Where more
than one column may be the amount, or none, there is a question instead of columns, and the maker says which.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from formulas.rules.lettering import letter
from formulas.rules.recipe.heads import (
    NAME_HEADS,
    OTHER_PHASE_HEADS,
    PHASE_HEADS,
    UNIT_COLUMN_HEADS,
    UNIT_OF,
    Head,
    folded,
    head_words,
    read_head,
)
from formulas.rules.recipe.measures import UNSURE, measure
from formulas.rules.recipe.numbers import SPAN, Doubt, plain, read_number
from formulas.rules.recipe.traps import WHOLE


class PercentCell(Decimal):
    """A figure that its spreadsheet shows as percent, in percent."""


Cell = str | Decimal | None
_TOTAL = re.compile(r"(?:sub|grand|zwischen)?-?\s?(?:total\w*|sum|summe|somme|suma|somma|gesamt\w*)\b")
_BARE = re.compile(rf"{SPAN}\s*")
_FIGURE = re.compile(r"\W*\d[\d.,'’/\s–-]*[^\d]{0,12}|[½¼¾⅓⅔⅛][^\d]{0,12}")
_MINUS = r"[-\u2212\u2013]\s*[\d.,]"
HEADS_WITHIN = 30
METRIC = frozenset({"mg", "g", "kg"})
OFF_BY = Fraction(1, 2)
"""Percent by which the percents of a whole sheet may miss 100 by rounding."""
APART = Fraction(1, 10)
"""How far one mass said in two measures may part by rounding."""
OUNCES = 16
"""Of a pound."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A column of amounts. unit: of its bare figures, as a line of a recipe says it; "" where unknown."""

    index: int
    unit: str


@dataclass(frozen=True, slots=True)
class Columns:
    """Where things stand. row: the heads, None without any.

    amounts: several are one amount together (pounds and ounces), or stand in turn, one filled in each row.
    units: the column that names each amount's measure. same: columns that say the same amount over again.
    """

    row: int | None
    name: int
    amounts: tuple[Measured, ...]
    phase: int | None = None
    units: int | None = None
    same: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """Why no column is taken for the amount, and what the heads tell all the same."""

    asks: str
    row: int | None = None
    name: int | None = None
    phase: int | None = None


@dataclass(frozen=True, slots=True)
class _Figure:
    """A cell's figure in its unit; misses: half of the last figure written."""

    value: Fraction
    misses: Fraction
    unit: str


def sheet_text(rows: Sequence[Sequence[Cell]], columns: Columns | None) -> str:
    """The rows as text, a line each. Without columns every row's cells stand side by side."""
    if columns is None:
        return "\n".join(line for row in rows if (line := _side_by_side(row)))
    lines: list[str] = []
    phase = ""
    now = columns
    for row in _body(rows, columns.row):
        name, amount = at(row, columns.name), _amount(row, now)
        if not amount and (own := _own_measure(name)):
            same = all(one.unit == own for one in columns.amounts)
            now = columns if same else replace(columns, amounts=tuple(_bare(one) for one in columns.amounts))
        if columns.phase is not None and (own := at(row, columns.phase)) and own != phase:
            phase = own
            lines.append(own if own.casefold().startswith(PHASE_HEADS) else f"Phase {own}")
        if not name and not amount:
            if rest := " ".join(said(cell) for cell in row if said(cell) and said(cell) != phase):
                lines.append(rest)
            continue
        lines.append(_line(name, amount))
    return "\n".join(lines)


def _own_measure(name: str) -> str:
    """The measure that a row without an amount names for those below it, "Cool down (%)" say; "" for none."""
    found = re.search(r"[(\[]\s*(?:in\s+)?(%|[^\W\d_]+)(?=\W)", name)
    word = folded(found[1]) if found else ""
    return UNIT_OF.get(word, word if word in UNSURE else "") or (
        "?" if re.search(r"%\s*(?:of|on)\b", name) else ""
    )


def _bare(one: Measured) -> Measured:
    return replace(one, unit="")


def _side_by_side(row: Sequence[Cell]) -> str:
    """A row as it stands; a figure below zero before the rest, where its minus is seen."""
    cells = [said(cell) for cell in row if said(cell)]
    below = [cell for cell in cells if re.match(_MINUS, cell)]
    if not below:
        return " ".join(cells)
    return _line(" ".join(cell for cell in cells if cell is not below[0]), below[0])


def _body(rows: Sequence[Sequence[Cell]], head: int | None) -> list[Sequence[Cell]]:
    """The rows below the heads, without the same heads over again."""
    if head is None:
        return list(rows)
    where = _where(rows[head])
    return [row for row in rows[head + 1 :] if not where or _where(row) != where]


def _line(name: str, amount: str) -> str:
    """Name and amount as one line: a minus goes before everything, a fraction is kept off a name's number."""
    if re.match(_MINUS, amount):
        return f"\u2212{amount[1:].strip()} {name}".strip()
    between = " | " if re.search(r"\d$", name) and re.match(r"[\d\s]*[/½¼¾⅓⅔⅛]|\d+\s+\d+/", amount) else " "
    return between.join(part for part in (name, amount) if part)


def _amount(row: Sequence[Cell], columns: Columns) -> str:
    """What a row says of its amount, with the measure that its head or the column of measures names."""
    found = []
    for one in columns.amounts:
        typed = at(row, one.index)
        unit = one.unit or (at(row, columns.units) if columns.units is not None else "")
        found.append(f"{typed} {unit}".strip() if _BARE.fullmatch(plain(typed).lstrip("- ")) else typed)
    if [one.unit for one in columns.amounts] == ["lb", "oz"] and found[1] and not found[0]:
        found[0] = "0 lb"
    return " ".join(part for part in found if part)


def find_columns(rows: Sequence[Sequence[Cell]]) -> Columns | Question | None:
    """The columns that the heads tell, or what is to be asked; None where the rows are lines of text.

    Nothing raises. A column is the amount only where no other one may be.
    """
    row = _head_row(rows)
    if row is None:
        return _without_heads(rows)
    heads = [head_words(said(cell)) for cell in rows[row]]
    names = [heads.index(head) for head in NAME_HEADS if head in heads]
    phase = next((heads.index(head) for head in (*PHASE_HEADS, *OTHER_PHASE_HEADS) if head in heads), None)
    body = _body(rows, row)
    offers: list[tuple[int, Head]] = []
    for index, cell in enumerate(rows[row]):
        if (
            index in names
            or index == phase
            or not any(re.search(r"[\d½¼¾⅓⅔⅛]", at(one, index)) for one in body)
        ):
            continue
        if (head := read_head(said(cell))).kind in {"sure", "unsure"}:
            offers.append((index, head))
    question = Question(_asks(rows[row], offers), row, names[0], phase)
    if doubt := _out_of_shape(rows, row, heads):
        return replace(question, asks=doubt)
    others = [number for number, one in enumerate(rows) if number > row and _where(one)]
    if other := next((number for number in others if _where(rows[number]) != _where(rows[row])), None):
        asks = f"Rows {row + 1} and {other + 1} hold different heads. Which column is the amount in all rows?"
        return Question(asks, row, names[0], phase)
    taken = _choose(offers, names[0], body)
    if taken is None:
        return question
    amounts, same = taken
    return _with_units(Columns(row, names[0], amounts, phase, same=same), rows[row], body) or question


def _out_of_shape(rows: Sequence[Sequence[Cell]], row: int, heads: Sequence[str]) -> str:
    """What is asked where the cells don't stand under their heads: two recipes side by side, figures cut by a comma."""
    twice = next((head for head in NAME_HEADS if heads.count(head) > 1), "")
    if twice:
        count = f"{heads.count(twice)} columns are called “{twice}”"
        return f"{count}: one recipe beside another? Read one of them, then the other."
    wide = max((index + 1 for index, head in enumerate(heads) if head), default=0)
    for number, cells in enumerate(rows):
        if number > row and any(_is_figure(cells, index) for index in range(wide, len(cells))):
            return (
                f"Row {number + 1} goes on past the last head. Where a comma stands within figures, save the sheet "
                "with semicolons between its cells, or as XLSX."
            )
    return ""


def _head_row(rows: Sequence[Sequence[Cell]]) -> int | None:
    """The row of the heads: one that names an ingredient and surely an amount, else the next best."""
    found: dict[str, int] = {}
    for number, row in enumerate(rows[:HEADS_WITHIN]):
        heads = [head_words(said(cell)) for cell in row]
        names = {index for index, head in enumerate(heads) if head in NAME_HEADS}
        others = [cell for index, cell in enumerate(row) if index not in names and said(cell)]
        if not names or not others or any(_FIGURE.fullmatch(said(cell)) for cell in others):
            continue
        kinds = {read_head(said(cell)).kind for cell in others}
        best = "sure" if "sure" in kinds else "some" if kinds - {"other"} else "none"
        found.setdefault(best, number)
    return next((found[best] for best in ("sure", "some", "none") if best in found), None)


def _where(row: Sequence[Cell]) -> tuple[tuple[int, str], ...]:
    """The names, amounts and measures that a row of heads surely tells, by place; empty for any other row."""
    heads = [head_words(said(cell)) for cell in row]
    names = [(index, "name") for index, head in enumerate(heads) if head in NAME_HEADS]
    read = [(index, read_head(said(cell))) for index, cell in enumerate(row)] if names else []
    sure = [(index, head.unit or "?") for index, head in read if head.kind == "sure"]
    return tuple(sorted(names + sure)) if names and sure else ()


def _without_heads(rows: Sequence[Sequence[Cell]]) -> Question | None:
    """Lines of text where one column at most holds figures, under no word that is no amount's."""
    wide = max((len(row) for row in rows), default=0)
    figures = [index for index in range(wide) if any(_is_figure(row, index) for row in rows)]
    if wide < 2 or not figures:
        return None
    tops = [at(row, index) for row in rows[:HEADS_WITHIN] for index in figures]
    is_no_amount = any(
        read_head(top).kind == "never" for top in tops if len(top) <= 40 and not _FIGURE.fullmatch(top)
    )
    if len(figures) == 1 and not is_no_amount:
        return None
    count = "1 column holds" if len(figures) == 1 else f"{len(figures)} columns hold"
    return Question(f"{count} figures, and no head says which are the amounts. Which column is it?")


def _asks(heads: Sequence[Cell], offers: Sequence[tuple[int, Head]]) -> str:
    if not offers:
        return "No head says which column holds the amounts. Which one is it?"
    which = ", ".join(place(heads, index) for index, _ in offers)
    if len(offers) == 1:
        return f"1 column may be the amount: {which}. Is it that, or another one?"
    return f"{len(offers)} columns may be the amount: {which}. Which one goes into the recipe?"


def place(heads: Sequence[Cell], index: int) -> str:
    """How a column is called: by its letter and its head."""
    title = at(heads, index)
    return f"{letter(index)} “{title if len(title) <= 40 else title[:39] + '…'}”" if title else letter(index)


Taken = tuple[tuple[Measured, ...], tuple[int, ...]]


def _choose(offers: Sequence[tuple[int, Head]], name: int, body: Sequence[Sequence[Cell]]) -> Taken | None:
    """The columns of the amount and those that say the same; None where it isn't certain."""
    sure = [Measured(index, head.unit) for index, head in offers if head.kind == "sure"]
    if len(offers) == 1:
        return (tuple(sure), ()) if sure else None
    if not offers:
        return None
    everyone = [Measured(index, head.unit) for index, head in offers]
    rows = [row for row in body if at(row, name) and not _is_total(at(row, name))]
    shares = [one for one in everyone if one.unit == "%"]
    others = [one for one in everyone if one.unit != "%"]
    if len(shares) == 1 and all(_same_shares(shares[0], one, rows) for one in others):
        return (shares[0],), tuple(one.index for one in others)
    if len(sure) < len(everyone):
        return None
    first, *rest = sorted(sure, key=lambda one: (one.unit not in METRIC, _coarse(one, rows)))
    is_same = all(_same_mass(first, one, rows) for one in rest)
    pounds = sorted(sure, key=lambda one: one.unit != "lb")
    are_added = [one.unit for one in pounds] == ["lb", "oz"] and all(_is_pounds(row, pounds) for row in rows)
    if is_same != are_added:
        return (tuple(pounds), ()) if are_added else ((first,), tuple(one.index for one in rest))
    in_turn = (
        len(sure) == 2
        and all(one.unit for one in sure)
        and all(sum(bool(at(row, one.index)) for one in sure) <= 1 for row in body)
    )
    return (tuple(sure), ()) if in_turn and not is_same else None


def _with_units(columns: Columns, heads: Sequence[Cell], body: Sequence[Sequence[Cell]]) -> Columns | None:
    """With the column of measures beside the amount's; None where it is in doubt whose they are."""
    named = [index for index, cell in enumerate(heads) if head_words(said(cell)) in UNIT_COLUMN_HEADS]
    named = [index for index in named if any(at(row, index) for row in body)]
    if not named:
        return columns
    if len(named) > 1 or len(columns.amounts) > 1 or abs(named[0] - columns.amounts[0].index) != 1:
        return None
    unit = columns.amounts[0].unit
    if not unit:
        return replace(columns, units=named[0])
    words = {folded(word) for row in body if (word := at(row, named[0]))}
    return columns if all(UNIT_OF.get(word) == unit for word in words) else None


def _is_total(name: str) -> bool:
    return bool(WHOLE.match(name) or _TOTAL.match(folded(name)))


def _is_figure(row: Sequence[Cell], index: int) -> bool:
    """Whether a cell holds a number, with a word or a sign beside it or alone."""
    if index < len(row) and isinstance(row[index], Decimal):
        return True
    return bool(_FIGURE.fullmatch(at(row, index)))


def _figure(row: Sequence[Cell], one: Measured) -> _Figure | None:
    """One number of a cell with its measure; None where there isn't one, or it reads in two ways."""
    cell = row[one.index] if one.index < len(row) else None
    typed = said(cell)
    hit = re.fullmatch(r"(?P<number>[\d.,'/\s]*\d)\s*(?P<unit>[^\d]*)", plain(typed))
    if hit is None:
        return None
    word = folded(hit["unit"]).strip(" .")
    unit = UNIT_OF.get(word, "?") if word else one.unit
    exact = isinstance(cell, Decimal)
    if not exact and not re.fullmatch(SPAN, hit["number"]):
        return None
    number = Fraction(hit["number"]) if exact else read_number(hit["number"])
    if isinstance(number, Doubt) or unit == "?":
        return None
    decimals = re.search(r"[.,](\d+)$", hit["number"])
    return _Figure(number, Fraction(1, 2 * 10 ** len(decimals[1] if decimals else "")), unit)


def _pairs(left: Measured, right: Measured, rows: Sequence[Sequence[Cell]]) -> list[tuple[_Figure, _Figure]]:
    """Both figures of every row; nothing where one of them is missing or a column changes its measure."""
    found = []
    for row in rows:
        if not at(row, left.index) and not at(row, right.index):
            continue
        one, other = _figure(row, left), _figure(row, right)
        if one is None or other is None or bool(one.value) != bool(other.value):
            return []
        found.append((one, other))
    units = {(one.unit, other.unit) for one, other in found}
    return found if len(units) == 1 else []


def _same_shares(share: Measured, other: Measured, rows: Sequence[Sequence[Cell]]) -> bool:
    """Whether percents that make 100 and another column say the same shares, but for rounding."""
    pairs = _pairs(share, other, rows)
    if not pairs or pairs[0][0].unit != "%":
        return False
    together = sum((one.value for one, _ in pairs), Fraction(0))
    if abs(together - 100) > OFF_BY:
        return False
    whole = sum((two.value for _, two in pairs), Fraction(0)) / together
    return all(abs(two.value - one.value * whole) <= two.misses + one.misses * whole for one, two in pairs)


def _same_mass(one: Measured, other: Measured, rows: Sequence[Sequence[Cell]]) -> bool:
    """Whether two columns say the same masses in every row, but for rounding."""
    pairs = _pairs(one, other, rows)
    if not pairs:
        return False
    sizes = [measure(figure.unit, "any") if figure.unit else None for figure in pairs[0]]
    if any(size is None or size.kind != "mass" for size in sizes):
        return False
    left, right = (Fraction(size.low) for size in sizes if size)
    for a, b in pairs:
        apart = abs(a.value * left - b.value * right)
        if apart > a.misses * left + b.misses * right or apart > APART * max(a.value * left, b.value * right):
            return False
    return True


def _coarse(one: Measured, rows: Sequence[Sequence[Cell]]) -> Fraction:
    """Grams by which a column's figures may be off together as written; no more than a rank beyond masses."""
    found = [figure for row in rows if (figure := _figure(row, one))]
    size = measure(one.unit, "any") if one.unit else None
    return sum((figure.misses for figure in found), Fraction(0)) * Fraction(size.low if size else 1)


def _is_pounds(row: Sequence[Cell], pounds: Sequence[Measured]) -> bool:
    """Whether whole pounds and less than a pound of ounces stand in a row, or one of them, or none."""
    whole, ounces = (_figure(row, one) for one in pounds)
    if (at(row, pounds[0].index) and whole is None) or (at(row, pounds[1].index) and ounces is None):
        return False
    if ounces is not None and (ounces.value >= OUNCES or ounces.unit != "oz"):
        return False
    return whole is None or (whole.unit == "lb" and (whole.value.denominator == 1 or ounces is None))


def told(rows: Sequence[Sequence[Cell]], columns: Columns) -> str:
    """From which columns the amounts were read, which say the same, and which figures were passed over."""
    heads = rows[columns.row] if columns.row is not None else ()
    read = [one.index for one in columns.amounts]
    which = " and ".join(place(heads, index) for index in read)
    units = " and ".join(dict.fromkeys(one.unit for one in columns.amounts if one.unit))
    column = "column" if len(read) == 1 else "columns"
    says = f"The amounts stand in {column} {which}{f', in {units}' if units else ''}."
    if columns.units is not None:
        says += f" Their measures stand in {place(heads, columns.units)}."
    if columns.same:
        says += f" The same is said in {', '.join(place(heads, index) for index in columns.same)}."
    body = _body(rows, columns.row)
    known = {*read, columns.name, columns.phase, columns.units, *columns.same}
    wide = max((len(row) for row in rows), default=0)
    over = [
        index for index in range(wide) if index not in known and any(_is_figure(row, index) for row in body)
    ]
    return f"{says} Not read: {', '.join(place(heads, index) for index in over)}." if over else says


def bare_figure(rows: Sequence[Sequence[Cell]], columns: Columns) -> str:
    """The first amount that no measure is known for; empty where each has one."""
    body = _body(rows, columns.row)
    found = (_amount(row, columns) for row in body)
    return next((text for text in found if text and _BARE.fullmatch(plain(text).lstrip("- "))), "")


def at(row: Sequence[Cell], index: int) -> str:
    """What stands in a column; empty where the row ends before it."""
    return said(row[index]) if index < len(row) else ""


def said(cell: Cell) -> str:
    """A cell as text in one line."""
    if cell is None:
        return ""
    if isinstance(cell, PercentCell):
        return f"{cell.normalize():f} %"
    return f"{cell.normalize():f}" if isinstance(cell, Decimal) else " ".join(cell.split())
