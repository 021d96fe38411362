"""Making a batch of the demo from its plan to its release, through the actions of the bench."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from batches.actions.making import (
    START_CHECKS,
    add_rework_line,
    check,
    deviate,
    fill,
    finish_batch,
    judge_deviation,
    lots_for,
    lots_for_lines,
    plan_batch,
    read,
    release_batch,
    start_batch,
    take_back,
    weigh,
    yield_output,
)
from batches.actions.selling import keep_units, pack_batch
from batches.actions.stock import decide_lot
from batches.demo_data.calendar import Make
from batches.models import Batch, BatchLine, BatchStep, Lot, Pack, Weighing
from makers.actions.demo import DemoHouse

TENTH = Decimal("0.1")
HUNDREDTH = Decimal("0.01")
FINE_UP_TO = Decimal(60)
"""Grams up to which the demo's workshop takes the fine scale."""

ANSWERS = {
    "label.differs": "The names are the same, their order differs only below what the lots state as a range.",
    "label.none": "The first batch; its label is approved before anything leaves the house.",
    "label": "Looked at beside the printed label.",
    "bulk": "A rest in the pot, scraped out and thrown away.",
}
"""What the owner writes to an open point that does not block, by how its name begins."""


class Answers(Mapping[str, str]):
    """What the owner writes to whatever stands open, by the point's name."""

    def __getitem__(self, point: str) -> str:
        return next(
            (text for start, text in ANSWERS.items() if point.startswith(start)), "Seen and accepted."
        )

    def __iter__(self) -> Iterator[str]:
        return iter(ANSWERS)

    def __len__(self) -> int:
        return len(ANSWERS)


@dataclass(slots=True)
class Bench:
    """A batch on the bench, with who works there."""

    house: DemoHouse
    kept: dict[str, Any]
    make: Make
    batch: Batch

    @property
    def special(self) -> str:
        """What the calendar says is special about it."""
        return self.make.special


def plan(house: DemoHouse, kept: dict[str, Any], make: Make) -> Bench:
    """Plan a batch of the calendar."""
    version = kept["versions"][make.recipe]
    product = kept["products"][make.ware] if make.ware else None
    makes = version.formula.makes.first() if make.total_g and make.special != "trial" else None
    purpose = "trial" if make.special == "trial" else "sale" if product else "stock"
    batch = plan_batch(
        house.owner,
        version=version,
        purpose=purpose,
        scale=house.scales["bench"],
        product=product,
        makes=makes,
        units=make.units or None,
        samples_g=Decimal(30) if product else Decimal(0),
        loss_percent=Decimal(3) if product else Decimal(0),
        total_g=Decimal(make.total_g) if make.total_g else None,
        planned_for=house.clock.day(make.day),
    )
    return Bench(house, kept, make, batch)


def start(bench: Bench) -> None:
    """The checks before the start, and the room's temperature."""
    house = bench.house
    start_batch(house.worker, batch=bench.batch, checks=[(question, True, "") for question in START_CHECKS])
    house.clock.forward(240)
    room = Decimal(house.chance.randrange(170, 215)) / 10
    read(house.worker, batch=bench.batch, kind="room", value=room, conditions="thermometer by the window")


def weigh_all(bench: Bench, *, lines: int = 0) -> None:
    """Weigh every line, or only the first few; steps are read when their phase is complete."""
    rows = list(bench.batch.lines.select_related("ingredient", "rework_lot").order_by("position"))
    wanted = rows[:lines] if lines else rows
    house = bench.house
    shelf = lots_for_lines(house.owner.maker, wanted, house.worker.today())
    for number, line in enumerate(wanted):
        weigh_line(bench, line, shelf[line.pk])
        following = wanted[number + 1] if number + 1 < len(wanted) else None
        if not lines and (following is None or following.phase != line.phase):
            do_steps(bench, line.phase)
    if not lines:
        do_steps(bench, "")


