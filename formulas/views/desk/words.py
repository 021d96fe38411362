"""What the desk says: what undo takes back, what approval waits for, how a step reads."""

from __future__ import annotations

from typing import Any, cast

from formulas.actions.formulas import Reviewed, as_decimal, history_of
from formulas.models import FormulaVersion, Step
from formulas.rules.compare import in_short
from formulas.rules.percent import FormulaLine, LineKind, ResolvedFormula, resolve
from makers.rules.display import figure, in_a_row, plural


def undo_words(version: FormulaVersion) -> dict[str, str]:
    """What going back takes back and what going forth brings again, in short; without a word where it can't."""
    place = history_of(version)
    wanted = [edit for edit in (place.before, place.at, place.after) if edit is not None]
    if len(wanted) < 2:
        return {}
    kept = dict(version.edits.filter(edit__in=wanted).values_list("edit", "content"))
    found = {}
    if place.before is not None and place.at is not None:
        found["undo"] = what_changed(kept[place.before], kept[place.at])
    if place.after is not None and place.at is not None:
        found["redo"] = what_changed(kept[place.at], kept[place.after])
    return found


MOST_WORDS = 40
"""Of a step, on a button."""


def what_changed(before: dict[str, Any], after: dict[str, Any]) -> str:
    """What one kept state has otherwise than the other, in short: percents, steps, names of phases, pH."""
    told = [in_short(resolved_content(before), resolved_content(after)), steps_changed(before, after)]
    old, new = phase_names(before), phase_names(after)
    if any(old[letter] != new[letter] for letter in old.keys() & new.keys()):
        told.append("the names of phases")
    if any(before.get(end) != after.get(end) for end in ("ph_low", "ph_high")):
        told.append("the pH it is made to")
    told = [words for words in told if words]
    if not told and before["phases"] != after["phases"]:
        told = ["the order or words of lines"]
    return in_a_row(told) or "a save that changed nothing"


def steps_changed(before: dict[str, Any], after: dict[str, Any]) -> str:
    """Which steps were put in, taken out or written otherwise."""
    old, new = before["steps"], after["steps"]
    gone, come = [one for one in old if one not in new], [one for one in new if one not in old]
    if gone and come:
        count = max(len(gone), len(come))
        return f"{f'step {quoted(come[0])}' if count == 1 else f'{count} steps'} changed"
    if gone or come:
        steps = gone or come
        said = f"step {quoted(steps[0])}" if len(steps) == 1 else f"{len(steps)} steps"
        return f"{said} {'taken out' if gone else 'put in'}"
    return "" if old == new else "the order of steps"


def quoted(step: dict[str, Any]) -> str:
    """The words of a step, the first of many."""
    words = " ".join(step["text"].split())
    return f"“{words}”" if len(words) <= MOST_WORDS else f"“{words[:MOST_WORDS].rstrip()}…”"


def phase_names(content: dict[str, Any]) -> dict[str, str]:
    """Names of phases by letter."""
    return {phase["letter"]: phase["name"] for phase in content["phases"]}


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
