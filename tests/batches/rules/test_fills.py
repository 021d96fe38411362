"""Fill control against the published rules.

EU and GB: Dir 76/211/EEC, UK SI 2006/659 Sch. 2 (figures read). US: NIST Handbook 133 (procedure read,
tables from memory). Samples are our own, worked by hand.
"""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.fill_tables import error_bands
from batches.rules.fills import (
    FillVerdict,
    average_system,
    fill_stats,
    maximum_variation,
    reference_test,
    scale_is_fine_enough,
    target_fill,
    tolerable_error,
    us_inspection,
    us_release,
)

D = Decimal
TWENTY = "50.4 50.1 49.8 50.6 50.2 49.9 50.3 50.0 50.5 49.7 50.2 50.4 50.1 49.6 50.3 50.0 50.6 50.2 49.9 50.4"
TWELVE = "50.2 49.8 50.1 50.4 49.9 50.0 50.3 49.7 50.2 50.1 49.9 50.0"


def grams(text: str) -> list[Decimal]:
    """Figures in a row."""
    return [D(word) for word in text.split()]


def passed(verdict: FillVerdict, rule: str) -> bool | None:
    """The answer to one question."""
    (check,) = [check for check in verdict.checks if check.rule == f"fills.{rule}"]
    return check.passed


def spread(mean: str, deviation: str, count: int) -> list[Decimal]:
    """So many fills with exactly this mean and sample deviation: half of them above, half below."""
    step = (D(deviation) ** 2 * (count - 1) / count).sqrt()
    return [D(mean) + (step if number % 2 else -step) for number in range(count)]


@pytest.mark.parametrize(
    ("nominal", "error"),
    [
        ("15", "1.4"), ("30", "2.7"), ("50", "4.5"), ("60", "4.5"), ("100", "4.5"), ("120", "5.4"), ("150",
        "6.8"), ("250", "9"), ("333", "10.0"), ("500", "15"), ("1500", "22.5"), ("4", None), ("5", "0.5"),
        ("200", "9"), ("300", "9"), ("1000", "15"), ("10000", "150"), ("10001", None),
    ],
)  # fmt: skip
def test_tolerable_error_of_each_band(nominal: str, error: str | None) -> None:
    """Dir 76/211/EEC Annex I 2.4 (read); percentages rounded up to 0.1; no figure under 5 g."""
    assert tolerable_error(D(nominal)) == (None if error is None else D(error))


def test_great_britain_tolerates_an_error_above_10_kg_too() -> None:
    """SI 2006/659, from memory: 150 g up to 15 kg, then 1 %; without a gap between the bands."""
    assert [tolerable_error(D(grams), market="GB") for grams in (12000, 15000, 20000)] == [
        D(150),
        D(150),
        D(200),
    ]
    assert all(before.up_to == after.over for before, after in pairwise(error_bands()))


def test_mean_and_spread_of_twenty() -> None:
    """Sum 1,003.2, mean 50.16, s 0.28727 (n - 1)."""
    stats = fill_stats(grams(TWENTY))

    assert (stats.total_g, stats.mean_g, stats.least_g) == (D("1003.2"), D("50.16"), D("49.6"))
    assert stats.deviation_g is not None
    assert round(stats.deviation_g, 5) == D("0.28727")


def test_twenty_opened_packs_pass() -> None:
    """Limit 50 - 0.640 s = 49.8161; none below 45.5."""
    verdict = average_system(D(50), grams(TWENTY), batch_units=150, destructive=True)

    assert verdict.passed is True
    assert "from 49.817 g it passes" in verdict.checks[0].text


def test_a_small_batch_is_weighed_whole() -> None:
    """Twelve packs, mean 50.05: passes. Annex II 2.1.3 (read)."""
    assert average_system(D(50), grams(TWELVE), batch_units=12).passed is True


def test_a_small_batch_has_no_allowance_for_sampling() -> None:
    """24 packs at 49.9: refused."""
    verdict = average_system(D(50), [D("49.9")] * 24, batch_units=24)

    assert passed(verdict, "mean") is False
    assert verdict.passed is False


