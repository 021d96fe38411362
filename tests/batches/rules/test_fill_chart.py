"""The control chart of single values: NIST/SEMATECH e-Handbook 6.3.2.2."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from batches.rules.fill_chart import BOTTOM, LEFT, RIGHT, TOP, control_limits, draw_chart, outside

D = Decimal
NIST = [D(one) for one in ["49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1"]]


def test_limits_of_the_published_example() -> None:
    """Mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159 (published; range limit 6.1347)."""
    limits = control_limits(NIST)

    assert limits is not None
    assert limits.center_g == D("50.81")
    assert round(limits.mean_range_g, 4) == D("1.8778")
    assert (round(limits.upper_g, 4), round(limits.lower_g, 4)) == (D("55.8041"), D("45.8159"))
    assert round(limits.upper_range_g, 4) == D("6.1347")
    assert limits.provisional


def test_a_fill_beyond_the_limits_of_the_first_twenty_is_out() -> None:
    """The limits say which fills set them; what came later does not widen them."""
    fills = [D("50.1"), D("50.3")] * 10 + [D("49.2")]
    limits = control_limits(fills[:20])

    assert limits is not None
    assert not limits.provisional
    assert outside(fills, limits) == (20,)


def test_on_the_limit_is_within() -> None:
    """Strict."""
    limits = control_limits(NIST)

    assert limits is not None
    assert outside([limits.upper_g, limits.lower_g], limits) == ()


def test_one_fill_makes_no_chart() -> None:
    """There is no range of one."""
    assert control_limits([D(50)]) is None
    assert draw_chart([D(50)], D(50)) is None


def test_the_title_says_the_result() -> None:
    """Diagrams are read out."""
    chart = draw_chart([D("50.1"), D("50.3")] * 10 + [D("49.2")], D(50), baseline=20)

    assert chart is not None
    assert chart.title.endswith("Pack 21 at 49.2 g is below the lower limit.")
    assert chart.points[20].out


@given(
    fills=st.lists(st.decimals(1, 900, places=2), min_size=2, max_size=120),
    nominal=st.decimals(1, 900, places=1),
)
def test_everything_is_inside_the_plot_and_no_words_overlap(fills: list[Decimal], nominal: Decimal) -> None:
    """Whatever was weighed, also when all fills are alike."""
    chart = draw_chart(fills, nominal)

    assert chart is not None
    assert all(LEFT <= point.x <= RIGHT and TOP <= point.y <= BOTTOM for point in chart.points)
    assert all(TOP <= line.y <= BOTTOM for line in chart.lines)
    words = sorted(line.words_y for line in chart.lines if line.kind != "grid")
    assert all(later - earlier >= 14 for earlier, later in pairwise(words))
    grid = [line for line in chart.lines if line.kind == "grid"]
    assert 3 <= len(grid) <= 9
