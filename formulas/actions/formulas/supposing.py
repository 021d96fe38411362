"""What a change would alter before it is written down: reviews with it beside reviews without it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from formulas.actions.formulas.reviewing import Reviewed, review_lines
from formulas.assembly import NOTHING_SUPPOSED, Known, Supposed, as_rule_line, known_of, line_key
from formulas.models import FormulaVersion, Ingredient, Product
from formulas.rules.compare import FindingChange, compare_findings, first_parting
from formulas.rules.findings import Finding
from formulas.whereused import Reach, current_versions, reach
from makers.models import Maker
from makers.registries import change_effects

LIST_RULE = "label.preview"
LIST_STARTS = " would be: "
"""The rule of the findings that tell a market's list, and the words before it."""


def lists_of(reviewed: Reviewed) -> dict[str, list[str]]:
    """The names on each market's list, by the words for the label."""
    return {
        one.subject: one.message.rpartition(LIST_STARTS)[2].removesuffix(".").split(", ")
        for one in reviewed.findings
        if one.rule == LIST_RULE
    }


def said_of(reviewed: Reviewed) -> list[Finding]:
    """The findings but for the lists, which are compared name by name."""
    return [one for one in reviewed.findings if one.rule != LIST_RULE]


@dataclass(frozen=True, slots=True)
class ListChange:
    """A market's list before and after. place: from 1, where they first part."""

    subject: str
    before: list[str]
    after: list[str]
    place: int

    @property
    def added(self) -> list[str]:
        """Names that come onto it."""
        return [name for name in self.after if name not in self.before]

    @property
    def removed(self) -> list[str]:
        """Names that go off it."""
        return [name for name in self.before if name not in self.after]

    @property
    def is_reordered(self) -> bool:
        """Names on both stand in another order."""
        kept = [name for name in self.before if name in self.after]
        return kept != [name for name in self.after if name in self.before]

    @property
    def names(self) -> list[tuple[str, bool]]:
        """The names of the list as it would be, and whether each stands elsewhere than now."""
        return [
            (name, index >= len(self.before) or self.before[index] != name)
            for index, name in enumerate(self.after)
        ]


@dataclass(frozen=True, slots=True)
class VersionChange:
    """What would change for a version. products: those in use that are made by its formula."""

    version: FormulaVersion
    products: list[Product]
    findings: tuple[FindingChange, ...]
    lists: tuple[ListChange, ...]

    def of_kind(self, change: str) -> list[FindingChange]:
        """The findings that are new, gone or changed."""
        return [one for one in self.findings if one.change == change]

    @property
    def new(self) -> list[Finding]:
        """What the review would say besides."""
        return [one.right for one in self.of_kind("new") if one.right is not None]

    @property
    def gone(self) -> list[Finding]:
        """What the review would say no more."""
        return [one.left for one in self.of_kind("gone") if one.left is not None]

    @property
    def other(self) -> list[FindingChange]:
        """What it would say with other figures."""
        return self.of_kind("changed")


@dataclass(frozen=True, slots=True)
class WouldChange:
    """What a change would alter. looked_at: how many versions were reviewed. panels: of other worlds."""

    versions: list[VersionChange]
    looked_at: int
    panels: list[tuple[str, dict[str, Any]]]

    @property
    def is_nothing(self) -> bool:
        """It would alter nothing."""
        return not self.versions and not self.panels


def what_would_change(
    maker: Maker, ingredient: Ingredient, supposed: Supposed, *, on: date | None = None
) -> WouldChange:
    """Review every current version that the ingredient reaches, as things stand and as supposed. Stores nothing.

    The number of queries depends on how deep in-house ingredients are nested. Raises Refused where a formula
    would contain itself.
    """
    found = reach(maker, ingredient)
    versions = current_versions(maker, found)
    before = review_together(maker, versions, NOTHING_SUPPOSED, on)
    after = review_together(maker, versions, supposed, on)
    products: dict[int, list[Product]] = {}
    formulas = {version.formula_id for version in versions}
    for product in (
        Product.objects.for_maker(maker).filter(active=True, formula__in=formulas).order_by("name")
    ):
        products.setdefault(product.formula_id, []).append(product)
    changes = [
        VersionChange(
            version,
            products.get(version.formula_id, []),
            compare_findings(said_of(before[version.pk]), said_of(after[version.pk])),
            list_changes(before[version.pk], after[version.pk]),
        )
        for version in versions
    ]
    return WouldChange(
        [one for one in changes if one.findings or one.lists],
        len(versions),
        effects(maker, supposed, found),
    )


def list_changes(before: Reviewed, after: Reviewed) -> tuple[ListChange, ...]:
    """The lists that would differ, by market."""
    left, right = lists_of(before), lists_of(after)
    found = []
    for subject in dict.fromkeys((*left, *right)):
        one, other = left.get(subject, []), right.get(subject, [])
        place = first_parting(one, other)
        if place is not None:
            found.append(ListChange(subject, one, other, place))
    return tuple(found)


def effects(maker: Maker, supposed: Supposed, found: Reach) -> list[tuple[str, dict[str, Any]]]:
    """What other worlds say that it would change."""
    panels = (entry.effect(maker, supposed, found) for entry in change_effects)
    return [panel for panel in panels if panel is not None]


def review_together(
    maker: Maker, versions: Sequence[FormulaVersion], supposed: Supposed, on: date | None
) -> dict[int, Reviewed]:
    """The reviews of several versions, by key; what they rest on is loaded once for all."""
    rows = (
        FormulaVersion.objects.for_maker(maker)
        .filter(pk__in=[version.pk for version in versions])
        .select_related("formula")
        .prefetch_related("lines__ingredient", "lines__phase", "lines__leaves", "steps__phase")
    )
    loaded = list(rows)
    ids = {line.ingredient_id for version in loaded for line in version.lines.all()}
    known: Known = known_of(maker, ids, supposed=supposed)
    shared: dict[str, Any] = {}
    found = {}
    for version in loaded:
        version.maker = maker
        lines = sorted(version.lines.all(), key=lambda line: (line.phase.position, line.position, line.pk))
        found[version.pk] = review_lines(
            maker,
            version,
            [as_rule_line(line) for line in lines],
            {line_key(line): line.phase.letter for line in lines},
            list(version.steps.all()),
            on=on,
            known=known,
            shared=shared,
        )
    return found
