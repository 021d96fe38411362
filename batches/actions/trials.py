"""What a trial batch showed, written down and put right."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from batches.actions.ledger import locked
from batches.actions.once import once, still_new
from batches.models import Batch, TrialNote
from makers.actions import By, Refused, recording
from makers.actions.house import file_document
from makers.actions.journal import Draft
from makers.models import Document
from makers.rules.display import day_fact

COLDEST, WARMEST = -40, 100
"""Where a trial can stand, °C: beyond it a digit slipped."""


def note_trial(
    by: By,
    *,
    batch: Batch,
    seen_on: date,
    at_c: Decimal | None = None,
    look: str = "",
    feel: str = "",
    firmness: str = "",
    text: str = "",
    upload: Any = None,
    entry_key: UUID | None = None,
) -> TrialNote:
    """Write down what a trial showed on a day. at_c: where it stood, °C. upload: a photo of it.

    The journal of the version that it was made from tells of it too. Raises Refused for a batch that is no trial or
    was not begun, for a day before its making or to come, and where nothing is said.
    """

    def act() -> TrialNote:
        with recording(by, "trial.noted") as entry:
            still_new(TrialNote, by, entry_key)
            current = trial_begun(by, batch)
            note = TrialNote(
                batch=current, seen_on=seen_on, at_c=at_c, look=look, feel=feel, firmness=firmness
            )
            note.text = text
            return written(by, entry, note, upload, entry_key)

    return once(TrialNote, by, entry_key, act)


def correct_trial_note(
    by: By,
    *,
    note: TrialNote,
    why: str,
    seen_on: date,
    at_c: Decimal | None = None,
    look: str = "",
    feel: str = "",
    firmness: str = "",
    text: str = "",
    upload: Any = None,
    entry_key: UUID | None = None,
) -> TrialNote:
    """Put a note right by a further one; the first stays to be read. Its photo goes on unless another is given.

    Raises Refused for a note that another has put right already, and as ``note_trial``.
    """
    if not why.strip():
        raise Refused({"why": "Say what was wrong with it."})

    def act() -> TrialNote:
        with recording(by, "trial.corrected", why=why) as entry:
            still_new(TrialNote, by, entry_key)
            before = locked(by, note)
            if TrialNote.objects.for_maker(by.maker).filter(corrects=before).exists():
                raise Refused("That note was put right already. Open the batch and correct the newer one.")
            current = trial_begun(by, before.batch)
            after = TrialNote(
                batch=current, seen_on=seen_on, at_c=at_c, look=look, feel=feel, firmness=firmness
            )
            after.text, after.corrects, after.why, after.photo = text, before, why.strip(), before.photo
            return written(by, entry, after, upload, entry_key)

    return once(TrialNote, by, entry_key, act)


def trial_begun(by: By, batch: Batch) -> Batch:
    """The trial, locked, once there is something to look at."""
    batch = locked(by, batch)
    if batch.purpose != Batch.Purpose.TRIAL:
        raise Refused(f"{batch} is not a trial. Write a remark, or a deviation, with it.")
    if batch.started_at is None:
        raise Refused(f"{batch} was not begun, so there is nothing to look at yet.")
    return batch


def written(by: By, entry: Draft, note: TrialNote, upload: Any, entry_key: UUID | None) -> TrialNote:
    """Check a note, keep its photo and save it; call inside a recording."""
    check_note(by, note, upload)
    if upload is not None:
        note.photo = file_document(by, upload, Document.Kind.PHOTO, note.batch.uuid)
    note.maker, note.user, note.entry_key = by.maker, by.user, entry_key
    note.occurred_at = note.entered_at = by.now()
    note.full_clean()
    note.save()
    entry.about(note.batch)
    entry.mention(note.batch.version)
    entry.say(
        on=note.seen_on.isoformat(),
        at_c=note.at_c,
        look=note.look,
        feel=note.feel,
        firmness=note.get_firmness_display(),
        text=note.text,
        photo=note.photo.sha256 if note.photo else "",
    )
    return note


def check_note(by: By, note: TrialNote, upload: Any) -> None:
    """Refuse a day that can't be, a temperature that can't be, and a note that says nothing."""
    started = note.batch.started_at
    begun = started.astimezone(by.maker.zone).date() if started else note.seen_on
    if note.seen_on > by.today():
        raise Refused({"seen_on": "That day is still to come. Write down what was seen."})
    if note.seen_on < begun:
        raise Refused(
            {"seen_on": f"{note.batch} was begun on {day_fact(begun)}; nothing was seen of it before."}
        )
    if note.at_c is not None and not COLDEST <= note.at_c <= WARMEST:
        raise Refused({"at_c": f"It lies between {COLDEST} and {WARMEST} °C, as the thermometer says."})
    if not any((note.look, note.feel, note.firmness, note.text, note.photo, upload)):
        raise Refused("Write at least one thing that was seen or felt, or add a photo.")


__all__ = ["correct_trial_note", "note_trial"]
