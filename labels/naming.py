"""Labels that name an ingredient, and those that would print something else after a change of it."""

from __future__ import annotations

from dataclasses import dataclass

from formulas.assembly import Supposed
from formulas.models import Composition, Ingredient
from formulas.whereused import Reach, reach
from labels.assembly import assemble, current_issues, market_word
from labels.models import Label, LabelIssue
from labels.rules.declaration import Declaration
from labels.shelf import versions_of
from labels.weighed import label_url
from makers.models import Maker

MOST_NAMING = 60
"""Labels that an ingredient's page lists."""


@dataclass(frozen=True, slots=True)
class Naming:
    """A label with an ingredient in it. today: its formula takes it; otherwise only the approved issue covers it."""

    label: Label
    issue: LabelIssue | None
    today: bool

    @property
    def url(self) -> str:
        """The label's page."""
        return label_url(self.label)

    @property
    def market(self) -> str:
        """The market in words."""
        return market_word(self.label.market)


@dataclass(frozen=True, slots=True)
class LabelChange:
    """A label that would print something else. texts: which of its texts. said: how its list would differ."""

    label: Label
    texts: tuple[str, ...]
    said: str
    waits: tuple[str, ...]

    @property
    def url(self) -> str:
        """The label's page."""
        return label_url(self.label)

    @property
    def market(self) -> str:
        """The market in words."""
        return market_word(self.label.market)


def labels_in_use(maker: Maker) -> list[Label]:
    """Every label that isn't withdrawn. One query."""
    rows = Label.objects.for_maker(maker).exclude(state=Label.State.WITHDRAWN)
    return list(rows.select_related("product__formula", "maker").order_by("product__name", "market", "pk"))


def naming(maker: Maker, ingredient: Ingredient) -> list[Naming]:
    """Labels with the ingredient in them, today or as approved. The number of queries is always the same."""
    labels = labels_in_use(maker)
    found = reach(maker, ingredient)
    reached = labels_reached(maker, labels, found)
    issues = current_issues(maker, [label.pk for label in labels])
    rows = Composition.objects.for_maker(maker).filter(ingredient=ingredient)
    own = {str(uuid) for uuid in rows.values_list("uuid", flat=True)}
    covered = {pk for pk, issue in issues.items() if not own.isdisjoint(issue.compositions)}
    return [
        Naming(label, issues.get(label.pk), label.pk in reached)
        for label in labels
        if label.pk in reached | covered
    ]


def labels_reached(maker: Maker, labels: list[Label], found: Reach) -> set[int]:
    """Keys of the labels whose version takes the ingredient, itself or through in-house ones."""
    versions = versions_of(maker, {label.product.formula_id for label in labels})
    taking = {formula for formula, version in versions.items() if version.pk in found.taken}
    return {label.pk for label in labels if label.product.formula_id in taking}


def would_change(maker: Maker, supposed: Supposed, found: Reach) -> list[LabelChange]:
    """Labels that would print something else, or wait for something else, if what is supposed were on record."""
    labels = labels_in_use(maker)
    reached = labels_reached(maker, labels, found)
    labels = [label for label in labels if label.pk in reached]
    if not labels:
        return []
    before, after = assemble(maker, labels), assemble(maker, labels, supposed=supposed)
    changes = []
    for label in labels:
        now, then = before.get(label.pk), after.get(label.pk)
        if now is None or then is None:
            continue
        printed, would = now.printed, then.printed
        texts = tuple(word for word in would if would[word] != printed.get(word, ""))
        waits = tuple(text for text in then.waits if text not in now.waits)
        if texts or waits:
            changes.append(LabelChange(label, texts, list_change(now.declaration, then.declaration), waits))
    return changes


def list_change(now: Declaration, then: Declaration) -> str:
    """How the printed list would differ, in one sentence; "" where it would not."""
    before, after = now.names, then.names
    on = [name for name in after if name not in before]
    off = [name for name in before if name not in after]
    parts = [f"{', '.join(on)} would come on" if on else "", f"{', '.join(off)} would go off" if off else ""]
    kept = [name for name in after if name in before]
    stood = [name for name in before if name in after]
    if kept != stood:
        moved = next(name for name, old in zip(kept, stood, strict=True) if name != old)
        parts.append(f"the order would differ from {moved} on")
    return "; ".join(part for part in parts if part)
