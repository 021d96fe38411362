"""EU limits: figures worked out by hand from the annexes, the source beside each."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

import pytest
from molmass import Formula

from formulas.rules.catalogue import catalogue_compositions
from formulas.rules.composition import Composition, Constituent, substance_key
from formulas.rules.findings import Finding
from formulas.rules.headroom import in_full, most_that_passes
from formulas.rules.limit_rows import preservative_rows, restricted_rows
from formulas.rules.limits import ProductUse, check_limits, label_warnings, limit_figures
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.totals import NestedFormula, Totals, substance_totals

D = Decimal
LEAVE_ON = ProductUse("leave-on", "face")
RINSE_OFF = ProductUse("rinse-off", "body")


def pure(name: str) -> Composition:
    """One substance by its INCI name."""
    return Composition(
        name, name, (Constituent(substance_key(name), name, typical=D(100), low=D(100), high=D(100)),)
    )


def blend(key: str, *parts: tuple[str, str, str]) -> Composition:
    """A composition from (name, low, high)."""
    return Composition(
        key,
        key,
        tuple(Constituent(substance_key(name), name, low=D(low), high=D(high)) for name, low, high in parts),
    )


def totals(*parts: tuple[str, str], purpose: str = "", also: Sequence[Composition] = ()) -> Totals:
    """Totals of a formula: (ingredient, percent), filled to 100 with glycerin."""
    lines = [FormulaLine(name, name, name, D(percent), purpose=purpose) for name, percent in parts]
    lines.append(FormulaLine("Glycerin", "Glycerin", "Glycerin", kind="to_100"))
    known = {name: pure(name) for name, _ in parts} | {"Glycerin": pure("Glycerin")}
    known |= {each.ingredient: each for each in also}
    return substance_totals(resolve(lines).lines, known)


def verdicts(found: tuple[Finding, ...]) -> set[str]:
    """Rules that say more than a note."""
    return {finding.rule for finding in found if finding.severity != "note"}


@pytest.mark.parametrize(
    ("parts", "use", "verdict"),
    [
        # Annex V 1 and 4 as acid: 0.5 x 122.12/144.10 = 0.424 <= 0.5; 0.3 x 112.13/150.22 = 0.224 <= 0.6
        ([("Sodium Benzoate", "0.5"), ("Potassium Sorbate", "0.3")], LEAVE_ON, set()),
        # Annex V 1: 0.6 x 0.8475 = 0.5085 > 0.5 leave-on; 2.5 in rinse-off
        ([("Sodium Benzoate", "0.6")], LEAVE_ON, {"limits.over"}),
        ([("Sodium Benzoate", "0.6")], RINSE_OFF, set()),
        # Annex V 1: the highest salt that passes is 0.589; 0.590 gives 0.500006 by unrounded masses
        ([("Sodium Benzoate", "0.589")], LEAVE_ON, set()),
        ([("Sodium Benzoate", "0.590")], LEAVE_ON, {"limits.over"}),
        # Annex V 1a: 1 x 0.7623 > 0.5 in rinse-off as well
        ([("Potassium Benzoate", "1")], RINSE_OFF, {"limits.over"}),
        # Annex V 4: 0.803 passes, 0.804 gives 0.60014
        ([("Potassium Sorbate", "0.803")], LEAVE_ON, set()),
        ([("Potassium Sorbate", "0.804")], LEAVE_ON, {"limits.over"}),
        # Annex V 4: acid and salt add up, 0.4 + 0.3 x 0.7464 = 0.6239 > 0.6
        ([("Sorbic Acid", "0.4"), ("Potassium Sorbate", "0.3")], LEAVE_ON, {"limits.over"}),
        # Annex V 13: 0.678 x 0.8844 = 0.5996 <= 0.6
        ([("Sodium Dehydroacetate", "0.678")], LEAVE_ON, set()),
        # Annex V 29: exactly at the limit passes, strictly above doesn't
        ([("Phenoxyethanol", "1.0")], LEAVE_ON, set()),
        ([("Phenoxyethanol", "1.00000001")], LEAVE_ON, {"limits.over"}),
        # Annex V 12, Reg (EU) 1004/2014: one ester 0.4 as acid, methyl 0.44 x 0.9078 = 0.39943
        ([("Methylparaben", "0.44")], LEAVE_ON, set()),
        ([("Methylparaben", "0.45")], LEAVE_ON, {"limits.over"}),
        # both esters 0.39943 + 0.48 x 0.8312 = 0.7984 <= 0.8; with 0.1 propyl 0.875 > 0.8
        ([("Methylparaben", "0.44"), ("Ethylparaben", "0.48")], LEAVE_ON, set()),
        (
            [("Methylparaben", "0.44"), ("Ethylparaben", "0.48"), ("Propylparaben", "0.1")],
            LEAVE_ON,
            {"limits.over"},
        ),
        # Annex V 12a: propyl 0.1 x 0.7665 + butyl 0.1 x 0.7111 = 0.1478 > 0.14
        ([("Propylparaben", "0.1"), ("Butylparaben", "0.1")], LEAVE_ON, {"limits.over"}),
        # Annex III 62: trialkanolamines 2.5 % leave-on
        ([("Triethanolamine", "2.5")], LEAVE_ON, set()),
        ([("Triethanolamine", "2.6")], LEAVE_ON, {"limits.over"}),
        # Annex V 57: rinse-off only
        ([("Methylisothiazolinone", "0.001")], LEAVE_ON, {"limits.prohibited"}),
        ([("Methylisothiazolinone", "0.0015")], RINSE_OFF, set()),
        # Annex II 1395, 1396
        ([("Sodium Borate", "0.5")], RINSE_OFF, {"limits.prohibited"}),
        # Annex V 24: not on mucous membranes
        ([("p-Chloro-m-Cresol", "0.1")], ProductUse("leave-on", "lips"), {"limits.prohibited"}),
        # Annex II 904 depends on words: something to read, no stop
        ([("Petrolatum", "20")], LEAVE_ON, {"limits.read"}),
        # Annex IV: iron oxide without a condition
        ([("CI 77491", "1")], LEAVE_ON, set()),
        # Annex IV 130: rinse-off only
        ([("CI 51319", "0.1")], LEAVE_ON, {"limits.prohibited"}),
        ([("CI 51319", "0.1")], RINSE_OFF, set()),
    ],
)
def test_worked_figures(parts: list[tuple[str, str]], use: ProductUse, verdict: set[str]) -> None:
    """Each case is worked out by hand from the entry named beside it."""
    assert verdicts(check_limits(totals(*parts), use)) == verdict


@pytest.mark.parametrize(
    ("area", "verdict"),
    [("body", {"limits.over"}), ("hands", set()), ("unknown", {"limits.over"})],
)
def test_vitamin_a_by_body_area(area: str, verdict: set[str]) -> None:
    """Reg (EU) 2024/996 III/376: palmitate 0.1 % is 0.0546 % retinol: over 0.05 on the body, not over 0.3.

    The label warning is due on any product with one of the three forms.
    """
    cream, use = totals(("Retinyl Palmitate", "0.1")), ProductUse("leave-on", area)

    found = check_limits(cream, use)

    assert verdicts(found) == verdict
    assert [warning.text for warning in label_warnings(cream, use)] == [
        "Contains Vitamin A. Consider your daily intake before use"
    ]
    severities = {finding.severity for finding in found if finding.rule == "limits.over"}
    assert severities <= ({"caution"} if area == "unknown" else {"stop"})


def test_barely_over_a_limit_never_reads_as_at_it() -> None:
    """Annex V/1: 0.59 % sodium benzoate is 0.500025 % acid, which reads 0.5 wherever else the acid is told."""
    (over,) = [
        f for f in check_limits(totals(("Sodium Benzoate", "0.59")), LEAVE_ON) if f.rule == "limits.over"
    ]

    assert over.severity == "stop"
    assert over.message.startswith(
        "Sodium Benzoate comes to just over 0.5 % of the product as acid; 0.5 % is the"
    )


def test_a_finding_says_figure_limit_source_and_cure() -> None:
    """Annex V/1: 0.6 % sodium benzoate is 0.5085 % acid, 0.5 allowed; 0.5 / 0.8475 = 0.58997, down to 0.589."""
    (over,) = [
        f for f in check_limits(totals(("Sodium Benzoate", "0.6")), LEAVE_ON) if f.rule == "limits.over"
    ]

    assert over.severity == "stop"
    assert over.message == (
        "Sodium Benzoate comes to 0.5085 % of the product as acid; "
        "0.5 % is the most allowed in leave-on products."
    )
    assert over.cure == "0.589 % of Sodium Benzoate is the most that passes."
    assert "Annex V/1" in over.source
    assert over.lines == ("Sodium Benzoate",)


@pytest.mark.parametrize(
    ("limit", "amount", "most"),
    [
        # blend 87 % benzyl alcohol (Annex V/34, 1.0): 1.0/0.87 = 1.1494, down to 1.14
        ("1.0", "0.87", "1.14"),
        # blend 90 % phenoxyethanol (Annex V/29, 1.0): 1.1111, down to 1.11
        ("1.0", "0.90", "1.11"),
        # as acid: Annex V/1 at 0.5, V/4 and V/13 at 0.6
        ("0.5", "0.8475", "0.589"),
        ("0.6", "0.7464", "0.803"),
        ("0.6", "0.8844", "0.678"),
        # methyl eugenol, 3 % of an oil (Annex III/102, 0.0002): 0.006666, down to 0.00666
        ("0.0002", "0.03", "0.00666"),
        # arithmetic: 12.3456 keeps two places, a limit of 0 leaves nothing, more than all is all
        ("12.3456", "1", "12.34"),
        ("0", "0.5", "0"),
        ("5", "0.01", "100"),
    ],
)
def test_the_most_that_passes_is_rounded_down(limit: str, amount: str, most: str) -> None:
    """What 1 % of the material brings decides the most; never rounded to nearest, shown with every figure."""
    found = most_that_passes(D(limit), D(amount), D(1))

    assert in_full(found) == most
    assert D(most) * D(amount) <= D(limit) or found == 100


def test_the_cure_of_a_trace_in_an_oil_is_no_zero() -> None:
    """Annex III/102: 0.0002 % methyl eugenol in leave-on; 0.5 % of an oil with up to 3 % brings 0.015 %."""
    oil = Composition(
        "Lavender oil",
        "Lavender oil",
        (
            Constituent("oil", "Oil", typical=D(100)),
            Constituent("methyl-eugenol", "Methyl Eugenol", "within", low=D("0.1"), high=D(3)),
        ),
    )

    found = check_limits(totals(("Lavender oil", "0.5"), also=[oil]), LEAVE_ON)

    [over] = [one for one in found if one.rule == "limits.over"]
    assert "0.0005 to 0.015 %" in over.message
    assert over.cure == "0.00666 % of Lavender oil is the most that passes."


@pytest.mark.parametrize(
    ("name", "percent", "most"),
    [
        ("benzyl-alcohol-dehydroacetic-acid-blend", "1.2", "1.14"),
        ("phenoxyethanol-ethylhexylglycerin-blend", "1.15", "1.11"),
    ],
)
def test_the_cure_of_a_catalogue_blend(name: str, percent: str, most: str) -> None:
    """A blend over its component's limit is told its most by the typical split, and that it is typical."""
    product = totals((name, percent), also=[catalogue_compositions()[name]])

    (over,) = [finding for finding in check_limits(product, LEAVE_ON) if finding.rule == "limits.over"]

    assert over.cure.startswith(f"{most} % of")
    assert "by a typical figure" in over.message
    assert "composition memory" in over.basis


