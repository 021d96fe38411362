"""What the desk says: what undo takes back, what approval waits for, how a step reads."""

from __future__ import annotations

from typing import Any, cast

from formulas.actions.formulas import Reviewed, as_decimal, history_of
from formulas.models import FormulaVersion, Step
from formulas.rules.compare import in_short
from formulas.rules.percent import FormulaLine, LineKind, ResolvedFormula, resolve
from makers.rules.display import figure, plural


def undo_words(version: FormulaVersion) -> dict[str, str]:
    """What going back takes back and what going forth brings again, in short; without a word where it can't."""
    place = history_of(version)
    wanted = [edit for edit in (place.before, place.at, place.after) if edit is not None]
    if len(wanted) < 2:
        return {}
    kept = {
        edit: resolved_content(content)
        for edit, content in version.edits.filter(edit__in=wanted).values_list("edit", "content")
    }
    found = {}
    if place.before is not None and place.at is not None:
        found["undo"] = in_short(kept[place.before], kept[place.at]) or "the last save"
    if place.after is not None and place.at is not None:
        found["redo"] = in_short(kept[place.at], kept[place.after]) or "what was undone"
    return found


def resolved_content(content: dict[str, Any]) -> ResolvedFormula:
    """The lines of a kept state with their shares."""
    lines = [line for phase in content["phases"] for line in phase["lines"]]
    return resolve(
        FormulaLine(
            key=str(index),
            ingredient=line["ingredient"],
            name=line["name"],
            kind=cast(LineKind, line["kind"]),
            purpose=line["purpose"],
            percent=as_decimal(line["percent"]),
            adjust_low=as_decimal(line["adjust_low"]),
            adjust_high=as_decimal(line["adjust_high"]),
            strained=bool(line.get("strained")),
        )
        for index, line in enumerate(lines)
    )


def waits_for(reviewed: Reviewed) -> str:
    """What approval still wants, in words."""
    if not reviewed.resolved.is_complete:
        return "Waits for exactly 100."
    count = len(reviewed.to_answer)
    if not count:
        return "Nothing stands in the way."
    return f"{count} of the findings {plural(count, 'wants', 'want')} a reason."


def step_row(step: Step) -> dict[str, Any]:
    """A step as the part takes it."""
    gate, state = "", ""
    if step.target_c is not None:
        gate, state = f"{figure(step.target_c)} °C", "heat"
        if step.min_c is not None and step.max_c is not None:
            gate += f" ({figure(step.min_c)} to {figure(step.max_c)})"
    elif step.max_c is not None:
        gate, state = f"{figure(step.max_c)} °C or below", "cool"
    elif step.min_c is not None:
        gate, state = f"{figure(step.min_c)} °C or above", "heat"
    if step.minutes:
        gate += f"{', ' if gate else ''}{step.minutes} min"
    letter = f"{step.phase.letter}: " if step.phase else ""
    return {"text": letter + step.text, "gate": gate, "gate_state": state}
