"""The reference files: complete, consistent, and every name resolves."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from formulas.rules.catalogue import (
    CatalogueMaterial,
    catalogue,
    catalogue_by_key,
    catalogue_compositions,
    colourants,
    oil_constituents,
    substance_by_key,
    substances,
)
from formulas.rules.composition import Composition, Constituent, shares, substance_key
from formulas.rules.interval import Interval
from formulas.rules.limit_rows import eu_limits
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.tables import DATA, read_table
from formulas.rules.totals import substance_totals

D = Decimal
FORMS = {"hard solid", "soft solid", "liquid", "powder", "granules", "unknown"}
SOLUBLE_IN = {"water", "oil", "alcohol", "water and oil", "dispersible in water", "insoluble", "unknown"}


@pytest.mark.parametrize("path", sorted(DATA.glob("*.csv")), ids=lambda path: path.name)
def test_every_row_names_its_source_and_basis(path: object) -> None:
    """No fact without where it is from and how it is known."""
    rows = read_table(str(path).rsplit("/", 1)[-1])

    assert rows
    assert all(row["source"] and row["basis"] for row in rows)


PUBLISHERS = {
    # law and authorities
    "data.europa.eu", "ec.europa.eu", "echa.europa.eu", "eur-lex.europa.eu", "legislation.gov.uk",
    "content.govdelivery.com", "fdc.nal.usda.gov", "istitlaa.ncc.gov.sa",
    # journals, universities, museums
    "pmc.ncbi.nlm.nih.gov", "library.scconline.org", "www.ocl-journal.org", "jopr.mpob.gov.my",
    "orbi.uliege.be", "oarep.usim.edu.my", "www.authorea.com", "discovery.researcher.life", "cameo.mfa.org",
    # restating law, said to be so in the row
    "coslaw.eu", "criticalcatalyst.com", "ekotoxtraining.com", "www.cosmetic-solutions.it",
    "www.thedevonallergyclinic.co.uk",
}  # fmt: skip


@pytest.mark.parametrize("path", sorted(DATA.glob("*.csv")), ids=lambda path: path.name)
def test_no_page_of_no_standing_lends_itself_to_a_figure(path: Path) -> None:
    """A copy of a handbook on anybody's page, a shop, a film site: what rests on these alone is from memory."""
    hosts = set(re.findall(r"https?://([^/\s,;>\"]+)", path.read_text(encoding="utf-8")))

    assert hosts <= PUBLISHERS


def test_a_work_named_for_one_figure_lends_itself_to_no_other() -> None:
    """Cocoa butter: a handbook has where it melts, nobody how much of it goes in."""
    cocoa, wax = catalogue_by_key()["cocoa-butter"], catalogue_by_key()["beeswax"]

    assert cocoa.source_of("melting_low_c").startswith("Merck Index")
    assert cocoa.source_of("density_g_ml") == "general handbook knowledge, no source"
    assert {level.source for one in (cocoa, wax) for level in one.use_levels} == {
        "common practice, no source"
    }
    assert wax.basis_of("melting_low_c") == "memory"


def test_the_catalogue_is_whole() -> None:
    """185 raw materials and 30 essential oils, keys once each, words from the closed lists."""
    materials = catalogue()

    assert len(materials) == 215
    assert len(catalogue_by_key()) == 215
    assert {material.form for material in materials} <= FORMS
    assert {material.soluble_in for material in materials} <= SOLUBLE_IN
    assert {material.density_kind for material in materials} <= {"", "liquid", "melt", "solid", "bulk"}
    fields = set(read_table("catalogue.csv")[0]) | {"note only"}
    assert all(material.read_fields <= fields for material in materials)


@pytest.mark.parametrize("material", catalogue(), ids=lambda material: material.key)
def test_every_material_declares_known_substances(material: CatalogueMaterial) -> None:
    """Each constituent resolves to a substance of the same name, and the figures can be true."""
    composition = catalogue_compositions()[material.key]

    for part in composition.constituents:
        assert substance_by_key()[part.substance].inci_name == part.name
    found = shares(composition)
    assert found.is_consistent
    assert found.remainder is None


