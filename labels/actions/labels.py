"""Drafting, changing, confirming, approving and withdrawing labels."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import UTC
from decimal import Decimal
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import Max

from formulas.actions.formulas import freeze
from formulas.models import Basis, Composition, Product, Substance, SubstanceName
from labels.assembly import LabelPaper, assemble_one, market_word
from labels.layout import as_plain
from labels.models import FactConfirmation, Label, LabelIssue
from labels.pdf import ProofPage, proof_pdf
from labels.proof import Proof, height_that_fits, proof_of
from labels.rules.declaration import MARKETS
from labels.rules.entries import Entry
from labels.rules.tables import RULES_EDITION
from labels.shelf import JUDGED
from makers.actions import By, Refused, recording
from makers.actions.house import file_document
from makers.models import JournalHead

State = Label.State
DEFAULT_WIDTH = Decimal(60)
CHANGEABLE = (
    "identity", "directions", "cautions", "origin", "extra", "width_mm", "height_mm", "placed_from",
    "product_groups", "opened",
)  # fmt: skip


def draft_label(by: By, *, product: Product, market: str, language: str = "en", **texts: Any) -> Label:
    """Start the label of a product for a market, with what is known already written in.

    texts: any of CHANGEABLE; without a height the lowest that holds the texts is taken. A withdrawn label is
    taken up again. Raises Refused where no rules are held for the market or a label is there already.
    """
    if market not in MARKETS:
        raise Refused(
            {"market": f"No rules for {market_word(market)} are held yet; its own law says what goes on."}
        )
    with recording(by, "label.drafted") as entry:
        label = (
            Label.objects.for_maker(by.maker)
            .filter(product=product, market=market, language=language)
            .first()
        )
        if label is not None and label.state != State.WITHDRAWN:
            raise Refused(
                {"market": f"{product} has a label for {market_word(market)} in this language. Open that."}
            )
        if label is None:
            label = Label(maker=by.maker, product=product, market=market, language=language)
            label.identity, label.directions, label.width_mm = (
                product.identity,
                product.directions,
                DEFAULT_WIDTH,
            )
        label.state, label.edit = State.DRAFT, label.edit + 1
        set_texts(label, texts)
        label.full_clean()
        label.save()
        paper = assemble_one(label)
        if paper is not None:
            fill_in(label, paper, texts)
        entry.about(label)
        entry.mention(product)
        entry.say(market=market, language=language)
    return label


def fill_in(label: Label, paper: LabelPaper, given: dict[str, Any]) -> None:
    """Write the cautions that must stand there, and a height that holds the texts."""
    hard = [caution.text for caution in paper.cautions if not caution.condition]
    if hard and not given.get("cautions") and not label.cautions:
        label.cautions = "\n".join(hard)
        label.save(update_fields=["cautions"])
        paper = assemble_one(label) or paper
    if given.get("height_mm") is None and not label.issues.exists():
        label.height_mm = height_that_fits(paper, Decimal(label.width_mm))
        label.save(update_fields=["height_mm"])


def set_texts(label: Label, texts: dict[str, Any]) -> dict[str, Any]:
    """Set what is given on the label; returns what changed. Raises ValueError for another field."""
    if wrong := texts.keys() - set(CHANGEABLE):
        raise ValueError(f"{', '.join(sorted(wrong))} can't be set on a label.")
    changed = {key: value for key, value in texts.items() if value is not None or key == "placed_from"}
    changed = {key: value for key, value in changed.items() if getattr(label, key) != value}
    for key, value in changed.items():
        setattr(label, key, value)
    return changed


def locked(by: By, label: Label, edit: int | None = None) -> Label:
    """The label as it stands, locked. Raises Refused when somebody changed it since ``edit``."""
    found: Label = Label.objects.for_maker(by.maker).select_for_update().get(pk=label.pk)
    if edit is not None and found.edit != edit:
        raise Refused("This label was changed since you opened it. Look at it again, then write.")
    return found


def change_label(by: By, *, label: Label, edit: int | None = None, **texts: Any) -> Label:
    """Change a label's texts or size. It is a draft again; issues that were approved stay as they are."""
    with recording(by, "label.changed") as entry:
        label = locked(by, label, edit)
        changed = set_texts(label, texts)
        if changed:
            label.state, label.edit = State.DRAFT, label.edit + 1
        label.full_clean()
        label.save()
        entry.about(label)
        entry.mention(label.product)
        entry.say(fields=", ".join(sorted(changed)).replace("_", " ") or "nothing", **changed)
    return label


def confirm_fact_on(by: By, *, label: Label, key: str, text: str, basis: str) -> FactConfirmation:
    """Confirm one fact that was known from memory alone; it counts wherever a label rests on it."""
    return confirm_all(by, label=label, facts=[(key, text)], basis=basis)[0]


