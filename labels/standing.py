"""How labels stand today, for lists: stale or not, and what approval waits for.

What a label would print follows from its records alone, so it is reckoned once for each state of them: the seal
is over every column of every record that it rests on. A changed record has another seal and is reckoned anew.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from threading import Lock

from django.db.models import Model

from formulas.models import FormulaVersion
from labels.assembly import current_issues, differences, fact_point, paper_on
from labels.models import Label, LabelIssue
from labels.rules.facts import Fact, unconfirmed
from labels.shelf import Shelf, versions_with_shelf
from makers.models import Maker

MOST_KEPT = 2_000
"""Outcomes that a process keeps, some kilobytes each; the ones that were not asked for longest go first."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What follows from a label's records: its texts, what approval waits for, and the facts to be confirmed."""

    printed: Mapping[str, str]
    points: tuple[str, ...]
    facts: tuple[Fact, ...]


class Outcomes:
    """Outcomes by seal; None for a label whose formula goes round in a circle."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self.most = most
        self.lock = Lock()
        self.kept: OrderedDict[str, Outcome | None] = OrderedDict()

    def get(self, seal: str) -> tuple[bool, Outcome | None]:
        """Whether the outcome is known, and what it is."""
        with self.lock:
            if seal not in self.kept:
                return False, None
            self.kept.move_to_end(seal)
            return True, self.kept[seal]

    def put(self, seal: str, outcome: Outcome | None) -> None:
        """Keep an outcome."""
        with self.lock:
            self.kept[seal] = outcome
            self.kept.move_to_end(seal)
            while len(self.kept) > self.most:
                self.kept.popitem(last=False)


outcomes = Outcomes()


def seal_of(*parts: object) -> str:
    """A short text that differs where any of the parts does."""
    return hashlib.blake2b(repr(parts).encode(), digest_size=16).hexdigest()


def columns(row: Model | None) -> tuple[object, ...]:
    """Every stored value of a record."""
    return () if row is None else tuple(getattr(row, one.attname) for one in row._meta.concrete_fields)


@dataclass(slots=True)
class Seals:
    """Seals of the labels that a shelf serves; what they share is sealed once."""

    shelf: Shelf
    maker: str = ""
    known: dict[str, str] = field(default_factory=dict)
    names: dict[str, list[tuple[object, ...]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.maker = seal_of(columns(self.shelf.maker))
        for (substance, _), name in sorted(self.shelf.names.items()):
            self.names.setdefault(substance, []).append(columns(name))

    def of_ingredient(self, key: int, above: tuple[int, ...] = ()) -> str:
        """Over an ingredient, its composition, its substances and their names, or all that it is made from."""
        if key in above:
            return "goes round"
        text = str(key)
        if text not in self.known:
            paper = self.shelf.paper
            record, version = paper.records.get(text), paper.nested_versions.get(text)
            self.known[text] = seal_of(
                columns(paper.ingredients.get(key)),
                columns(record),
                columns(record.source) if record else (),
                [
                    (columns(part), columns(part.substance), self.names.get(part.substance.key))
                    for part in (record.constituents.all() if record else ())
                ],
                self.of_version(version, (*above, key)) if version else "",
            )
        return self.known[text]

    def of_version(self, version: FormulaVersion, above: tuple[int, ...] = ()) -> str:
        """Over a version and everything in it."""
        lines = [
            (columns(line), self.of_ingredient(line.ingredient_id, above)) for line in version.lines.all()
        ]
        return seal_of(columns(version), columns(version.formula), lines)

    def of_label(self, label: Label, version: FormulaVersion) -> str:
        """Over everything that the label's texts and points rest on, confirmations of facts apart."""
        return seal_of(
            columns(label),
            columns(label.product),
            self.of_version(version),
            self.maker,
            columns(self.shelf.responsible.get(label.market)),
            sorted(self.shelf.judged.get(label.pk, ())),
        )


@dataclass(frozen=True, slots=True)
class Standing:
    """A label as a list shows it. stale: what it would print otherwise today. waits: what approval waits for."""

    label: Label
    issue: LabelIssue | None
    stale: tuple[str, ...] = ()
    waits: tuple[str, ...] = ()

    @property
    def state(self) -> str:
        """Its state, or "stale"."""
        return "stale" if self.stale else self.label.state


def standings(maker: Maker, labels: Sequence[Label], *, with_waits: bool = True) -> list[Standing]:
    """How these labels stand, in their order; the number of queries doesn't depend on how many there are.

    with_waits: reckon too what drafts wait for.
    """
    issues = current_issues(maker, [label.pk for label in labels])
    approved = {one.pk for one in labels if one.state == Label.State.APPROVED and one.pk in issues}
    drafts = {one.pk for one in labels if with_waits and one.state == Label.State.DRAFT}
    asked = [label for label in labels if label.pk in approved | drafts]
    found, confirmed = outcomes_of(maker, asked) if asked else ({}, set())
    rows = []
    for label in labels:
        issue, outcome = issues.get(label.pk), found.get(label.pk)
        stale: tuple[str, ...] = ()
        waits: tuple[str, ...] = ()
        if issue is not None and label.pk in approved:
            stale = differences(issue, outcome.printed) if outcome else ("formula",)
        elif outcome is not None and label.pk in drafts:
            waits = (*outcome.points, *fact_point(unconfirmed(outcome.facts, confirmed)))
        rows.append(Standing(label, issue, stale, waits))
    return rows


def outcomes_of(
    maker: Maker, labels: Sequence[Label]
) -> tuple[dict[int, Outcome | None], set[tuple[str, str]]]:
    """What follows for each label, by its key, and the facts that the maker confirmed."""
    versions, shelf = versions_with_shelf(maker, labels)
    seals = Seals(shelf)
    found: dict[int, Outcome | None] = {}
    for label in labels:
        version = versions.get(label.product.formula_id)
        if version is None:
            continue
        seal = seals.of_label(label, version)
        known, outcome = outcomes.get(seal)
        if not known:
            paper = paper_on(shelf, label, version)
            outcome = Outcome(paper.printed, paper.points, paper.facts) if paper else None
            outcomes.put(seal, outcome)
        found[label.pk] = outcome
    return found, shelf.confirmed