def amount_for(house: DemoHouse, line: BatchLine) -> Decimal:
    """What really lands on the scale: near the plan, well within the tolerance."""
    if line.planned_g is None:
        high = line.high_g or Decimal(0)
        return (high * Decimal(house.chance.randrange(40, 80)) / 100).quantize(HUNDREDTH, ROUND_HALF_UP)
    step = HUNDREDTH if line.planned_g <= FINE_UP_TO else TENTH
    most = int(min(line.tolerance_g, Decimal("0.9")) / step)
    planned: Decimal = line.planned_g
    return max(planned + step * house.chance.randint(-most, most), step)


def weigh_line(bench: Bench, line: BatchLine, shelf: Sequence[Lot]) -> None:
    """Weigh a line from the lots that may go in, first expiry first, from two where one does not reach."""
    house = bench.house
    left = amount_for(house, line)
    if line.rework_lot is not None:
        left = line.planned_g or left
    if left <= 0:
        return
    scale = house.scales["fine" if left <= FINE_UP_TO else "bench"]
    for lot in shelf:
        house.clock.forward(house.chance.randrange(60, 150))
        taken = min(left, lot.on_hand)
        weigh(
            house.worker, batch=bench.batch, line=line, lot=lot, grams=taken, scale=scale,
            more_follows=taken < left,
        )  # fmt: skip
        lot.on_hand -= taken
        left -= taken
        if left <= 0:
            return
    raise RuntimeError(
        f"{bench.make.key}: {left} g of {line.ingredient or line.rework_lot} are not on the shelf"
    )


def mistype(bench: Bench) -> None:
    """A weighing typed with the wrong figure, seen at once, taken back and written anew."""
    house = bench.house
    line = bench.batch.lines.select_related("ingredient").get(ingredient__name="Castor oil")
    lot = lots_for(house.owner.maker, line, house.clock().date())[0]
    right = line.planned_g or Decimal(0)
    wrong: Weighing = weigh(
        house.worker, batch=bench.batch, line=line, lot=lot, grams=right - 90, more_follows=True
    )
    house.clock.forward(45)
    take_back(house.worker, weighing=wrong, why=f"Two figures changed places: {right} g stood on the scale.")


def do_steps(bench: Bench, phase: str) -> None:
    """Carry out the steps of a phase: a reading where a temperature is asked, and the tick."""
    house = bench.house
    for step in bench.batch.steps.filter(phase=phase).order_by("position"):
        house.clock.forward(house.chance.randrange(300, 1500))
        if step.target_c is not None:
            off = Decimal(house.chance.randrange(-15, 16)) / 10
            degrees = min(step.target_c + off, step.max_c or step.target_c + off)
            read(house.worker, batch=bench.batch, kind="temperature", value=degrees, step=step)
        if "pH" in step.text:
            read_acidity(bench, step)
        check(house.worker, batch=bench.batch, question=step.text, kind="step", step=step)


def read_acidity(bench: Bench, step: BatchStep) -> None:
    """The pH of a cream; in the batch that was rejected it would not come down."""
    value = "6.7" if bench.special == "rejected" else f"{bench.house.chance.randrange(49, 53) / 10}"
    read(
        bench.house.worker, batch=bench.batch, kind="pH", value=Decimal(value), step=step,
        conditions="10 % in water, 21 °C, meter set with buffers 4 and 7",
    )  # fmt: skip


def finish(bench: Bench) -> None:
    """Weigh the bulk, and write down what came of it besides packs."""
    house, batch = bench.house, bench.batch
    went_in = sum(batch.weighings.values_list("grams", flat=True), Decimal(0))
    kept_back = Decimal("0.925") if bench.make.recipe == "infusion" else Decimal("0.988")
    bulk = (went_in * kept_back).quantize(TENTH, ROUND_HALF_UP)
    house.clock.forward(900)
    waste = (went_in - bulk) * Decimal("0.8")
    yield_output(
        house.worker, batch=batch, kind="waste", grams=waste.quantize(TENTH),
        note="Petals and what they hold" if bench.make.recipe == "infusion" else "Left in pot and spatula",
    )  # fmt: skip
    finish_batch(house.worker, batch=batch, bulk_g=bulk)
    batch.refresh_from_db()
    house.clock.forward(600)
    if bench.special == "sets rework aside":
        output = yield_output(
            house.worker, batch=batch, kind="rework", grams=Decimal(180), note="Last pour, dull"
        )
        bench.kept["rework"] = output.lot
    if batch.product is not None:
        yield_output(
            house.worker, batch=batch, kind="sample", grams=Decimal(20), where="Cupboard, shelf 2",
            keep_until=batch.best_before,
        )  # fmt: skip
    if batch.makes is not None:
        output = yield_output(house.worker, batch=batch, kind="lot", grams=bulk)
        bench.kept["lots"][bench.make.key] = output.lot
    elif batch.product is None:
        yield_output(house.worker, batch=batch, kind="sample", grams=bulk, where="Trial shelf")


