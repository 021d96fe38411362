"""What a batch takes. Figures worked by hand; the loss convention is the product's own (of what goes in)."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.planning import (
    Balance,
    LotFacts,
    adjust_range,
    balance_for,
    in_order_of_use,
    least_weighing,
    plan_total,
    share_lines,
    shortages,
    small_weighings,
    tolerance,
)

D = Decimal
STEPS = st.sampled_from([D("0.001"), D("0.01"), D("0.1"), D("0.5"), D(1), D(5)])


def test_loss_is_of_what_goes_in() -> None:
    """48 x 50 + 50 = 2,450; 2 % of what goes in is lost: 2,450 / 0.98 = 2,500 exactly."""
    plan = plan_total(units=48, fill_g=D(50), samples_g=D(50), loss_percent=D(2), step=D("0.1"))

    assert (plan.needed_g, plan.planned_g) == (D(2450), D(2500))


def test_the_planned_total_is_rounded_up_to_the_step() -> None:
    """1,000 / 0.97 = 1,030.927...: 1,031.0 at 0.1 would be too much, 1,030.9 too little."""
    plan = plan_total(units=20, fill_g=D(50), loss_percent=D(3), step=D("0.1"))

    assert plan.planned_g == D("1031.0")
    assert plan_total(units=20, fill_g=D(50), loss_percent=D(3), step=D("0.01")).planned_g == D("1030.93")


@pytest.mark.parametrize(
    ("units", "fill", "samples", "loss"),
    [(-1, "50", "0", "0"), (1, "-1", "0", "0"), (1, "50", "-1", "0"), (1, "50", "0", "100"), (1, "50", "0",
    "-1"), (0, "50", "0", "0")],
)  # fmt: skip
def test_what_makes_no_batch_is_refused(units: int, fill: str, samples: str, loss: str) -> None:
    """Negative amounts, a loss of everything, nothing at all."""
    with pytest.raises(ValueError, match=r"amounts|loss|nothing"):
        plan_total(units=units, fill_g=D(fill), samples_g=D(samples), loss_percent=D(loss), step=D("0.1"))


@given(
    units=st.integers(1, 5000),
    fill=st.decimals("0.1", 1000, places=2),
    samples=st.decimals(0, 500, places=1),
    loss=st.decimals(0, "99.99", places=2),
    step=STEPS,
)
def test_the_plan_is_the_least_that_suffices(
    units: int, fill: Decimal, samples: Decimal, loss: Decimal, step: Decimal
) -> None:
    """What is left after the loss covers the need; one step less would not."""
    plan = plan_total(units=units, fill_g=fill, samples_g=samples, loss_percent=loss, step=step)

    assert plan.planned_g % step == 0
    assert plan.planned_g * (100 - loss) >= plan.needed_g * 100
    assert (plan.planned_g - step) * (100 - loss) < plan.needed_g * 100


def test_lines_share_the_total_exactly() -> None:
    """Thirds of 100.0 g: 33.4, 33.3, 33.3; the odd tenth goes to the largest remainder, then the earlier."""
    third = D("33.333333")

    assert share_lines(D(100), [third, third, D("33.333334")], D("0.1")) == [D("33.3"), D("33.3"), D("33.4")]
    assert share_lines(D("100.1"), [D(50), D(50)], D("0.1")) == [D("50.1"), D("50.0")]


@given(
    parts=st.lists(st.integers(1, 9_999_999), min_size=1, max_size=60),
    steps=st.integers(1, 10**6),
    step=STEPS,
)
def test_shares_add_up_and_none_is_a_step_off(parts: list[int], steps: int, step: Decimal) -> None:
    """For any percents that make exactly 100: sum exact, multiples of the step, each within one step."""
    whole = sum(parts)
    percents = [D(part * 10**8 // whole).scaleb(-6) for part in parts]
    percents[0] += 100 - sum(percents)
    planned = steps * step

    shares = share_lines(planned, percents, step)

    assert sum(shares) == planned
    assert all(share % step == 0 for share in shares)
    assert all(
        abs(share * 100 - planned * percent) < step * 100
        for share, percent in zip(shares, percents, strict=True)
    )


def test_percents_that_miss_a_hundred_are_refused() -> None:
    """0.0001 is missing."""
    with pytest.raises(ValueError, match=r"99\.9999, not 100"):
        share_lines(D(100), [D("99.9999")], D("0.1"))


def test_an_adjust_line_stands_outside_with_its_range() -> None:
    """0.05 to 0.3 % of 2,500 g: 1.3 to 7.5 g at 0.1 g; an unknown end stays unknown."""
    found = adjust_range(D(2500), D("0.05"), D("0.3"), D("0.1"))

    assert (found.low_g, found.high_g) == (D("1.3"), D("7.5"))
    assert adjust_range(D(2500), None, D("0.3"), D("0.1")).low_g is None
    with pytest.raises(ValueError, match="above the high"):
        adjust_range(D(2500), D(1), D("0.3"), D("0.1"))


def test_a_shortage_is_said_with_its_figure() -> None:
    """Figure first; exactly enough is enough; nothing here is all short."""
    found = shortages(
        {"Shea butter": D(2340), "Beeswax": D(400), "Rose oil": D(5)},
        {"Shea butter": D(1860), "Beeswax": D(400)},
    )

    assert [one.text for one in found] == [
        "Shea butter: 1860 g here, 2340 g needed: 480 g short.",
        "Rose oil: 0 g here, 5 g needed: 5 g short.",
    ]


def test_a_tolerance_is_never_narrower_than_the_scale_shows() -> None:
    """Half a percent of 1,000 g is 5 g; of 2 g it would be 0.01 g, which a 0.1 g scale can't show."""
    assert tolerance(D(1000), D("0.1")) == D("5.0")
    assert tolerance(D(2), D("0.1")) == D("0.1")


