"""Complaints, and recalls with their rehearsals."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from batches.actions.ledger import locked
from batches.models import Batch, Complaint, ComplaintStep, Lot, Pack, Recall
from batches.tracing import Trace, trace_forward, trace_from_batches
from formulas.models import Product
from makers.actions import By, Refused, give_code, happened, recording
from makers.actions.house import save_contact
from makers.models import Code

FACTS = (
    ("rash", "Rash, redness or itching"),
    ("persistent", "It did not go away by itself"),
    ("infection", "An infection"),
    ("disfigurement", "Lasting marks, a bad rash that stays, burns or loss of hair"),
    ("medical", "A doctor or nurse treated it"),
    ("prevented", "Treatment was needed to prevent one of the things here"),
    ("hospital", "A stay in hospital"),
    ("incapacity", "Could not do the usual things for a time"),
    ("disability", "A lasting disability"),
    ("birth_defect", "A defect at birth"),
    ("life", "Danger to life"),
    ("death", "Death"),
)
ANSWERS = ("yes", "no", "not asked")


def resolve_code(by: By, text: str) -> tuple[Batch | None, Pack | None]:
    """The batch and pack that a code on a container names; (None, None) when nothing has that code."""
    code = Code.objects.called(by.maker, text)
    if code is None:
        return None, None
    if code.kind == "pack":
        pack = Pack.objects.for_maker(by.maker).select_related("batch").filter(uuid=code.subject).first()
        return (pack.batch, pack) if pack else (None, None)
    if code.kind == "batch":
        return Batch.objects.for_maker(by.maker).filter(uuid=code.subject).first(), None
    return None, None


def write_complaint(
    by: By,
    *,
    kind: str,
    words: str,
    received_at: datetime | None = None,
    channel: str = "",
    market: str = "",
    code_given: str = "",
    batch_known: str = "",
    batch: Batch | None = None,
    product: Product | None = None,
    facts: Mapping[str, str] | None = None,
    name: str = "",
    email: str = "",
    phone: str = "",
) -> Complaint:
    """Write down a complaint in the person's words.

    code_given is what the person read from the container: it finds the batch and pack, or stays as given.
    Without a code the batch may be suspected, or unknown: both are valid answers.
    """
    if not words.strip():
        raise Refused({"words": "Write what the person says, in their words."})
    with recording(by, "complaint.written") as entry:
        known, chosen, pack = chosen_batch(by, code_given.strip(), batch_known, batch)
        complaint = Complaint(
            maker=by.maker,
            kind=kind,
            received_at=happened(by, received_at),
            entered_at=by.now(),
            user=by.user,
            channel=channel,
            market=market,
            words=words,
            code_given=code_given.strip(),
            batch_known=known,
            batch=chosen,
            pack=pack,
            product=product or getattr(pack or chosen, "product", None),
            facts=checked_facts(facts or {}),
        )
        complaint.code = give_code(by, "complaint", complaint)
        if name or email or phone:
            complaint.contact = save_contact(by, name=name, email=email, phone=phone)
        complaint.full_clean()
        complaint.save()
        entry.about(complaint)
        entry.mention(complaint.batch, complaint.pack, complaint.product)
        entry.say(kind=complaint.get_kind_display().lower(), known=known)
    return complaint


def chosen_batch(
    by: By, code: str, batch_known: str, suspected: Batch | None
) -> tuple[str, Batch | None, Pack | None]:
    """How well the batch is known, and which batch and pack it is. Raises Refused where the two disagree."""
    found, pack = resolve_code(by, code)
    known = batch_known or (Complaint.BatchKnown.KNOWN if found else Complaint.BatchKnown.UNKNOWN)
    if known == Complaint.BatchKnown.UNKNOWN:
        return known, None, None
    if found is None and suspected is None:
        if code and known == Complaint.BatchKnown.KNOWN:
            text = f"No batch or pack has the code “{code}”. Read it again, or choose “not known”."
            raise Refused({"code_given": f"{text} What was read is kept."})
        raise Refused({"batch": "Which batch is it? Give the code, or say that it is not known."})
    return known, found or suspected, pack


def checked_facts(facts: Mapping[str, str]) -> dict[str, str]:
    """Facts by name with yes, no or not asked; anything else is a slip of the caller."""
    names = {name for name, _ in FACTS}
    if wrong := facts.keys() - names:
        raise ValueError(f"{wrong} are not among the facts asked")
    if wrong_answers := set(facts.values()) - set(ANSWERS):
        raise ValueError(f"{wrong_answers} are no answers")
    return {name: facts.get(name, "not asked") for name, _ in FACTS}


def add_complaint_step(
    by: By,
    *,
    complaint: Complaint,
    kind: str,
    text: str,
    facts: Mapping[str, str] | None = None,
    occurred_at: datetime | None = None,
) -> ComplaintStep:
    """Write what was found, answered, reported or decided; closing needs its conclusion in the text."""
    if not text.strip():
        raise Refused({"text": "Write what was found or done."})
    with recording(by, "complaint.step") as entry:
        complaint = locked(by, complaint)
        closed = complaint.state == Complaint.State.CLOSED
        if closed and kind != ComplaintStep.Kind.REOPENED:
            raise Refused(f"{complaint} is closed. Open it again first.")
        if not closed and kind == ComplaintStep.Kind.REOPENED:
            raise Refused(f"{complaint} is open already.")
        step = ComplaintStep(
            maker=by.maker,
            complaint=complaint,
            kind=kind,
            text=text,
            occurred_at=happened(by, occurred_at),
            entered_at=by.now(),
            user=by.user,
        )
        step.full_clean()
        step.save()
        if facts is not None:
            complaint.facts = checked_facts({**complaint.facts, **facts})
        if kind == ComplaintStep.Kind.CLOSED:
            complaint.state = Complaint.State.CLOSED
        if kind == ComplaintStep.Kind.REOPENED:
            complaint.state = Complaint.State.OPEN
        complaint.save(update_fields=["facts", "state"])
        entry.about(complaint)
        entry.mention(complaint.batch, complaint.pack)
        entry.say(step=step.get_kind_display().lower(), text=text)
    return step


def scope_of(trace: Trace) -> dict[str, Any]:
    """A trace's answer as it is kept with a recall."""
    return {
        "batches": [batch.code for batch in trace.batches.values()],
        "packs": {account.pack.code: account.made for account in trace.accounts},
        "made": trace.made_units,
        "to_recover": trace.to_recover,
        "in_house": trace.in_house,
        "missing": trace.missing,
        "holders": [
            {"code": one.code, "pack": one.pack.code, "units": one.units, "reached_by": one.reached_by}
            for one in trace.holders
        ],
    }


