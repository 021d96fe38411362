"""What trials of a formula showed, beside the version that they were made from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, cast

from django.db.models import Q

from batches.models import Batch, TrialNote
from formulas.models import FormulaVersion
from makers.models import Maker

MOST_SHOWN = 6
MOST_FOLDED = 30
"""Notes that stand open beside a version, and how many more are folded below them."""


@dataclass(frozen=True, slots=True)
class TrialRow:
    """A note as shown. days: from the day of making to the day it was seen; None while it is being made.

    origin: which version it tells of, where that is not the one looked at. before: the notes it put right.
    """

    note: TrialNote
    days: int | None
    origin: str
    before: tuple[TrialNote, ...]


def begun_on(maker: Maker, batch: Batch) -> date | None:
    """The day of making: as finished, or as begun."""
    if batch.made_on is not None:
        return batch.made_on
    return batch.started_at.astimezone(maker.zone).date() if batch.started_at else None


def rows_of(
    maker: Maker, notes: Iterable[TrialNote], version: FormulaVersion | None = None
) -> list[TrialRow]:
    """Notes that hold, the newest first, each with those that it put right.

    notes: with batch, its version and formula, user and photo loaded; of a batch all of them.
    """
    by_key = {note.pk: note for note in notes}
    replaced = {note.corrects_id for note in by_key.values()}
    rows = []
    for note in by_key.values():
        if note.pk in replaced:
            continue
        before, earlier = [], note.corrects_id
        while earlier in by_key:
            before.append(by_key[earlier])
            earlier = by_key[earlier].corrects_id
        begun = begun_on(maker, note.batch)
        days = (note.seen_on - begun).days if begun is not None else None
        of = note.batch.version
        origin = ""
        if version is not None and of.pk != version.pk:
            origin = f"version {of.number}" if of.formula_id == version.formula_id else str(of)
        rows.append(TrialRow(note, days, origin, tuple(before)))
    rows.sort(key=lambda row: (row.note.seen_on, row.note.pk), reverse=True)
    return rows


def notes_of(maker: Maker) -> Any:
    """Every note of a maker with what is shown of it."""
    return TrialNote.objects.for_maker(maker).select_related("batch__version__formula", "user", "photo")


def trial_panel(maker: Maker, record: Any) -> tuple[str, dict[str, Any]] | None:
    """What trials of a version showed, and of what it grew from: earlier versions, and what it varies.

    Two queries, however many notes there are.
    """
    version = cast(FormulaVersion, record)
    grown_from = Q(batch__version=version) | Q(
        batch__formula=version.formula_id, batch__version__number__lt=version.number
    )
    if version.formula.parent_id is not None:
        grown_from |= Q(batch__version=version.formula.parent_id)
    most = MOST_SHOWN + MOST_FOLDED
    standing = notes_of(maker).filter(grown_from, corrected_by__isnull=True).order_by("-seen_on", "-pk")
    newest = list(standing[: most + 1])
    rows = rows_of(maker, newest[:most], version)
    trials = Batch.objects.for_maker(maker).filter(version=version, purpose=Batch.Purpose.TRIAL)
    return "batches/making/_trial_panel.html", {
        "rows": rows[:MOST_SHOWN],
        "folded": rows[MOST_SHOWN:],
        "has_more": len(newest) > most,
        "trials": list(trials.order_by("-pk")[:MOST_SHOWN]),
        "version": version,
    }
