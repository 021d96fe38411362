"""A draft that was saved in another window meanwhile: what stands there now beside what was typed here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms

from formulas.models import FormulaVersion, Line
from makers.forms.refusals import show_refusal
from makers.rules.display import figure

MOST = 12
"""Differences said one by one; more are counted."""
NOTHING = "not in it"


def show_stale(
    form: forms.BaseForm, version: FormulaVersion, refusal: Any, differences: Sequence[str]
) -> None:
    """Put the refusal and what differs at the head of the form, which then holds against the version as it is now.

    version: as it stands now. So the next save is one that was made knowingly, and goes through.
    """
    show_refusal(form, refusal)
    for sentence in differences[:MOST]:
        form.add_error(None, sentence)
    if len(differences) > MOST:
        form.add_error(None, f"{len(differences) - MOST} more lines differ.")
    sent: Any = form.data
    data = sent.copy()
    data["edit"] = str(version.edit)
    form.data = data


def lines_differ(there: Sequence[Mapping[str, Any]], here: Sequence[Mapping[str, Any]]) -> list[str]:
    """A sentence for each ingredient that the two do not hold alike. Phases as ``save_version`` takes them."""
    now, typed = _amounts(there), _amounts(here)
    names = dict.fromkeys((*now, *typed))
    found = [
        f"{name}: {' + '.join(now.get(name, [NOTHING]))} there now, {' + '.join(typed.get(name, [NOTHING]))} here."
        for name in names
        if sorted(now.get(name, [])) != sorted(typed.get(name, []))
    ]
    return found or ["The lines are the same there and here but for their order, phases or pH."]


def steps_differ(there: Sequence[Mapping[str, Any]], here: Sequence[Mapping[str, Any]]) -> list[str]:
    """A sentence for each step that reads otherwise there."""
    found = []
    for number in range(max(len(there), len(here))):
        now, typed = (steps[number]["text"] if number < len(steps) else "" for steps in (there, here))
        if now != typed:
            found.append(f"Step {number + 1} there now: {f'“{now}”' if now else NOTHING}.")
    return found or ["The words of the steps are the same there and here; temperatures or phases may differ."]


def _amounts(phases: Iterable[Mapping[str, Any]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for phase in phases:
        for line in phase["lines"]:
            found.setdefault(line["ingredient"].name, []).append(_said(line))
    return found


def _said(line: Mapping[str, Any]) -> str:
    if line["kind"] == Line.Kind.TO_100:
        return "to 100 %"
    if line["kind"] == Line.Kind.ADJUST:
        return "as needed to the pH"
    percent = line.get("percent")
    return "no percent" if percent is None else f"{figure(percent)} %"
