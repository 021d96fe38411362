"""Writing drafts: their phases, lines and steps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from formulas.models import FormulaVersion, Ingredient, Line, Phase, Step
from formulas.rules.number import HUNDRED
from makers.actions import By, Refused, recording

MOST_LINES = 300


def open_draft(by: By, version: FormulaVersion, edit: int | None) -> FormulaVersion:
    """Lock a draft for writing. Raises Refused when it is frozen, or when the form is older than the draft."""
    version = (
        FormulaVersion.objects.for_maker(by.maker)
        .select_for_update(of=("self",))
        .select_related("formula")
        .get(pk=version.pk)
    )
    if version.is_frozen:
        raise Refused(f"{version} is fixed: it was approved or used. Make the next version and change that.")
    if edit is not None and edit != version.edit:
        raise Refused(
            f"{version} was changed in another window since you opened this page. What you typed is still here: "
            "compare it with the version as it stands now, then save again."
        )
    return version


def save_version(
    by: By,
    *,
    version: FormulaVersion,
    phases: Sequence[Mapping[str, Any]],
    steps: Sequence[Mapping[str, Any]] | None = None,
    edit: int | None = None,
    note: str | None = None,
) -> FormulaVersion:
    """Write a draft's phases, lines and steps as they now are. ``steps`` None leaves the steps.

    phases: letter, name, lines (ingredient, kind, percent, adjust_low, adjust_high, ph_low, ph_high, purpose).
    steps: phase (letter or ""), text, target_c, min_c, max_c, minutes. A draft may be incomplete: what is missing
    from 100 is a finding. Raises Refused for what no draft can hold.
    """
    with recording(by, "version.saved") as entry:
        version = open_draft(by, version, edit)
        kept_steps = steps if steps is not None else stored_steps(version)
        count = sum(len(phase.get("lines", ())) for phase in phases)
        if count > MOST_LINES:
            raise Refused(f"{count} lines; {MOST_LINES} is the most. Make premixes of what belongs together.")
        letters = [str(phase["letter"]) for phase in phases]
        if len(set(letters)) != len(letters):
            raise Refused("Two phases have one letter. Give each its own.")
        version.steps.all().delete()
        version.lines.all().delete()
        version.phases.all().delete()
        made: dict[str, Phase] = {}
        to_100 = 0
        for position, phase in enumerate(phases, start=1):
            record = Phase(
                maker=by.maker,
                version=version,
                letter=phase["letter"],
                name=phase.get("name", ""),
                position=position,
            )
            record.full_clean()
            record.save()
            made[record.letter] = record
            for place, line in enumerate(phase.get("lines", ()), start=1):
                to_100 += line.get("kind") == Line.Kind.TO_100
                if to_100 > 1:
                    raise Refused("Two lines are “to 100”; only one can take what is left.")
                save_line(by, version, record, place, line)
        refuse_cycles(by, version)
        for position, step in enumerate(kept_steps, start=1):
            save_step(by, version, made, position, step)
        version.edit += 1
        if note is not None:
            version.note = note
        version.save(update_fields=["edit", "note"])
        entry.about(version)
        entry.mention(version.formula)
        entry.say(lines=count)
    return version


def save_line(by: By, version: FormulaVersion, phase: Phase, position: int, line: Mapping[str, Any]) -> Line:
    """Write one line."""
    kind = line.get("kind", Line.Kind.PERCENT)
    record = Line(
        maker=by.maker,
        version=version,
        phase=phase,
        position=position,
        ingredient=line["ingredient"],
        kind=kind,
        percent=line.get("percent") if kind == Line.Kind.PERCENT else None,
        adjust_low=(line.get("adjust_low") or Decimal(0)) if kind == Line.Kind.ADJUST else None,
        adjust_high=line.get("adjust_high") if kind == Line.Kind.ADJUST else None,
        ph_low=line.get("ph_low"),
        ph_high=line.get("ph_high"),
        purpose=line.get("purpose", ""),
        strained=bool(line.get("strained")),
        leaves=line.get("leaves"),
    )
    name = record.ingredient.name
    if record.ingredient.maker_id != by.maker.pk:
        raise Refused("That ingredient is not one of yours.")
    if kind == Line.Kind.PERCENT and (record.percent is None or not 0 < record.percent <= HUNDRED):
        raise Refused(f"{name} takes a percent above 0 and at most 100.")
    if kind == Line.Kind.ADJUST and (
        record.adjust_high is None or record.adjust_high <= 0 or record.adjust_high < (record.adjust_low or 0)
    ):
        raise Refused(f"{name} is added as needed: say from how much to how much at most.")
    record.full_clean(validate_constraints=False)
    record.save()
    return record


def save_step(
    by: By, version: FormulaVersion, phases: Mapping[str, Phase], position: int, step: Mapping[str, Any]
) -> Step:
    """Write one step."""
    record = Step(
        maker=by.maker,
        version=version,
        phase=phases.get(step.get("phase") or ""),
        position=position,
        text=step["text"],
        target_c=step.get("target_c"),
        min_c=step.get("min_c"),
        max_c=step.get("max_c"),
        minutes=step.get("minutes"),
    )
    if record.min_c is not None and record.max_c is not None and record.min_c > record.max_c:
        raise Refused(f"Step {position}: the lower temperature is above the upper one.")
    record.full_clean()
    record.save()
    return record


def stored_steps(version: FormulaVersion) -> list[dict[str, Any]]:
    """The steps on record, in the form that save_version takes."""
    return [
        {
            "phase": step.phase.letter if step.phase else "",
            "text": step.text,
            "target_c": step.target_c,
            "min_c": step.min_c,
            "max_c": step.max_c,
            "minutes": step.minutes,
        }
        for step in version.steps.select_related("phase")
    ]


def refuse_cycles(by: By, version: FormulaVersion) -> None:
    """No ingredient is made from a formula that contains it, at any depth."""
    seen: set[int] = set()
    wanted = set(
        Ingredient.objects.filter(lines__version=version, made_from__isnull=False).values_list(
            "made_from_id", flat=True
        )
    )
    while wanted:
        if version.formula_id in wanted:
            raise Refused(f"{version.formula} would contain itself through one of its in-house ingredients.")
        seen |= wanted
        wanted = (
            set(
                Ingredient.objects.filter(
                    maker=by.maker, lines__version__formula__in=wanted, made_from__isnull=False
                ).values_list("made_from_id", flat=True)
            )
            - seen
        )
