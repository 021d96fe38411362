"""Ten invented formulas from the catalogue: what the whole review must say of each, and what it must not.

What is expected rests on common practice, no source, except the limits of the EU tables and of phototoxic oils,
which the rules' own tests name.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NamedTuple

import pytest

from formulas.actions.formulas import Reviewed, approve_version, review_version, save_version, start_formula
from formulas.actions.formulas.supposing import review_together
from formulas.actions.ingredients import copy_from_catalogue
from formulas.actions.products import add_product
from formulas.assembly import NOTHING_SUPPOSED
from formulas.models import FormulaVersion
from tests.cast import Cast

pytestmark = pytest.mark.django_db


class Tried(NamedTuple):
    """A formula of a maker. phases: letter, °C of its step or "", lines as "material percent", "*" takes the rest."""

    name: str
    kind: str
    form: str
    area: str
    wet: bool
    phases: tuple[tuple[str, str, str], ...]
    says: frozenset[str]
    quiet: frozenset[str]
    """Rules, or whole chapters of them such as "emulsion", that have nothing to say of it."""


KEPT = "vitamin-e-mixed-tocopherols 0.5"
TRIED = (
    Tried(
        "Lip balm", "leave-on", "balm", "lips", False,
        (
            ("A", "75", "beeswax 22, shea-butter 20, castor-oil 25, jojoba-oil *"),
            ("B", "50", f"{KEPT}, peppermint-oil 0.5"),
        ),
        frozenset({"heat.too_hot", "order.shea", "perfume.allergens", "dietary.bee", "composition.allergens"}),
        frozenset({"functions", "preservative", "emulsion", "dietary.soy"}),
    ),
    Tried(
        "Bar of soft butters", "leave-on", "bar", "body", False,
        (("A", "70", f"shea-butter 40, mango-butter 35, coconut-oil *, beeswax 5, {KEPT}"),),
        frozenset({"functions.soft", "firmness.eutectic", "firmness.band", "order.grainy"}),
        frozenset({"preservative", "emulsion", "limits.over", "perfume"}),
    ),
    Tried(
        "Bar of cocoa butter", "leave-on", "bar", "body", False,
        (("A", "75", "cocoa-butter 55, stearic-acid 12, beeswax 10, sunflower-oil-high-oleic *"), ("B", "38", KEPT)),
        frozenset({"firmness.drag", "firmness.band"}),
        frozenset({"functions", "preservative", "emulsion", "heat", "order.solids"}),
    ),
    Tried(
        "Lotion", "leave-on", "cream", "body", False,
        (
            ("A", "72", "purified-water *, glycerin 4, disodium-edta 0.1"),
            ("B", "72", "emulsifying-wax-non-ionic 4, sweet-almond-oil 12, cetyl-alcohol 2"),
            ("C", "38", "phenoxyethanol-ethylhexylglycerin-blend 1"),
        ),
        frozenset({"emulsion.shares", "emulsion.rate", "dietary.almond"}),
        frozenset({"functions.emulsifier", "preservative", "heat", "order.phases", "limits.over"}),
    ),
    Tried(
        "Cream that would spoil", "leave-on", "cream", "face", False,
        (("A", "75", "purified-water *"), ("B", "55", "emulsifying-wax-non-ionic 6, olive-oil 20")),
        frozenset({"preservative.none", "order.phases"}),
        frozenset({"functions.emulsifier", "firmness", "dietary"}),
    ),
    Tried(
        "Bar for the shower", "rinse-off", "bar", "body", True,
        (("A", "80", "cocoa-butter 50, sci 30, stearic-acid *"),),
        frozenset({"preservative.wet", "order.solids", "functions.antioxidant", "uselevels.high"}),
        frozenset({"emulsion", "preservative.none", "functions.emulsifier"}),
    ),
    Tried(
        "Sugar scrub", "rinse-off", "scrub", "body", True,
        (
            ("A", "60", "sugar 55, sunflower-oil *, emulsifying-wax-non-ionic 8"),
            ("B", "38", "benzyl-alcohol-organic-acid-blend 0.8, sweet-orange-cold-pressed-oil 0.5"),
        ),
        frozenset({"preservative.solubility", "functions.antioxidant", "perfume.allergens"}),
        frozenset({"emulsion", "preservative.wet", "preservative.ph", "functions.scrubs", "functions.separates"}),
    ),
    Tried(
        "Bath salts", "rinse-off", "bath", "bath", False,
        (("A", "", "epsom-salt *, salt 30, lavender-oil 1"),),
        frozenset({"functions.disperses", "perfume.allergens"}),
        frozenset({"preservative", "firmness", "emulsion", "order"}),
    ),
    Tried(
        "Salts with citrus", "rinse-off", "bath", "bath", False,
        (("A", "", "epsom-salt *, polysorbate-20 2, lemon-cold-pressed-oil 1"),),
        frozenset({"perfume.allergens", "limits.later"}),
        frozenset({"functions", "emulsion", "firmness", "limits.over"}),
    ),
    Tried(
        "Face oil", "leave-on", "oil", "face", False,
        (("A", "22", f"rosehip-oil 20, jojoba-oil *, bergamot-cold-pressed-oil 0.8, {KEPT}"),),
        frozenset({"perfume.phototoxic", "uselevels.high"}),
        frozenset({"preservative", "firmness", "emulsion", "functions", "heat"}),
    ),
)  # fmt: skip


def reviewed(cast: Cast, tried: Tried) -> Reviewed:
    """The formula, written as a maker writes it, and its review."""
    by = cast.owner
    version = start_formula(
        by, name=tried.name, kind=tried.kind, form=tried.form, body_area=tried.area, used_in_water=tried.wet
    )
    version = save_version(
        by,
        version=version,
        phases=[{"letter": letter, "name": "", "lines": lines_of(cast, text)} for letter, _, text in tried.phases],
        steps=[
            {
                "phase": letter, "text": "Stir until even", "target_c": Decimal(heat) if heat else None,
                "min_c": None, "max_c": None, "minutes": None,
            }
            for letter, heat, _ in tried.phases
        ],
    )  # fmt: skip
    return review_version(by.maker, version, on=by.today())


def lines_of(cast: Cast, text: str) -> list[dict[str, Any]]:
    """Lines of "material percent", of materials fresh from the catalogue."""
    rows = []
    for part in text.split(", "):
        key, _, percent = part.partition(" ")
        row: dict[str, Any] = {
            "ingredient": copy_from_catalogue(cast.owner, key=key, name=key),
            "purpose": "",
        }
        figures = {"kind": "to_100"} if percent == "*" else {"kind": "percent", "percent": Decimal(percent)}
        rows.append({**row, **figures})
    return rows


def chapters(rules: Sequence[str], quiet: frozenset[str]) -> set[str]:
    """The rules among these that were to be quiet."""
    return {
        rule for rule in rules for hush in quiet if rule == hush or rule.startswith((f"{hush}.", f"{hush}_"))
    }


@pytest.mark.parametrize("tried", TRIED, ids=lambda tried: tried.name)
def test_the_review_says_what_a_maker_must_know_and_no_more(cast: Cast, tried: Tried) -> None:
    found = reviewed(cast, tried)

    rules = [finding.rule for finding in found.findings]
    assert found.resolved.total == 100
    assert tried.says <= set(rules)
    noise = {rule for rule in chapters(rules, tried.quiet) if not rule.endswith("_if")}
    assert noise == set()
    assert all(finding.message.endswith(".") for finding in found.findings if finding.rule != "label.preview")


def test_a_balm_that_its_wax_holds_is_not_called_soft(cast: Cast) -> None:
    """Beeswax 10 to 20 % sets a tin (common practice, no source), whatever its oils do; the band leaves wax out."""
    [band] = [one for one in reviewed(cast, TRIED[0]).findings if one.rule == "firmness.band"]

    assert "beeswax carries it beyond these figures" in band.cure
    assert "soft in a cool room" not in band.cure


CARE = Tried(
    "Care premix", "leave-on", "premix", "body", False,
    (("A", "22", "jojoba-oil 50, vitamin-e-mixed-tocopherols 10, phenoxyethanol 40"),),
    frozenset(), frozenset(),
)  # fmt: skip


def test_a_premix_is_approved_without_a_reason_until_it_is_sold(cast: Cast) -> None:
    """40 % phenoxyethanol: 1 % is of the finished product (Annex V/29), which may hold 2.5 % of the premix."""
    found = reviewed(cast, CARE)
    [note] = [one for one in found.findings if one.rule == "limits.part"]
    assert "may hold 2.5 % of this premix at most" in note.message
    assert not found.to_answer

    version = FormulaVersion.objects.for_maker(cast.owner.maker).get(formula__name=CARE.name)
    approve_version(cast.owner, version=version)
    product = add_product(
        cast.owner,
        formula=version.formula,
        name="Care drops",
        net_amount=Decimal(10),
        net_unit="ml",
        fill_g=Decimal(9),
    )

    sold = review_version(cast.owner.maker, version)
    assert [one.rule for one in sold.to_answer if one.severity == "stop"] == ["limits.over"]
    [with_others] = review_together(cast.owner.maker, [version], NOTHING_SUPPOSED, None).values()
    assert with_others.findings == sold.findings
    product.active = False
    product.save()
    assert not review_version(cast.owner.maker, version).to_answer


def test_the_role_of_an_acid_for_the_skin_keeps_it_from_the_limit_of_preservatives(cast: Cast) -> None:
    """Annex III/98: 2 % salicylic acid in a face cream, by the catalogue "active"; Annex V/3 has 0.5 %."""
    cream = Tried(
        "Face cream", "leave-on", "cream", "face", False,
        (("A", "72", "purified-water *, emulsifying-wax-non-ionic 5, jojoba-oil 15, salicylic-acid 2"),),
        frozenset(), frozenset(),
    )  # fmt: skip

    rules = [one.rule for one in reviewed(cast, cream).findings]

    assert "limits.other_use" in rules
    assert "limits.over" not in rules
