"""Rows on their way to the database, and a journal chain that is written in bulk."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from django.db import transaction
from django.db.models import Model

from makers.actions import By
from makers.actions.journal import digest_of, plain
from makers.models import Code, JournalEntry, JournalHead, JournalMention

Row = TypeVar("Row", bound=Model)
AT_ONCE = 500


class Shelf:
    """Collects rows by table and writes them table by table; same name and seed, same identities."""

    def __init__(self, by: By, seed: int) -> None:
        self.by = by
        self.random = random.Random(f"{by.maker.trading_name} {seed}")
        self.waiting: dict[type[Model], list[Model]] = {}
        self.head = JournalHead.objects.get(maker=by.maker)

    def add(self, model: type[Row], /, **fields: Any) -> Row:
        """A row of the maker that waits to be written."""
        row = model(maker=self.by.maker, uuid=UUID(int=self.random.getrandbits(128), version=4), **fields)
        self.waiting.setdefault(model, []).append(row)
        return row

    def happened(self, model: type[Row], at: datetime, /, **fields: Any) -> Row:
        """An event of one moment, by the maker's member."""
        return self.add(model, occurred_at=at, entered_at=at, user=self.by.user, **fields)

    def coded(self, model: type[Row], kind: str, code: str, /, **fields: Any) -> Row:
        """A row with its code on record."""
        row = self.add(model, code=code, **fields)
        self.add(Code, text=code, kind=kind, subject=row.uuid)  # type: ignore[attr-defined]  # every row has one
        return row

    @transaction.atomic
    def write(self, order: Sequence[type[Model]] = ()) -> None:
        """Write what waits: the tables named first, in their order, then the others."""
        for model in [*order, *(model for model in self.waiting if model not in order)]:
            rows = self.waiting.pop(model, [])
            for start in range(0, len(rows), AT_ONCE):
                model._default_manager.bulk_create(rows[start : start + AT_ONCE])
        self.head.save(update_fields=["number", "digest"])

    def tell(
        self, action: str, at: datetime, subject: Any, /, *mentions: Any, why: str = "", **change: Any
    ) -> None:
        """The next entry of the journal's chain, as makers.actions.journal.append writes it one by one."""
        head, by = self.head, self.by
        shared: dict[str, Any] = {
            "number": head.number + 1,
            "clock": by.clock_name,
            "user_label": str(by.user),
            "device": by.device,
            "action": action,
            "subject_kind": subject._meta.label_lower,
            "subject_label": str(subject)[:200],
            "change": plain(change),
            "why": why,
        }
        content = {
            **shared,
            "maker": str(by.maker.uuid),
            "at": at.isoformat(),
            "user": str(by.user.uuid),
            "subject": str(subject.uuid),
            "previous": head.digest,
        }
        text = json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        head.number, head.digest = head.number + 1, digest_of(text)
        entry = self.add(
            JournalEntry, **shared, at=at, user=by.user, subject=subject.uuid, text=text, digest=head.digest
        )
        for record in mentions:
            self.add(JournalMention, entry=entry, subject=record.uuid)
