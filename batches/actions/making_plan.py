"""Planning a batch, starting it, and changing what is to go in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, cast
from uuid import UUID

from django.db.models import Sum

from batches.actions.ledger import in_words, locked, owned
from batches.actions.once import Repeated, part_key
from batches.models import Batch, BatchLine, BatchStep, Check, Lot, Weighing
from batches.rules.planning import Plan, plan_total, tolerance
from batches.tracing import batches_behind
from batches.trial_lots import trial_behind
from formulas.actions.formulas import freeze
from formulas.assembly import as_rule_line, line_key
from formulas.models import FormulaVersion, Ingredient, Line, Product
from formulas.rules.number import round_up_to_step
from formulas.rules.percent import grams as share_grams
from formulas.rules.percent import resolve
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
ZERO = Decimal(0)
MOST_G = Decimal(10_000_000)


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
        plan = Plan(total_g, round_up_to_step(total_g, scale.readability_g))
    else:
        if not units or units < 0:
            raise Refused({"units": "How many packs, or how many grams in all?"})
        if not fill_g or fill_g <= 0:
            raise Refused({"fill_g": "How many grams go into each pack?"})
        plan = plan_total(
            units=units,
            fill_g=fill_g,
            samples_g=samples_g,
            loss_percent=loss_percent,
            step=scale.readability_g,
        )
    if plan.planned_g > MOST_G:
        field = "units" if total_g is None else "total_g"
        raise Refused({field: "That is more than ten tonnes. Look at the decimal sign."})
    return plan


def check_version(version: FormulaVersion, purpose: str) -> None:
    """For sale and stock a version must be approved; a trial may be made of a draft."""
    if version.state == FormulaVersion.State.WITHDRAWN:
        raise Refused({"version": f"{version} was withdrawn. Take another version."})
    if purpose != Purpose.TRIAL and version.state != FormulaVersion.State.APPROVED:
        raise Refused({"version": f"{version} is a draft. Approve it first, or plan a trial."})


def check_made(
    version: FormulaVersion, purpose: str, product: Product | None, makes: Ingredient | None
) -> None:
    """Refuse a product or an ingredient that this version does not make."""
    if purpose == Purpose.STOCK:
        if makes is None:
            raise Refused({"makes": "Which ingredient does it make?"})
        if makes.made_from_id != version.formula_id:
            raise Refused({"makes": f"{makes} is not made from {version.formula}."})
        if product is not None:
            raise Refused({"product": "A batch for stock fills no packs. Leave the product out."})
    elif makes is not None:
        raise Refused({"makes": "Only a batch for stock makes an ingredient."})
    if product is not None and product.formula_id != version.formula_id:
        raise Refused({"product": f"{product} is made to another formula."})


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
    samples_g: Decimal = ZERO,
    loss_percent: Decimal = ZERO,
    total_g: Decimal | None = None,
    planned_for: date | None = None,
    code: str = "",
    note: str = "",
    entry_key: UUID | None = None,
) -> Batch:
    """Plan a batch: the version is fixed by it, and its lines and steps are copied.

    Grams are shared over the lines in steps of the scale and add up to the planned total exactly. entry_key
    becomes the batch's own UUID, so that a repeated submission finds the batch that it planned.
    """
    given = {
        "version": version,
        "purpose": purpose,
        "scale": scale,
        "product": product,
        "makes": makes,
        "units": units,
        "fill_g": fill_g or (product.fill_g if product else None),
        "samples_g": samples_g,
        "loss_percent": loss_percent,
        "planned_for": planned_for,
        "note": note,
    }
    key = part_key(entry_key, f"batch of {by.maker.uuid}")
    try:
        return write_plan(by, given, total_g=total_g, code=code, key=key)
    except Repeated as repeated:
        return cast(Batch, repeated.record)


def write_plan(
    by: By, given: dict[str, Any], *, total_g: Decimal | None, code: str, key: UUID | None
) -> Batch:
    """Write a plan down. given: columns of the batch. Raises Repeated with the batch that has the key."""
    with recording(by, "batch.planned") as entry:
        found = Batch.objects.for_maker(by.maker).filter(uuid=key).first() if key else None
        if found is not None:
            raise Repeated(found)
        if given["purpose"] not in Purpose.values:
            raise Refused({"purpose": "A batch is for sale, for trial or for stock."})
        version = locked(by, given["version"], "formula")
        check_version(version, given["purpose"])
        for name in ("product", "makes", "scale"):
            if given[name] is not None:
                owned(by, given[name])
        check_made(version, given["purpose"], given["product"], given["makes"])
        figures = ("scale", "units", "fill_g", "samples_g", "loss_percent")
        plan = planned_figures(**{name: given[name] for name in figures}, total_g=total_g)
        batch = Batch(
            maker=by.maker,
            **{**given, "version": version},
            formula=version.formula,
            planned_g=plan.planned_g,
            planned_by=by.user,
            planned_at=by.now(),
        )
        if key is not None:
            batch.uuid = key
        batch.code = give_code(by, "batch", batch, wanted=code)
        batch.full_clean()
        batch.save()
        freeze(by, version)
        snapshot(by, batch, version)
        entry.about(batch)
        entry.mention(version, version.formula, batch.product, batch.makes)
        entry.say(planned=batch.planned_g, purpose=batch.get_purpose_display().lower(), formula=str(version))
    return batch


def snapshot(by: By, batch: Batch, version: FormulaVersion) -> None:
    """Copy lines with their grams, and steps."""
    lines = list(
        version.lines.select_related("ingredient", "phase", "leaves").order_by(
            "phase__position", "position", "id"
        )
    )
    resolved = resolve(as_rule_line(line) for line in lines)
    if not resolved.is_complete:
        first = next((one.message for one in resolved.findings), "The percents do not make 100.")
        raise Refused({"version": f"{first} A batch needs exactly 100."})
    step = batch.scale.readability_g
    plan = share_grams(resolved, batch.planned_g, step)
    planned = {one.key: one.low_g for one in plan.lines}
    ranges = {one.key: (one.low_g, one.high_g) for one in plan.adjust}
    percents = {one.key: one.percent for one in resolved.lines}
    rows = []
    for position, line in enumerate(lines, start=1):
        key = line_key(line)
        low, high = ranges.get(key, (None, None))
        row = BatchLine(
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
            tolerance_g=tolerance(planned[key], step) if key in planned else ZERO,
            purpose=line.purpose,
        )
        rows.append(row)
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


@dataclass(frozen=True, slots=True)
class Short:
    """An ingredient of which less can be weighed than is planned, g.

    here_g: usable on that day. others_g: of it, what other open batches still plan to take.
    """

    ingredient: Ingredient
    needed_g: Decimal
    here_g: Decimal
    others_g: Decimal

    @property
    def short_g(self) -> Decimal:
        """How much is missing once the other batches have theirs."""
        return self.needed_g - (self.here_g - min(self.here_g, self.others_g))


def usable_by_ingredient(maker: Maker, ingredients: Sequence[int], day: date) -> dict[int, Decimal]:
    """Grams that could be weighed on a day, by ingredient."""
    rows = (
        Lot.objects.for_maker(maker)
        .usable(day)
        .filter(ingredient__in=ingredients)
        .values_list("ingredient_id")
        .annotate(sum=Sum("on_hand"))
        .order_by("ingredient_id")
    )
    return dict(rows)


def still_to_weigh(lines: Iterable[BatchLine]) -> dict[int, Decimal]:
    """What lines still take, by ingredient: planned less weighed; a replaced line takes nothing."""
    lines = list(lines)
    replaced = {line.instead_of_id for line in lines if line.instead_of_id}
    held = dict(
        Weighing.objects.filter(line__in=[line.pk for line in lines])
        .values_list("line_id")
        .annotate(sum=Sum("grams"))
        .order_by("line_id")
    )
    needed: dict[int, Decimal] = {}
    for line in lines:
        if line.ingredient_id is None or not line.planned_g or line.pk in replaced:
            continue
        left = line.planned_g - held.get(line.pk, ZERO)
        if left > line.tolerance_g:
            needed[line.ingredient_id] = needed.get(line.ingredient_id, ZERO) + left
    return needed


def shortages_of(maker: Maker, batch: Batch, day: date) -> list[Short]:
    """What is short for the lines still to be weighed, on ``day`` or the day that the batch is planned for.

    What other open batches still plan to take is counted against what is here.
    """
    day = max(day, batch.planned_for) if batch.planned_for else day
    needed = still_to_weigh(batch.lines.all())
    here = usable_by_ingredient(maker, list(needed), day)
    others = still_to_weigh(
        BatchLine.objects.for_maker(maker)
        .filter(batch__state__in=(State.PLANNED, State.MAKING), ingredient__in=list(needed))
        .exclude(batch=batch)
    )
    names = Ingredient.objects.in_bulk(list(needed))
    found = [
        Short(names[key], grams, here.get(key, ZERO), others.get(key, ZERO)) for key, grams in needed.items()
    ]
    return [one for one in found if one.short_g > 0]


def start_batch(
    by: By,
    *,
    batch: Batch,
    checks: Sequence[tuple[str, bool, str]] = (),
    occurred_at: datetime | None = None,
) -> Batch:
    """Start making: the four checks before it are written down.

    checks: (question, yes, note) for every one of ``START_CHECKS``, and more where wanted. One that is not so
    needs a note.
    """
    with recording(by, "batch.started") as entry:
        batch = locked(by, batch)
        if batch.state != State.PLANNED:
            raise Refused(f"{batch} is {batch.get_state_display().lower()}; it can't be started again.")
        if batch.held:
            raise Refused(f"{batch} is on hold. Judge the hold first.")
        missing = [question for question in START_CHECKS if question not in {one[0] for one in checks}]
        if missing:
            raise Refused(f"Look at this before the start: {'; '.join(missing)}.")
        for question, passed, note in checks:
            if not passed and not note.strip():
                raise Refused({"note": f"“{question}” was not ticked. Say why you start all the same."})
            record_check(by, batch, Check.Kind.START, question, passed, note, occurred_at)
        batch.state = State.MAKING
        batch.started_at = happened(by, occurred_at)
        batch.save(update_fields=["state", "started_at"])
        entry.about(batch)
        entry.say(checks=[[question, passed, note] for question, passed, note in checks])
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
        if batch.state == State.PLANNED:
            raise Refused(f"{batch} is planned. Start it first.")
        if State.MADE in states:
            raise Refused(f"{batch} is still being made. Weigh the bulk and finish it first.")
        raise Refused(f"{batch} is made already; that belongs to the making.")
    return batch


def add_rework_line(by: By, *, batch: Batch, lot: Lot, grams: Decimal, why: str) -> BatchLine:
    """Take rework into a batch as a line of its own.

    What a batch made itself, at any depth, is refused, and so is what a trial left, except in a trial.
    """
    if not why.strip():
        raise Refused({"why": "Rework goes in by decision: say why it may."})
    with recording(by, "batch.rework_added", why=why) as entry:
        batch = open_batch(by, batch, State.PLANNED, State.MAKING)
        lot = owned(by, lot)
        if lot.rework_of_id is None:
            raise Refused({"lot": f"{lot} is not rework."})
        if grams <= 0 or grams > lot.on_hand:
            left = in_words(by, lot.on_hand, "g")
            raise Refused({"grams": f"{left} of {lot} are left; write more than 0, and no more."})
        refuse_trial(batch, lot)
        refuse_loop(batch, lot)
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


def refuse_trial(batch: Batch, lot: Lot) -> None:
    """Refuse a lot with a trial in it, at any depth, in a batch that is no trial itself."""
    if batch.purpose == Purpose.TRIAL or lot.from_batch is None:
        return
    trial = trial_behind(lot.from_batch)
    if trial is not None:
        direct = lot.from_batch_id == trial.pk
        fact = (
            f"was left by trial {trial}" if direct else f"holds what trial {trial} left, by {lot.from_batch}"
        )
        cure = "so it goes into another trial only. Take another lot, or plan this batch as a trial."
        raise Refused({"lot": f"{lot} {fact}. Trials are never sold, {cure}"})


def refuse_loop(batch: Batch, lot: Lot) -> None:
    """Refuse a lot that this batch made, directly or through other batches at any depth."""
    if lot.from_batch is not None and batch.pk in batches_behind([lot.from_batch]):
        through = "" if lot.from_batch_id == batch.pk else f" through {lot.from_batch}"
        raise Refused(
            {"lot": f"{lot} was made from {batch} itself{through}; a batch can't take in what it made."}
        )


def add_substitute_line(
    by: By, *, batch: Batch, line: BatchLine, ingredient: Ingredient, why: str
) -> BatchLine:
    """Take another ingredient in place of a line's, with the reason."""
    if not why.strip():
        raise Refused({"why": "Say why another ingredient goes in."})
    with recording(by, "batch.substituted", why=why) as entry:
        batch = open_batch(by, batch, State.PLANNED, State.MAKING)
        line = BatchLine.objects.select_related("ingredient").get(pk=line.pk, maker=by.maker)
        if line.batch_id != batch.pk:
            raise Refused("That line is of another batch.")
        if line.ingredient is None:
            raise Refused({"line": "Rework has no substitute. Leave the line out and say why."})
        if line.ingredient_id == owned(by, ingredient).pk:
            raise Refused({"ingredient": f"{ingredient} is what the line asks for."})
        if batch.lines.filter(instead_of=line).exists():
            raise Refused({"line": f"{line.ingredient} has a substitute already. Take that line."})
        if batch.weighings.filter(line=line).aggregate(sum=Sum("grams"))["sum"]:
            raise Refused({"line": f"{line.ingredient} was weighed already. Take that back first."})
        new = add_line(
            by,
            batch,
            kind=BatchLine.Kind.SUBSTITUTE,
            ingredient=ingredient,
            instead_of=line,
            phase=line.phase,
            phase_name=line.phase_name,
            planned_g=line.planned_g,
            low_g=line.low_g,
            high_g=line.high_g,
            tolerance_g=line.tolerance_g,
            purpose=line.purpose,
            why=why,
        )
        entry.about(batch)
        entry.mention(ingredient, line.ingredient)
        entry.say(instead=str(line.ingredient), taken=str(ingredient))
    return new
