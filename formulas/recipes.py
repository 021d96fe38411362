"""A recipe from elsewhere between the typed text and a draft: materials, grams, percents, phases."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, cast

from django.db.models import Count

from formulas.models import Composition, Ingredient, Line
from formulas.rules.catalogue import CatalogueMaterial, catalogue
from formulas.rules.interval import Interval
from formulas.rules.lettering import letter as letter_at
from formulas.rules.number import HUNDRED, round_down, round_up, share_by_largest_remainder
from formulas.rules.recipe.grams import Density, DensityKind, Material, Weighed, shares, weigh_line, whole_of
from formulas.rules.recipe.lines import read_recipe
from formulas.rules.recipe.names import Known, Match, Names, in_catalogue
from formulas.rules.recipe.said import RecipeLine
from makers.models import Maker

OWN, CATALOGUE = "own", "catalogue"
STEP = Decimal("0.0001")
"""Percents of a draft read from grams are shared out in this step, so that they make 100."""


@dataclass
class Shelf:
    """All that a recipe's names may mean: the maker's ingredients, then the catalogue."""

    own: dict[str, Ingredient]
    catalogue: dict[str, CatalogueMaterial]
    names: Names

    def find(self, typed: str) -> str:
        """The key of the material of exactly this name or code; empty where there is none."""
        word = " ".join(typed.casefold().split())
        for row in self.own.values():
            if word in {row.name.casefold(), row.code.casefold()}:
                return f"{OWN}:{row.pk}"
        for material in self.catalogue.values():
            if word == material.name.casefold():
                return f"{CATALOGUE}:{material.key}"
        return ""

    def material(self, key: str) -> Material:
        """What is known of a material that turns spoons into grams."""
        world, _, name = key.partition(":")
        if world == OWN:
            row = self.own[name]
            basis = row.facts.get("density_g_ml", {})
            density = _density(
                row.density_g_ml, row.density_kind, basis.get("source", ""), basis.get("basis", "")
            )
            return Material(density, _liquid(row.form))
        if world == CATALOGUE:
            one = self.catalogue[name]
            density = _density(one.density_g_ml, one.density_kind, one.source, one.basis_of("density_g_ml"))
            return Material(density, _liquid(one.form))
        return Material()

    @property
    def all_names(self) -> list[str]:
        """For the list that typing offers."""
        own = [row.name for row in self.own.values()]
        mine = {name.casefold() for name in own}
        return own + [one.name for one in self.catalogue.values() if one.name.casefold() not in mine]


def open_shelf(maker: Maker) -> Shelf:
    """Everything that can be meant, in two queries. An ingredient of one substance goes by its INCI name as well."""
    single = Composition.objects.for_maker(maker).annotate(parts=Count("constituents")).filter(parts=1)
    inci: dict[str, set[str]] = {}
    for key, name in single.values_list("ingredient_id", "constituents__substance__inci_name"):
        inci.setdefault(str(key), set()).add(name)
    own = {str(row.pk): row for row in Ingredient.objects.for_maker(maker).filter(active=True)}
    materials = {one.key: one for one in catalogue()}
    by_name = {one.name.casefold(): in_catalogue(f"{CATALOGUE}:{key}", one) for key, one in materials.items()}
    known = []
    for key, row in own.items():
        same = by_name.pop(row.name.casefold(), Known("", ""))
        others = (*same.other_names, *sorted(inci.get(key, ())))
        known.append(Known(f"{OWN}:{key}", row.name, others, same.may_be_called, is_own=True))
    return Shelf(own, materials, Names([*known, *by_name.values()]))


def _density(g_ml: Decimal | None, kind: str, source: str, basis: str) -> Density | None:
    return None if g_ml is None else Density(g_ml, cast(DensityKind, kind), _short(source), basis)


def _short(source: str) -> str:
    """The first source named, without its address."""
    return source.split(" | ")[0].split("<")[0].split(";")[0].strip(" .,")[:120]


def _liquid(form: str) -> bool | None:
    return None if form in {"", "unknown"} else form == "liquid"


@dataclass
class Row:
    """One line on its way: what was read, what the maker answered, what it comes to."""

    line: RecipeLine
    letter: str
    match: Match = field(default_factory=Match)
    key: str = ""
    weighed: Weighed = field(default_factory=Weighed)
    share: Interval | None = None
    is_out: bool = False

    @property
    def asks(self) -> str:
        """What has to be answered before it counts: its amount, or which ingredient it is.

        Words that no name accounts for may be a condition of the amount, so that they are held up with it.
        """
        if self.weighed.asks or self.key or self.line.kind != "line":
            return self.weighed.asks or self.line.asks
        said = f"“{self.line.name}” is no name known here: choose what it is"
        return f"{said}." if self.line.is_rest else f"{said}, and see that this is how much goes in."

    @property
    def counts(self) -> bool:
        """Whether it is a line of the recipe that was not left out."""
        return self.line.kind == "line" and not self.is_out

    @property
    def shown_share(self) -> Interval | None:
        """The share to read: where it has two ends, rounded outwards to 0.0001 %."""
        share = self.share
        if share is None or share.is_point or share.low is None or share.high is None:
            return share
        return Interval(round_down(share.low, 4), round_up(share.high, 4))


@dataclass(frozen=True)
class Answers:
    """What the maker said of one line: the name, the measure meant, grams weighed, left out."""

    name: str | None = None
    meant: str = ""
    grams: Decimal | None = None
    is_out: bool = False


@dataclass
class Reading:
    """A whole recipe with its phases. asks: what stands in the way of percents; empty when they are known."""

    rows: list[Row]
    phases: dict[str, str]
    asks: str = ""

    @property
    def total_g(self) -> tuple[Decimal, Decimal] | None:
        """What the weighed lines add up to, both ends; None where not all are grams."""
        lines = [row.weighed for row in self.rows if row.counts]
        if not lines or any(one.unit != "g" or one.low is None or one.high is None for one in lines):
            return None
        return sum((one.low or Decimal(0) for one in lines), Decimal(0)), sum(
            (one.high or Decimal(0) for one in lines), Decimal(0)
        )


def read_text(text: str, without: Collection[int] = ()) -> tuple[list[RecipeLine], list[str], dict[str, str]]:
    """Lines with the letter of each one's phase, and the names of the phases. without: numbers of lines left out."""
    lines, letters, phases = [], [], {"A": ""}
    letter = letter_at(0)
    begun = False
    for line in read_recipe(text, without):
        if line.kind == "heading":
            if begun or phases[letter]:
                letter = letter_at(len(phases))
            phases[letter] = _phase_name(line.name)
            begun = False
        elif line.kind == "line" and (line.amounts or line.is_rest):
            begun = True
        lines.append(line)
        letters.append(letter)
    return lines, letters, phases


