"""Ten invented formulas from the catalogue: what the whole review must say of each, and what it must not.

What is expected rests on common practice, no source, except the limits of the EU tables and of phototoxic oils,
which the rules' own tests name.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NamedTuple

import pytest

from formulas.actions.formulas import Reviewed, review_version, save_version, start_formula
from formulas.actions.ingredients import copy_from_catalogue
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