def test_a_small_batch_half_weighed_is_not_judged() -> None:
    """Twelve of 24: open, with how many are to go."""
    verdict = average_system(D(50), grams(TWELVE), batch_units=24)

    assert verdict.passed is None
    assert "12 to go" in verdict.checks[0].text


@pytest.mark.parametrize(
    ("units", "opened", "count", "mean", "deviation", "ok"),
    [
        (150, False, 30, "49.70", "0.5", False),
        (150, False, 30, "49.75", "0.5", True),
        (800, False, 50, "49.82", "0.5", True),
        (800, False, 50, "49.81", "0.5", False),
        (150, True, 20, "49.681", "0.5", True),
        (150, True, 20, "49.679", "0.5", False),
    ],
)
def test_the_mean_of_a_sample(
    units: int, opened: bool, count: int, mean: str, deviation: str, ok: bool
) -> None:
    """Limits 49.7485 (0.503), 49.8105 (0.379), 49.680 (0.640): SI 2006/659 Sch. 2 4.5-4.6 (read)."""
    verdict = average_system(D(50), spread(mean, deviation, count), batch_units=units, destructive=opened)

    assert passed(verdict, "mean") is ok


def test_a_larger_sample_than_the_plans_is_judged_more_strictly() -> None:
    """Of 40 packs the factor of 50 is taken: 49.8 - limit 49.8105 - fails, though 30 would pass."""
    assert passed(average_system(D(50), spread("49.8", "0.5", 40), batch_units=150), "mean") is False
    assert passed(average_system(D(50), spread("49.8", "0.5", 30), batch_units=150), "mean") is True


@pytest.mark.parametrize(
    ("short", "count", "ok"),
    [(1, 30, True), (2, 30, None), (3, 30, False), (4, 60, True), (5, 60, False), (0, 29, None)],
)
def test_the_double_sample(short: int, count: int, ok: bool | None) -> None:
    """100-500 packs: 30 with 1/3, then 60 with 4/5. The short ones come last in order of weighing."""
    fills = [D("50.5")] * (count - short) + [D(45)] * short

    assert passed(average_system(D(50), fills, batch_units=300), "short") is ok


def test_exactly_at_the_tolerable_error_is_within_it() -> None:
    """45.5 g of 50 g is not short by more than 4.5 g."""
    fills = [D("45.5"), *[D("50.5")] * 19]

    assert "0 of 20 packs short" in average_system(D(50), fills, batch_units=20).checks[1].text


def test_one_pack_twice_short_stops_the_batch() -> None:
    """Below 41 g of 50 g."""
    verdict = average_system(D(50), [D("40.9"), *[D(51)] * 19], batch_units=20)

    assert passed(verdict, "twice_short") is False
    assert passed(average_system(D(50), [D("41.0"), *[D(51)] * 19], batch_units=20), "twice_short") is True


def test_under_five_grams_only_the_mean_counts() -> None:
    """Outside the table of errors."""
    verdict = average_system(D(4), [D(4)] * 10, batch_units=10)

    assert [check.rule for check in verdict.checks] == ["fills.mean"]


def test_no_fill_is_an_open_question() -> None:
    """Unknown is never zero."""
    assert average_system(D(50), [], batch_units=20).passed is None
    assert us_release(D(50), []).passed is None


def test_a_plan_begins_at_a_hundred() -> None:
    """Below that every pack is weighed."""
    assert reference_test(100).sample == 30
    assert reference_test(501).sample == 50
    assert reference_test(5000).second_sample == 160
    with pytest.raises(ValueError, match="every one"):
        reference_test(99)


@pytest.mark.parametrize(
    ("nominal", "variation"),
    [("30", "3.0"), ("36", "3.6"), ("54", "3.6"), ("54.1", "5.4"), ("113", "7.2"), ("117", "7.2"), ("118",
    "9.0"), ("250", "12.7"), ("907", "31.7"), ("30000", "600")],
)  # fmt: skip
def test_maximum_variation_of_each_band(nominal: str, variation: str) -> None:
    """NIST Handbook 133 Table 2-5: 7.2 g at 113 g and 31.7 g at 907 g read, the rest from memory."""
    assert maximum_variation(D(nominal)) == D(variation)


