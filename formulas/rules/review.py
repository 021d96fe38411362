"""The review of a formula: every question asked of it, and the answers in one order."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from formulas.rules.composition import Composition, shares
from formulas.rules.findings import Finding, in_order
from formulas.rules.limits import ProductUse, check_limits
from formulas.rules.number import figure
from formulas.rules.percent import FormulaLine, ResolvedFormula, ResolvedLine, resolve
from formulas.rules.totals import NestedFormula, Totals, substance_totals
from formulas.rules.uselevels import UseLevel, check_use_levels
from formulas.rules.vocabulary import MEMORY


@dataclass(frozen=True, slots=True)
class HeatFact:
    """An ingredient that bears no more heat than ``add_below_c``, which is included."""

    add_below_c: Decimal
    source: str = ""
    basis: str = MEMORY


@dataclass(frozen=True, slots=True)
class FormulaForReview:
    """Everything the review needs to know.

    compositions, nested, use_levels, heat: by ingredient key. step_c: by line key, the hottest temperature
    (degrees Celsius) of the step it goes in at; a line without a step or temperature is left out.
    scented: keys of ingredients that are perfume or essential oil, so that missing allergens count.
    """

    lines: tuple[FormulaLine, ...]
    use: ProductUse
    compositions: Mapping[str, Composition] = field(default_factory=dict)
    nested: Mapping[str, NestedFormula] = field(default_factory=dict)
    use_levels: Mapping[str, Sequence[UseLevel]] = field(default_factory=dict)
    heat: Mapping[str, HeatFact] = field(default_factory=dict)
    step_c: Mapping[str, Decimal] = field(default_factory=dict)
    scented: frozenset[str] = frozenset()
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Review:
    """The answers: findings in order, questions without a finding above a note, and what they rest on."""

    findings: tuple[Finding, ...]
    passed: tuple[str, ...]
    resolved: ResolvedFormula
    totals: Totals

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What has to be cured or answered with a reason before approval."""
        return tuple(finding for finding in self.findings if finding.severity == "stop")

    @property
    def has_unknowns(self) -> bool:
        """Something isn't known, so the review can't be complete."""
        return any(finding.severity == "unknown" for finding in self.findings)


@dataclass(frozen=True, slots=True)
class _Asked:
    formula: FormulaForReview
    resolved: ResolvedFormula
    totals: Totals


def review(formula: FormulaForReview) -> Review:
    """Ask every question of the formula. Raises FormulaCycle when a formula contains itself."""
    resolved = resolve(formula.lines)
    totals = substance_totals(resolved.lines, formula.compositions, formula.nested)
    asked = _Asked(formula, resolved, totals)
    findings: list[Finding] = []
    passed = []
    for name, question in QUESTIONS:
        answers = question(asked)
        findings += answers
        if all(answer.severity == "note" for answer in answers):
            passed.append(name)
    return Review(in_order(findings), tuple(passed), resolved, totals)


def check_sum(asked: _Asked) -> Sequence[Finding]:
    """Do the lines make 100?"""
    return asked.resolved.findings


def check_compositions(asked: _Asked) -> Sequence[Finding]:
    """Is it known what each ingredient is made of, in-house ones down to their own lines?"""
    found: list[Finding] = []
    for line in asked.formula.lines:
        found += _composition_of(asked, line.ingredient, line.name, (line.key,), ())
    return tuple(dict.fromkeys(found))


def _composition_of(
    asked: _Asked, ingredient: str, name: str, lines: tuple[str, ...], seen: tuple[str, ...]
) -> list[Finding]:
    inner = asked.formula.nested.get(ingredient)
    if inner is not None and ingredient not in seen:
        found = [
            Finding(
                "composition.formula",
                "unknown",
                name,
                f"{name}: {finding.message}",
                cure=finding.cure,
                lines=lines,
            )
            for finding in inner.formula.findings
            if finding.severity == "stop"
        ]
        for line in inner.formula.lines:
            found += _composition_of(asked, line.ingredient, line.name, lines, (*seen, ingredient))
        return found
    composition = asked.formula.compositions.get(ingredient)
    if composition is None:
        message = f"{name}: unknown what is in it."
        cure = "Enter its composition from the supplier's sheet."
        return [Finding("composition.none", "unknown", name, message, cure=cure, lines=lines)]
    found = [
        Finding(f.rule, f.severity, f.subject, f.message, f.source, f.cure, f.basis, lines)
        for f in shares(composition).findings
    ]
    if ingredient in asked.formula.scented and not composition.within_stated:
        message = f"{name}: the supplier hasn't said which perfume allergens are in it."
        if any(part.kind == "within" for part in composition.constituents):
            message = f"{name}: its perfume allergens are typical figures, not the supplier's."
        cure = "Enter the allergens from the supplier's statement."
        found.append(
            Finding(
                "composition.allergens",
                "unknown",
                name,
                message,
                composition.source,
                cure,
                composition.basis,
                lines,
            )
        )
    if composition.basis == MEMORY and any(
        part.typical is None or part.typical != 100
        for part in composition.constituents
        if part.kind == "declared"
    ):
        message = f"{name}: its composition is from memory."
        cure = "Confirm it, or enter the supplier's figures."
        found.append(
            Finding("composition.memory", "caution", name, message, composition.source, cure, MEMORY, lines)
        )
    return found


def check_levels(asked: _Asked) -> Sequence[Finding]:
    """Does each ingredient stay within its use levels?"""
    formula = asked.formula
    return check_use_levels(asked.resolved.lines, formula.use_levels, formula.use.kind, formula.nested)


def check_restricted(asked: _Asked) -> Sequence[Finding]:
    """Does each restricted substance stay within the annexes?"""
    return check_limits(asked.totals, asked.formula.use, on=asked.formula.on)


def check_heat(asked: _Asked) -> Sequence[Finding]:
    """Does nothing go in hotter than it bears? "Below N" includes N."""
    found = []
    for line in asked.resolved.lines:
        fact = asked.formula.heat.get(line.ingredient)
        if fact is not None:
            found += _heat_of(line, fact, asked.formula.step_c.get(line.key))
    return found


def _heat_of(line: ResolvedLine, fact: HeatFact, step_c: Decimal | None) -> list[Finding]:
    limit = figure(fact.add_below_c)
    if step_c is None:
        message = f"{line.name} goes in at {limit} °C or below; its step has no temperature."
        cure = "Give the step a temperature."
        return [
            Finding("heat.no_step", "caution", line.name, message, fact.source, cure, fact.basis, (line.key,))
        ]
    if step_c <= fact.add_below_c:
        return []
    message = f"{line.name} goes in at {figure(step_c)} °C; {limit} °C is the most it bears."
    cure = f"Add it in a later step, at {limit} °C or below."
    return [
        Finding("heat.too_hot", "caution", line.name, message, fact.source, cure, fact.basis, (line.key,))
    ]


Question = Callable[[_Asked], Sequence[Finding]]

QUESTIONS: tuple[tuple[str, Question], ...] = (
    ("Makes exactly 100", check_sum),
    ("Compositions known", check_compositions),
    ("Within use levels", check_levels),
    ("Within the EU limits", check_restricted),
    ("Nothing added too hot", check_heat),
)
"""Name of each question as the review shows it, and the check that answers it."""
