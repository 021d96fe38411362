"""Solid fat in heat: the band, what it doesn't cover, pairs that soften each other, drag."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.findings import Finding
from formulas.rules.firmness import Fat, bands, bears_up_to, fat_tables, reading_of, solid_at
from formulas.rules.firmness_drawing import CURVE, draw
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import Asked, FormulaForReview, IngredientFacts, prepare
from formulas.rules.review.firmness import check_firmness, fat_phase
from formulas.rules.totals import NestedFormula

D = Decimal
COCOA, SHEA = "theobroma-cacao-seed-butter", "butyrospermum-parkii-butter"
COCONUT, MANGO = "cocos-nucifera-oil", "mangifera-indica-seed-butter"
OIL = "helianthus-annuus-seed-oil"
STEARIC = "stearic-acid"

FACTS = {
    COCOA: IngredientFacts("Cocoa butter", frozenset({"butter"}), "hard solid", "oil", substance=COCOA),
    SHEA: IngredientFacts("Shea", frozenset({"butter"}), "soft solid", "oil", substance=SHEA),
    MANGO: IngredientFacts("Mango", frozenset({"butter"}), "soft solid", "oil", substance=MANGO),
    COCONUT: IngredientFacts("Coconut", frozenset({"emollient"}), "soft solid", "oil", substance=COCONUT),
    OIL: IngredientFacts("Sunflower", frozenset({"emollient"}), "liquid", "oil", substance=OIL),
    STEARIC: IngredientFacts(
        "Stearic acid", frozenset({"emulsifier"}), "hard solid", "oil", substance=STEARIC
    ),
    "wax": IngredientFacts("Beeswax", frozenset({"wax"}), "hard solid", "oil", substance="cera-alba"),
    "cupuacu": IngredientFacts("Cupuacu", frozenset({"butter"}), "soft solid", "oil", substance="cupuacu"),
    "water": IngredientFacts("Water", frozenset({"solvent"}), "liquid", "water", substance="aqua"),
}


def asked_of(
    shares: dict[str, str], form: str = "bar", nested: dict[str, NestedFormula] | None = None
) -> Asked:
    """A formula of these percents by ingredient."""
    lines = tuple(
        FormulaLine(key, key, FACTS[key].name if key in FACTS else key, D(each))
        for key, each in shares.items()
    )
    use = ProductUse("leave-on", "body")
    return prepare(FormulaForReview(lines, use, facts=FACTS, form=form, nested=nested or {}))


def rules_of(found: object) -> dict[str, Finding]:
    """Findings by the last word of their rule."""
    assert isinstance(found, tuple)
    return {each.rule.removeprefix("firmness."): each for each in found}


def test_the_worked_blend() -> None:
    """60 cocoa butter (Ghana), 25 shea, 15 sunflower: 55.6, 48.8, 31.5 and 2.4 % solid, worked by hand from
    Shukla's cocoa butter (1995; from memory) and remembered ranges of shea."""
    tables = fat_tables()
    found = bands([Fat(D(60), tables[COCOA]), Fat(D(25), tables[SHEA]), Fat(D(15), None)])

    typical = [str(round(band.typical, 1)) for band in found if band.typical is not None]
    assert typical == ["55.6", "48.8", "31.5", "2.4"]
    for band in found:
        assert band.low is not None
        assert band.typical is not None
        assert band.high is not None
        assert band.low <= band.typical <= band.high
    assert bears_up_to(found) == 30


def test_cocoa_butter_alone_reads_its_table() -> None:
    """Published ends pass through unchanged: 23.3 (Brazil) to 57.7 (Malaysia) at 30 °C."""
    (band,) = bands([Fat(D(7), fat_tables()[COCOA])], [D(30)])

    assert (band.low, band.typical, band.high) == (D("23.3"), D("45"), D("57.7"))
    assert band.reading == "spreadable to hard"


def test_between_rows_is_interpolated_and_beyond_them_only_bounded() -> None:
    """Cocoa butter halfway from 76.0 to 69.6. At 19 °C at least what it is at 20 °C, at 36 °C at most what it is
    at 35 °C, and no typical figure: a fat melts by warming, and the table says no more."""
    table = fat_tables()[COCOA]

    assert solid_at(table, D("22.5"))[1] == D("72.8")
    assert solid_at(table, D(19)) == (D("62.6"), None, D(100))
    assert solid_at(table, D(36)) == (D(0), None, D("2.6"))


def test_a_remembered_range_is_widened_and_never_leaves_0_to_100() -> None:
    """Shea at 25 °C, 20 to 35: 15 to 40. At 40 °C, 0 to 4: 0 to 9."""
    table = fat_tables()[SHEA]

    assert table.is_placeholder
    assert solid_at(table, D(25)) == (D(15), D(28), D(40))
    assert solid_at(table, D(40)) == (D(0), D(1), D(9))


