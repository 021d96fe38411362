"""Where an ingredient is used: versions that take it, themselves or through in-house ingredients, and products."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from formulas.models import FormulaVersion, Ingredient, Line, Product
from formulas.substances import newest_versions
from makers.models import Maker


@dataclass(frozen=True, slots=True)
class Reach:
    """How far an ingredient goes.

    ways: for each ingredient that holds it (itself among them), the names passed through, outermost first.
    taken: for each version that takes one of those, by key, their keys.
    """

    ingredient: Ingredient
    ways: dict[int, tuple[str, ...]]
    taken: dict[int, frozenset[int]]


@dataclass(frozen=True, slots=True)
class UsedLine:
    """A line that brings the ingredient. through: the names passed through; empty where it is taken itself."""

    line: Line
    through: tuple[str, ...]

    @property
    def way(self) -> str:
        """The way in words."""
        return " → ".join(self.through)


@dataclass(frozen=True, slots=True)
class VersionUse:
    """A version with the lines by which it takes an ingredient."""

    version: FormulaVersion
    lines: list[UsedLine] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class WhereUsed:
    """current: of each formula the newest approved version and a newer draft. older: all others.

    more_current, more_older: how many were left out of either.
    """

    current: list[VersionUse]
    older: list[VersionUse]
    more_current: int
    more_older: int
    products: list[Product]
    more_products: int


def reach(maker: Maker, ingredient: Ingredient) -> Reach:
    """Follow an ingredient through in-house ingredients to any depth. Three queries.

    An in-house ingredient holds what the newest approved version of its formula takes, else the newest draft.
    """
    made = {row.pk: row for row in Ingredient.objects.for_maker(maker).filter(made_from__isnull=False)}
    takes: dict[int, set[int]] = {}
    lines = Line.objects.for_maker(maker).filter(ingredient__in=[ingredient.pk, *made])
    for version, taken in lines.order_by().values_list("version", "ingredient").distinct():
        takes.setdefault(version, set()).add(taken)
    standing = versions_in_force(maker, {row.made_from_id for row in made.values() if row.made_from_id})
    ways: dict[int, tuple[str, ...]] = {ingredient.pk: ()}
    latest = {ingredient.pk}
    while latest:
        found = {}
        for pk, row in made.items():
            inner = takes.get(standing.get(row.made_from_id or 0, 0), set()) & latest
            if inner and pk not in ways:
                found[pk] = (row.name, *ways[min(inner)])
        ways |= found
        latest = set(found)
    taken_by = {version: frozenset(keys & ways.keys()) for version, keys in takes.items()}
    return Reach(ingredient, ways, {version: keys for version, keys in taken_by.items() if keys})


def versions_in_force(maker: Maker, formula_ids: Collection[int]) -> dict[int, int]:
    """By formula the key of the version that its ingredient is made by. One query."""
    rows = (
        FormulaVersion.objects.for_maker(maker)
        .filter(formula__in=formula_ids)
        .exclude(state=FormulaVersion.State.WITHDRAWN)
        .order_by("number")
        .values_list("formula_id", "state", "pk")
    )
    chosen: dict[int, tuple[str, int]] = {}
    for formula, state, pk in rows:
        if state == FormulaVersion.State.APPROVED or chosen.get(formula, (state, 0))[0] == state:
            chosen[formula] = (state, pk)
    return {formula: pk for formula, (_, pk) in chosen.items()}


def current_versions(maker: Maker, found: Reach) -> list[FormulaVersion]:
    """Of each formula that the ingredient reaches, the versions that count today. One query."""
    return [version for version in newest_versions(maker) if version.pk in found.taken]


def where_used(maker: Maker, ingredient: Ingredient, *, most: int | None) -> WhereUsed:
    """Versions and products, each list cut after ``most``. The number of queries is always the same."""
    found = reach(maker, ingredient)
    current = current_versions(maker, found)
    older = list(
        FormulaVersion.objects.for_maker(maker)
        .filter(pk__in=found.taken.keys() - {version.pk for version in current})
        .select_related("formula")
        .order_by("formula__name", "formula_id", "-number")
    )
    shown, shown_older = current[:most], older[:most]
    lines: dict[int, list[UsedLine]] = {}
    for line in (
        Line.objects.for_maker(maker)
        .filter(version__in=[*shown, *shown_older], ingredient__in=found.ways)
        .order_by("id")
    ):
        lines.setdefault(line.version_id, []).append(UsedLine(line, found.ways[line.ingredient_id]))
    products = list(
        Product.objects.for_maker(maker)
        .filter(active=True, formula__in={version.formula_id for version in current})
        .select_related("formula")
        .order_by("name", "pk")
    )
    return WhereUsed(
        [VersionUse(version, lines.get(version.pk, [])) for version in shown],
        [VersionUse(version, lines.get(version.pk, [])) for version in shown_older],
        len(current) - len(shown),
        len(older) - len(shown_older),
        products[:most],
        len(products[most:]) if most else 0,
    )
