"""Writing drafts: their phases, lines and steps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from formulas.actions.formulas.history import (
    content_of,
    figures_of,
    history_of,
    keep_start,
    keep_state,
    read_content,
)
from formulas.models import FormulaVersion, Ingredient, Line, Phase, Step
from formulas.rules.number import HUNDRED
from makers.actions import By, Refused, recording
from makers.models import Maker

MOST_LINES = 300
MOST_PH = 14


class Stale(Refused):
    """A form that is older than the draft it would write."""


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
    refuse_older(version, edit)
    return version


def refuse_older(version: FormulaVersion, edit: int | None) -> None:
    """Raises Stale for a form that shows another save than the last. edit: the one it shows; None where unsaid."""
    if edit is not None and edit != version.edit:
        raise Stale(
            f"{version} was changed in another window since you opened this page. What you typed is still here: "
            "compare it with the version as it stands now, then save again."
        )


Content = Mapping[str, Any]
Ph = tuple[Decimal | None, Decimal | None]
"""The pH that a version is made to, from and to; either end may be open."""


def save_version(
    by: By,
    *,
    version: FormulaVersion,
    phases: Sequence[Content],
    steps: Sequence[Content] | None = None,
    edit: int | None = None,
    note: str | None = None,
    ph: Ph | None = None,
) -> FormulaVersion:
    """Write a draft's phases, lines and steps as they now are. ``steps`` and ``ph`` None leave what is there.

    phases: letter, name, lines (ingredient, kind, percent, adjust_low, adjust_high, ph_low, ph_high, purpose,
    strained, leaves). steps: phase (letter or ""), text, target_c, min_c, max_c, minutes. A draft may be
    incomplete: what is missing from 100 is a finding. Raises Refused for what no draft can hold.
    """
    with recording(by, "version.saved") as entry:
        version = open_draft(by, version, edit)
        count = write_content(by, version, phases, steps, ph=ph, note=note)
        entry.about(version)
        entry.mention(version.formula)
        entry.say(lines=count)
    return version


def exchange_ingredient(
    by: By,
    *,
    version: FormulaVersion,
    out: Ingredient,
    into: Ingredient,
    phases: Sequence[Content] | None = None,
    edit: int | None = None,
    ph: Ph | None = None,
) -> FormulaVersion:
    """Take ``into`` for ``out`` in every line of a draft; percents, phases and purposes stay.

    phases: the lines as they now are, as save_version takes them; None for those on record. Raises Refused when
    nothing would change.
    """
    with recording(by, "version.exchanged") as entry:
        version = open_draft(by, version, edit)
        if out == into:
            raise Refused({"into": f"{out} is what it is made with now. Choose another."})
        exchanged, count = [], 0
        for phase in stored_phases(version) if phases is None else phases:
            lines = []
            for line in phase["lines"]:
                count += line["ingredient"] == out
                lines.append({**line, "ingredient": into} if line["ingredient"] == out else line)
            exchanged.append({**phase, "lines": lines})
        if not count:
            raise Refused({"out": f"No line of {version} takes {out}."})
        write_content(by, version, exchanged, None, ph=ph)
        entry.about(version)
        entry.mention(version.formula, out, into)
        entry.say(out=out.name, into=into.name, lines=count)
    return version


def go_back(by: By, *, version: FormulaVersion, edit: int | None = None) -> FormulaVersion:
    """Bring back the state before the last save, as a further save. Raises Refused where there is none."""
    return go_to(by, version, edit, back=True)


def go_forth(by: By, *, version: FormulaVersion, edit: int | None = None) -> FormulaVersion:
    """Bring back the state that was gone back from last. Raises Refused where there is none."""
    return go_to(by, version, edit, back=False)


def go_to(by: By, version: FormulaVersion, edit: int | None, *, back: bool) -> FormulaVersion:
    """Write the state before or after the one at hand."""
    with recording(by, "version.undone" if back else "version.redone") as entry:
        version = open_draft(by, version, edit)
        place = history_of(version)
        target = place.before if back else place.after
        if target is None:
            raise Refused(
                "Nothing was saved before this." if back else "Nothing was undone since the last save."
            )
        kept = version.edits.get(edit=target)
        phases, steps = read_content(by, kept.content)
        low, high = figures_of(kept.content, "ph_low", "ph_high")
        count = write_content(by, version, phases, steps, ph=(low, high), restores=target)
        entry.about(version)
        entry.mention(version.formula)
        entry.say(lines=count, save=target)
    return version


def write_content(
    by: By,
    version: FormulaVersion,
    phases: Sequence[Content],
    steps: Sequence[Content] | None,
    *,
    ph: Ph | None = None,
    note: str | None = None,
    restores: int | None = None,
) -> int:
    """Put phases, lines and steps in the place of those of a draft and keep the state; returns how many lines.

    Call inside a recording, with the draft opened for writing.
    """
    keep_start(by, version)
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
    made = [save_phase(by, version, position, phase) for position, phase in enumerate(phases, start=1)]
    if sum(line.get("kind") == Line.Kind.TO_100 for phase in phases for line in phase.get("lines", ())) > 1:
        raise Refused("Two lines are “to 100”; only one can take what is left.")
    lines = [
        save_line(by, version, record, place, line)
        for record, phase in zip(made, phases, strict=True)
        for place, line in enumerate(phase.get("lines", ()), start=1)
    ]
    refuse_cycles(by, version)
    lettered = {record.letter: record for record in made}
    saved_steps = [
        save_step(by, version, lettered, place, step) for place, step in enumerate(kept_steps, start=1)
    ]
    if ph is not None:
        set_ph(version, ph)
    version.edit += 1
    if note is not None:
        version.note = note
    version.save(update_fields=["edit", "note", "ph_low", "ph_high"])
    keep_state(by, version, content_of(version, made, lines, saved_steps), restores=restores)
    return count


def set_ph(version: FormulaVersion, ph: Ph) -> None:
    """The pH that the version is made to. Raises Refused for ends that are no pH or the wrong way round."""
    low, high = ph
    if any(end is not None and not 0 <= end <= MOST_PH for end in ph):
        raise Refused("pH runs from 0 to 14.")
    if low is not None and high is not None and low > high:
        raise Refused("The lower pH is above the upper one.")
    version.ph_low, version.ph_high = ph


def save_phase(by: By, version: FormulaVersion, position: int, phase: Content) -> Phase:
    """Write one phase."""
    record = Phase(
        maker=by.maker, version=version, letter=phase["letter"], name=phase.get("name", ""), position=position
    )
    record.full_clean()
    record.save()
    return record


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


LINE_KEYS = (
    "ingredient", "kind", "percent", "adjust_low", "adjust_high", "ph_low", "ph_high", "purpose", "strained", "leaves",
)  # fmt: skip
"""What a line is written with."""


def stored_phases(version: FormulaVersion) -> list[dict[str, Any]]:
    """The phases and lines on record, in the form that save_version takes."""
    lines = list(version.lines.select_related("ingredient", "leaves").order_by("position", "id"))
    return [
        {
            "letter": phase.letter,
            "name": phase.name,
            "lines": [
                {key: getattr(line, key) for key in LINE_KEYS} for line in lines if line.phase_id == phase.pk
            ],
        }
        for phase in version.phases.all()
    ]


def refuse_cycles(by: By, version: FormulaVersion) -> None:
    """No ingredient is made from a formula that contains it, at any depth."""
    used = Ingredient.objects.filter(lines__version=version, made_from__isnull=False)
    for row in holding_formula(by.maker, version.formula_id, used):
        raise Refused(would_hold_itself(version, row))


def would_hold_itself(version: FormulaVersion, row: Ingredient) -> str:
    """What is said of an ingredient that is made, at any depth, from the formula that would take it."""
    return (
        f"{version.formula} would contain itself: {row.name} is made from it, directly or through another premix. "
        "Take another ingredient."
    )


def holding_formula(maker: Maker, formula_id: int, rows: Iterable[Ingredient]) -> list[Ingredient]:
    """Those of the ingredients that are made from this formula or from one that takes it, at any depth.

    One query, and none where no ingredient is made here.
    """
    made = [(row, row.made_from_id) for row in rows if row.made_from_id is not None]
    if not made:
        return []
    takes: dict[int, set[int]] = {}
    for outer, inner in (
        Line.objects.filter(maker=maker, ingredient__made_from__isnull=False)
        .order_by()
        .values_list("version__formula_id", "ingredient__made_from_id")
        .distinct()
    ):
        takes.setdefault(outer, set()).add(inner)
    return [row for row, origin in made if formula_id in _reached(takes, origin)]


def _reached(takes: Mapping[int, set[int]], start: int) -> set[int]:
    seen: set[int] = set()
    wanted = {start}
    while wanted:
        seen |= wanted
        wanted = {inner for outer in wanted for inner in takes.get(outer, ())} - seen
    return seen
