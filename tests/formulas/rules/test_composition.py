"""Figures, order and the sum of 100 as intervals."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.composition import Composition, Constituent, shares, substance_key
from formulas.rules.interval import Interval

D = Decimal


def part(name: str, low: str = "", typical: str = "", high: str = "", rank: int | None = None) -> Constituent:
    """A declared constituent; an empty figure is not given."""
    least, usual, most = (D(text) if text else None for text in (low, typical, high))
    return Constituent(substance_key(name), name, "declared", least, usual, most, rank)


def of(*parts: Constituent) -> Composition:
    """A composition called blend."""
    return Composition("blend", "Blend", parts)


def ends(composition: Composition) -> list[tuple[Decimal | None, Decimal | None]]:
    """Both ends of each declared share."""
    return [(share.interval.low, share.interval.high) for share in shares(composition).declared]


def test_order_alone_bounds_each_place() -> None:
    """Of three in order the first holds at least a third, the k-th at most 100/k (plain arithmetic)."""
    found = ends(of(part("A", rank=1), part("B", rank=2), part("C", rank=3)))

    assert found[0] == (D("33.333333333333"), D(100))
    assert found[1] == (D(0), D(50))
    assert found[2] == (D(0), D("33.333333333334"))


def test_a_missing_share_follows_from_the_sum() -> None:
    """Sorbitol 70 in water leaves 30, and says that it is derived."""
    water = shares(of(part("Sorbitol", typical="70"), part("Aqua"))).declared[1]

    assert water.interval == Interval.point(D(30))
    assert water.derived


def test_ranges_draw_each_other_together() -> None:
    """70-90 beside 20-25 can only be 75-80, for together they make 100."""
    assert ends(of(part("A", "70", "", "90"), part("B", "20", "", "25"))) == [(D(75), D(80)), (D(20), D(25))]


def test_order_works_with_given_figures() -> None:
    """The second of three is at most 20 when the first is 20 at most... which can't make 100."""
    found = shares(of(part("A", "", "", "20", 1), part("B", rank=2), part("C", rank=3)))

    assert not found.is_consistent
    assert "can't add up to 100" in found.findings[0].message


def test_a_remainder_is_unknown_never_zero() -> None:
    """87 and 8 leave 5 % of which nothing is known."""
    found = shares(of(part("Benzyl Alcohol", typical="87"), part("Dehydroacetic Acid", typical="8")))

    assert found.remainder == Interval(D(5), D(5))
    assert [finding.severity for finding in found.findings] == ["unknown"]
    assert "5 % of it is not accounted for" in found.findings[0].message


def test_no_constituents_is_unknown() -> None:
    """All 100 % is undeclared."""
    found = shares(of())

    assert found.remainder == Interval.point(D(100))
    assert found.findings[0].severity == "unknown"


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([part("A", "60"), part("B", "50")], "110"),
        ([part("A", typical="101")], "101"),
        ([part("A", "30", "20", "40"), part("B")], "least 30 % is above typical 20"),
        ([part("A", "30", "", "20"), part("B")], "least 30 % is above most 20"),
        ([part("A", typical="60"), part("A", typical="40")], "stands twice"),
        ([part("A", "", "", "10", 1), part("B", "20", "", "", 2)], "stands after A"),
    ],
)
def test_figures_that_cannot_be_true_stop(parts: list[Constituent], words: str) -> None:
    """Each stop says the figure and what to compare."""
    found = shares(of(*parts))

    stops = [finding for finding in found.findings if finding.severity == "stop"]
    assert any(words in finding.message for finding in stops)
    assert all(finding.cure for finding in stops)


def test_within_is_no_part_of_the_100() -> None:
    """An oil of 100 % may hold 45 % linalool within; a missing upper end stays unknown."""
    linalool = Constituent("linalool", "Linalool", "within", high=D(45))
    coumarin = Constituent("coumarin", "Coumarin", "within")
    found = shares(of(part("Lavandula Angustifolia Oil", typical="100"), linalool, coumarin))

    assert found.remainder is None
    assert [share.interval for share in found.within] == [Interval(D(0), D(45)), Interval(None, None)]


def test_keys_hold_names_in_any_script() -> None:
    """Punctuation joins, accents fall, other scripts still get a key of their own."""
    assert substance_key("Caprylic/Capric Triglyceride") == "caprylic-capric-triglyceride"
    assert substance_key("Crème") == "creme"
    assert substance_key("蜜蝋") != substance_key("水")
