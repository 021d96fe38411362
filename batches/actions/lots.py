"""What is done with a lot once it is here: decided, counted, wasted, sampled, retested, corrected."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any, NoReturn
from uuid import UUID

from batches.actions.ledger import in_stock_unit, in_words, locked, owned, write_line
from batches.actions.once import once, still_new
from batches.models import Lot, LotDecision, LotEntry, LotStatus, Retest
from batches.rules.receiving import names_another_lot
from makers.actions import By, Refused, happened, recording
from makers.actions.house import file_document
from makers.models import Document
from makers.rules.display import clock, day_fact
from makers.rules.reading import quoted

WAYS_OUT = {
    LotEntry.Kind.WASTED: "Wasting",
    LotEntry.Kind.SAMPLED: "Sampling",
    LotEntry.Kind.RETURNED: "Sending back",
}
CORRECTED_HERE = frozenset(
    {
        LotEntry.Kind.RECEIVED,
        LotEntry.Kind.OPENING,
        LotEntry.Kind.COUNTED,
        *WAYS_OUT,
    }
)
"""Kinds of lines that are corrected at the lot; weighings and outputs are taken back in their batch."""

WORDS = {
    LotStatus.QUARANTINE: ("lot.quarantined", "in quarantine"),
    LotStatus.RELEASED: ("lot.released", "released"),
    LotStatus.REJECTED: ("lot.rejected", "rejected"),
}


def file_paper(by: By, *, lot: Lot, document: Any, kind: str = Document.Kind.CERTIFICATE) -> Document:
    """Keep a paper with a lot: an upload, or a paper that is kept already and now belongs to this lot too."""
    owned(by, lot)
    if not isinstance(document, Document):
        return file_document(by, document, kind, about=lot.uuid)
    owned(by, document)
    if document.about == lot.uuid:
        return document
    with recording(by, "document.shared") as entry:
        shared = Document(
            maker=by.maker,
            kind=document.kind,
            file=document.file.name,
            name=document.name,
            size=document.size,
            content_type=document.content_type,
            sha256=document.sha256,
            about=lot.uuid,
            user=by.user,
            at=by.now(),
        )
        shared.save()
        entry.about(shared)
        entry.mention(lot, document)
        entry.say(lot=lot.code, sha256=shared.sha256)
    return shared


def decide_lot(
    by: By,
    *,
    lot: Lot,
    became: str,
    basis: str,
    document: Document | None = None,
    certificate_lot: str = "",
    although_other_lot: bool = False,
    after: str | None = None,
    occurred_at: datetime | None = None,
    entry_key: UUID | None = None,
) -> LotDecision:
    """Release a lot, reject it, or put it back into quarantine, on a basis in words.

    document: the paper that the decision rests on. certificate_lot: the lot number that the certificate
    names; where it is another than the supplier's, ``although_other_lot`` must be given. after: as
    ``last_decided`` said when the form was made. Raises Refused, also where somebody decided since.
    """
    basis = decided_on(became, basis)
    kind, word = WORDS[LotStatus(became)]

    def act() -> LotDecision:
        with recording(by, kind) as entry:
            still_new(LotDecision, by, entry_key)
            found = locked(by, lot, "ingredient", "article")
            refuse_decided_since(by, found, after)
            if found.status == became:
                raise Refused({"became": f"{found.code} is {word} already."})
            other = names_another_lot(certificate_lot, found.supplier_lot)
            if became == LotStatus.RELEASED and other and not although_other_lot:
                refuse_certificate(certificate_lot, found)
            decision = LotDecision(
                maker=by.maker,
                lot=found,
                was=found.status,
                became=became,
                basis=basis,
                document=owned(by, document) if document else None,
                occurred_at=happened(by, occurred_at),
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            decision.full_clean()
            decision.save()
            found.status = became
            found.save(update_fields=["status"])
            entry.about(found)
            entry.mention(found.ingredient, found.article)
            entry.say(was=decision.was, basis=basis, decision=decision.uuid)
            if certificate_lot.strip():
                entry.say(certificate_lot=certificate_lot.strip(), certificate_of_another_lot=other)
            if document:
                entry.say(document=document.uuid, sha256=document.sha256)
        return decision

    decision = once(LotDecision, by, entry_key, act)
    lot.refresh_from_db(fields=["status"])
    return decision


def decided_on(became: str, basis: str) -> str:
    """The basis of a decision, tidied. Raises Refused for none, and for a status that there isn't."""
    if became not in LotStatus.values:
        raise Refused({"became": "A lot is released, rejected or in quarantine."})
    if not basis.strip():
        raise Refused({"basis": "Write what the decision rests on: what was looked at, and what it showed."})
    return basis.strip()


