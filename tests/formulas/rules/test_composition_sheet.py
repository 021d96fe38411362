"""What a supplier's spreadsheet says of a composition: heads, shares, kinds."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.composition_sheet import (
    Figures,
    guess,
    look_like_fractions,
    read_figures,
    read_kind,
    read_rows,
    read_share,
)
from formulas.rules.recipe.sheets import Cell, PercentCell

D = Decimal


def share(text: Cell, locale: str = "en_IE", unit: str = "percent") -> tuple[str, ...]:
    """Low, typical, high as text, or the problem alone."""
    found = read_share(text, locale, unit)  # type: ignore[arg-type]
    if found.problem:
        return (found.problem,)
    return tuple("" if one is None else str(one) for one in (found.low, found.typical, found.high))


@pytest.mark.parametrize(
    ("text", "low", "typical", "high"),
    [
        ("5", "", "5", ""), ("5 %", "", "5", ""), ("5.50%", "", "5.5", ""), ("ca. 5", "", "5", ""),
        (".5", "", "0.5", ""),
        ("0.1-1", "0.1", "", "1"), ("0.1 – 1 %", "0.1", "", "1"), ("1 % - 5 %", "1", "", "5"),
        ("10 to 20", "10", "", "20"),
        (">=1 - <5", "1", "", "5"), ("≥ 10 - < 25 %", "10", "", "25"), ("1..3", "1", "", "3"),
        ("0 - 0.1", "0", "", "0.1"),
        ("<0.1", "", "", "0.1"), ("< 0.1 % w/w", "", "", "0.1"), ("≤ 0.5", "", "", "0.5"), ("max. 2", "", "", "2"),
        ("up to 3 %", "", "", "3"), (">99", "99", "", ""), ("min 95", "95", "", ""), ("99+", "99", "", ""),
        ("5 ± 0.5", "4.5", "5", "5.5"), ("500 ppm", "", "0.05", ""), ("< 10 mg/kg", "", "", "0.001"),
        ("0", "", "0", ""),
        ("100", "", "100", ""), ("12 % (w/w)", "", "12", ""),
    ],
)  # fmt: skip
def test_a_share_is_read_as_it_is_written(text: str, low: str, typical: str, high: str) -> None:
    """Ranges, ends, figures with and without a unit; 1 ppm is 1 mg/kg, 0.0001 % (SI Brochure 5.4.7)."""
    assert share(text) == (low, typical, high)


@pytest.mark.parametrize(
    "text", ["", "-", "—", "n/a", "N.A.", "unknown", "?", "confidential", "q.s.", "qs", "balance"]
)
@pytest.mark.parametrize("unit", ["percent", "ppm"])
def test_what_is_not_said_is_unknown(text: str, unit: str) -> None:
    """Never zero."""
    assert share(text, unit=unit) == ("", "", "")


@pytest.mark.parametrize("text", ["traces", "n.d.", "not detected", "present", "x"])
def test_a_word_without_a_figure_is_unknown_and_says_so(text: str) -> None:
    """Below a limit that isn't given."""
    found = read_share(text, "en_IE", "percent")
    assert (found.low, found.typical, found.high) == (None, None, None)
    assert "not zero" in found.says[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0,1", "Did you mean 0.1"), ("1,5-2", "Did you mean 1.5"), ("5-1", "falls"), ("150", "between 0 and 100"),
        ("5 g", "no share"), ("-3", "no share"), ("1-2-3", "no share"), ("about right", "no share"), ("<", "no share"),
        ("2026-05-01 00:00:00", "is a day"), ("1O", "no share"), ("5 ± 6", "between 0 and 100"), ("1e2", "no share"),
        ("1.2.3", "points"), ("٥", "no share"), ("1,000", "1000 or as 1.000"),
    ],
)  # fmt: skip
def test_what_can_be_read_in_two_ways_or_not_at_all_is_asked(text: str, words: str) -> None:
    """With the reason beside it; nothing is a factor of ten off."""
    assert words in share(text)[0]


def test_decimals_go_by_the_files_mark() -> None:
    """A comma where the file writes commas; the other mark is asked. A workbook's numbers need none."""
    assert share("0,1", "de_DE") == ("", "0.1", "")
    assert share("0,1 - 1,5 %", "de_DE") == ("0.1", "", "1.5")
    assert "Did you mean 0,1" in share("0.1", "de_DE")[0]
    assert share(D("0.1"), "de_DE") == ("", "0.1", "")
    assert share(PercentCell("30.5"), "de_DE", "ppm") == ("", "30.5", "")


