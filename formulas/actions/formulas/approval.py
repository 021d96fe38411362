"""Approving a version, withdrawing it, and fixing one that was used."""

from __future__ import annotations

from collections.abc import Mapping

from formulas.actions.formulas.drafts import open_draft
from formulas.actions.formulas.reviewing import review_version
from formulas.models import FormulaVersion
from formulas.rules.findings import Finding
from makers.actions import By, Refused, recording

State = FormulaVersion.State


def approve_version(
    by: By, *, version: FormulaVersion, reasons: Mapping[str, str] | None = None, edit: int | None = None
) -> FormulaVersion:
    """Approve a draft: it is frozen from then on.

    The percents must make exactly 100. Every other stop and every unknown needs a reason, given by the finding's
    rule and subject as ``"rule|subject"``, or by its rule alone. Raises Refused with what still stands.
    """
    reasons = reasons or {}
    with recording(by, "version.approved") as entry:
        version = open_draft(by, version, edit)
        reviewed = review_version(by.maker, version, on=by.today())
        if not reviewed.resolved.is_complete:
            first = next(one for one in reviewed.resolved.findings if one.severity == "stop")
            raise Refused(f"{first.message} Only a formula of exactly 100 can be approved.")
        despite, open_ones = [], []
        for finding in reviewed.to_answer:
            reason = (reasons.get(answer_key(finding)) or reasons.get(finding.rule) or "").strip()
            if reason:
                despite.append(
                    {
                        "rule": finding.rule,
                        "severity": finding.severity,
                        "subject": finding.subject,
                        "message": finding.message,
                        "source": finding.source,
                        "reason": reason,
                    }
                )
            else:
                open_ones.append(finding)
        if open_ones:
            first = open_ones[0]
            more = f" {len(open_ones) - 1} more wait too." if len(open_ones) > 1 else ""
            raise Refused(f"Without a reason this can't be approved: {first.message}{more}")
        version.state = State.APPROVED
        version.approved_at = version.frozen_at = by.now()
        version.approved_by = by.user
        version.approved_despite = despite
        version.full_clean()
        version.save()
        entry.about(version)
        entry.mention(version.formula)
        entry.say(despite=[one["message"] for one in despite])
    return version


def answer_key(finding: Finding) -> str:
    """Under which name a reason for a finding is given."""
    return f"{finding.rule}|{finding.subject}"


def withdraw_version(by: By, *, version: FormulaVersion, why: str) -> FormulaVersion:
    """Withdraw an approved version: no new batch is made to it; what was made stays."""
    if not why.strip():
        raise Refused({"why": "Say why; whoever reads this in a year wants to know."})
    with recording(by, "version.withdrawn", why=why) as entry:
        version = FormulaVersion.objects.for_maker(by.maker).select_for_update().get(pk=version.pk)
        if version.state != State.APPROVED:
            raise Refused(f"{version} is not approved, so there is nothing to withdraw.")
        version.state = State.WITHDRAWN
        version.save(update_fields=["state"])
        entry.about(version)
        entry.mention(version.formula)
    return version


def freeze(by: By, version: FormulaVersion) -> None:
    """Fix a version because something was made to it; call inside a recording."""
    FormulaVersion.objects.filter(pk=version.pk, frozen_at__isnull=True).update(frozen_at=by.now())
    version.refresh_from_db()
