"""Organic acids: salts as acid, and what is undissociated at a pH."""

from __future__ import annotations

from decimal import Decimal

import pytest
from molmass import Formula

from formulas.rules.catalogue import substance_by_key
from formulas.rules.limit_rows import eu_limits
from formulas.rules.number import round_down
from formulas.rules.organic_acids import acid_per_gram, organic_acids, undissociated

D = Decimal

STEINBERG = {
    "benzoic-acid": {"4": "61", "5": "13", "6": "1.5"},
    "sorbic-acid": {"4": "85", "5": "37", "6": "5.5"},
    "dehydroacetic-acid": {"4": "95", "5": "65", "6": "16"},
    "salicylic-acid": {"4": "9", "5": "1", "6": "0"},
}
"""Percent undissociated as printed, rounded, in Steinberg, J. Cosmet. Sci. 56 (2005) 361-362."""


@pytest.mark.parametrize(
    ("acid", "ph", "printed"), [(acid, ph, one) for acid, row in STEINBERG.items() for ph, one in row.items()]
)
def test_undissociated_acid_agrees_with_the_published_table(acid: str, ph: str, printed: str) -> None:
    """To within one percent of the whole, for the table rounds to that (13 is printed for 13.7)."""
    pka = organic_acids()[acid].pka
    assert pka is not None
    assert abs(100 * undissociated(D(ph), pka) - D(printed)) < D("1")


def test_half_is_undissociated_at_the_pka() -> None:
    """The definition of a pKa."""
    assert undissociated(D("4.76"), D("4.76")) == D("0.5")


def test_the_worked_benzoate() -> None:
    """0.50 % sodium benzoate is 0.4237 % acid; at pH 4.5, 5.0, 5.5 0.141, 0.058, 0.020 % are active (by hand)."""
    acid = D("0.50") * acid_per_gram("sodium-benzoate")

    assert round_down(acid, 4) == D("0.4237")
    active = [round(acid * undissociated(D(ph), D("4.2")), 3) for ph in ("4.5", "5", "5.5")]
    assert active == [D("0.141"), D("0.058"), D("0.020")]


@pytest.mark.parametrize("key", sorted(organic_acids()))
def test_masses_and_factors_agree_with_molmass(key: str) -> None:
    """Molar masses by the molmass library, to 0.01; and the factor from them, to four digits."""
    row = organic_acids()[key]
    acid = organic_acids()[row.acid]

    assert abs(D(str(Formula(row.formula).mass)) - row.molar_mass) < D("0.01")
    exact = row.acids_each * Formula(acid.formula).mass / Formula(row.formula).mass
    assert abs(D(str(exact)) - acid_per_gram(key)) < D("0.0001")


@pytest.mark.parametrize("key", sorted(organic_acids()))
def test_factors_agree_with_those_of_the_annex(key: str) -> None:
    """The ratios that the table of EU Annex V is computed with are the same."""
    ratios = {row.molar_ratio for row in eu_limits().by_substance[key] if row.expressed_as == "acid"}

    assert ratios
    assert all(ratio is not None and abs(ratio - acid_per_gram(key)) < D("0.0001") for ratio in ratios)


def test_every_row_is_a_substance_and_names_an_acid_that_has_a_pka() -> None:
    """Keys as in the table of substances; salts have none of their own."""
    for key, row in organic_acids().items():
        assert substance_by_key()[key].inci_name == row.name
        assert (row.pka is not None) == (row.acid == key)
        assert organic_acids()[row.acid].pka is not None