def test_an_interval_that_straddles_is_a_caution_with_both_ends() -> None:
    """1.1 % of a blend of 85 to 95 % phenoxyethanol: 0.935 to 1.045 % against 1.0 (Annex V 29)."""
    product = totals(
        ("mix", "1.1"), also=[blend("mix", ("Phenoxyethanol", "85", "95"), ("Glycerin", "5", "15"))]
    )

    (caution,) = [finding for finding in check_limits(product, LEAVE_ON) if finding.severity == "caution"]

    assert "between 0.935 and 1.045 %" in caution.message
    assert caution.cure == "1.05 % of mix is the most that passes."


def test_a_missing_share_is_unknown() -> None:
    """A base without composition keeps the limits from being checked; it is said how much of the product."""
    lines = [
        FormulaLine("base", "base", "Base", D(30)),
        FormulaLine("Glycerin", "Glycerin", "Glycerin", D(70)),
    ]
    product = substance_totals(resolve(lines).lines, {"Glycerin": pure("Glycerin")})

    (unknown,) = [finding for finding in check_limits(product, LEAVE_ON) if finding.severity == "unknown"]

    assert "30 % of the product from Base" in unknown.message


def test_an_unknown_upper_end_is_unknown_not_zero() -> None:
    """A substance within, of which nobody says how much, can't pass."""
    oil = Composition(
        "oil",
        "oil",
        (Constituent("oil", "Oil", typical=D(100)), Constituent("isoeugenol", "Isoeugenol", "within")),
    )

    found = check_limits(totals(("oil", "1"), also=[oil]), LEAVE_ON)

    assert {f.rule for f in found if f.severity == "unknown"} == {"limits.unknown"}