def last_decided(lot: Lot) -> LotDecision | None:
    """The last decision about a lot; None where nobody decided yet."""
    return LotDecision.objects.for_maker(lot.maker).filter(lot=lot).select_related("user").last()


def refuse_decided_since(by: By, lot: Lot, after: str | None) -> None:
    """Refuse to decide on a page that doesn't show the last decision. after: its key there; None where unknown."""
    last = last_decided(lot)
    if after is None or last is None or after == str(last.uuid):
        return
    word, at = WORDS[LotStatus(last.became)][1], clock(last.entered_at.astimezone(by.maker.zone))
    raise Refused(
        f"{last.user} decided at {at} that {lot.code} is {word}, after you opened this page: {quoted(last.basis)}. "
        "Nothing of yours is written down. Send it again to decide otherwise all the same."
    )


def refuse_certificate(certificate_lot: str, lot: Lot) -> NoReturn:
    """Refuse to release a lot on the certificate of another."""
    raise Refused(
        {
            "certificate_lot": f"The certificate names {certificate_lot.strip()}, this lot is "
            f"{lot.supplier_lot}: it says nothing about it. Ask for the right one, or tick "
            "that you release it all the same and say why."
        }
    )


def count_lot(
    by: By,
    *,
    lot: Lot,
    found: Decimal,
    why: str = "",
    unit: str = "",
    expected: Decimal | None = None,
    occurred_at: datetime | None = None,
    entry_key: UUID | None = None,
) -> LotEntry:
    """Write down what a count found; the difference to the book becomes the line's amount, 0 for none.

    found: in ``unit``, or in the lot's own. expected: what the book said when the count was written; where it
    has moved since, the count is refused. A difference needs a reason.
    """
    why = why.strip()

    def act() -> LotEntry:
        with recording(by, "lot.counted", why=why) as entry:
            still_new(LotEntry, by, entry_key)
            kept = locked(by, lot)
            amount = in_stock_unit(found, unit or kept.unit, kept.unit, least_above=None)
            difference = counted_difference(by, kept, amount, expected, why)
            line = write_line(
                by,
                entry,
                lot=kept,
                kind=LotEntry.Kind.COUNTED,
                amount=difference,
                counted=amount,
                why=why,
                occurred_at=happened(by, occurred_at),
                entry_key=entry_key,
            )
            sign = "+" if difference > 0 else ""
            entry.about(kept)
            entry.say(
                found=in_words(by, amount, kept.unit),
                difference=sign + in_words(by, difference, kept.unit) if difference else "as written",
            )
        return line

    line = once(LotEntry, by, entry_key, act)
    lot.refresh_from_db(fields=["on_hand"])
    return line


