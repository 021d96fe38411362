"""A composition in a supplier's spreadsheet: which column is what, and what a cell says of a share.

What a cell doesn't say stays unknown, never zero; what can be read in two ways is not read.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Literal

from formulas.rules.number import EXACT_QUANTIZE, HUNDRED, ZERO, exact_sum
from formulas.rules.recipe.sheets import Cell, PercentCell, said
from formulas.rules.sheet_columns import HEADS_WITHIN, cell_at
from makers.rules.reading import Refusal, quoted, read_decimal

Role = Literal["name", "cas", "low", "typical", "high", "percent", "kind", "function"]
Unit = Literal["percent", "ppm", "fraction"]

ROLES: tuple[Role, ...] = ("name", "cas", "low", "typical", "high", "percent", "kind", "function")
FIGURES: tuple[Role, ...] = ("low", "typical", "high", "percent")
PLACES = 8
SHIFT: dict[Unit, int] = {"percent": 0, "ppm": -4, "fraction": 2}
"""Powers of ten from a figure of that unit to percent: 1 ppm is 1 mg/kg, 0.0001 %."""

_HEADS: tuple[tuple[Role, str], ...] = (
    ("cas", r"\bcas\b"),
    ("function", r"\bfunctions?\b|\bpurpose\b|\bfunktion\b|\bfonction\b"),
    ("kind", r"\bdeclared\b|\bwithin\b|\bkind\b|^type$|\bdeclaration\b"),
    ("low", r"\bmin(?:imum|\.)?(?!\w)|\blow(?:er|est)?\b|^from\b|\bat least\b|\bvon\b"),
    ("high", r"\bmax(?:imum|\.)?(?!\w)|\bhigh(?:er|est)?\b|\bupper\b|^to\b|\bat most\b|\bup to\b|\bbis\b"),
    ("typical", r"\btyp(?:ical|\.)?(?!\w)|\baverage\b|\bavg\b|\bmean\b|\bnominal\b|\btarget\b"),
    ("percent", r"%|\bper ?cent\b|\bw/w\b|\bm/m\b|\bconc\w*|\bcontent\b|\bshare\b|\brange\b|\bppm\b|\bmg/kg\b"
                r"|\bfraction\b|\bgehalt\b|\bteneur\b|\bamount\b|\blevels?\b"),
    ("name", r"\binci\b"),
    ("name", r"\bsubstances?\b|\bconstituents?\b|\bcomponents?\b|\bingredients?\b|\ballergens?\b|\bchemical\b"),
    ("name", r"^name\b|\bname$"),
)  # fmt: skip
"""What a head says, the surest first. English, with a few words of German and French: common practice."""

_UNKNOWN = re.compile(
    r"(?i)-*|n\.?/?\s?a\.?|n\.?\s?k\.?|unknown|not (?:known|given|stated|disclosed)|confidential|\?+"
)
_REST = re.compile(
    r"(?i)q\.?\s?s\.?(?:\s*(?:to|ad)?\s*100)?|balance|rest|remainder|(?:up\s)?(?:to|ad)\s*100|add?\s100"
)
_TRACES = re.compile(r"(?i)traces?|tr\.?|n\.?\s?d\.?|not detected|not detectable|present|yes|x|\+")
_LESS = r"(?:<\s?=?|≤|=<|up to|max(?:imum)?\.?:?|not more than|no more than|nmt|less than|below|under)"
_MORE = r"(?:>\s?=?|≥|=>|min(?:imum)?\.?:?|at least|not less than|no less than|nlt|more than|over|above|from)"
_ABOUT = r"(?:ca\.?|circa|about|approx(?:imately)?\.?|~|≈|typ(?:ical)?\.?:?|=)"
_NUM = r"(?:[0-9][0-9.,' ]*[0-9]|[0-9]|[.,][0-9]+)"
_SPAN = re.compile(
    rf"(?i){_MORE}?\s*(?P<low>{_NUM})\s*(?:-|to|and|bis|à|\.{{2,3}})\s*{_LESS}?\s*(?P<high>{_NUM})"
)
_AROUND = re.compile(rf"(?i)(?P<middle>{_NUM})\s*(?:±|\+/-)\s*(?P<spread>{_NUM})")
_MOST = re.compile(rf"(?i){_LESS}\s*(?P<high>{_NUM})")
_LEAST = re.compile(rf"(?i){_MORE}\s*(?P<low>{_NUM})|(?P<plus>{_NUM})\s*\+")
_ONE = re.compile(rf"(?i){_ABOUT}?\s*(?P<typical>{_NUM})")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}\b")
_WITHIN = re.compile(r"(?i)\bwithin\b|\bcontain\w*|\ballergens?\b|\bimpurit\w+|\btraces?\b|\bpart of\b")
_DECLARED = re.compile(r"(?i)\bdeclare[ds]?\b|\binci\b|\bmain\b|\bingredients?\b|\bcomponents?\b|\bcarrier\b")
_TOTAL = re.compile(r"(?i)(?:sub|grand)?-?\s?(?:total|sum|summe|somme)\b.*")


@dataclass(frozen=True, slots=True)
class Guess:
    """Where the heads stand, if anywhere, what each column is taken for, and the unit of its figures."""

    head: int | None = None
    columns: dict[Role, int] = field(default_factory=dict)
    unit: Unit = "percent"


@dataclass(frozen=True, slots=True)
class Figures:
    """What the cells say of a share, percent. None: not said. problem: why a cell was not read."""

    low: Decimal | None = None
    typical: Decimal | None = None
    high: Decimal | None = None
    says: tuple[str, ...] = ()
    problem: str = ""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row as the columns read it. kind: "" where its word says neither. stands: its cells, for the eye."""

    number: int
    name: str
    cas: str
    kind: str
    kind_word: str
    function: str
    figures: Figures
    stands: str

    @property
    def is_total(self) -> bool:
        """A sum under the rows, no substance."""
        return bool(_TOTAL.fullmatch(self.name))


