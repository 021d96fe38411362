"""Planning a batch, starting it, and changing what is to go in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from batches.actions.ledger import locked, owned
from batches.models import Batch, BatchLine, BatchStep, Check, Lot
from batches.rules.planning import Plan, plan_total, shortages, tolerance
from formulas.actions.formulas import freeze
from formulas.assembly import as_rule_line, line_key
from formulas.models import FormulaVersion, Ingredient, Line, Product
from formulas.rules.number import round_up_to_step
from formulas.rules.percent import grams, resolve
from makers.actions import By, Refused, give_code, happened, recording
from makers.models import Maker, Scale

START_CHECKS = (
    "Formula and steps at hand",
    "All lots here and released",
    "Scale and vessels clean and fit",
    "Bench cleared of the last job",
)
"""The four checks before a start (ISO 22716 7.2.2)."""

Purpose, State = Batch.Purpose, Batch.State


def planned_figures(
    *,
    scale: Scale,
    units: int | None,
    fill_g: Decimal | None,
    samples_g: Decimal,
    loss_percent: Decimal,
    total_g: Decimal | None,
) -> Plan:
    """What to make: from units and fill, or a total given outright. Raises Refused with what is missing."""
    if not 0 <= loss_percent < 100:
        raise Refused({"loss_percent": "A loss is from 0 to under 100 %."})
    if samples_g < 0:
        raise Refused({"samples_g": "Samples are 0 g or more."})
    if total_g is not None:
        if total_g <= 0:
            raise Refused({"total_g": "A batch weighs more than 0 g."})
        return Plan(total_g, round_up_to_step(total_g, scale.readability_g))
    if not units:
        raise Refused({"units": "How many packs, or how many grams in all?"})
    if not fill_g or fill_g <= 0:
        raise Refused({"fill_g": "How many grams go into each pack?"})
    return plan_total(
        units=units, fill_g=fill_g, samples_g=samples_g, loss_percent=loss_percent, step=scale.readability_g
    )


def check_version(version: FormulaVersion, purpose: str) -> None:
    """For sale and stock a version must be approved; a trial may be made of a draft."""
    if version.state == FormulaVersion.State.WITHDRAWN:
        raise Refused({"version": f"{version} was withdrawn. Take another version."})
    if purpose != Purpose.TRIAL and version.state != FormulaVersion.State.APPROVED:
        raise Refused({"version": f"{version} is a draft. Approve it first, or plan a trial."})


def plan_batch(
    by: By,
    *,
    version: FormulaVersion,
    purpose: str,
    scale: Scale,
    product: Product | None = None,
    makes: Ingredient | None = None,
    units: int | None = None,
    fill_g: Decimal | None = None,
    samples_g: Decimal = Decimal(0),
    loss_percent: Decimal = Decimal(0),
    total_g: Decimal | None = None,
    planned_for: date | None = None,
    code: str = "",
    note: str = "",
) -> Batch:
    """Plan a batch: the version is fixed by it, and its lines and steps are copied.

    Grams are shared over the lines in steps of the scale and add up to the planned total exactly.
    """
    with recording(by, "batch.planned") as entry:
        version = owned(by, version)
        check_version(version, purpose)
        if purpose == Purpose.STOCK:
            if makes is None:
                raise Refused({"makes": "Which ingredient does it make?"})
            if makes.made_from_id != version.formula_id:
                raise Refused({"makes": f"{makes} is not made from {version.formula}."})
        elif makes is not None:
            raise Refused({"makes": "Only a batch for stock makes an ingredient."})
        if product is not None:
            if product.formula_id != version.formula_id:
                raise Refused({"product": f"{product} is made to another formula."})
            fill_g = fill_g or product.fill_g
        plan = planned_figures(
            scale=scale,
            units=units,
            fill_g=fill_g,
            samples_g=samples_g,
            loss_percent=loss_percent,
            total_g=total_g,
        )
        if plan.planned_g > scale.capacity_g * 20:
            raise Refused(
                {"units": f"{plan.planned_g.normalize():f} g is far more than {scale} carries. Look at the figures."}
            )
        batch = Batch(
            maker=by.maker,
            purpose=purpose,
            version=version,
            formula=version.formula,
            product=product,
            makes=makes,
            scale=owned(by, scale),
            planned_for=planned_for,
            units=units,
            fill_g=fill_g,
            samples_g=samples_g,
            loss_percent=loss_percent,
            planned_g=plan.planned_g,
            planned_by=by.user,
            planned_at=by.now(),
            note=note,
        )
        batch.code = give_code(by, "batch", batch, wanted=code)
        batch.full_clean()
        batch.save()
        freeze(by, version)
        snapshot(by, batch, version)
        entry.about(batch)
        entry.mention(version, version.formula, product, makes)
        entry.say(planned=batch.planned_g, purpose=batch.get_purpose_display().lower(), formula=str(version))
    return batch


def snapshot(by: By, batch: Batch, version: FormulaVersion) -> None:
    """Copy lines with their grams, and steps."""
    lines = list(
        version.lines.select_related("ingredient", "phase").order_by("phase__position", "position", "id")
    )
    resolved = resolve(as_rule_line(line) for line in lines)
    if not resolved.is_complete:
        first = next((one.message for one in resolved.findings), "The percents do not make 100.")
        raise Refused({"version": f"{first} A batch needs exactly 100."})
    step = batch.scale.readability_g
    plan = grams(resolved, batch.planned_g, step)
    planned = {one.key: one.low_g for one in plan.lines}
    ranges = {one.key: (one.low_g, one.high_g) for one in plan.adjust}
    percents = {one.key: one.percent for one in resolved.lines}
    rows = []
    for position, line in enumerate(lines, start=1):
        key = line_key(line)
        low, high = ranges.get(key, (None, None))
        rows.append(
            BatchLine(
                maker=by.maker,
                batch=batch,
                position=position,
                kind=BatchLine.Kind.ADJUST if line.kind == Line.Kind.ADJUST else BatchLine.Kind.FORMULA,
                phase=line.phase.letter,
                phase_name=line.phase.name,
                ingredient=line.ingredient,
                percent=percents[key],
                planned_g=planned.get(key),
                low_g=low,
                high_g=high,
                tolerance_g=tolerance(planned[key], step) if key in planned else Decimal(0),
                purpose=line.purpose,
            )
        )
    BatchLine.objects.bulk_create(rows)
    BatchStep.objects.bulk_create(
        BatchStep(
            maker=by.maker,
            batch=batch,
            position=step_row.position,
            phase=step_row.phase.letter if step_row.phase else "",
            text=step_row.text,
            target_c=step_row.target_c,
            min_c=step_row.min_c,
            max_c=step_row.max_c,
            minutes=step_row.minutes,
        )
        for step_row in version.steps.select_related("phase")
    )


def usable_by_ingredient(maker: Maker, ingredients: Sequence[int], day: date) -> dict[int, Decimal]:
    """Grams that could be weighed today, by ingredient."""
    from django.db.models import Sum

    rows = (
        Lot.objects.for_maker(maker)
        .usable(day)
        .filter(ingredient__in=ingredients)
        .values_list("ingredient_id")
        .annotate(sum=Sum("on_hand"))
        .order_by("ingredient_id")
    )
    return dict(rows)


def shortages_of(maker: Maker, batch: Batch, day: date) -> list[tuple[Ingredient, Any]]:
    """What is short for the lines of a batch that are still to be weighed."""
    needed: dict[int, Decimal] = {}
    names: dict[int, Ingredient] = {}
    for line in batch.lines.select_related("ingredient"):
        if line.ingredient is not None and line.planned_g:
            needed[line.ingredient.pk] = needed.get(line.ingredient.pk, Decimal(0)) + line.planned_g
            names[line.ingredient.pk] = line.ingredient
    here = usable_by_ingredient(maker, list(needed), day)
    found = shortages({str(key): amount for key, amount in needed.items()}, {str(key): amount for key, amount in here.items()})
    return [(names[int(one.ingredient)], one) for one in found]


def start_batch(
    by: By,
    *,
    batch: Batch,
    checks: Sequence[tuple[str, bool, str]] = (),
    occurred_at: datetime | None = None,
) -> Batch:
    """Start making: the checks before it are written down. A check that failed needs a note."""
    with recording(by, "batch.started") as entry:
        batch = locked(by, batch)
        if batch.state != State.PLANNED:
            raise Refused(f"{batch} is {batch.get_state_display().lower()}; it can't be started again.")
        if batch.held:
            raise Refused(f"{batch} is on hold. Judge the hold first.")
        for question, passed, note in checks:
            if not passed and not note.strip():
                raise Refused(f"“{question}” was not ticked. Say why you start all the same.")
            record_check(by, batch, Check.Kind.START, question, passed, note, occurred_at)
        batch.state = State.MAKING
        batch.started_at = happened(by, occurred_at)
        batch.save(update_fields=["state", "started_at"])
        entry.about(batch)
        entry.say(checks=len(checks))
    return batch


def record_check(
    by: By,
    batch: Batch,
    kind: str,
    question: str,
    passed: bool,
    note: str = "",
    occurred_at: datetime | None = None,
    step: BatchStep | None = None,
) -> Check:
    """Write down one thing that was looked at; call inside a recording."""
    check = Check(
        maker=by.maker,
        batch=batch,
        kind=kind,
        question=question,
        passed=passed,
        note=note,
        step=step,
        occurred_at=happened(by, occurred_at),
        entered_at=by.now(),
        user=by.user,
    )
    check.full_clean()
    check.save()
    return check


def add_line(by: By, batch: Batch, **fields: Any) -> BatchLine:
    """A further line at the end of a batch; call inside a recording."""
    last = batch.lines.order_by("-position").first()
    line = BatchLine(maker=by.maker, batch=batch, position=(last.position if last else 0) + 1, **fields)
    line.full_clean()
    line.save()
    return line


def open_batch(by: By, batch: Batch, *states: str) -> Batch:
    """Lock a batch that is in one of these states. Raises Refused with what the state means."""
    batch = locked(by, batch)
    if batch.state not in states:
        if batch.is_closed:
            raise Refused(f"{batch} is {batch.get_state_display().lower()}. Write an amendment to change it.")
        wanted = "started" if batch.state == State.PLANNED else "being made"
        raise Refused(f"{batch} is {batch.get_state_display().lower()}; it must be {wanted} for this.")
    return batch


def add_rework_line(by: By, *, batch: Batch, lot: Lot, grams: Decimal, why: str) -> BatchLine:
    """Take rework into a batch as a line of its own. What a batch made itself, at any depth, is refused."""
    from batches.tracing import batches_behind

    if not why.strip():
        raise Refused({"why": "Rework goes in by decision: say why it may."})
    with recording(by, "batch.rework_added", why=why) as entry:
        batch = open_batch(by, batch, State.PLANNED, State.MAKING)
        lot = owned(by, lot)
        if lot.rework_of_id is None:
            raise Refused({"lot": f"{lot} is not rework."})
        if grams <= 0 or grams > lot.on_hand:
            raise Refused({"grams": f"{lot.on_hand.normalize():f} g of {lot} are left; write more than 0, and no more."})
        if lot.from_batch is not None and batch.pk in batches_behind([lot.from_batch]):
            raise Refused({"lot": f"{lot} comes from {batch} itself; a batch can't take in what it made."})
        line = add_line(
            by,
            batch,
            kind=BatchLine.Kind.REWORK,
            rework_lot=lot,
            planned_g=grams,
            tolerance_g=tolerance(grams, batch.scale.readability_g),
            why=why,
        )
        entry.about(batch)
        entry.mention(lot, lot.from_batch)
        entry.say(lot=lot.code, grams=grams)
    return line


def add_substitute_line(by: By, *, batch: Batch, line: BatchLine, ingredient: Ingredient, why: str) -> BatchLine:
    """Take another ingredient in place of a line's, with the reason."""
    if not why.strip():
        raise Refused({"why": "Say why another ingredient goes in."})
    with recording(by, "batch.substituted", why=why) as entry:
        batch = open_batch(by, batch, State.PLANNED, State.MAKING)
        if line.batch_id != batch.pk:
            raise Refused("That line is of another batch.")
        if line.ingredient_id == owned(by, ingredient).pk:
            raise Refused({"ingredient": f"{ingredient} is what the line asks for."})
        new = add_line(
            by,
            batch,
            kind=BatchLine.Kind.SUBSTITUTE,
            ingredient=ingredient,
            instead_of=line,
            phase=line.phase,
            phase_name=line.phase_name,
            planned_g=line.planned_g,
            tolerance_g=line.tolerance_g,
            purpose=line.purpose,
            why=why,
        )
        entry.about(batch)
        entry.mention(ingredient, line.ingredient)
        entry.say(instead=str(line.ingredient), taken=str(ingredient))
    return new


def give_up_batch(by: By, *, batch: Batch, why: str) -> Batch:
    """Give up a planned batch: its code is never used again."""
    if not why.strip():
        raise Refused({"why": "Say why it is given up."})
    with recording(by, "batch.given_up", why=why) as entry:
        batch = locked(by, batch)
        if batch.state != State.PLANNED:
            raise Refused(f"{batch} was started. Finish it, then reject it with its reasons.")
        batch.note = f"{batch.note}\nGiven up: {why}".strip()
        batch.planned_for = None
        batch.save(update_fields=["note", "planned_for"])
        from batches.models import Release

        Release(
            maker=by.maker,
            batch=batch,
            decision="rejected",
            reasons=why,
            meaning="given up before it was started",
            content_digest="0" * 64,
            self_reviewed=True,
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        ).save()
        batch.state = State.REJECTED
        batch.save(update_fields=["state"])
        entry.about(batch)
    return batch
