"""Limits of finished products: what a premix is told of them, and what a preservative with two entries is there for.

Figures: Reg (EC) 1223/2009, Annex II/1395; III/98, 102; V/3, 29, 34, 39, 57.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from formulas.rules.catalogue import catalogue_compositions
from formulas.rules.composition import Composition, Constituent, substance_key
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import FormulaForReview, IngredientFacts, prepare, review
from formulas.rules.review.perfume import check_perfume
from formulas.rules.review.restricted import check_restricted
from formulas.rules.totals import NestedFormula
from tests.formulas.rules.review_questions.pot import ask, rules_of, told

D = Decimal
CARE = "jojoba-oil 50, vitamin-e-mixed-tocopherols 10, phenoxyethanol 40"


def holding(*parts: tuple[str, str, str]) -> Composition:
    """An ingredient "it" of these substances, from low to high %."""
    return Composition(
        "it",
        "It",
        tuple(Constituent(substance_key(name), name, low=D(low), high=D(high)) for name, low, high in parts),
    )


def of_it(composition: Composition, percent: str, **more: Any) -> FormulaForReview:
    """So much of "it", with jojoba oil to 100."""
    lines = (
        FormulaLine("it", "it", "It", D(percent), purpose=more.pop("purpose", "")),
        FormulaLine("rest", "jojoba-oil", "Jojoba oil", kind="to_100"),
    )
    more.setdefault("use", ProductUse("leave-on", "face"))
    return FormulaForReview(lines, compositions={**catalogue_compositions(), "it": composition}, **more)


def test_a_premix_is_told_how_much_of_it_a_product_may_hold() -> None:
    """Annex V/29: 1 % phenoxyethanol; 40 % of the premix, so 1 / 0.4 = 2.5 % of it. Nothing to give a reason for."""
    asked = ask(CARE, form="premix")
    note = told(check_restricted(asked), "limits.part")

    assert note.severity == "note"
    assert note.message == (
        "Phenoxyethanol comes to 40 % of this premix by a typical figure; 1 % is the most allowed in leave-on "
        "products: a leave-on product may hold 2.5 % of this premix at most."
    )
    assert note.cure == "Less, where the product has it from elsewhere too."
    assert "Annex V/29" in note.source
    assert note.lines == ("phenoxyethanol",)
    found = review(asked.formula)
    assert not found.stops
    assert not {"Within the EU limits", "Within use levels", "Essential oils within known limits"} & set(
        found.passed
    )


def test_a_formula_that_is_sold_is_judged_as_sold() -> None:
    """Whatever its form; and one that is no part by its form is judged as a product anyway."""
    for more in ({"form": "premix", "sold": True}, {"form": "balm"}):
        over = told(check_restricted(ask(CARE, **more)), "limits.over")
        assert over.severity == "stop"


def test_the_share_of_a_premix_is_rounded_down() -> None:
    """Annex V/29: 1 / 0.3 = 3.3333…, down to 3.33; at the limit or below nothing is said."""
    note = told(check_restricted(ask("jojoba-oil 70, phenoxyethanol 30", form="premix")), "limits.part")

    assert "3.33 % of this premix at most" in note.message
    assert "limits.part" not in rules_of(
        check_restricted(ask("jojoba-oil 99, phenoxyethanol 1", form="premix"))
    )


def test_the_upper_end_of_what_a_premix_holds_counts() -> None:
    """Annex III/102: 0.0002 % methyl eugenol; up to 3 % of the premix leaves 0.0002 / 0.03 = 0.00666 % of it."""
    eugenol = holding(("Methyl Eugenol", "0.1", "3"), ("Glycerin", "97", "99.9"))
    found = check_restricted(prepare(of_it(eugenol, "100", form="infusion")))

    note = told(found, "limits.part")
    assert "comes to 0.1 to 3 % of this infusion" in note.message
    assert "may hold 0.00666 % of this infusion at most" in note.message


def test_a_share_that_isnt_known_is_asked_for() -> None:
    """Unknown is never zero: the premix isn't free of a limit, and nobody can say how much of it is too much."""
    known = Composition(
        "it",
        "It",
        (Constituent("oil", "Oil", typical=D(100)), Constituent("isoeugenol", "Isoeugenol", "within")),
    )
    found = check_restricted(prepare(of_it(known, "10", form="premix")))

    assert told(found, "limits.part_unknown").severity == "caution"


def test_what_is_prohibited_stops_a_premix() -> None:
    """Annex II/1395: borates. A composition that isn't known could hide one, of which the premix says how much."""
    found = check_restricted(prepare(of_it(holding(("Sodium Borate", "100", "100")), "1", form="premix")))

    assert told(found, "limits.prohibited").severity == "stop"
    hidden = told(check_restricted(ask("jojoba-oil 70, secret 30", form="premix")), "limits.missing")
    assert hidden.severity == "unknown"
    assert hidden.message == "No limit can be checked for 30 % of this premix from secret."


