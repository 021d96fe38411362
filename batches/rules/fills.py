"""Whether filled packs hold what the label says: the average system of EU and GB, and the rule of the US.

All net contents in g (or ml at 20 °C). "Short by more than" is strict, on unrounded values; exactly at a
limit is within it. These checks help a maker to keep records; they don't replace an inspector's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal, DivisionByZero, InvalidOperation, Overflow

from batches.rules.fill_tables import (
    ReferenceTest,
    SamplingPlan,
    VariationBand,
    error_bands,
    reference_tests,
    sampling_plans,
    variation_bands,
)
from formulas.rules.number import HUNDRED, ZERO, exact_product, exact_sum, figure, percent_of, round_up

WIDE = Context(prec=50, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation, DivisionByZero, Overflow])

ALL_WEIGHED_UNDER = 100
"""Batches of fewer packs are weighed one by one. Dir 76/211/EEC Annex II 2.1.3; SI 2006/659 Sch. 2 4.7."""

FEW_SHORT_PERCENT = {"EU": Decimal(2), "GB": Decimal("2.5")}
"""How many packs of a batch weighed whole may be short by more than the tolerable error, %.

The directive only says "sufficiently small". EU: the German rule, FPackV s. 9, read. GB: 1 in 40, from
memory.
"""

POUND_G = Decimal("453.592")
SHARE_BEYOND_TNE = Decimal("1.96")
"""Standard deviations for 2.5 % beyond the tolerable error; packers' guidance, from memory."""
SHARE_BEYOND_TWICE = Decimal("3.72")
"""Standard deviations for 1 in 10,000 beyond twice the tolerable error; packers' guidance, from memory."""

MEMORY_NOTE = " The figure is known from memory."


@dataclass(frozen=True, slots=True)
class FillStats:
    """What the weighed packs say, g. deviation_g: sample standard deviation (n - 1), None for one pack."""

    count: int
    total_g: Decimal
    mean_g: Decimal
    deviation_g: Decimal | None
    least_g: Decimal
    most_g: Decimal


@dataclass(frozen=True, slots=True)
class FillCheck:
    """One question. passed None: it can't be answered yet; ``text`` says what is missing."""

    rule: str
    passed: bool | None
    text: str
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class FillVerdict:
    """All questions of one market. passed: False as soon as one fails, None while one is open."""

    market: str
    checks: tuple[FillCheck, ...]

    @property
    def passed(self) -> bool | None:
        """The answer to all of them together."""
        if any(check.passed is False for check in self.checks):
            return False
        return None if not self.checks or any(check.passed is None for check in self.checks) else True


def fill_stats(fills: Sequence[Decimal]) -> FillStats:
    """Mean and spread of net contents. Raises ValueError for none."""
    if not fills:
        raise ValueError("no pack was weighed")
    total = exact_sum(fills)
    count = len(fills)
    deviation = None
    if count > 1:
        squares = exact_sum(exact_product(fill, fill) for fill in fills)
        # n x sum of squares - square of the sum: exact, so equal fills give exactly 0
        spread = exact_product(Decimal(count), squares) - exact_product(total, total)
        deviation = WIDE.sqrt(WIDE.divide(spread, Decimal(count * (count - 1))))
    return FillStats(count, total, WIDE.divide(total, Decimal(count)), deviation, min(fills), max(fills))


def tolerable_error(nominal: Decimal, *, market: str = "EU") -> Decimal | None:
    """TNE of a nominal quantity, a percentage rounded up to 0.1; None outside the table (under 5 g or ml)."""
    for band in error_bands():
        if (
            band.market in ("", market)
            and band.over <= nominal
            and (band.up_to is None or nominal <= band.up_to)
        ):
            return band.value if band.kind == "absolute" else round_up(percent_of(band.value, nominal), 1)
    return None