def test_every_limit_and_colourant_resolves_to_a_substance() -> None:
    """Annexes II to V as held here."""
    keys = substance_by_key()

    assert {row.substance for row in eu_limits().rows if row.inci} <= keys.keys()
    assert {colourant.substance for colourant in colourants()} <= keys.keys()
    assert {row.substance for row in oil_constituents()} <= keys.keys()


def test_there_are_81_allergen_labels() -> None:
    """Reg (EU) 2023/1545: 24 older and 57 newer label names."""
    labels = {substance.allergen_label for substance in substances()} - {""}

    assert len(labels) == 81
    assert all(substance_key(label) in substance_by_key() for label in labels)


def test_keys_are_those_of_the_names() -> None:
    """A substance is found by its INCI name."""
    assert all(substance.key == substance_key(substance.inci_name) for substance in substances())
    assert len(substance_by_key()) == len(substances())


def test_every_cas_number_passes_its_check_digit() -> None:
    """The last digit is the weighted sum of the others, modulo 10 (CAS Registry)."""
    for substance in substances():
        for number in filter(None, re.split(r";\s*", substance.cas)):
            digits = number.replace("-", "")
            check = sum(place * int(digit) for place, digit in enumerate(reversed(digits[:-1]), 1)) % 10
            assert re.fullmatch(r"\d{2,7}-\d\d-\d", number), (substance.inci_name, number)
            assert check == int(digits[-1]), (substance.inci_name, number)


@pytest.mark.parametrize(
    ("eu", "us"),
    [
        ("Aqua", "Water"),
        ("Cera Alba", "Beeswax"),
        ("Mel", "Honey"),
        ("Parfum", "Fragrance"),
        ("CI 77891", "Titanium Dioxide"),
        ("Theobroma Cacao Seed Butter", "Theobroma Cacao (Cocoa) Seed Butter"),
    ],
)
def test_names_differ_by_market(eu: str, us: str) -> None:
    """US names by 21 CFR 701.3 and FDA's page on ingredient names; botanical brackets from memory."""
    assert substance_by_key()[substance_key(eu)].us_name == us


def test_no_file_is_garbled() -> None:
    """UTF-8 without a byte-order mark and without doubly encoded letters."""
    for path in DATA.glob("*.csv"):
        text = path.read_bytes().decode("utf-8")
        assert not text.startswith("\ufeff")
        assert not re.search("Ã.|â€|\ufffd|\r", text), path.name


def through_oil(percent: str, low: str, high: str) -> Interval | None:
    """What an oil at ``percent`` brings of one constituent of ``low`` to ``high`` % of it."""
    oil = Composition(
        "oil",
        "oil",
        (Constituent("oil", "Oil", typical=D(100)), Constituent("x", "X", "within", D(low), None, D(high))),
    )
    lines = resolve(
        [FormulaLine("oil", "oil", "oil", D(percent)), FormulaLine("w", "w", "w", kind="to_100")]
    ).lines
    return substance_totals(lines, {"oil": oil}).amount_of("x")


@pytest.mark.parametrize(
    ("percent", "content", "in_product"),
    [
        ("0.3", "32", "0.096"),
        ("0.3", "35", "0.105"),
        ("0.3", "0.2", "0.0006"),
        ("0.5", "2", "0.01"),
        ("0.5", "2.01", "0.01005"),
    ],
)
def test_an_allergen_through_an_oil(percent: str, content: str, in_product: str) -> None:
    """Worked by hand for Annex III in Reg (EU) 2023/1545: use % x content % / 100, no rounding."""
    assert through_oil(percent, content, content) == Interval(D(in_product), D(in_product))


def test_lavender_carries_its_range() -> None:
    """Linalool 20 to 45 % (Ph. Eur. 10, in Molecules 27 (2022) 3216 Table 2): 0.1 % brings up to 0.045 %."""
    lines = resolve(
        [FormulaLine("l", "lavender-oil", "l", D("0.1")), FormulaLine("w", "w", "w", kind="to_100")]
    ).lines

    amount = substance_totals(lines, catalogue_compositions()).amount_of("linalool")

    assert amount == Interval(D("0.02"), D("0.045"), D("0.032"))