@pytest.mark.parametrize(("step", "least"), [("0.1", "8.2"), ("0.01", "0.82"), ("0.001", "0.082")])
def test_the_smallest_weighing_of_a_scale(step: str, least: str) -> None:
    """0.82 d / 1 % = 82 d: USP <41> has 820 d at 0.10 % (read), so 82 d at 1 % (derived)."""
    assert least_weighing(D(step)) == D(least)


def test_a_scale_that_repeats_badly_weighs_less_well() -> None:
    """2 s / r: s = 0.1 g gives 20 g."""
    assert least_weighing(D("0.1"), D("0.1")) == 20
    assert least_weighing(D("0.1"), D("0.01")) == D("8.2")


@pytest.mark.parametrize(
    ("grams", "step"),
    [("500", "1"), ("82", "1"), ("81.9", "0.1"), ("8", "0.01"), ("0.1", "1"), ("6000", "1")],
)
def test_the_scale_that_suits_some_grams(grams: str, step: str) -> None:
    """The batch's own from 82 steps up (USP <41> as above); then the coarsest that does; its own where none."""
    own, kitchen, pocket = (
        Balance(D("1"), D(5000)),
        Balance(D("0.1"), D(2000)),
        Balance(D("0.01"), D(200)),
    )
    assert balance_for(D(grams), own, [pocket, kitchen, own]).step_g == D(step)


def test_half_a_gram_on_a_kitchen_scale_is_warned_of() -> None:
    """At the floor is enough; 0 g is no weighing."""
    found = small_weighings([("Colour", D("0.5")), ("Oil", D("8.2")), ("None", D(0))], D("0.1"))

    assert [one.name for one in found] == ["Colour"]
    assert found[0].text.startswith("Colour: 0.5 g is little for a scale of 0.1 g; from 8.2 g")


def lot(key: int, good_until: str = "", received: str = "2026-01-01") -> LotFacts:
    """A lot with something in it."""
    return LotFacts(key, good_until, received, D(100))


def test_first_expiry_goes_first_and_no_date_goes_last() -> None:
    """A newer delivery that ends earlier goes first; ties to the oldest receipt (ISO 22716 6.6.7, read)."""
    order = in_order_of_use(
        [
            lot(1),
            lot(2, "2027-05-31", "2026-03-01"),
            lot(3, "2027-05-31", "2026-02-01"),
            lot(4, "2027-01-31", "2026-06-01"),
        ]
    )

    assert [one.key for one in order] == [4, 3, 2, 1]


@given(st.lists(st.tuples(st.integers(0, 900) | st.none(), st.integers(0, 900)), max_size=20), st.randoms())
def test_the_order_of_use_does_not_depend_on_the_order_of_arrival(
    rows: list[tuple[int | None, int]], random: Random
) -> None:
    """A total order: shuffled lots come out alike."""
    start = date(2026, 1, 1)
    lots = [
        lot(key, "" if until is None else f"{start + timedelta(until)}", f"{start + timedelta(came)}")
        for key, (until, came) in enumerate(rows)
    ]
    shuffled = list(lots)
    random.shuffle(shuffled)

    assert in_order_of_use(shuffled) == in_order_of_use(lots)
