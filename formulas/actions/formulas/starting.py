"""Starting formulas, variants and versions, and changing what a formula is for."""

from __future__ import annotations

from typing import Any

from formulas.models import Formula, FormulaVersion, Line, Phase, Step
from makers.actions import By, Refused, give_code, recording

State = FormulaVersion.State


def start_formula(
    by: By,
    *,
    name: str,
    kind: str,
    form: str,
    body_area: str = "unknown",
    used_in_water: bool = False,
    perfume_category: str = "",
    parent: FormulaVersion | None = None,
    note: str = "",
    read_from: str = "",
) -> FormulaVersion:
    """Start a formula with an empty draft, or as a variant with the lines and steps of ``parent``.

    read_from: the text of the recipe that the first draft is read from.
    """
    with recording(by, "formula.started") as entry:
        formula = Formula(
            maker=by.maker,
            name=name,
            kind=kind,
            form=form,
            body_area=body_area,
            used_in_water=used_in_water,
            perfume_category=perfume_category,
            parent=parent,
            note=note,
            read_from=read_from,
        )
        formula.code = give_code(by, "formula", formula)
        formula.full_clean()
        formula.save()
        version = FormulaVersion(maker=by.maker, formula=formula, number=1, made_at=by.now())
        version.full_clean()
        version.save()
        if parent is not None:
            copy_content(by, parent, version)
        entry.about(formula)
        entry.mention(version, parent)
    return version


def change_formula(by: By, *, formula: Formula, **fields: Any) -> Formula:
    """Change a formula's name or what it is for. What it is for stays once a version is approved."""
    allowed = {"name", "kind", "form", "body_area", "used_in_water", "perfume_category", "note", "active"}
    with recording(by, "formula.changed") as entry:
        formula = Formula.objects.for_maker(by.maker).select_for_update().get(pk=formula.pk)
        changed = {key: value for key, value in fields.items() if getattr(formula, key) != value}
        if not changed.keys() <= allowed:
            raise ValueError(f"{changed.keys() - allowed} can't be changed here.")
        fixed = changed.keys() & {"kind", "body_area"}
        if fixed and formula.versions.filter(state=State.APPROVED).exists():
            raise Refused(
                dict.fromkeys(fixed, "A version is approved for this use. Start a variant for another.")
            )
        for key, value in changed.items():
            setattr(formula, key, value)
        formula.full_clean()
        formula.save()
        entry.about(formula)
        entry.say(fields=", ".join(sorted(changed)), **changed)
    return formula


def copy_content(by: By, origin: FormulaVersion, target: FormulaVersion) -> None:
    """Copy phases, lines and steps."""
    phases = {}
    for phase in origin.phases.all():
        phases[phase.pk] = Phase.objects.create(
            maker=by.maker, version=target, letter=phase.letter, name=phase.name, position=phase.position
        )
    Line.objects.bulk_create(
        Line(
            maker=by.maker,
            version=target,
            phase=phases[line.phase_id],
            position=line.position,
            ingredient_id=line.ingredient_id,
            kind=line.kind,
            percent=line.percent,
            adjust_low=line.adjust_low,
            adjust_high=line.adjust_high,
            ph_low=line.ph_low,
            ph_high=line.ph_high,
            purpose=line.purpose,
            strained=line.strained,
            leaves_id=line.leaves_id,
        )
        for line in origin.lines.all()
    )
    Step.objects.bulk_create(
        Step(
            maker=by.maker,
            version=target,
            phase=phases.get(step.phase_id) if step.phase_id else None,
            position=step.position,
            text=step.text,
            target_c=step.target_c,
            min_c=step.min_c,
            max_c=step.max_c,
            minutes=step.minutes,
        )
        for step in origin.steps.all()
    )
    if (origin.ph_low, origin.ph_high) != (target.ph_low, target.ph_high):
        target.ph_low, target.ph_high = origin.ph_low, origin.ph_high
        target.save(update_fields=["ph_low", "ph_high"])


def next_version(
    by: By, *, formula: Formula, note: str = "", origin: FormulaVersion | None = None
) -> FormulaVersion:
    """Start the next draft from the newest version, or from another of the same formula."""
    with recording(by, "version.started") as entry:
        newest = (
            FormulaVersion.objects.for_maker(by.maker).filter(formula=formula).order_by("-number").first()
        )
        if newest is not None and newest.state == State.DRAFT and not newest.is_frozen:
            raise Refused(f"{newest} is still a draft. Go on with it, or approve it first.")
        number = newest.number + 1 if newest else 1
        version = FormulaVersion(maker=by.maker, formula=formula, number=number, made_at=by.now(), note=note)
        version.full_clean()
        version.save()
        base = origin or newest
        if base is not None:
            copy_content(by, base, version)
        entry.about(version)
        entry.mention(formula)
    return version
