"""Starting, writing, approving and withdrawing formulas."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from formulas.assembly import Paper, as_rule_line, for_review, line_key
from formulas.models import Formula, FormulaVersion, Ingredient, Line, Phase, Step
from formulas.rules.findings import Finding, in_order
from formulas.rules.number import HUNDRED
from formulas.rules.percent import ResolvedFormula
from formulas.rules.review import Asked, prepare
from formulas.rules.totals import FormulaCycle
from makers.actions import By, Refused, give_code, recording
from makers.models import Maker, Scale
from makers.registries import review_checks

MOST_LINES = 300
State = FormulaVersion.State


@dataclass(frozen=True, slots=True)
class Seen:
    """What every review check may look at: the formula as asked, and the records behind it."""

    asked: Asked
    paper: Paper


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

    @property
    def to_answer(self) -> tuple[Finding, ...]:
        """What approval asks a reason for: stops and unknowns."""
        return tuple(one for one in self.findings if one.severity in ("stop", "unknown"))


def start_formula(
    by: By,
    *,
    name: str,
    kind: str,
    form: str,
    body_area: str = "unknown",
    used_in_water: bool = False,
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
    allowed = {"name", "kind", "form", "body_area", "used_in_water", "note", "active"}
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


def review_version(maker: Maker, version: FormulaVersion, *, on: date | None = None) -> Reviewed:
    """Ask every question of a stored version, those of other worlds included."""
    lines = list(
        version.lines.select_related("ingredient", "phase").order_by("phase__position", "position", "id")
    )
    steps = list(version.steps.select_related("phase"))
    return review_lines(
        maker,
        version,
        [as_rule_line(line) for line in lines],
        {line_key(line): line.phase.letter for line in lines},
        steps,
        on=on,
    )


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
) -> Reviewed:
    """Ask every registered question of lines that may not be stored yet."""
    formula, paper = for_review(maker, version, lines, phase_of, steps, on=on, mass_g=mass_g, scale=scale)
    try:
        seen = Seen(prepare(formula), paper)
    except FormulaCycle as error:
        raise Refused(f"{version.formula} would contain itself: {error}.") from error
    findings: list[Finding] = []
    passed = []
    for check in review_checks:
        answers = check.findings(version, seen)
        findings += answers
        if check.title and all(answer.severity == "note" for answer in answers):
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
            f"{names}: two suppliers' compositions differ. The review takes the preferred supplier's; "
            "a batch takes that of the lot really weighed in.",
            cure="Mark the supplier you mean to use as preferred.",
        )
    ]


def approve_version(
    by: By, *, version: FormulaVersion, reasons: Mapping[str, str] | None = None, edit: int | None = None
) -> FormulaVersion:
    """Approve a draft: it is frozen from then on.

    The percents must make exactly 100. Every other stop and every unknown needs a reason, given by the finding's
    rule and subject as ``"rule|subject"``, or by its rule alone. Raises Refused with what still stands.
    """
    reasons = reasons or {}
    with recording(by, "version.approved") as entry:
        version = open_draft(by, version, edit)
        reviewed = review_version(by.maker, version, on=by.today())
        if not reviewed.resolved.is_complete:
            first = next(one for one in reviewed.resolved.findings if one.severity == "stop")
            raise Refused(f"{first.message} Only a formula of exactly 100 can be approved.")
        despite, open_ones = [], []
        for finding in reviewed.to_answer:
            reason = (reasons.get(answer_key(finding)) or reasons.get(finding.rule) or "").strip()
            if reason:
                despite.append(
                    {
                        "rule": finding.rule,
                        "severity": finding.severity,
                        "subject": finding.subject,
                        "message": finding.message,
                        "source": finding.source,
                        "reason": reason,
                    }
                )
            else:
                open_ones.append(finding)
        if open_ones:
            first = open_ones[0]
            more = f" {len(open_ones) - 1} more wait too." if len(open_ones) > 1 else ""
            raise Refused(f"Without a reason this can't be approved: {first.message}{more}")
        version.state = State.APPROVED
        version.approved_at = version.frozen_at = by.now()
        version.approved_by = by.user
        version.approved_despite = despite
        version.full_clean()
        version.save()
        entry.about(version)
        entry.mention(version.formula)
        entry.say(despite=[one["message"] for one in despite])
    return version


def answer_key(finding: Finding) -> str:
    """Under which name a reason for a finding is given."""
    return f"{finding.rule}|{finding.subject}"


def withdraw_version(by: By, *, version: FormulaVersion, why: str) -> FormulaVersion:
    """Withdraw an approved version: no new batch is made to it; what was made stays."""
    if not why.strip():
        raise Refused({"why": "Say why; whoever reads this in a year wants to know."})
    with recording(by, "version.withdrawn", why=why) as entry:
        version = FormulaVersion.objects.for_maker(by.maker).select_for_update().get(pk=version.pk)
        if version.state != State.APPROVED:
            raise Refused(f"{version} is not approved, so there is nothing to withdraw.")
        version.state = State.WITHDRAWN
        version.save(update_fields=["state"])
        entry.about(version)
        entry.mention(version.formula)
    return version


def freeze(by: By, version: FormulaVersion) -> None:
    """Fix a version because something was made to it; call inside a recording."""
    FormulaVersion.objects.filter(pk=version.pk, frozen_at__isnull=True).update(frozen_at=by.now())
    version.refresh_from_db()