def guess(rows: Sequence[Sequence[Cell]]) -> Guess:
    """What the heads tell; nothing where no row looks like heads."""
    for number, row in enumerate(rows[:HEADS_WITHIN]):
        columns: dict[Role, int] = {}
        heads = [unicodedata.normalize("NFKC", said(cell)).casefold() for cell in row]
        taken: set[int] = set()
        for role, pattern in _HEADS:
            for index, head in enumerate(heads):
                if role in columns:
                    break
                if index not in taken and 0 < len(head) <= 40 and re.search(pattern, head):
                    columns[role] = index
                    taken.add(index)
        if "name" in columns and (len(columns) > 1 or heads[columns["name"]] in {"inci", "inci name"}):
            return Guess(number, columns, _unit(heads, columns))
    return Guess()


def _unit(heads: Sequence[str], columns: dict[Role, int]) -> Unit:
    words = " ".join(heads[columns[role]] for role in FIGURES if role in columns)
    if "ppm" in words or "mg/kg" in words:
        return "ppm"
    return "fraction" if "fraction" in words and "%" not in words else "percent"


def read_rows(
    rows: Sequence[Sequence[Cell]],
    head: int | None,
    columns: dict[Role, int],
    *,
    locale: str,
    unit: Unit,
    kind: str,
) -> tuple[list[SheetRow], list[str]]:
    """The rows below the heads, and the words of those that name no substance and hold no figure.

    locale: how the file's texts write decimals. kind: of rows whose own word doesn't say.
    """
    found, words = [], []
    for number, row in enumerate(rows):
        if head is not None and number <= head:
            continue
        name, cas = cell_at(row, columns.get("name")), cell_at(row, columns.get("cas"))
        cells = [(role, _cell(row, columns.get(role))) for role in FIGURES]
        if not name and not cas and not any(said(cell) for _, cell in cells):
            if text := " ".join(said(cell) for cell in row if said(cell)):
                words.append(text)
            continue
        word = cell_at(row, columns.get("kind"))
        found.append(
            SheetRow(
                number=number,
                name=name,
                cas=cas,
                kind=read_kind(word, kind),
                kind_word=word,
                function=cell_at(row, columns.get("function")),
                figures=read_figures(cells, locale, unit),
                stands=" | ".join(
                    text for text in (name, cas, *(said(cell) for _, cell in cells), word) if text
                ),
            )
        )
    return found, words


def _cell(row: Sequence[Cell], index: int | None) -> Cell:
    return row[index] if index is not None and index < len(row) else None


def read_kind(word: str, otherwise: str) -> str:
    """Whether a substance is declared or within; "" where the word says neither."""
    if not word.strip("- "):
        return otherwise
    within, declared = bool(_WITHIN.search(word)), bool(_DECLARED.search(word))
    if within == declared:
        return ""
    return "within" if within else "declared"


def read_figures(cells: Sequence[tuple[Role, Cell]], locale: str, unit: Unit) -> Figures:
    """A share from its cells: ends and middle of their own, or one cell that may hold a range."""
    ends: dict[str, Decimal] = {}
    says: list[str] = []
    for role, cell in cells:
        one = read_share(cell, locale, unit)
        if one.problem:
            return Figures(says=tuple(says), problem=one.problem)
        says += one.says
        given = {key: value for key in ("low", "typical", "high") if (value := getattr(one, key)) is not None}
        if role != "percent" and set(given) == {"typical"}:
            given = {role: given["typical"]}
        for key, value in given.items():
            if ends.get(key, value) != value:
                return Figures(problem=f"Two cells say different things of its {key} share. Which holds?")
            ends[key] = value
    in_order = [ends[key] for key in ("low", "typical", "high") if key in ends]
    if in_order != sorted(in_order):
        return Figures(problem="Low, typical and high stand in the wrong order.")
    return Figures(ends.get("low"), ends.get("typical"), ends.get("high"), tuple(dict.fromkeys(says)))


