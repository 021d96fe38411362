"""The rows of the desk as they were typed: read, moved, taken out, and made forms of again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from formulas.forms.formulas import LINE_KEYS, LineForm
from formulas.models import FormulaVersion, Ingredient, Line, Substance
from formulas.rules.lettering import phase_order
from formulas.views.versions import stored_lines
from makers.http import MakerRequest

EMPTY_ROWS = 3
MORE_ROWS = 5
MOST_ROWS = 330
FIELDS = ("phase", *LINE_KEYS)
INFUSION = "infusion"

Row = dict[str, str]
"""What stands in each field of one row, as typed."""


@dataclass(slots=True)
class Known:
    """What can be typed: the maker's ingredients by name and code, and for an infusion the substances by key."""

    ingredients: dict[str, Ingredient] = field(default_factory=dict)
    substances: dict[str, Substance] = field(default_factory=dict)

    @property
    def names(self) -> list[str]:
        """The names of the ingredients, each once."""
        return sorted({row.name for row in self.ingredients.values()})

    @property
    def substance_names(self) -> list[str]:
        """The names of the substances."""
        return sorted({row.inci_name for row in self.substances.values()})


def load_known(request: MakerRequest, version: FormulaVersion) -> Known:
    """Everything that a row may name, by two queries at most."""
    known = Known()
    rows = Ingredient.objects.for_maker(request.maker).filter(active=True)
    for row in rows:
        known.ingredients[row.code.casefold()] = row
        known.ingredients[row.name.casefold()] = row
    if version.formula.form == INFUSION:
        substances = list(Substance.objects.known_to(request.maker))
        substances.sort(key=lambda one: one.maker_id is not None)
        known.substances = {one.key: one for one in substances}
    return known


@dataclass(slots=True)
class Desk:
    """What the forms of one desk share. live: worked out while it is typed, so what is still empty may be."""

    request: MakerRequest
    version: FormulaVersion
    known: Known
    live: bool = False

    def form(self, index: int, **kwargs: Any) -> LineForm:
        """The form of one row."""
        return LineForm(
            prefix=f"line-{index}",
            maker=self.request.maker,
            known=self.known.ingredients,
            substances=self.known.substances if self.version.formula.form == INFUSION else None,
            live=self.live,
            **kwargs,
        )

    def stored_forms(self) -> list[LineForm]:
        """A form for each stored line and a few empty ones."""
        lines = stored_lines(self.version)
        forms = [self.form(index, initial=start_of(line)) for index, line in enumerate(lines)]
        return forms + self.empty_forms(len(forms), lines[-1].phase.letter if lines else "A", EMPTY_ROWS)

    def typed_forms(self, rows: list[Row]) -> list[LineForm]:
        """A form for each row as typed."""
        return [
            self.form(index, data={f"line-{index}-{name}": value for name, value in row.items()})
            for index, row in enumerate(rows)
        ]

    def empty_forms(self, start: int, phase: str, count: int = MORE_ROWS) -> list[LineForm]:
        """Empty rows after those that are there."""
        return [self.form(index, initial={"phase": phase}) for index in range(start, start + count)]


def start_of(line: Line) -> dict[str, Any]:
    """A stored line as its form starts."""
    start = {name: getattr(line, name) for name in LINE_KEYS}
    leaves = line.leaves.inci_name if line.leaves else ""
    return {**start, "phase": line.phase.letter, "ingredient": line.ingredient.name, "leaves": leaves}


def posted_rows(data: Mapping[str, str]) -> list[Row]:
    """The rows as they were typed, in the order in which they stood."""
    rows: list[Row] = []
    while len(rows) < MOST_ROWS and f"line-{len(rows)}-ingredient" in data:
        start = f"line-{len(rows)}-"
        rows.append({name: data[start + name] for name in FIELDS if start + name in data})
    return rows


def is_empty(row: Row) -> bool:
    """Nothing stands in it that would be lost."""
    return not any(row.get(name, "").strip() for name in ("ingredient", "percent", "purpose"))


def letter_of(row: Row) -> str:
    """The phase of a row, as its form reads it."""
    return "".join(row.get("phase", "").upper().split()) or "A"


def in_order(rows: list[Row]) -> list[Row]:
    """The rows by phase, otherwise as they stood; empty ones last."""
    return sorted(rows, key=lambda row: (is_empty(row), phase_order("" if is_empty(row) else letter_of(row))))


@dataclass(frozen=True, slots=True)
class Moved:
    """Rows after an act on one of them. place: where that row stands now; None when it was taken out."""

    rows: list[Row]
    place: int | None


def step_row(rows: list[Row], index: int, *, up: bool) -> Moved:
    """A row one place up or down; over the end of its phase it goes into the next one."""
    row, ordered = rows[index], in_order(rows)
    at = place_in(ordered, row)
    other = at + (-1 if up else 1)
    if 0 <= other < len(ordered) and not is_empty(ordered[other]):
        neighbour = ordered[other]
        if letter_of(neighbour) == letter_of(row):
            ordered[at], ordered[other] = neighbour, row
        else:
            row["phase"] = letter_of(neighbour)
    return Moved(ordered, place_in(ordered, row))


def put_row(rows: list[Row], index: int, letter: str, place: int) -> Moved:
    """A row put into a phase before the line that has this place there, from 0."""
    row = rows[index]
    rest = in_order([one for one in rows if one is not row])
    row["phase"] = letter
    own = [at for at, one in enumerate(rest) if not is_empty(one) and letter_of(one) == letter]
    if not own:
        return Moved(in_order([*rest, row]), place_in(in_order([*rest, row]), row))
    rest.insert(own[place] if place < len(own) else own[-1] + 1, row)
    return Moved(rest, place_in(rest, row))


def drop_row(rows: list[Row], index: int) -> Moved:
    """The rows without one of them."""
    return Moved(in_order([row for at, row in enumerate(rows) if at != index]), None)


def place_in(rows: list[Row], row: Row) -> int:
    """Where this very row stands."""
    return next(at for at, one in enumerate(rows) if one is row)


def moved_rows(rows: list[Row], act: str) -> Moved | None:
    """The rows after "up:N", "down:N", "out:N" or "move:N:PHASE:PLACE"; None for any other act."""
    word, *parts = act.split(":")
    if word not in {"up", "down", "out", "move"} or not parts or not is_count(parts[0]):
        return None
    index = int(parts[0])
    if index >= len(rows):
        return None
    if word == "move":
        if len(parts) != 3 or not is_count(parts[2]) or not 0 < len(parts[1]) <= 3:
            return None
        return put_row(rows, index, "".join(parts[1].upper().split()) or "A", int(parts[2]))
    return drop_row(rows, index) if word == "out" else step_row(rows, index, up=word == "up")


def is_count(text: str) -> bool:
    """A small whole number."""
    return text.isascii() and text.isdigit() and len(text) <= 4