def confirm_all(
    by: By, *, label: Label, facts: Sequence[tuple[str, str]], basis: str
) -> list[FactConfirmation]:
    """Confirm several facts, as (key, text), that were checked against the same thing.

    Raises Refused without a basis, without a fact, and for words that the label doesn't rest on.
    """
    basis = basis.strip()
    if not basis:
        raise Refused({"basis": "Say what you checked it against: a sheet, a database, a page of law."})
    if not facts:
        raise Refused({"facts": "Tick the facts that you checked."})
    with recording(by, "label.facts_confirmed", why=basis) as entry:
        label = locked(by, label)
        paper = assemble_one(label)
        known = {(fact.key, fact.text) for fact in paper.facts} if paper else set()
        if wrong := [text for key, text in facts if (key, text) not in known]:
            raise Refused(f"The label no longer rests on “{wrong[0]}”. Look at it again.")
        made = [record_confirmation(by, label, key, text, basis) for key, text in facts]
        entry.about(label)
        entry.mention(label.product)
        entry.say(count=len(made), facts=[text for _, text in facts])
    return made


def record_confirmation(by: By, label: Label, key: str, text: str, basis: str) -> FactConfirmation:
    """One row; inside a recording."""
    row = FactConfirmation(
        maker=by.maker,
        label=label,
        key=key,
        text=text,
        basis=basis,
        occurred_at=by.now(),
        entered_at=by.now(),
        user=by.user,
    )
    row.full_clean()
    row.save()
    return row


def judge_caution(by: By, *, label: Label, key: str, why: str) -> FactConfirmation:
    """Say that a conditional caution doesn't apply to this product. Raises Refused without a reason."""
    if not why.strip():
        raise Refused({"why": "Say why it doesn't apply."})
    with recording(by, "label.caution_judged", why=why.strip()) as entry:
        label = locked(by, label)
        paper = assemble_one(label)
        caution = next((one for one in paper.open_cautions if one.key == key), None) if paper else None
        if caution is None:
            raise Refused("That caution doesn't wait for a judgement on this label.")
        row = record_confirmation(by, label, JUDGED + key[: 160 - len(JUDGED)], caution.text, why.strip())
        entry.about(label)
        entry.say(caution=caution.text)
    return row


def approve_label(by: By, *, label: Label, edit: int | None = None) -> LabelIssue:
    """Fix the label as it is today as its next issue, with its PDF; the compositions it rests on are frozen.

    Raises Refused, naming what waits, while anything is unknown, missing or known from memory alone.
    """
    with recording(by, "label.approved") as entry:
        label = locked(by, label, edit)
        paper = assemble_one(label)
        if paper is None:
            raise Refused("The formula has no version that a label could speak of.")
        proof = proof_of(paper)
        if proof.waits:
            count = len(proof.waits)
            more = f" {count - 1} more wait too." if count > 1 else ""
            raise Refused(f"Waits: {proof.waits[0]}{more}")
        number = (label.issues.aggregate(last=Max("number"))["last"] or 0) + 1
        issue = write_issue(by, label, proof, number)
        keys = [one.pk for one in paper.compositions]
        Composition.objects.for_maker(by.maker).filter(pk__in=keys, frozen_at__isnull=True).update(
            frozen_at=by.now()
        )
        freeze(by, paper.version)
        label.state = State.APPROVED
        label.save(update_fields=["state"])
        entry.about(label)
        entry.mention(label.product, issue, paper.version)
        entry.say(issue=number, digest=issue.digest, ingredients=issue.declaration)
    return issue


def write_issue(by: By, label: Label, proof: Proof, number: int) -> LabelIssue:
    """Save the frozen state and its PDF; inside a recording."""
    paper = proof.paper
    issue = LabelIssue(
        maker=by.maker,
        label=label,
        number=number,
        version=paper.version,
        approved_at=by.now(),
        approved_by=by.user,
        snapshot=snapshot_of(by, proof),
        declaration=paper.declaration.text,
        compositions=sorted(str(one.uuid) for one in paper.compositions),
        rules_edition=RULES_EDITION,
    )
    issue.digest = issue_digest(issue)
    local = issue.approved_at.astimezone(by.maker.zone)
    approved = f"Issue {number}, approved by {by.user} on {local:%Y-%m-%d %H:%M}, digest {issue.digest[:16]}"
    content = proof_pdf(proof.layout, proof_page(proof, approved))
    name = f"{label.product.code}-{label.address_key}-issue-{number}.pdf"
    upload = SimpleUploadedFile(name, content, content_type="application/pdf")
    issue.pdf = file_document(by, upload, "other", issue.uuid)
    issue.full_clean()
    issue.save()
    return issue