def _phase_name(heading: str) -> str:
    """ "Phase B: oils" is called oils; "Oil phase" keeps its name."""
    words = heading.split(None, 1)
    if words and words[0].lower().strip(".:") in {"phase", "part", "stage", "fase", "faza"}:
        rest = words[1] if len(words) > 1 else ""
        name = rest.split(None, 1)[1] if len(rest.split(None, 1)) > 1 else ""
        return name.strip(" :.-()")[:80]
    return "" if len(heading) <= 2 else heading[:80]


def work_out(
    shelf: Shelf, text: str, region: str, answers: dict[int, Answers], total_g: Decimal | None = None
) -> Reading:
    """Read, match and weigh every line by what the maker answered so far."""
    out = {number for number, said in answers.items() if said.is_out}
    lines, letters, phases = read_text(text, out)
    rows = []
    for line, letter in zip(lines, letters, strict=True):
        row = Row(line, letter)
        said = answers.get(line.number, Answers())
        row.is_out = said.is_out
        if line.kind == "line":
            row.match = shelf.names.match(line.name)
            sure = row.match.sure.key if row.match.sure else ""
            row.key = sure if said.name is None else shelf.find(said.name)
            row.weighed = (
                Weighed(said.grams, said.grams, "g", ("As you weighed it.",))
                if said.grams is not None
                else weigh_line(line, region, shelf.material(row.key), meant=said.meant)
            )
        rows.append(row)
    reading = Reading(rows, phases)
    counted = [row for row in rows if row.counts]
    found = (
        shares([row.weighed for row in counted], total_g=total_g or whole_of([row.line for row in counted]))
        if counted
        else "There is no line in it yet."
    )
    if isinstance(found, str):
        reading.asks = found
    else:
        for row, share in zip(counted, found, strict=True):
            row.share = share
    return reading


def percents(rows: Sequence[Row]) -> list[Decimal | None]:
    """The percent of each line that counts, None for the one to 100; those of grams make 100 exactly.

    Raises ValueError while a line has two ends: a formula holds one figure.
    """
    if any(row.weighed.unit != "rest" and not row.weighed.is_exact for row in rows):
        raise ValueError("A line has two ends.")
    if all(row.weighed.unit in {"g", "part"} for row in rows) and _is_whole(rows):
        return list(
            share_by_largest_remainder(HUNDRED, [row.weighed.low or Decimal(0) for row in rows], STEP)
        )
    return [
        None
        if row.weighed.unit == "rest" or row.share is None or row.share.low is None
        else _tidy(row.share.low)
        for row in rows
    ]


def _is_whole(rows: Iterable[Row]) -> bool:
    """Whether the shares are of what the lines add up to."""
    total = sum(
        (row.share.low for row in rows if row.share is not None and row.share.low is not None), Decimal(0)
    )
    return abs(total - HUNDRED) < STEP


def _tidy(percent: Decimal) -> Decimal:
    return percent.quantize(STEP).normalize() if percent != percent.to_integral_value() else percent


def as_phases(reading: Reading, ingredients: dict[int, Ingredient]) -> list[dict[str, Any]]:
    """Phases with lines as save_version takes them. ingredients: by number of the line."""
    counted = [row for row in reading.rows if row.counts]
    lines: dict[str, list[dict[str, Any]]] = {}
    for row, percent in zip(counted, percents(counted), strict=True):
        kind = Line.Kind.TO_100 if percent is None else Line.Kind.PERCENT
        line = {"ingredient": ingredients[row.line.number], "kind": kind, "percent": percent}
        lines.setdefault(row.letter, []).append(line)
    return [
        {"letter": letter, "name": name, "lines": lines.get(letter, [])}
        for letter, name in reading.phases.items()
        if letter in lines
    ]


def as_steps(reading: Reading) -> list[dict[str, Any]]:
    """The recipe's own words, a step each, in the phase where they stood."""
    letters = {row.letter for row in reading.rows if row.counts}
    return [
        {"phase": row.letter if row.letter in letters else "", "text": row.line.text}
        for row in reading.rows
        if row.line.kind == "words"
    ]