def test_what_is_barred_in_its_kind_of_product_alone_doesnt_stop_a_premix() -> None:
    """Annex V/57: methylisothiazolinone preserves what is rinsed off, 0.0015 %, and nothing that stays.

    It is under a limit with V/39 as well, of the same figure: one note is enough.
    """
    kept = holding(("Methylisothiazolinone", "1", "1"), ("Glycerin", "99", "99"))
    leave_on = check_restricted(prepare(of_it(kept, "10", form="premix")))
    rinse_off = check_restricted(
        prepare(of_it(kept, "10", form="premix", use=ProductUse("rinse-off", "body")))
    )

    assert told(leave_on, "limits.part_barred").severity == "caution"
    # 1 % of 10 % is 0.1 % of the premix: 0.0015 / 0.1 = 1.5 %
    assert "rinse-off product may hold 1.5 % of this premix at most" in told(rinse_off, "limits.part").message


def test_the_product_that_takes_the_premix_is_judged() -> None:
    """Annex V/29: 2.5 % of the premix brings 1 % phenoxyethanol, within; 2.6 % brings 1.04 %, over."""
    for percent, is_over in (("2.5", False), ("2.6", True)):
        product = f"care {percent}, jojoba-oil {100 - D(percent)}"
        found = rules_of(check_restricted(ask(product, premixes={"care": CARE}, form="oil")))
        assert ("limits.over" in found) is is_over


def test_oils_of_a_premix_are_judged_in_the_product() -> None:
    """Bergamot 0.4 % (Tisserand and Young 2014): 20 % is 50 times that, so 1 / 50 = 2 % of the premix at most."""
    premix = ask("jojoba-oil 80, bergamot-cold-pressed-oil 20", form="premix")

    [note] = check_perfume(premix)

    assert (note.rule, note.severity) == ("perfume.part", "note")
    assert "a leave-on product may hold 2 % of this premix at most" in note.message
    assert "perfume.phototoxic" in rules_of(
        check_perfume(ask("jojoba-oil 80, bergamot-cold-pressed-oil 20", form="oil"))
    )


SALICYLIC = holding(("Salicylic Acid", "100", "100"))


def salicylic(percent: str, *roles: str, purpose: str = "", of: Composition = SALICYLIC) -> FormulaForReview:
    """So much of it in a face cream, with these roles on record."""
    return of_it(of, percent, purpose=purpose, facts={"it": IngredientFacts("It", frozenset(roles))})


@pytest.mark.parametrize(
    ("roles", "purpose", "is_over"),
    [
        (("active",), "", False),
        (("active", "exfoliant"), "", False),
        (("unknown",), "", True),
        ((), "", True),
        (("preservative",), "", True),
        (("active", "preservative"), "", True),
        (("active",), "preservative", True),
        (("preservative",), "active", False),
    ],
)
def test_the_line_decides_then_the_role_and_unknown_is_a_preservative(
    roles: tuple[str, ...], purpose: str, is_over: bool
) -> None:
    """Annex V/3, note: for use other than as a preservative see Annex III/98 (ECHA, list of Annex V). 2 % in a face
    cream is within Annex III/98 and over Annex V/3."""
    found = rules_of(check_restricted(prepare(salicylic("2", *roles, purpose=purpose))))

    assert ("limits.over" in found) is is_over


def test_a_role_that_spares_it_annex_v_is_told() -> None:
    """Annex V/3 and III/98: the note says what it counts as and what would be the most; within both it is silent."""
    note = told(check_restricted(prepare(salicylic("2", "active"))), "limits.other_use")

    assert note.message == (
        "Salicylic Acid counts as active, the role on record, so Annex III/98 holds; as a preservative 0.5 % is the "
        "most (Annex V/3)."
    )
    assert "write “preservative”" in note.cure
    for quiet in (salicylic("0.5", "active"), salicylic("2", "preservative", purpose="active")):
        assert "limits.other_use" not in rules_of(check_restricted(prepare(quiet)))


def test_the_role_of_a_blend_says_nothing_of_its_parts() -> None:
    """Annex V/34: an extract may be preserved with the benzyl alcohol that it brings; water beside it is no blend."""
    extract = holding(("Benzyl Alcohol", "2", "2"), ("Glycerin", "98", "98"))
    watered = holding(("Benzyl Alcohol", "50", "50"), ("Aqua", "50", "50"))

    blend = rules_of(check_restricted(prepare(salicylic("60", "extract", of=extract))))
    alone = rules_of(check_restricted(prepare(salicylic("3", "solvent", of=watered))))

    assert "limits.over" in blend
    assert "limits.over" not in alone


def test_the_line_of_a_premix_speaks_for_the_premix_alone() -> None:
    """Annex V/3: a premix written in as "antioxidant" brings 2 % salicylic acid, of which nobody said what it does."""
    lines = (
        FormulaLine("mix", "mix", "Mix", D(4), purpose="antioxidant"),
        FormulaLine("rest", "jojoba-oil", "Jojoba oil", kind="to_100"),
    )
    for purpose, is_over in (("", True), ("active", False)):
        inner = resolve(
            (
                FormulaLine("s", "it", "It", D(50), purpose=purpose),
                FormulaLine("j", "jojoba-oil", "Jojoba oil", D(50)),
            )
        )
        formula = FormulaForReview(
            lines,
            ProductUse("leave-on", "face"),
            {**catalogue_compositions(), "it": SALICYLIC},
            {"mix": NestedFormula("mix", "Mix", inner)},
        )
        over = [one for one in check_restricted(prepare(formula)) if one.rule == "limits.over"]
        assert bool(over) is is_over
        assert all("on its line in Mix: then Annex III/98 holds" in one.cure for one in over)