def average_system(
    nominal: Decimal,
    fills: Sequence[Decimal],
    *,
    batch_units: int,
    market: str = "EU",
    destructive: bool = False,
) -> FillVerdict:
    """The three packers' rules and the reference test on what was weighed, in order of weighing.

    market: "EU" or "GB". batch_units: packs of the batch. destructive: the packs were opened to be weighed.
    A larger sample than the plan's is judged more strictly, never less.
    """
    if market not in FEW_SHORT_PERCENT:
        raise ValueError(f"the average system is of EU and GB, not of {market}")
    if not fills:
        return FillVerdict(market, (_nothing_weighed("mean", nominal),))
    stats = fill_stats(fills)
    error = tolerable_error(nominal, market=market)
    needed = batch_units
    if len(fills) >= batch_units or batch_units < ALL_WEIGHED_UNDER:
        checks = [_mean_of_all(nominal, stats, batch_units)]
        if error is not None:
            checks.append(_few_short(nominal, error, fills, batch_units, market))
    else:
        plan = reference_test(batch_units, destructive=destructive)
        needed = plan.sample
        checks = [_mean_of_sample(nominal, stats, plan)]
        if error is not None:
            checks.append(_short_of_sample(nominal, error, fills, plan))
    if error is not None:
        checks.append(_none_twice_short(nominal, error, stats, fills, needed))
    return FillVerdict(market, tuple(checks))


def reference_test(batch_units: int, *, destructive: bool = False) -> ReferenceTest:
    """The plan for a batch of 100 packs or more; ValueError below."""
    for test in reference_tests():
        fits = test.batch_from <= batch_units and (
            test.batch_up_to is None or batch_units <= test.batch_up_to
        )
        if fits and test.destructive == destructive:
            return test
    raise ValueError(f"under {ALL_WEIGHED_UNDER} packs every one is weighed")


def _nothing_weighed(rule: str, nominal: Decimal) -> FillCheck:
    return FillCheck(
        f"fills.{rule}", None, f"No pack weighed yet; the label says {figure(nominal)} g.", "", "arithmetic"
    )


def _mean_of_all(nominal: Decimal, stats: FillStats, batch_units: int) -> FillCheck:
    source, basis = "Dir 76/211/EEC Annex I 1.1 and Annex II 2.1.3; UK SI 2006/659 Sch. 2 4.7", "read"
    mean = figure(stats.mean_g, places=3)
    if stats.count < batch_units:
        left = batch_units - stats.count
        return FillCheck(
            "fills.mean", None,
            f"{stats.count} of {batch_units} packs weighed, mean {mean} g. "
            f"Under {ALL_WEIGHED_UNDER} packs every one is weighed: {left} to go.",
            source, basis,
        )  # fmt: skip
    passed = stats.total_g >= exact_product(nominal, Decimal(stats.count))
    return FillCheck(
        "fills.mean", passed,
        f"{_mean_of(stats.count, every=True)} {mean} g; the label says {figure(nominal)} g."
        + ("" if passed else " Top up before they leave."),
        source, basis,
    )  # fmt: skip


def _few_short(
    nominal: Decimal, error: Decimal, fills: Sequence[Decimal], batch_units: int, market: str
) -> FillCheck:
    short = sum(nominal - fill > error for fill in fills)
    allowed = int(exact_product(FEW_SHORT_PERCENT[market], Decimal(batch_units)) / HUNDRED)
    passed: bool | None = short <= allowed
    if passed and len(fills) < batch_units:
        passed = None
    return FillCheck(
        "fills.short", passed,
        f"{short} of {len(fills)} packs short by more than {figure(error)} g; "
        f"{allowed} of {batch_units} may be.",
        "Dir 76/211/EEC Annex I 1.2; " + ("FPackV s. 9" if market == "EU" else "UK SI 2006/659"),
        "read" if market == "EU" else "memory",
    )  # fmt: skip


def _none_twice_short(
    nominal: Decimal, error: Decimal, stats: FillStats, fills: Sequence[Decimal], needed: int
) -> FillCheck:
    twice = 2 * error
    short = sum(nominal - fill > twice for fill in fills)
    floor = figure(nominal - twice)
    text = (
        f"{short} pack{'s' * (short > 1)} below {floor} g, which may not be sold so. Take out and top up."
        if short
        else f"None of {stats.count} packs is below {floor} g; the lightest is {figure(stats.least_g)} g."
    )
    passed = False if short else True if stats.count >= needed else None
    return FillCheck("fills.twice_short", passed, text, "Dir 76/211/EEC Annex I 1.3; FPackV s. 9(4)", "read")