def counted_difference(by: By, lot: Lot, amount: Decimal, expected: Decimal | None, why: str) -> Decimal:
    """What a count found beyond the book, in the lot's unit; below 0 when less. Refuses what can't stand."""
    if amount < 0:
        raise Refused({"found": "A count is 0 or more."})
    if expected is not None and expected != lot.on_hand:
        raise Refused(
            f"The book moved from {in_words(by, expected, lot.unit)} to "
            f"{in_words(by, lot.on_hand, lot.unit)} while you counted. Look at the ledger, then "
            "count again."
        )
    difference: Decimal = amount - lot.on_hand
    if difference and not why:
        more = "more" if difference > 0 else "less"
        raise Refused(
            {
                "why": f"{in_words(by, abs(difference), lot.unit)} {more} than written. Write what "
                "explains it, or that nothing does."
            }
        )
    return difference


def waste_lot(
    by: By,
    *,
    lot: Lot,
    amount: Decimal,
    why: str,
    kind: str = LotEntry.Kind.WASTED,
    unit: str = "",
    occurred_at: datetime | None = None,
    entry_key: UUID | None = None,
) -> LotEntry:
    """Take an amount out of a lot other than into a batch: wasted, sampled or sent back (``returned``).

    amount: in ``unit``, or in the lot's own. Raises Refused for more than is there, or without a reason.
    """
    if kind not in WAYS_OUT:
        raise Refused({"kind": "Stock goes out as wasted, sampled or sent back."})
    why = why.strip()
    if not why:
        raise Refused({"why": "Write why: it stays in the ledger for good."})

    def act() -> LotEntry:
        with recording(by, f"lot.{kind}", why=why) as entry:
            still_new(LotEntry, by, entry_key)
            kept = locked(by, lot)
            out = in_stock_unit(amount, unit or kept.unit, kept.unit)
            if out > kept.on_hand:
                doing, left = WAYS_OUT[LotEntry.Kind(kind)], kept.on_hand - out
                raise Refused(
                    {
                        "amount": f"{doing} {in_words(by, out, kept.unit)} would leave "
                        f"{in_words(by, left, kept.unit)}. At most "
                        f"{in_words(by, kept.on_hand, kept.unit)} can go."
                    }
                )
            line = write_line(
                by,
                entry,
                lot=kept,
                kind=kind,
                amount=-out,
                why=why,
                occurred_at=happened(by, occurred_at),
                entry_key=entry_key,
            )
            entry.about(kept)
            entry.say(amount=in_words(by, out, kept.unit), left=in_words(by, kept.on_hand, kept.unit))
        return line

    line = once(LotEntry, by, entry_key, act)
    lot.refresh_from_db(fields=["on_hand"])
    return line


def correct_entry(
    by: By, *, entry: LotEntry, why: str, amount: Decimal | None = None, unit: str = ""
) -> LotEntry:
    """Take a wrong ledger line back by a reversing line; with ``amount``, write the right one in its place.

    amount: what it should have been, without a sign, in ``unit`` or the lot's own. The wrong line stays to be
    seen. Returns the reversing line. Raises Refused for a line that was taken back, is a reversal itself,
    belongs to a batch, or when the lot would hold less than nothing.
    """
    why = why.strip()
    if not why:
        raise Refused({"why": "Write what was wrong: both lines stay in the ledger."})
    with recording(by, "lot.corrected", why=why) as draft:
        kept = locked(by, entry.lot)
        wrong = LotEntry.objects.for_maker(by.maker).filter(lot=kept, pk=entry.pk).first()
        if wrong is None:
            raise Refused("That line is not in this book.")
        check_correctable(by, wrong, amount)
        right = None
        if amount is not None:
            right = in_stock_unit(amount, unit or kept.unit, kept.unit)
            right = right if wrong.amount > 0 else -right
        left = kept.on_hand - wrong.amount + (right or 0)
        if left < 0:
            raise Refused(
                {
                    "amount": f"That would leave {in_words(by, left, kept.unit)}: more has gone out since. "
                    "Correct what went out first, or count the lot."
                }
            )
        common: dict[str, Any] = {"lot": kept, "why": why, "occurred_at": wrong.occurred_at}
        moves: list[dict[str, Any]] = [
            {"kind": LotEntry.Kind.REVERSED, "amount": -wrong.amount, "reverses": wrong}
        ]
        if right is not None:
            moves.append({"kind": wrong.kind, "amount": right})
        moves.sort(key=lambda move: move["amount"], reverse=True)
        lines = [write_line(by, draft, **common, **move) for move in moves]
        draft.about(kept)
        draft.say(
            amount=in_words(by, wrong.amount, kept.unit),
            instead="taken back" if right is None else in_words(by, right, kept.unit),
            entry=wrong.uuid,
        )
    entry.lot.refresh_from_db(fields=["on_hand"])
    return next(line for line in lines if line.reverses_id is not None)


