"""What lots, deliveries and holds contribute to the registries of the house."""

from __future__ import annotations

from makers.http import address
from makers.models import Code, Maker
from makers.registries import CodeKind, JournalKind, code_kinds, journal_kinds

JOURNAL = (
    JournalKind("delivery.received", "received {subject} from {supplier}: {count}"),
    JournalKind("lot.counted_in", "counted in {subject}, {amount} of {what}"),
    JournalKind("lot.released", "released {subject}: {basis}"),
    JournalKind("lot.rejected", "rejected {subject}: {basis}"),
    JournalKind("lot.quarantined", "put {subject} back into quarantine: {basis}"),
    JournalKind("lot.counted", "counted {subject}: {found}, {difference}"),
    JournalKind("lot.wasted", "wasted {amount} of {subject}"),
    JournalKind("lot.sampled", "sampled {amount} of {subject}"),
    JournalKind("lot.returned", "sent back {amount} of {subject}"),
    JournalKind("lot.corrected", "corrected {amount} of {subject}: {instead}"),
    JournalKind("lot.retested", "moved the date of {subject} from {was} to {became}"),
    JournalKind("lot.opened", "opened {subject}"),
    JournalKind("hold.opened", "put {subject} on hold"),
    JournalKind("hold.closed", "ended the hold on {subject}"),
    JournalKind("document.shared", "filed {subject} with {lot} too"),
)


def lot_url(maker: Maker, code: Code) -> str:
    """Where a lot's code leads."""
    return address(maker, "batches:lot", code=code.text)


def delivery_url(maker: Maker, code: Code) -> str:
    """Where a delivery's code leads."""
    return address(maker, "batches:delivery", code=code.text)


def register() -> None:
    """Add the entries of this subject; called once on start."""
    for kind in JOURNAL:
        journal_kinds.add(kind)
    code_kinds.add(CodeKind("lot", 30, "Lot", "{year}-L{number:03}", lot_url))
    code_kinds.add(CodeKind("delivery", 31, "Delivery", "R{year}-{number:03}", delivery_url))