def trace_of(by: By, lot: Lot | None, batch: Batch | None) -> Trace:
    """Where the lot or the batch of a recall went. Raises ValueError when not exactly one is named."""
    match lot, batch:
        case Lot(), None:
            return trace_forward(by.maker, [lot])
        case None, Batch():
            return trace_from_batches(by.maker, [batch])
        case _:
            raise ValueError("a recall starts from a lot or from a batch")


def start_recall(
    by: By, *, rehearsal: bool, reason: str, lot: Lot | None = None, batch: Batch | None = None
) -> Recall:
    """Start a recall or its rehearsal from a lot or a batch: what the trace gives now is kept with it."""
    if not reason.strip():
        raise Refused({"reason": "Say what sets it off."})
    with recording(by, "recall.rehearsed" if rehearsal else "recall.started", why=reason) as entry:
        trace = trace_of(by, lot, batch)
        recall = Recall(
            maker=by.maker,
            rehearsal=rehearsal,
            lot=lot,
            batch=batch,
            reason=reason,
            scope=scope_of(trace),
            started_at=by.now(),
            user=by.user,
        )
        recall.code = give_code(by, "recall", recall)
        recall.full_clean()
        recall.save()
        entry.about(recall)
        entry.mention(lot, batch, *trace.batches.values())
        entry.say(start=str(lot or batch), to_recover=trace.to_recover, batches=len(trace.batches))
    return recall


def end_recall(by: By, *, recall: Recall, found_units: int, conclusion: str) -> Recall:
    """End a recall or rehearsal: units found, and what it showed."""
    if not conclusion.strip():
        raise Refused({"conclusion": "Write what it showed, gaps included."})
    with recording(by, "recall.ended") as entry:
        recall = locked(by, recall)
        if recall.ended_at is not None:
            raise Refused(f"{recall} has ended already.")
        most = int(recall.scope.get("to_recover", 0)) + int(recall.scope.get("in_house", 0))
        if not 0 <= found_units <= most:
            raise Refused({"found_units": f"Between 0 and {most}, as many as the trace could place."})
        recall.found_units = found_units
        recall.conclusion = conclusion
        recall.ended_at = by.now()
        recall.save(update_fields=["found_units", "conclusion", "ended_at"])
        entry.about(recall)
        entry.mention(recall.lot, recall.batch)
        entry.say(found=found_units, minutes=int((recall.ended_at - recall.started_at).total_seconds() // 60))
    return recall
