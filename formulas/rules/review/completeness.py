"""Is the formula whole: does it make 100, and is it known what everything in it is made of?"""

from __future__ import annotations

from collections.abc import Sequence

from formulas.rules.composition import shares
from formulas.rules.findings import Finding
from formulas.rules.review.asked import Asked
from formulas.rules.vocabulary import MEMORY


def check_sum(asked: Asked) -> Sequence[Finding]:
    """Do the lines make 100?"""
    return asked.resolved.findings


def check_compositions(asked: Asked) -> Sequence[Finding]:
    """Is it known what each ingredient is made of, in-house ones down to their own lines?"""
    found: list[Finding] = []
    for line in asked.formula.lines:
        found += _composition_of(asked, line.ingredient, line.name, (line.key,), ())
    return tuple(dict.fromkeys(found))


def _composition_of(
    asked: Asked, ingredient: str, name: str, lines: tuple[str, ...], seen: tuple[str, ...]
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