def _mean_of_sample(nominal: Decimal, stats: FillStats, plan: ReferenceTest) -> FillCheck:
    mean = figure(stats.mean_g, places=3)
    if stats.count < plan.average_sample or stats.deviation_g is None:
        return FillCheck(
            "fills.mean", None,
            f"{stats.count} packs weighed, mean {mean} g. The mean is judged from {plan.average_sample}: "
            f"{plan.average_sample - stats.count} to go.",
            plan.source, "read",
        )  # fmt: skip
    factor = average_factor(stats.count, plan)
    limit = WIDE.subtract(nominal, WIDE.multiply(factor, stats.deviation_g))
    return FillCheck(
        "fills.mean", stats.mean_g >= limit,
        f"{_mean_of(stats.count)} {mean} g; from {figure(limit, places=3, up=True)} g it passes "
        f"({figure(nominal)} g less {figure(factor)} × {figure(stats.deviation_g, places=3)} g).",
        plan.source, "read",
    )  # fmt: skip


def average_factor(count: int, plan: ReferenceTest) -> Decimal:
    """The factor for the sample of a plan; of a larger sample the next published one that is smaller, else 0.

    The true factor t(0.995; n-1)/sqrt(n) falls as n grows, so this never passes what it would refuse.
    """
    published = sorted(
        {
            (test.average_sample, test.average_factor)
            for test in reference_tests()
            if test.average_sample >= plan.average_sample
        }
    )
    return next((factor for sample, factor in published if sample >= count), ZERO)


def _short_of_sample(
    nominal: Decimal, error: Decimal, fills: Sequence[Decimal], plan: ReferenceTest
) -> FillCheck:
    short = sum(nominal - fill > error for fill in fills)
    first = sum(nominal - fill > error for fill in fills[: plan.sample])
    words = f"{short} of {len(fills)} packs short by more than {figure(error)} g"
    passed: bool | None = None
    if first >= plan.reject:
        passed, words = False, f"{words}; {plan.reject} are too many."
    elif len(fills) < plan.sample:
        words = f"{words}. {plan.sample} are needed to judge: {plan.sample - len(fills)} to go."
    elif short <= plan.accept:
        passed, words = True, f"{words}; {plan.accept} may be."
    elif plan.second_sample is None or plan.second_accept is None:
        passed, words = False, f"{words}; {plan.accept} may be."
    elif short > plan.second_accept:
        passed, words = False, f"{words}; {plan.second_accept} of {plan.second_sample} may be."
    elif len(fills) < plan.second_sample:
        words = f"{words}: undecided. Weigh {plan.second_sample - len(fills)} more."
    else:
        passed, words = True, f"{words}; {plan.second_accept} of {plan.second_sample} may be."
    return FillCheck("fills.short", passed, words, plan.source, plan.basis)


def maximum_variation(nominal_g: Decimal, *, strict: bool = False) -> Decimal:
    """US maximum allowable variation of a labelled weight, g, by the gram column.

    strict: the smaller of what the gram and the pound column say, where their edges differ (for one's own
    release; choice ours).
    """
    by_grams = _variation(next(band for band in variation_bands() if _within(nominal_g, band)), nominal_g)
    if not strict:
        return by_grams
    pounds = WIDE.divide(nominal_g, POUND_G)
    band = next(band for band in variation_bands() if band.up_to_lb is None or pounds < band.up_to_lb)
    return min(by_grams, _variation(band, nominal_g))


def _within(nominal_g: Decimal, band: VariationBand) -> bool:
    """Up to and with the end, save the first band, whose end belongs to the second."""
    if band.up_to_g is None:
        return True
    return nominal_g < band.up_to_g if band.from_g is None else nominal_g <= band.up_to_g


def _variation(band: VariationBand, nominal_g: Decimal) -> Decimal:
    return band.grams if band.grams is not None else percent_of(band.percent or ZERO, nominal_g)


