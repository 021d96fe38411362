"""Writing and verifying the journal."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models, transaction

from makers.actions.by import WRITERS, By
from makers.models import JournalEntry, JournalHead, JournalMention, Maker
from makers.registries import Fault, journal_kinds

FIGURE = re.compile(r"-?\d+\.\d+")


def plain(value: Any) -> Any:
    """Turn a value into what JSON can hold without losing exactness: Decimals become text."""
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, models.Model):
        return str(value)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set):
        return [plain(item) for item in value]
    return value


def digest_of(text: str) -> str:
    """The SHA-256 of a text, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


@dataclass(slots=True)
class Draft:
    """What the entry will say; the action fills it in while it works."""

    subject: UUID | None = None
    subject_kind: str = ""
    subject_label: str = ""
    why: str = ""
    change: dict[str, Any] = field(default_factory=dict)
    mentions: list[UUID] = field(default_factory=list)

    def about(self, record: Any, label: str = "") -> None:
        """Name the record that the entry is about."""
        self.subject = record.uuid
        self.subject_kind = record._meta.label_lower
        self.subject_label = (label or str(record))[:200]

    def mention(self, *records: Any) -> None:
        """Name further records whose own journal shows this entry too."""
        self.mentions += [record.uuid for record in records if record is not None]

    def say(self, **change: Any) -> None:
        """Add figures to the entry."""
        self.change.update(change)


@contextmanager
def recording(by: By, action: str, *, why: str = "", roles: tuple[str, ...] = WRITERS) -> Iterator[Draft]:
    """One action: one transaction, the maker's chain locked first, one journal entry at its end.

    Raises PermissionDenied for other roles, and ValueError for a kind of entry that nobody registered.
    """
    if action not in journal_kinds:
        raise ValueError(f"Nobody registered the journal kind {action!r}.")
    by.must_be(roles)
    with holding_chain(by.maker) as head:
        draft = Draft(why=why)
        yield draft
        append(by, action, draft, head)


HELD: ContextVar[JournalHead | None] = ContextVar("HELD", default=None)
"""The end of the chain that a transaction under way has locked."""


@contextmanager
def holding_chain(maker: Maker) -> Iterator[JournalHead]:
    """A transaction with the end of the maker's chain locked first; inside another one, that one's lock is good."""
    with transaction.atomic():
        held = HELD.get()
        if held is not None and held.maker_id == maker.pk:
            yield held
            return
        head = lock_chain(maker)
        token = HELD.set(head)
        try:
            yield head
        finally:
            HELD.reset(token)


def lock_chain(maker: Maker) -> JournalHead:
    """Lock the end of the maker's chain for the rest of the transaction; it comes before every other lock."""
    heads = JournalHead.objects.select_for_update()
    try:
        return heads.get(maker=maker)
    except JournalHead.DoesNotExist:
        JournalHead.objects.get_or_create(maker=maker)
        return heads.get(maker=maker)


def append(by: By, action: str, draft: Draft, head: JournalHead) -> JournalEntry:
    """Write one entry at the end of the chain and move the head.

    head: as it was when it was last seen. What moved it since may have been taken back; then it is read again.
    """
    number, at = head.number + 1, by.now()
    change = plain(draft.change)
    content = {
        "number": number,
        "maker": str(by.maker.uuid),
        "at": at.isoformat(),
        "clock": by.clock_name,
        "user": str(by.user.uuid),
        "user_label": str(by.user),
        "device": by.device,
        "action": action,
        "subject": str(draft.subject) if draft.subject else None,
        "subject_kind": draft.subject_kind,
        "subject_label": draft.subject_label,
        "change": change,
        "why": draft.why,
        "previous": head.digest,
    }
    text = json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    digest = digest_of(text)
    as_seen = JournalHead.objects.filter(pk=head.pk, digest=head.digest)
    if not as_seen.update(number=number, digest=digest):
        head.refresh_from_db()
        return append(by, action, draft, head)
    head.number, head.digest = number, digest
    entry = JournalEntry(
        maker=by.maker,
        number=number,
        at=at,
        clock=by.clock_name,
        user=by.user,
        user_label=str(by.user),
        device=by.device,
        action=action,
        subject=draft.subject,
        subject_kind=draft.subject_kind,
        subject_label=draft.subject_label,
        change=change,
        why=draft.why,
        text=text,
        digest=digest,
    )
    entry.save()
    mentions = [subject for subject in dict.fromkeys(draft.mentions) if subject != draft.subject]
    if mentions:
        JournalMention.objects.bulk_create(
            JournalMention(maker=by.maker, entry=entry, subject=subject) for subject in mentions
        )
    return entry


def entries_about(maker: Maker, *uuids: UUID) -> models.QuerySet[JournalEntry]:
    """The entries that speak of any of these records, newest first."""
    mentioned = JournalMention.objects.filter(maker=maker, subject__in=uuids).values("entry_id")
    return (
        JournalEntry.objects.filter(maker=maker)
        .filter(models.Q(subject__in=uuids) | models.Q(pk__in=mentioned))
        .order_by("-number")
    )


def sentence(entry: JournalEntry) -> str:
    """What an entry says to a reader, without who and when."""

    class Missing(dict[str, Any]):
        def __missing__(self, key: str) -> str:
            return "…"

    pattern = journal_kinds[entry.action].sentence if entry.action in journal_kinds else entry.action
    shown_change = {key: without_idle_zeros(value) for key, value in entry.change.items()}
    return pattern.format_map(Missing({**shown_change, "subject": entry.subject_label}))


def without_idle_zeros(value: Any) -> Any:
    """A figure kept as text, as it is read: 249.0000 is 249, 13.50 is 13.5; anything else as it is."""
    if isinstance(value, str) and FIGURE.fullmatch(value):
        return value.rstrip("0").rstrip(".")
    return value


def chain_faults(maker: Maker) -> list[Fault]:
    """Walk the chain from its start; names the first entry that is not as it was written."""
    previous, expected = "", 1
    for entry in JournalEntry.objects.filter(maker=maker).order_by("number").iterator(chunk_size=500):
        where = f"journal entry {entry.number}"
        if entry.number != expected:
            return [Fault(where, f"Entry {expected} is missing from the journal.")]
        if digest_of(entry.text) != entry.digest:
            return [Fault(where, "Its text is not the one that its digest was made over.")]
        content = json.loads(entry.text)
        if content["previous"] != previous:
            return [Fault(where, "It does not follow from the entry before it.")]
        if shown(entry) != {key: content[key] for key in shown(entry)}:
            return [Fault(where, "Its columns say something else than its text.")]
        previous, expected = entry.digest, expected + 1
    head = JournalHead.objects.filter(maker=maker).first()
    found = (expected - 1, previous)
    if head is not None and (head.number, head.digest) != found:
        return [Fault("journal head", f"It stands at {head.number}, the entries end at {found[0]}.")]
    return []


def shown(entry: JournalEntry) -> dict[str, Any]:
    """The columns of an entry in the form in which its text holds them."""
    return {
        "number": entry.number,
        "user_label": entry.user_label,
        "device": entry.device,
        "action": entry.action,
        "subject": str(entry.subject) if entry.subject else None,
        "subject_kind": entry.subject_kind,
        "subject_label": entry.subject_label,
        "change": entry.change,
        "why": entry.why,
        "clock": entry.clock,
    }