def test_figures_by_dilatometry_are_never_mixed_in() -> None:
    """Cocoa butter has SFI rows at 21.1 °C in the file; no table holds one, nor a single origin's."""
    for table in fat_tables().values():
        assert {row.method for row in table.rows} == {"SFC"}
        assert {row.variety for row in table.rows} == {""}


@pytest.mark.parametrize(
    ("solid", "word"),
    [("50.1", "hard"), ("50", "firm"), ("35", "firm"), ("34.9", "spreadable"), ("15", "spreadable"),
     ("12", "soft"), ("9.9", "oily")],
)  # fmt: skip
def test_readings(solid: str, word: str) -> None:
    """Common practice, no source: over 50 snaps, 35 firm, 15 spreads, under 10 leaks."""
    assert reading_of(D(solid)) == word


def test_a_bar_says_its_band_and_up_to_what_it_is_sold() -> None:
    """The blend above: not sold above 30 °C (common practice, no source); shea is named as remembered."""
    found = rules_of(check_firmness(asked_of({COCOA: "60", SHEA: "25", OIL: "15"})))

    assert found["band"].severity == "note"
    assert "Shea from remembered ranges" in found["band"].message
    assert found["band"].cure.startswith("Not sold or sent above 30 °C")
    assert "29.4 %" in found["shea_in_cocoa"].message


def test_shea_up_to_a_fifth_of_the_pair_is_quiet() -> None:
    """Exactly 20 % of shea and cocoa butter leaves the solid fat (Herrera and Candal, AOCS 2016)."""
    assert "shea_in_cocoa" not in rules_of(check_firmness(asked_of({COCOA: "80", SHEA: "20"})))
    assert "shea_in_cocoa" in rules_of(check_firmness(asked_of({COCOA: "79.9", SHEA: "20.1"})))


def test_a_bar_mostly_of_shea_mango_or_coconut_stays_softer_than_one_of_cocoa_butter() -> None:
    """Common practice, no source: cocoa butter is the hard one."""
    hard = asked_of({COCOA: "100"})
    for soft in (SHEA, MANGO, COCONUT):
        blend = fat_phase(asked_of({soft: "80", COCOA: "20"}))
        whole = fat_phase(hard)
        assert blend is not None
        assert whole is not None
        mine, theirs = blend.bands[1].typical, whole.bands[1].typical
        assert mine is not None
        assert theirs is not None
        assert mine < theirs


def test_a_blend_mostly_without_a_table_is_not_covered() -> None:
    """Never counted as nothing."""
    found = rules_of(check_firmness(asked_of({COCOA: "60", "cupuacu": "40"})))

    assert set(found) == {"not_covered"}
    assert "Cupuacu, 40 %" in found["not_covered"].message
    assert found["not_covered"].severity == "note"


def test_a_little_without_a_table_widens_the_band_by_all_of_it() -> None:
    """10 parts of 100 may be liquid or solid: 0.9 x 62.6 = 56.34 at least, 0.9 x 82.6 + 10 = 84.34 at most."""
    asked = asked_of({COCOA: "90", "cupuacu": "10"})
    phase = fat_phase(asked)
    assert phase is not None
    coolest = phase.bands[0]

    assert (coolest.low, coolest.typical, coolest.high) == (D("56.34"), None, D("84.34"))
    assert phase.covered_percent == 90
    message = rules_of(check_firmness(asked))["band"].message
    assert "with Cupuacu (10 %) as anything from liquid to solid, for want of a table" in message


def test_a_fat_that_its_last_row_says_is_molten_stays_so() -> None:
    """Coconut has nothing solid at 30 °C, where its rows end, and no more of it at 35 °C."""
    found = rules_of(check_firmness(asked_of({COCOA: "95", COCONUT: "5"})))

    assert "0 to 3 % at 35 °C (oily)" in found["band"].message


@pytest.mark.parametrize(("coconut", "warned"), [("10", False), ("10.1", True)])
def test_a_lauric_fat_with_a_cocoa_type_fat_softens(coconut: str, warned: bool) -> None:
    """Each above 10 % of the fat phase (Joshi, Zielbauer, Vilgis 2020 for coconut and cocoa)."""
    shares = {COCONUT: coconut, COCOA: str(100 - D(coconut))}
    found = rules_of(check_firmness(asked_of(shares)))

    assert ("eutectic" in found) is warned
    assert not warned or found["eutectic"].severity == "caution"


