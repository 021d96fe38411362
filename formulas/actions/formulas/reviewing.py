"""Asking every question of a version, stored or just typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any

from formulas.assembly import Known, Paper, as_rule_line, for_review, line_key
from formulas.models import FormulaVersion, Step
from formulas.rules.findings import Finding, in_order
from formulas.rules.number import HUNDRED
from formulas.rules.percent import FormulaLine, ResolvedFormula
from formulas.rules.review import Asked, FormulaForReview, prepare
from formulas.rules.totals import FormulaCycle
from makers.actions import Refused
from makers.models import Maker, Scale
from makers.registries import review_checks
from makers.rules.display import in_a_row, plural, units


@dataclass(frozen=True, slots=True)
class Seen:
    """What every review check may look at: the formula as asked, and the records behind it.

    shared: what checks have looked up already and may use again, kept over reviews that are made together.
    """

    asked: Asked
    paper: Paper
    shared: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A review: findings in order, the questions that nothing speaks against, and what it was made from."""

    asked: Asked
    paper: Paper
    findings: tuple[Finding, ...]
    passed: tuple[str, ...]

    @property
    def resolved(self) -> ResolvedFormula:
        """The lines with their shares."""
        return self.asked.resolved

    def without(self, unread: Sequence[str]) -> Reviewed:
        """It as a review that lacks lines: unread are the names of lines on the page that no question could look at.

        That they make too little isn't said then, and no question has passed: the missing line may decide it.
        """
        if not unread:
            return self
        names = in_a_row([f"“{name}”" for name in dict.fromkeys(unread)])
        word = plural(len(unread), "it", "them")
        message = (
            f"{units(len(unread), 'line')} can't be read yet, {names}: the review is made without {word}."
        )
        cure = f"Put {word} right first: then everything is asked of the whole."
        missing = Finding("formula.unread", "unknown", "formula", message, cure=cure)
        short = {"formula.empty"} | ({"formula.sum"} if self.resolved.total < HUNDRED else set())
        known = [one for one in self.findings if one.rule not in short]
        return replace(self, findings=in_order([missing, *known]), passed=())

    @property
    def to_answer(self) -> tuple[Finding, ...]:
        """What approval asks a reason for: stops and unknowns."""
        return tuple(one for one in self.findings if one.severity in ("stop", "unknown"))


def review_version(maker: Maker, version: FormulaVersion, *, on: date | None = None) -> Reviewed:
    """Ask every question of a stored version, those of other worlds included."""
    return review_lines(maker, version, *_stored(version), on=on)


def asked_of(maker: Maker, version: FormulaVersion) -> Asked:
    """What each question looks at in a stored version, with no question asked."""
    formula, _ = for_review(maker, version, *_stored(version), on=None)
    return _prepared(version, formula)


def _stored(version: FormulaVersion) -> tuple[list[FormulaLine], dict[str, str], list[Step]]:
    """Its lines as the rules take them, the letter of each one's phase, and its steps."""
    lines = list(
        version.lines.select_related("ingredient", "phase", "leaves").order_by(
            "phase__position", "position", "id"
        )
    )
    phase_of = {line_key(line): line.phase.letter for line in lines}
    return [as_rule_line(line) for line in lines], phase_of, list(version.steps.select_related("phase"))


def _prepared(version: FormulaVersion, formula: FormulaForReview) -> Asked:
    try:
        return prepare(formula)
    except FormulaCycle as error:
        raise Refused(f"{version.formula} would contain itself: {error}.") from error


def review_lines(
    maker: Maker,
    version: FormulaVersion,
    lines: list[Any],
    phase_of: dict[str, str],
    steps: Sequence[Any],
    *,
    on: date | None = None,
    mass_g: Decimal | None = None,
    scale: Scale | None = None,
    known: Known | None = None,
    shared: dict[str, Any] | None = None,
) -> Reviewed:
    """Ask every registered question of lines that may not be stored yet. known, shared: of reviews made together."""
    formula, paper = for_review(
        maker, version, lines, phase_of, steps, on=on, mass_g=mass_g, scale=scale, known=known
    )
    seen = Seen(_prepared(version, formula), paper, {} if shared is None else shared)
    findings: list[Finding] = []
    passed = []
    for check in review_checks:
        answers = check.findings(version, seen)
        findings += answers
        if check.title and check.passes(seen, answers):
            passed.append(check.title)
    return Reviewed(seen.asked, paper, in_order(findings), tuple(passed))


def differing_suppliers(version: FormulaVersion, seen: Seen) -> Sequence[Finding]:
    """A note where two suppliers of one ingredient say different things of it."""
    if not seen.paper.differing:
        return []
    names = ", ".join(sorted(seen.paper.differing))
    return [
        Finding(
            "composition.suppliers",
            "note",
            names,
            f"{names}: two suppliers' compositions differ; the review takes the preferred supplier's, "
            "a batch that of the lot really weighed in.",
            cure="Mark the supplier you mean to use as preferred.",
        )
    ]