def test_salts_add_up_through_a_premix() -> None:
    """0.3 % sodium benzoate in the formula and 0.35 % through a premix: 0.65 x 0.8475 = 0.550875 > 0.5."""
    premix = NestedFormula(
        "gel",
        "gel",
        resolve(
            [
                FormulaLine("1", "Sodium Benzoate", "salt", D(7)),
                FormulaLine("2", "Glycerin", "Glycerin", D(93)),
            ]
        ),
    )
    lines = [
        FormulaLine("salt", "Sodium Benzoate", "Sodium Benzoate", D("0.3")),
        FormulaLine("gel", "gel", "Gel", D(5)),
        FormulaLine("rest", "Glycerin", "Glycerin", kind="to_100"),
    ]
    known = {name: pure(name) for name in ("Sodium Benzoate", "Glycerin")}

    found = check_limits(substance_totals(resolve(lines).lines, known, {"gel": premix}), LEAVE_ON)

    (over,) = [finding for finding in found if finding.rule == "limits.over"]
    assert "0.5509 % of the product as acid" in over.message
    assert over.cure == "Lower Sodium Benzoate or Gel."


def test_benzyl_alcohol_of_a_perfume_is_no_preservative() -> None:
    """Annex V 34 is for preserving; as perfume the substance falls under Annex III 45, without a figure."""
    as_perfume = check_limits(totals(("Benzyl Alcohol", "1.5"), purpose="perfume"), LEAVE_ON)
    as_preservative = check_limits(totals(("Benzyl Alcohol", "1.5"), purpose="preservative"), LEAVE_ON)

    assert verdicts(as_perfume) == set()
    assert verdicts(as_preservative) == {"limits.over"}