def read_share(cell: Cell, locale: str, unit: Unit) -> Figures:
    """What one cell says: a figure, a range, one end, or nothing. A number of a workbook needs no locale."""
    if isinstance(cell, PercentCell):
        return _bounded({"typical": Decimal(cell)}, said(cell))
    if isinstance(cell, Decimal):
        return _bounded({"typical": _shifted(cell, unit)}, said(cell))
    typed = said(cell)
    text = _plain(typed)
    if _UNKNOWN.fullmatch(text):
        return Figures()
    if _REST.fullmatch(text):
        return Figures(says=(f"{quoted(typed)} gives no figure: unknown.",))
    if _TRACES.fullmatch(text):
        return Figures(says=(f"{quoted(typed)} gives no figure: unknown, not zero.",))
    if _DATE.match(text):
        return Figures(
            problem=f"{quoted(typed[:10])} is a day; spreadsheets make days of ranges such as 1-5. What share is it?"
        )
    body, own = _without_unit(text)
    return _of_text(body, typed, locale, own or unit)


def _plain(text: str) -> str:
    """One kind of dash and blank, and a stop that stands alone taken off."""
    marks = unicodedata.normalize("NFKC", text.translate(dict.fromkeys(map(ord, "‐‑‒–—−"), "-")))
    return " ".join(marks.replace("\u2044", "/").split())


def _without_unit(text: str) -> tuple[str, Unit | None]:
    """The text without the unit that it names, and that unit."""
    ppm = re.sub(r"(?i)\s*(?:ppm|mg\s?/\s?kg)\b", "", text)
    if ppm != text:
        return ppm.strip(), "ppm"
    percent = re.sub(r"(?i)\s*(?:%|per ?cent)\s*(?:\(?[wm]/[wm]\)?)?|\s*\(?\b[wm]/[wm]\b\)?", " ", text)
    return " ".join(percent.split()), "percent" if "%" in text else None


def _of_text(body: str, typed: str, locale: str, unit: Unit) -> Figures:
    for pattern in (_SPAN, _AROUND, _MOST, _LEAST, _ONE):
        hit = pattern.fullmatch(body)
        if hit is None:
            continue
        read: dict[str, Decimal] = {}
        for key, number in hit.groupdict().items():
            if number is None:
                continue
            value = read_decimal(number.strip(), locale)
            if isinstance(value, Refusal):
                return Figures(problem=value.sentence)
            read[key] = _shifted(value, unit)
        if "spread" in read:
            middle, spread = read["middle"], read["spread"]
            read = {"low": middle - spread, "typical": middle, "high": middle + spread}
        if "plus" in read:
            read = {"low": read["plus"]}
        if "low" in read and "high" in read and read["low"] > read["high"]:
            return Figures(problem=f"{quoted(typed)} falls. Which end is which?")
        return _bounded(read, typed)
    return Figures(problem=f"{quoted(typed)} is no share. Write its figures, or leave them unknown.")


def _shifted(value: Decimal, unit: Unit) -> Decimal:
    return EXACT_QUANTIZE.scaleb(value, SHIFT[unit])


def _bounded(read: dict[str, Decimal], typed: str) -> Figures:
    """Shares between 0 and 100, to the decimals that are kept."""
    says: tuple[str, ...] = ()
    kept = {}
    for key, value in read.items():
        if value < ZERO or value > HUNDRED:
            return Figures(
                problem=f"{quoted(typed)} comes to {value.normalize():f} %; a share lies between 0 and 100."
            )
        kept[key] = value.quantize(
            Decimal(1).scaleb(-PLACES), rounding=ROUND_HALF_EVEN, context=EXACT_QUANTIZE
        )
        if kept[key] != value:
            says = (f"{quoted(typed)} is kept to {PLACES} decimals.",)
        kept[key] = _idle_off(kept[key])
    return Figures(kept.get("low"), kept.get("typical"), kept.get("high"), says)


def _idle_off(value: Decimal) -> Decimal:
    """Without idle zeros, and without an exponent."""
    return (
        value.quantize(Decimal(1)) if value == value.to_integral_value() else value.normalize(EXACT_QUANTIZE)
    )


def look_like_fractions(rows: Sequence[SheetRow]) -> bool:
    """Whether declared figures read as percents make about 1 together: they may be fractions of 1."""
    tops = [
        one.figures.typical or one.figures.high for one in rows if one.kind == "declared" and not one.is_total
    ]
    known = [top for top in tops if top is not None]
    low, high = Decimal("0.9"), Decimal("1.1")
    return len(known) > 1 and low <= exact_sum(known) <= high