def test_where_the_columns_differ_the_own_rule_takes_the_smaller() -> None:
    """54.1 g is 0.1193 lb, still in the band up to 0.12 lb."""
    assert maximum_variation(D("54.1"), strict=True) == D("3.6")


def test_an_inspector_passes_what_the_own_rule_does_not() -> None:
    """Mean error -0.3333, s 0.5466, credit 0.3471, sum +0.0138 (label 100 g, n = 12)."""
    sample = grams("99.1 100.4 98.7 99.9 100.2 99.5 99.8 100.1 99.0 100.3 99.6 99.4")

    found = us_inspection(D(100), sample, lot_units=100)

    assert found.deviation_g is not None
    assert found.credit_g is not None
    assert round(found.mean_error_g, 4) == D("-0.3333")
    assert (round(found.deviation_g, 4), round(found.credit_g, 4)) == (D("0.5466"), D("0.3471"))
    assert (found.average_passes, found.individual_passes) == (True, True)
    assert us_release(D(100), sample).passed is False


def test_an_inspector_refuses_by_both_tests() -> None:
    """Mean error -2.75, s 1.6200, credit 1.0287; 92.4 is short by 7.6, over 7.2."""
    sample = grams("97.1 98.4 96.7 97.9 98.2 97.5 97.8 98.1 97.0 98.3 97.6 92.4")

    found = us_inspection(D(100), sample, lot_units=100)

    assert (found.average_passes, found.short, found.individual_passes) == (False, 1, False)
    assert found.credit_g is not None
    assert (found.mean_error_g, round(found.credit_g, 4)) == (D("-2.75"), D("1.0287"))


def test_a_sample_of_another_size_is_no_inspection() -> None:
    """12 of 100."""
    with pytest.raises(ValueError, match="takes 12 of 100"):
        us_inspection(D(100), [D(100)] * 13, lot_units=100)


@pytest.mark.parametrize(
    ("nominal", "deviation", "target", "by"),
    [
        ("50", "1.2", "50", "the average"),
        ("50", "3.0", "52.16", "twice the tolerable error"),
        ("15", "0.9", "15.548", "twice the tolerable error"),
        ("100", "0.5", "100", "the average"),
    ],
)
def test_what_to_aim_at(nominal: str, deviation: str, target: str, by: str) -> None:
    """The three terms worked by hand; shares beyond follow packers' guidance (memory)."""
    found = target_fill(D(nominal), D(deviation))

    assert (found.grams, found.set_by) == (D(target), by)


def test_a_scale_must_be_a_fifth_of_the_error() -> None:
    """WELMEC 6.9 (read): 0.9 g at 50 g, 0.28 g at 15 g."""
    assert scale_is_fine_enough(D("0.9"), D(50)) is True
    assert scale_is_fine_enough(D(1), D(50)) is False
    assert scale_is_fine_enough(D("0.5"), D(15)) is False
    assert scale_is_fine_enough(D("0.1"), D(3)) is None


@given(
    fills=st.lists(st.decimals(0, 500, places=2), min_size=2, max_size=60),
    shift=st.decimals(0, 100, places=2),
)
def test_spread_does_not_change_when_all_fills_shift(fills: list[Decimal], shift: Decimal) -> None:
    """The deviation is of differences; the mean shifts along."""
    one, other = fill_stats(fills), fill_stats([fill + shift for fill in fills])

    assert one.deviation_g == other.deviation_g
    assert abs(other.mean_g - one.mean_g - shift) < D("1e-40")


@given(fills=st.lists(st.decimals(30, 70, places=1), min_size=1, max_size=99))
def test_topping_up_never_turns_a_pass_into_a_fail(fills: list[Decimal]) -> None:
    """More in every pack of a batch weighed whole is never worse."""
    before = average_system(D(50), fills, batch_units=len(fills))
    after = average_system(D(50), [fill + 1 for fill in fills], batch_units=len(fills))

    assert not (before.passed is True and after.passed is not True)
