"""What the house itself puts into its registries."""

from __future__ import annotations

from makers.actions.checking import paper_faults
from makers.actions.journal import chain_faults
from makers.registries import (
    JournalKind,
    NavigationPlace,
    RecordCheck,
    journal_kinds,
    navigation,
    record_checks,
)


def register() -> None:
    """Add the house's own entries; called once on start."""
    navigation.add(NavigationPlace("today", 10, "Today", "house:today"))
    for kind in (
        JournalKind("maker.opened", "opened the book of {subject}"),
        JournalKind("maker.changed", "changed the workshop settings: {fields}"),
        JournalKind("member.added", "added {subject} as {role}"),
        JournalKind("member.changed", "made {subject} {role}"),
        JournalKind("scale.added", "added the scale {subject}, {readability} g steps"),
        JournalKind("scale.changed", "changed the scale {subject}"),
        JournalKind("scale.checked", "checked the scale {subject}: {weight} g showed {shown} g"),
        JournalKind("responsible.set", "set who answers in {market}: {subject}"),
        JournalKind("document.added", "filed {subject}"),
        JournalKind("contact.changed", "changed a contact's data"),
        JournalKind("contact.erased", "erased a contact's data"),
        JournalKind("records.exported", "took an export of all records: {rows} rows, {papers} papers"),
        JournalKind("records.restored", "restored records from an export of {origin}"),
    ):
        journal_kinds.add(kind)
    record_checks.add(RecordCheck("journal", 10, chain_faults))
    record_checks.add(RecordCheck("papers", 20, paper_faults))