def fill_packs(bench: Bench) -> Pack | None:
    """Weigh a few fills, pack what the bulk gives, keep two units, and let the labels be put on."""
    house, batch = bench.house, bench.batch
    product = batch.product
    if product is None:
        return None
    taken = sum(batch.outputs.exclude(kind="waste").values_list("grams", flat=True), Decimal(0))
    left = (batch.bulk_g or Decimal(0)) - taken
    for _ in range(bench.make.fills):
        house.clock.forward(40)
        off = Decimal(house.chance.randrange(-6, 9)) / 10
        fill(house.worker, batch=batch, product=product, net_g=product.fill_g + off)
    units = min(int(left / (product.fill_g + TENTH)), bench.make.units)
    grams = (units * (product.fill_g + Decimal("0.05"))).quantize(TENTH)
    house.clock.forward(1800)
    pack = pack_batch(house.worker, batch=batch, product=product, units=units, grams=grams)
    rest = left - grams
    if rest > 0:
        yield_output(
            house.worker, batch=batch, kind="fill_loss", grams=rest, note="Jug, funnel and last pour"
        )
    keep_units(house.worker, pack=pack, units=2, where="Cupboard, shelf 3", keep_until=batch.best_before)
    for hook in house.when_packed:
        hook(pack)
    return pack


def decide(bench: Bench) -> None:
    """The owner signs: released, or rejected with the reasons; what a batch for stock made is released too."""
    house, batch = bench.house, bench.batch
    batch.refresh_from_db()
    if bench.special == "rejected":
        release_batch(
            house.owner, batch=batch, decision="rejected", password=house.password,
            reasons="pH 6.7 after three additions and grainy on the second day: the preservative isn't sure there.",
        )  # fmt: skip
        return
    release_batch(house.owner, batch=batch, decision="released", password=house.password, accepted=Answers())
    made = list(Lot.objects.for_maker(house.owner.maker).filter(from_batch=batch, status="quarantine"))
    for lot in made:
        basis = (
            "Colour and smell as the kept sample" if lot.ingredient_id else "Clean, may go into a later balm"
        )
        decide_lot(house.owner, lot=lot, became="released", basis=f"{basis}; batch {batch.code} released")


def make_whole(bench: Bench) -> Pack | None:
    """From the start to the packs; the decision follows a day or two later."""
    house = bench.house
    start(bench)
    if "rework" in bench.special and "takes" in bench.special:
        lot = bench.kept["rework"]
        add_rework_line(
            house.worker, batch=bench.batch, lot=lot, grams=lot.on_hand,
            why="The same formula, clean, set aside for this; judged by smell and colour.",
        )  # fmt: skip
    if "typo" in bench.special:
        mistype(bench)
    weigh_all(bench)
    if bench.make.key == "bar3":
        note = deviate(
            house.worker,
            batch=bench.batch,
            text="One mould stuck; five bars were melted again and poured anew.",
        )
        house.clock.forward(3600)
        judge_deviation(
            house.owner,
            deviation=note,
            accepted=True,
            text="Heated twice to 60 °C at most; no harm in a bar.",
        )
    if bench.special == "rejected":
        note = deviate(
            house.worker, batch=bench.batch, text="The pH stays at 6.7 after all of the lactic acid."
        )
        judge_deviation(house.owner, deviation=note, accepted=False, text="Not safe to keep; not to be sold.")
    finish(bench)
    return None if bench.special == "rejected" else fill_packs(bench)


def tomorrow(house: DemoHouse, days: int = 1) -> None:
    """Go on to half past nine, some days later."""
    later = house.clock().astimezone(house.clock.zone) + timedelta(days)
    house.clock.to(later.replace(hour=9, minute=30))