@pytest.mark.parametrize("purpose", ["", "preservative", "Preservative", "preserves it", "Konservierung"])
def test_what_preserves_or_may_do_so_is_held_to_annex_v(purpose: str) -> None:
    """Annex V/3: 0.5 % salicylic acid as a preservative; it preserves here, or nobody said what it does."""
    found = check_limits(totals(("Salicylic Acid", "2"), purpose=purpose), LEAVE_ON)

    [over] = [one for one in found if one.rule == "limits.over"]
    assert over.severity == "stop"
    assert over.message == (
        "Salicylic Acid comes to 2 % of the product as acid; "
        "0.5 % is the most allowed as a preservative in leave-on products."
    )
    assert over.cure == (
        "0.5 % of Salicylic Acid is the most that passes as a preservative. Where it does something else, "
        "write that in “What it does here” on its line: then Annex III/98 holds."
    )


@pytest.mark.parametrize(("percent", "is_over"), [("2", False), ("2.0001", True)])
def test_another_use_that_is_written_is_held_to_annex_iii(percent: str, is_over: bool) -> None:
    """Annex III/98: 2 % salicylic acid in a face cream for other purposes, exactly 2 is within."""
    found = check_limits(totals(("Salicylic Acid", percent), purpose="active"), LEAVE_ON)

    over = [one for one in found if one.rule == "limits.over"]
    assert bool(over) is is_over
    assert all("Annex III/98" in one.source and "as a preservative" not in one.message for one in over)


def test_a_preservative_barred_in_leave_on_is_told_of_its_other_use() -> None:
    """Annex V/43: phenoxyisopropanol preserves what is rinsed off alone; Annex III/54 has its other uses."""
    found = check_limits(totals(("Phenoxyisopropanol", "0.5")), LEAVE_ON)

    [stop] = [one for one in found if one.severity == "stop"]
    assert "not allowed as a preservative in leave-on products" in stop.message
    assert "then Annex III/54 holds" in stop.cure


def test_a_row_of_a_later_day_is_a_note_until_then() -> None:
    """Citral in deodorants, 0.032 % if placed from 2027-01-01 (Reg (EU) 2026/909, secondary source)."""
    product, use = totals(("Citral", "0.05")), ProductUse("leave-on", "body", "deodorant")

    before = check_limits(product, use, on=date(2026, 12, 31))
    after = check_limits(product, use, on=date(2027, 1, 1))

    assert "limits.over" not in verdicts(before)
    assert any(finding.rule == "limits.later" for finding in before)
    assert "limits.over" in verdicts(after)


def test_a_later_row_of_another_kind_of_product_sends_to_the_act() -> None:
    """The figures seen of Annex III/70 from 2027-01-01 are of other kinds; no figure of theirs is quoted for a bath."""
    found = check_limits(totals(("Citral", "0.05")), ProductUse("rinse-off", "bath"), on=date(2026, 12, 31))

    [note] = [one for one in found if one.rule == "limits.later"]
    assert "no figure for this kind" in note.message
    assert "0.032" not in note.message
    assert "Look it up" in note.cure


