"""Planning a batch: what to make so that enough comes out, shared over the lines in steps of the scale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.number import (
    HUNDRED,
    ZERO,
    difference,
    exact_product,
    exact_sum,
    figure,
    percent_of,
    round_up_to_step,
    share_by_largest_remainder,
)

TOLERANCE_PERCENT = Decimal("0.5")
"""Allowed difference of a weighing, % of its planned grams; at least one step. Common practice, no source."""

RELATIVE_ERROR = Decimal("0.01")
"""The share of a weighing that a scale's own error may be, for cosmetics. A house rule after USP <41>."""

LEAST_STEPS = Decimal("0.82")
"""Smallest weighing = 0.82 x step / relative error: two rounded readings, 2 x 0.41 step (USP <41>)."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What a batch takes. All in grams; planned is a multiple of the scale's step."""

    needed_g: Decimal
    planned_g: Decimal


def plan_total(
    *,
    units: int,
    fill_g: Decimal,
    samples_g: Decimal = ZERO,
    loss_percent: Decimal = ZERO,
    step: Decimal,
) -> Plan:
    """Units x fill + samples, and what has to go in so that this comes out.

    loss_percent is of what goes in: planned = needed / (1 - loss/100), rounded up to the step. Raises
    ValueError for amounts below 0, a loss outside 0 to under 100, or nothing needed at all.
    """
    if units < 0 or fill_g < ZERO or samples_g < ZERO:
        raise ValueError("amounts are 0 or more")
    if not ZERO <= loss_percent < HUNDRED:
        raise ValueError("a loss is from 0 to under 100 %")
    needed = exact_product(Decimal(units), fill_g) + samples_g
    if needed <= ZERO:
        raise ValueError("nothing is needed")
    return Plan(needed, round_up_ratio(exact_product(needed, HUNDRED), HUNDRED - loss_percent, step))


def round_up_ratio(top: Decimal, bottom: Decimal, step: Decimal) -> Decimal:
    """``top / bottom`` rounded up to a multiple of ``step``, compared without a lost digit."""
    steps = exact_product(bottom, step)
    whole = int(top / steps)
    while exact_product(Decimal(whole), steps) < top:
        whole += 1
    while whole > 0 and exact_product(Decimal(whole - 1), steps) >= top:
        whole -= 1
    return exact_product(Decimal(whole), step)


def tolerance(planned_g: Decimal, step: Decimal) -> Decimal:
    """How far a weighing may be off, g: half a percent of the plan in whole steps, one step at least."""
    return max(step, round_up_to_step(exact_product(planned_g, TOLERANCE_PERCENT / HUNDRED), step))


def least_weighing(step: Decimal, repeatability_g: Decimal | None = None) -> Decimal:
    """The smallest mass that a scale weighs to RELATIVE_ERROR, g: 2 s / r, and never below 0.82 step / r."""
    floor = step * LEAST_STEPS / RELATIVE_ERROR
    return max(floor, 2 * repeatability_g / RELATIVE_ERROR) if repeatability_g is not None else floor


@dataclass(frozen=True, slots=True)
class Balance:
    """What a scale can show and carry, g."""

    step_g: Decimal
    capacity_g: Decimal
    repeatability_g: Decimal | None = None

    @property
    def least_g(self) -> Decimal:
        """The smallest mass that it weighs to RELATIVE_ERROR, g."""
        return least_weighing(self.step_g, self.repeatability_g)

    def suits(self, grams: Decimal) -> bool:
        """Whether it weighs these grams at once and finely enough."""
        return self.least_g <= grams <= self.capacity_g


def balance_for(grams: Decimal, own: Balance, others: Iterable[Balance]) -> Balance:
    """The batch's own scale while it suits these grams, else the coarsest that does; its own where none does."""
    if own.suits(grams):
        return own
    return max((one for one in others if one.suits(grams)), key=lambda one: one.step_g, default=own)