def snapshot_of(by: By, proof: Proof) -> dict[str, Any]:
    """Everything printed, with its reasons, as plain values."""
    paper = proof.paper
    return {
        "printed": paper.printed,
        "entries": [plain_entry(one) for one in paper.declaration.entries],
        "left_out": [
            {"name": one.name, "reason": one.reason, "source": one.source}
            for one in paper.declaration.left_out
        ],
        "requirements": [
            {"title": one.title, "state": one.state, "text": one.text, "source": one.source}
            for one in paper.requirements
        ],
        "confirmations": confirmations_behind(by, paper),
        "blocks": as_plain(proof.blocks),
        "size_mm": [f"{paper.label.width_mm:f}", f"{paper.label.height_mm:f}"],
        "version": f"{paper.version}",
    }


def plain_entry(entry: Entry) -> dict[str, Any]:
    """One printed name with its reasons; low, typical and high share as text, None where unknown."""
    share = entry.percent
    return {
        "name": entry.printed_name,
        "percent": [None if end is None else f"{end:f}" for end in (share.low, share.typical, share.high)],
        "section": entry.section,
        "rule": entry.rule,
        "reason": " ".join(filter(None, (entry.reason, *entry.could_move, entry.also))),
        "source": entry.source,
        "from": [part.ingredient for part in entry.contributions],
    }


def confirmations_behind(by: By, paper: LabelPaper) -> list[dict[str, str]]:
    """What was confirmed or judged for what this label says, by whom and against what."""
    used = {(fact.key, fact.text) for fact in paper.facts}
    return [
        {"text": one.text, "basis": one.basis, "by": str(one.user), "at": one.entered_at.isoformat()}
        for one in FactConfirmation.objects.for_maker(by.maker).select_related("user")
        if (one.key, one.text) in used or (one.key.startswith(JUDGED) and one.label_id == paper.label.pk)
    ]


def issue_digest(issue: LabelIssue) -> str:
    """The digest over everything that is fixed in an issue, its file apart (which has its own)."""
    content = {
        "label": str(issue.label.uuid),
        "number": issue.number,
        "version": str(issue.version.uuid),
        "approved_at": issue.approved_at.astimezone(UTC).isoformat(),
        "snapshot": issue.snapshot,
        "declaration": issue.declaration,
        "compositions": issue.compositions,
        "rules_edition": issue.rules_edition,
    }
    text = json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def proof_page(proof: Proof, approved: str = "") -> ProofPage:
    """What stands around the label on its proof."""
    paper = proof.paper
    label = paper.label
    head = JournalHead.objects.filter(maker=label.maker).first()
    at = f"Journal head no. {head.number} {head.digest[:16]}. " if head and head.number else ""
    return ProofPage(
        title=f"{label.product.name}: label for {market_word(label.market)}",
        facts=[
            f"{label.maker.printed_name}. Made to {paper.version}. Rules as known on {RULES_EDITION}.",
            paper.sizes.note + ".",
        ],
        gaps=[f"Waits: {words}" for words in proof.waits] if not approved else [],
        approved=approved,
        foot=f"{at}Your country's law and a qualified assessor decide; this list helps you not to forget.",
    )


def withdraw_label(by: By, *, label: Label, why: str) -> Label:
    """Withdraw a label: nothing new is printed from it; what was printed stays on record."""
    if not why.strip():
        raise Refused({"why": "Say why; whoever reads this in a year wants to know."})
    with recording(by, "label.withdrawn", why=why.strip()) as entry:
        label = locked(by, label)
        if label.state == State.WITHDRAWN:
            raise Refused("This label is withdrawn already.")
        label.state, label.edit = State.WITHDRAWN, label.edit + 1
        label.save(update_fields=["state", "edit"])
        entry.about(label)
        entry.mention(label.product)
    return label


def name_substance(
    by: By, *, substance: Substance, market: str, name: str, basis: str = Basis.CONFIRMED, source: str = ""
) -> SubstanceName:
    """Say what this maker prints for a substance in a market; the shared row stays as it is."""
    if not source.strip() and basis in (Basis.READ, Basis.SUPPLIER):
        raise Refused({"source": "Say where it was read."})
    with recording(by, "substance.named", why=source.strip()) as entry:
        row = SubstanceName.objects.for_maker(by.maker).filter(substance=substance, market=market).first()
        row = row or SubstanceName(maker=by.maker, substance=substance, market=market)
        before = row.name
        row.name, row.basis, row.source = name.strip(), basis, source.strip()
        row.full_clean()
        row.save()
        entry.about(row, substance.inci_name)
        entry.say(market=market, name=row.name, before=before)
    return row