def test_a_substance_without_a_row_is_not_covered_never_free() -> None:
    """One note names them all."""
    notes = [f for f in check_limits(totals(("Squalane", "5")), LEAVE_ON) if f.rule == "limits.not_covered"]

    assert len(notes) == 1
    assert "Glycerin, Squalane" in notes[0].message


def test_a_perfume_allergen_that_is_known_is_covered() -> None:
    """Cinnamal, eugenol and coumarin are Annex III/76, 71 and 77, of the perfume question; squalane isn't."""
    product = totals(("Cinnamal", "0.01"), ("Eugenol", "0.01"), ("Coumarin", "0.01"), ("Squalane", "5"))

    [note] = [one for one in check_limits(product, LEAVE_ON) if one.rule == "limits.not_covered"]

    assert note.message == "2 substances not covered by our table: Glycerin, Squalane."


def test_a_product_that_no_row_names_is_something_to_read() -> None:
    """Annex III 375 allows kojic acid on face and hands; a body product is not named."""
    product = totals(("Kojic Acid", "0.5"))

    assert verdicts(check_limits(product, ProductUse("leave-on", "hands"))) == set()
    assert verdicts(check_limits(product, ProductUse("leave-on", "body"))) == {"limits.read"}


def test_a_formaldehyde_releaser_asks_for_its_warning() -> None:
    """Reg (EU) 2022/1181: a releaser at a usual level passes 10 ppm, so the words are due."""
    warnings = label_warnings(totals(("Diazolidinyl Urea", "0.2")), LEAVE_ON)

    assert [warning.text for warning in warnings] == ["releases formaldehyde"]


def test_figures_are_there_for_what_passes_too() -> None:
    """A page can show 0.42375 beside 0.5."""
    (figure,) = limit_figures(totals(("Sodium Benzoate", "0.5")), LEAVE_ON)

    assert figure.amount is not None
    assert (figure.amount.high, figure.limit, figure.expressed_as) == (D("0.42375"), D("0.5"), "acid")


FORMULAS = {
    # acid or group, salt or ester; sum formulas
    "Sodium Benzoate": ("C7H6O2", "C7H5NaO2"),
    "Potassium Benzoate": ("C7H6O2", "C7H5KO2"),
    "Calcium Benzoate": ("C14H12O4", "C14H10CaO4"),
    "Ammonium Benzoate": ("C7H6O2", "C7H9NO2"),
    "Sodium Propionate": ("C3H6O2", "C3H5NaO2"),
    "Sodium Salicylate": ("C7H6O3", "C7H5NaO3"),
    "Potassium Sorbate": ("C6H8O2", "C6H7KO2"),
    "Sodium Sorbate": ("C6H8O2", "C6H7NaO2"),
    "Sodium Dehydroacetate": ("C8H8O4", "C8H7NaO4"),
    "Methylparaben": ("C7H6O3", "C8H8O3"),
    "Ethylparaben": ("C7H6O3", "C9H10O3"),
    "Propylparaben": ("C7H6O3", "C10H12O3"),
    "Butylparaben": ("C7H6O3", "C11H14O3"),
    "Sodium Formate": ("CH2O2", "CHNaO2"),
    "Sodium Undecylenate": ("C11H20O2", "C11H19NaO2"),
    "Retinyl Acetate": ("C20H30O", "C22H32O2"),
    "Retinyl Palmitate": ("C20H30O", "C36H60O2"),
    "Tetrasodium Etidronate": ("C2H8O7P2", "C2H4Na4O7P2"),
    "Zinc Acetate": ("Zn", "C4H6O4Zn"),
    "Zinc Chloride": ("Zn", "ZnCl2"),
    "Zinc Gluconate": ("Zn", "C12H22O14Zn"),
}


@pytest.mark.parametrize("name", FORMULAS)
def test_salt_to_acid_factors_agree_with_molmass(name: str) -> None:
    """Molar mass ratio by the molmass library, to four digits."""
    acid, salt = FORMULAS[name]
    expected = Formula(acid).mass / Formula(salt).mass

    rows = [row for row in (*preservative_rows(), *restricted_rows()) if row.inci == name]

    ratios = [row.molar_ratio for row in rows if row.molar_ratio is not None]
    assert ratios
    assert all(abs(float(ratio) - expected) < 0.00011 for ratio in ratios)