def test_of_two_fats_one_is_kept_low_and_of_more_each_of_a_side() -> None:
    """The bound of 10 % holds for each fat (Joshi et al. 2020); the words fit two and three of them."""
    two = rules_of(check_firmness(asked_of({COCONUT: "30", COCOA: "70"})))["eutectic"]
    three = rules_of(check_firmness(asked_of({COCONUT: "40", COCOA: "40", SHEA: "20"})))["eutectic"]

    names = {key: FACTS[key].name for key in (COCONUT, COCOA, SHEA)}
    assert two.message.startswith(
        f"{names[COCONUT]} at 30 % and {names[COCOA]} at 70 % of the fat phase soften each other"
    )
    assert two.cure.startswith("Keep one of the two at 10 % of the fat phase or below, or")
    assert three.message.startswith(
        f"{names[COCONUT]} at 40 %, with {names[COCOA]} at 40 % and {names[SHEA]} at 20 %, of the fat phase"
    )
    assert three.cure.startswith(
        f"Keep {names[COCONUT]} or each of {names[COCOA]} and {names[SHEA]} at 10 % of the fat phase or below,"
    )


@pytest.mark.parametrize(
    ("kind", "percent", "drags"),
    [(STEARIC, "10", False), (STEARIC, "10.1", True), ("wax", "30", False), ("wax", "31", True)],
)
def test_much_stearic_acid_or_wax_drags(kind: str, percent: str, drags: bool) -> None:
    """Common practice, no source. The estimate names what it leaves out."""
    found = rules_of(check_firmness(asked_of({kind: percent, COCOA: str(100 - D(percent))})))

    assert ("drag" in found) is drags
    assert f"without {FACTS[kind].name}" in found["band"].message


def test_a_premix_counts_as_what_is_in_it() -> None:
    """Half of a premix of cocoa butter and oil reads like the same formula written out."""
    inner = resolve(
        (FormulaLine("c", COCOA, "Cocoa butter", D(80)), FormulaLine("o", OIL, "Sunflower", D(20)))
    )
    by_way = fat_phase(
        asked_of({"base": "50", SHEA: "50"}, nested={"base": NestedFormula("base", "Base", inner)})
    )
    plain = fat_phase(asked_of({COCOA: "40", OIL: "10", SHEA: "50"}))

    assert by_way is not None
    assert plain is not None
    assert by_way.bands == plain.bands


def test_a_cream_or_a_little_fat_or_oil_alone_is_not_asked() -> None:
    """Water carries the cream; oil alone is liquid."""
    assert check_firmness(asked_of({COCOA: "60", OIL: "40"}, form="cream")) == ()
    assert check_firmness(asked_of({COCOA: "24", "water": "76"}, form="other")) == ()
    assert check_firmness(asked_of({OIL: "100"}, form="oil")) == ()


def test_the_drawing_keeps_to_its_paper_and_says_the_same_in_words() -> None:
    """From 20 °C at the left to 35 °C at the right, 0 % on the floor: 60 cocoa butter, 25 shea, 15 sunflower."""
    phase = fat_phase(asked_of({COCOA: "60", SHEA: "25", OIL: "15"}))
    assert phase is not None
    drawing = draw(phase.bands_at(CURVE), bears_up_to(phase.bands))
    assert drawing is not None

    points = [tuple(map(D, point.split(","))) for point in drawing.area.strip("MZ").split(" ")]
    assert len(points) == 2 * len(CURVE)
    assert {point[0] for point in points} >= {D(drawing.left), D(drawing.right)}
    assert all(0 <= height <= drawing.floor for _, height in points)
    assert points[0][0] == points[-1][0] == drawing.left
    assert points[0][1] < points[-1][1], "the upper end lies above the lower one"
    assert drawing.levels == (D("94.0"), D("122.2"), D("159.8"), D("169.2"), D("188.0"))
    assert drawing.bears == "30"
    assert drawing.degrees[2] == (drawing.bears_x, "30 °C")
    assert drawing.title.startswith("20 °C: firm to hard; 25 °C: ")
    assert drawing.middle


def test_a_blend_that_is_not_covered_has_no_drawing() -> None:
    """A gap is never drawn as a line at the bottom; one without all its middle figures has none of the line."""
    gap = fat_phase(asked_of({COCOA: "60", "cupuacu": "40"}))
    part = fat_phase(asked_of({COCOA: "90", "cupuacu": "10"}))
    assert gap is not None
    assert part is not None
    assert draw(gap.bands_at(CURVE), None) is None
    drawing = draw(part.bands_at(CURVE), None)
    assert drawing is not None
    assert (drawing.middle, drawing.bears_x) == ("", None)