def test_units_of_a_column() -> None:
    """A cell's own unit goes before the column's."""
    assert share(D("250"), unit="ppm") == ("", "0.025", "")
    assert share("2 %", unit="ppm") == ("", "2", "")
    assert share("0.25", unit="fraction") == ("", "25", "")
    assert "between 0 and 100" in share("25", unit="fraction")[0]


def test_a_workbooks_sum_of_binary_figures_is_kept_to_eight_decimals() -> None:
    """0.1 + 0.2 in binary, and the page says so."""
    found = read_share(D("0.30000000000000004"), "en_IE", "percent")
    assert found.typical == D("0.3")
    assert "8 decimals" in found.says[0]


@given(st.text(max_size=30))
def test_no_text_breaks_it_and_every_share_lies_between_0_and_100(text: str) -> None:
    """Whatever a cell holds."""
    found = read_share(text, "en_IE", "percent")
    ends = [one for one in (found.low, found.typical, found.high) if one is not None]
    assert all(0 <= one <= 100 for one in ends)
    assert not (found.problem and ends)


@given(
    st.decimals(min_value=0, max_value=100, places=4), st.sampled_from(["en_IE", "de_DE", "fr_FR", "en_US"])
)
def test_a_share_written_in_a_locale_is_read_back(value: Decimal, locale: str) -> None:
    """By that locale's mark; the same figure, or a question, never another figure."""
    text = f"{value:f}" if locale.startswith("en") else f"{value:f}".replace(".", ",")
    assert read_share(text, locale, "percent").typical == value
    other = "de_DE" if locale.startswith("en") else "en_IE"
    swapped = read_share(text, other, "percent")
    assert swapped.problem or swapped.typical == value


def test_ends_in_columns_of_their_own() -> None:
    """A range in the typical column counts; two cells that differ are asked."""
    ends = read_figures([("low", "1"), ("typical", D(2)), ("high", "< 3")], "en_IE", "percent")
    assert ends == Figures(D(1), D(2), D(3))
    assert read_figures([("low", ""), ("typical", "-"), ("high", "0.5")], "en_IE", "percent") == Figures(
        high=D("0.5")
    )
    assert "wrong order" in read_figures([("low", "4"), ("high", "3")], "en_IE", "percent").problem
    assert "different things" in read_figures([("low", "4"), ("typical", "1-5")], "en_IE", "percent").problem


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("", "within"), ("-", "within"), ("Declared", "declared"), ("contained within", "within"),
        ("Allergen", "within"),
        ("INCI", "declared"), ("declared allergen", ""), ("maybe", ""),
    ],
)  # fmt: skip
def test_declared_or_within(word: str, kind: str) -> None:
    """A word that says neither or both is asked."""
    assert read_kind(word, "within") == kind


def test_heads_are_found_below_a_title() -> None:
    """By what they say, in any order, with the unit."""
    rows: list[list[Cell]] = [
        ["Specification of Marshlight blend", None, None],
        ["Rev. 4"],
        ["CAS-No.", "INCI Name", "min. %", "typ.", "max. %", "Function"],
        ["56-81-5", "Glycerin", D(50), D(55), D(60), "Humectant"],
    ]
    found = guess(rows)
    assert (found.head, found.unit) == (2, "percent")
    assert found.columns == {"cas": 0, "name": 1, "low": 2, "typical": 3, "high": 4, "function": 5}
    assert guess([["Allergen", "CAS", "Content (ppm)"]]).unit == "ppm"
    assert guess([["Glycerin", D(5)], ["Aqua", D(95)]]).head is None


def test_rows_keep_what_names_nothing_apart() -> None:
    """Footnotes stay to be seen; a total is told; a row with figures but no name stays a row."""
    rows: list[list[Cell]] = [
        ["INCI", "%"],
        ["Glycerin", "60"],
        [None, "3"],
        [None, None, "* of plant origin"],
        ["Total", "100"],
    ]
    found, words = read_rows(
        rows, 0, {"name": 0, "percent": 1}, locale="en_IE", unit="percent", kind="declared"
    )
    assert [(one.name, one.is_total) for one in found] == [("Glycerin", False), ("", False), ("Total", True)]
    assert words == ["* of plant origin"]


def test_figures_that_make_one_are_doubted() -> None:
    """0.6 and 0.4 may be parts of 1; 60 and 40 are not."""

    def rows(*figures: str) -> list[list[Cell]]:
        found: list[list[Cell]] = [["INCI", "share"]]
        found += [[f"Substance {one}", one] for one in figures]
        return found

    def doubted(*figures: str) -> bool:
        given_rows = read_rows(
            rows(*figures), 0, {"name": 0, "percent": 1}, locale="en_IE", unit="percent", kind="declared"
        )
        return look_like_fractions(given_rows[0])

    assert doubted("0.6", "0.4")
    assert not doubted("60", "40")
    assert not doubted("1")
