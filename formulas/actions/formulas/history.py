"""Keeping each saved state of a draft, and reading one back."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db.models import Q

from formulas.models import FormulaVersion, Ingredient, Line, Phase, Step, Substance, VersionEdit
from formulas.rules.history import Place, Saved, place_of
from makers.actions import By, Refused

LINE_FIGURES = ("percent", "adjust_low", "adjust_high", "ph_low", "ph_high")
STEP_FIGURES = ("target_c", "min_c", "max_c")

Content = dict[str, Any]
"""A state as JSON: figures as text, records by their UUID with the name beside it."""


def history_of(version: FormulaVersion) -> Place:
    """Where the draft stands among its saved states."""
    rows = version.edits.order_by("edit").values_list("edit", "restores")
    return place_of(Saved(edit, restores) for edit, restores in rows)


def keep_state(by: By, version: FormulaVersion, content: Content, *, restores: int | None = None) -> None:
    """Keep what a save wrote."""
    VersionEdit.objects.create(
        maker=by.maker,
        version=version,
        edit=version.edit,
        restores=restores,
        content=content,
        at=by.now(),
        user=by.user,
    )


def keep_start(by: By, version: FormulaVersion) -> None:
    """Keep what a draft holds before its first kept save, so that this can be gone back from too."""
    if not version.edits.exists():
        lines = version.lines.select_related("ingredient", "leaves", "phase")
        keep_state(
            by,
            version,
            content_of(
                version,
                list(version.phases.all()),
                list(lines.order_by("phase__position", "position", "id")),
                list(version.steps.select_related("phase")),
            ),
        )


def content_of(version: FormulaVersion, phases: list[Phase], lines: list[Line], steps: list[Step]) -> Content:
    """A state as it is kept; ingredients, substances and phases must be loaded."""
    return {
        "ph_low": as_text(version.ph_low),
        "ph_high": as_text(version.ph_high),
        "phases": [
            {
                "letter": phase.letter,
                "name": phase.name,
                "lines": [line_content(line) for line in lines if line.phase_id == phase.pk],
            }
            for phase in phases
        ],
        "steps": [
            {
                "phase": step.phase.letter if step.phase else "",
                "text": step.text,
                "minutes": step.minutes,
                **{name: as_text(getattr(step, name)) for name in STEP_FIGURES},
            }
            for step in steps
        ],
    }


def line_content(line: Line) -> Content:
    """A line as it is kept."""
    found: Content = {
        "ingredient": str(line.ingredient.uuid),
        "name": line.ingredient.name,
        "kind": str(line.kind),
        "purpose": line.purpose,
        **{name: as_text(getattr(line, name)) for name in LINE_FIGURES},
    }
    if line.strained:
        found["strained"] = True
    if line.leaves is not None:
        found["leaves"] = line.leaves.key
    return found


def read_content(by: By, content: Content) -> tuple[list[Content], list[Content]]:
    """Phases and steps as save_version takes them. Raises Refused when an ingredient is no longer there."""
    lines = [line for phase in content["phases"] for line in phase["lines"]]
    known = ingredients_of(by, lines)
    substances = substances_of(by, {line["leaves"] for line in lines if line.get("leaves")})
    phases = [
        {
            "letter": phase["letter"],
            "name": phase["name"],
            "lines": [
                {
                    **line,
                    **{name: as_decimal(line[name]) for name in LINE_FIGURES},
                    "ingredient": known[line["ingredient"]],
                    "leaves": substances.get(line.get("leaves", "")),
                }
                for line in phase["lines"]
            ],
        }
        for phase in content["phases"]
    ]
    steps = [{**step, **{name: as_decimal(step[name]) for name in STEP_FIGURES}} for step in content["steps"]]
    return phases, steps


def ingredients_of(by: By, lines: list[Content]) -> dict[str, Ingredient]:
    """The ingredients of kept lines by the UUID kept; a book restored elsewhere knows them by name alone."""
    uuids, names = {line["ingredient"] for line in lines}, {line["name"] for line in lines}
    rows = list(Ingredient.objects.for_maker(by.maker).filter(Q(uuid__in=uuids) | Q(name__in=names)))
    by_uuid, by_name = {str(row.uuid): row for row in rows}, {row.name: row for row in rows}
    found = {}
    for line in lines:
        row = by_uuid.get(line["ingredient"]) or by_name.get(line["name"])
        if row is None:
            raise Refused(
                f"{line['name']} is no longer among your ingredients, so that state can't come back."
            )
        found[line["ingredient"]] = row
    return found


def substances_of(by: By, keys: set[str]) -> dict[str, Substance]:
    """Substances by key, the maker's own before the shared ones."""
    if not keys:
        return {}
    rows = list(Substance.objects.known_to(by.maker).filter(key__in=keys))
    return {row.key: row for row in sorted(rows, key=lambda row: row.maker_id is not None)}


def figures_of(content: Mapping[str, Any], *names: str) -> list[Decimal | None]:
    """Figures of a kept state."""
    return [as_decimal(content.get(name)) for name in names]


def as_text(value: Decimal | None) -> str | None:
    """A figure as text, without idle zeros: a figure kept is equal to the one that was written."""
    return None if value is None else f"{value.normalize():f}"


def as_decimal(text: str | None) -> Decimal | None:
    """The figure of a text."""
    return None if text is None else Decimal(text)
