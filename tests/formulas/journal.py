"""What an action left in the journal, and what its refusal says."""

from __future__ import annotations

from typing import Any

import pytest

from makers.actions import By
from makers.models import JournalEntry


def newest(by: By) -> JournalEntry:
    """The last line of the journal."""
    entry: JournalEntry = JournalEntry.objects.filter(maker=by.maker).order_by("-number")[0]
    return entry


def lines(by: By) -> int:
    """How many lines the journal has."""
    return JournalEntry.objects.filter(maker=by.maker).count()


def refusal(error: pytest.ExceptionInfo[Any]) -> str:
    """The sentences of a refusal."""
    return " ".join(error.value.messages)