def check_correctable(by: By, wrong: LotEntry, amount: Decimal | None) -> None:
    """Refuse what can't be corrected at the lot, with the sentence that says where."""
    if wrong.reverses_id is not None or wrong.kind == LotEntry.Kind.REVERSED:
        raise Refused("That line takes another back already. Write the movement anew.")
    if wrong.kind not in CORRECTED_HERE:
        where = f" in batch {wrong.batch}" if wrong.batch else " in its batch"
        raise Refused(
            f"That was written{where}. Take it back there, so that the batch agrees with the ledger."
        )
    if LotEntry.objects.filter(reverses=wrong).exists():
        raise Refused("That line was taken back already.")
    if amount is not None and wrong.kind == LotEntry.Kind.COUNTED:
        raise Refused({"amount": "Take the count back, then write down a new one."})


def retest_lot(
    by: By,
    *,
    lot: Lot,
    became: date,
    basis: str,
    document: Document | None = None,
    occurred_at: datetime | None = None,
    entry_key: UUID | None = None,
) -> Retest:
    """Move a lot's date on the strength of a test. Raises Refused for a past or the same day, or no basis."""
    basis = basis.strip()
    if not basis:
        raise Refused({"basis": "Write what was tested and what it showed."})

    def act() -> Retest:
        with recording(by, "lot.retested", why=basis) as entry:
            still_new(Retest, by, entry_key)
            kept = locked(by, lot)
            at = happened(by, occurred_at)
            if became < at.astimezone(by.maker.zone).date():
                day = day_fact(became)
                raise Refused(
                    {"became": f"{day} is past. To stop the use of {kept.code}, hold or reject it."}
                )
            if became == kept.good_until and kept.date_kind == Lot.DateKind.RETEST:
                raise Refused({"became": f"{kept.code} is good until {day_fact(became)} already."})
            retest = Retest(
                maker=by.maker,
                lot=kept,
                was=kept.good_until,
                became=became,
                basis=basis,
                document=owned(by, document) if document else None,
                occurred_at=at,
                entered_at=by.now(),
                user=by.user,
                entry_key=entry_key,
            )
            retest.full_clean()
            retest.save()
            kept.good_until, kept.date_kind = became, Lot.DateKind.RETEST
            kept.save(update_fields=["good_until", "date_kind"])
            entry.about(kept)
            entry.say(was=retest.was or "no date", became=became, retest=retest.uuid)
        return retest

    retest = once(Retest, by, entry_key, act)
    lot.refresh_from_db(fields=["good_until", "date_kind"])
    return retest


def open_lot(by: By, *, lot: Lot, on: date | None = None) -> Lot:
    """Write down the day on which the container was opened, once."""
    with recording(by, "lot.opened") as entry:
        kept = locked(by, lot)
        day = on or by.today()
        if day > by.today():
            raise Refused({"on": f"{day_fact(day)} is still to come."})
        if kept.opened_on is not None:
            raise Refused({"on": f"{kept.code} was opened on {day_fact(kept.opened_on)}."})
        kept.opened_on = day
        kept.save(update_fields=["opened_on"])
        entry.about(kept)
        entry.say(on=day)
    lot.refresh_from_db(fields=["opened_on"])
    return lot