def us_release(nominal_g: Decimal, fills: Sequence[Decimal]) -> FillVerdict:
    """The maker's own rule for the US: mean at the label or above, no pack short by more than the variation.

    Stricter than an inspector's sample, whose allowance for sampling belongs to the inspector. NIST
    Handbook 133, 2.3 (read); the variations are from memory, so a fail by them says so.
    """
    if not fills:
        return FillVerdict("US", (_nothing_weighed("us_mean", nominal_g),))
    stats = fill_stats(fills)
    allowed = maximum_variation(nominal_g, strict=True)
    short = sum(nominal_g - fill > allowed for fill in fills)
    return FillVerdict(
        "US",
        (
            FillCheck(
                "fills.us_mean",
                stats.total_g >= exact_product(nominal_g, Decimal(stats.count)),
                f"{_mean_of(stats.count)} {figure(stats.mean_g, places=3)} g; "
                f"the label says {figure(nominal_g)} g, with no allowance.",
                "16 CFR 500.25(c); NIST Handbook 133, 2.3",
                "read",
            ),
            FillCheck(
                "fills.us_short",
                not short,
                f"{short} of {stats.count} packs short by more than {figure(allowed)} g.{MEMORY_NOTE}",
                "NIST Handbook 133, Table 2-5",
                "memory",
            ),
        ),
    )


@dataclass(frozen=True, slots=True)
class Inspection:
    """What an inspector's sample of a lot would say. credit_g: sample error limit; None: not tabulated."""

    plan: SamplingPlan
    mean_error_g: Decimal
    deviation_g: Decimal | None
    credit_g: Decimal | None
    average_passes: bool | None
    short: int
    individual_passes: bool


def us_inspection(nominal_g: Decimal, sample: Sequence[Decimal], *, lot_units: int) -> Inspection:
    """Reckon an inspector's two tests on a sample of the plan's size. NIST Handbook 133, 2.3.

    Average: mean error >= 0, or mean error + factor x s >= 0. Individual: of packs short by more than the
    variation no more than the plan allows. Raises ValueError for a sample of another size.
    """
    plan = next(
        plan
        for plan in sampling_plans()
        if plan.lot_from <= lot_units and (plan.lot_up_to is None or lot_units <= plan.lot_up_to)
    )
    if len(sample) != plan.sample:
        raise ValueError(f"an inspector takes {plan.sample} of {lot_units} packs, not {len(sample)}")
    stats = fill_stats(sample)
    error = WIDE.subtract(stats.mean_g, nominal_g)
    credit = None
    if plan.factor is not None and stats.deviation_g is not None:
        credit = WIDE.multiply(plan.factor, stats.deviation_g)
    short = sum(nominal_g - fill > maximum_variation(nominal_g) for fill in sample)
    passes: bool | None = True if error >= ZERO else None if credit is None else error + credit >= ZERO
    return Inspection(plan, error, stats.deviation_g, credit, passes, short, short <= plan.allowed_short)


@dataclass(frozen=True, slots=True)
class Target:
    """What to aim at so that all three packers' rules hold, g, and the rule that sets it."""

    grams: Decimal
    set_by: str


def target_fill(nominal: Decimal, deviation_g: Decimal, *, market: str = "EU") -> Target:
    """max(Qn, Qn - TNE + 1.96 s, Qn - 2 TNE + 3.72 s), for normal fills of known spread (derived).

    Allowance for drift and spread of the empty containers comes on top. Outside the table: the nominal.
    """
    terms = [(nominal, "the average")]
    error = tolerable_error(nominal, market=market)
    if error is not None:
        terms += [
            (nominal - error + SHARE_BEYOND_TNE * deviation_g, "the tolerable error"),
            (nominal - 2 * error + SHARE_BEYOND_TWICE * deviation_g, "twice the tolerable error"),
        ]
    grams, words = max(terms, key=lambda term: term[0])
    return Target(grams, words)


def scale_is_fine_enough(step: Decimal, nominal: Decimal) -> bool | None:
    """Whether a scale can check this quantity: its step at most a fifth of the tolerable error; None: no
    error.

    WELMEC 6.9 (read) bounds the error of measurement; the step is the least that it is.
    """
    error = tolerable_error(nominal)
    return None if error is None else 5 * step <= error


def _mean_of(count: int, *, every: bool = False) -> str:
    """How the sentence about a mean begins."""
    if count == 1:
        return "One pack weighs"
    return f"Mean of {'all ' * every}{count} packs"