@dataclass(frozen=True, slots=True)
class Shortage:
    """An ingredient of which there is less than the plan takes, g."""

    ingredient: str
    needed_g: Decimal
    here_g: Decimal

    @property
    def short_g(self) -> Decimal:
        """How much is missing."""
        return difference(self.needed_g, self.here_g)

    @property
    def text(self) -> str:
        """The maker's sentence."""
        return (
            f"{self.ingredient}: {figure(self.here_g)} g here, {figure(self.needed_g)} g needed: "
            f"{figure(self.short_g)} g short."
        )


def shortages(needed: Mapping[str, Decimal], here: Mapping[str, Decimal]) -> tuple[Shortage, ...]:
    """What is short, by ingredient; exactly enough is enough."""
    return tuple(
        Shortage(name, grams, here.get(name, ZERO))
        for name, grams in needed.items()
        if grams > here.get(name, ZERO)
    )


@dataclass(frozen=True, slots=True)
class LotFacts:
    """What choosing among lots goes by. Days as ISO text, so that they sort; "" for none."""

    key: int
    good_until: str
    received: str
    on_hand_g: Decimal


def in_order_of_use(lots: Sequence[LotFacts]) -> tuple[LotFacts, ...]:
    """First expiry first, then the oldest receipt, then the oldest record. A lot without a date stands last.

    First expiry first is the order of medicines' storage; the oldest receipt as tie-break is ISO 22716 6.6.7.
    """
    return tuple(sorted(lots, key=lambda lot: (not lot.good_until, lot.good_until, lot.received, lot.key)))


def share_lines(planned_g: Decimal, percents: Sequence[Decimal], step: Decimal) -> list[Decimal]:
    """Grams per line in steps of the scale, same order, adding up to ``planned_g`` exactly.

    percents: resolved, % of the batch, adding up to 100 ("to 100" filled in, adjust lines left out). What is
    left after rounding down goes to the largest remainders, then to the earlier line. Raises ValueError when
    the percents don't make 100 or ``planned_g`` is no multiple of ``step``.
    """
    total = exact_sum(percents)
    if total != HUNDRED:
        raise ValueError(f"the percents make {figure(total, places=12)}, not 100")
    return share_by_largest_remainder(planned_g, percents, step)


@dataclass(frozen=True, slots=True)
class AdjustRange:
    """What an adjust line may take, g, outside the planned total. An end may be open (None)."""

    low_g: Decimal | None
    high_g: Decimal | None


def adjust_range(
    planned_g: Decimal, low_percent: Decimal | None, high_percent: Decimal | None, step: Decimal
) -> AdjustRange:
    """The range of an adjust line, % of the other lines, each end rounded up to the step as the lines are.

    Unknown stays unknown. Raises ValueError when low is above high.
    """
    if low_percent is not None and high_percent is not None and low_percent > high_percent:
        raise ValueError("the low end is above the high end")

    def grams(percent: Decimal | None) -> Decimal | None:
        return None if percent is None else round_up_to_step(percent_of(percent, planned_g), step)

    return AdjustRange(grams(low_percent), grams(high_percent))


@dataclass(frozen=True, slots=True)
class SmallWeighing:
    """A line that is less than the scale weighs well."""

    name: str
    grams: Decimal
    least_g: Decimal
    step: Decimal

    @property
    def text(self) -> str:
        """The maker's sentence, with what to do."""
        share = figure(RELATIVE_ERROR * HUNDRED)
        return (
            f"{self.name}: {figure(self.grams)} g is little for a scale of {figure(self.step)} g; "
            f"from {figure(self.least_g, up=True)} g its error stays within {share} %. "
            "Take a finer scale, or weigh it in as a premix."
        )


def small_weighings(
    lines: Sequence[tuple[str, Decimal]], step: Decimal, repeatability_g: Decimal | None = None
) -> tuple[SmallWeighing, ...]:
    """Lines (name, grams) below the smallest mass that this scale weighs to ``RELATIVE_ERROR``; at it is
    enough.

    A warning, never a stop: USP <41> is for pharmacopoeial work and 1 % is a house rule after it.
    """
    least = least_weighing(step, repeatability_g)
    return tuple(SmallWeighing(name, grams, least, step) for name, grams in lines if ZERO < grams < least)
