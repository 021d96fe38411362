"""Cautions: Art. 19(1)(d) with Annexes III and V; 21 CFR 740."""

from __future__ import annotations

import pytest

from formulas.rules.limits import LabelWarning
from labels.rules.cautions import PRODUCT_GROUPS, caution_facts, eu_cautions, says, us_cautions


def _warning(text: str, name: str = "Retinol") -> LabelWarning:
    return LabelWarning(name.lower(), name, text, "Annex III/376", "read")


def test_one_sentence_for_several_substances() -> None:
    """III/376: one sentence for all three forms of vitamin A."""
    text = "Contains Vitamin A. Consider your daily intake before use"

    (caution,) = eu_cautions([_warning(text), _warning(text, "Retinyl Palmitate")])

    assert (caution.text, caution.why) == (text, ("Retinol", "Retinyl Palmitate"))


def test_a_condition_is_told_apart_from_the_sentence() -> None:
    """V/3: the sentence is for products that such children might use; only the maker can say that."""
    text = "Not to be used for children under 3 years of age (only on products that such children might use)"

    (caution,) = eu_cautions([_warning(text, "Salicylic Acid")])

    assert caution.text == "Not to be used for children under 3 years of age"
    assert caution.condition == "only on products that such children might use"


def test_foaming_bath_carries_the_words_of_the_rule() -> None:
    """21 CFR 740.17, text read."""
    (caution,) = us_cautions(["foaming bath"])

    assert caution.text.startswith("Caution—Use only as directed. Excessive use or prolonged exposure")
    assert caution.text.endswith("Keep out of reach of children.")
    assert caution_facts([caution]) == ()


def test_words_from_memory_are_a_fact_to_confirm() -> None:
    """21 CFR 740.11: conditions read, the exact sentence from memory."""
    assert len(caution_facts(us_cautions(["aerosol with hydrocarbon propellant"]))) == 2


def test_a_group_that_isnt_held_is_refused() -> None:
    """A closed list, so that a misspelt group doesn't pass as none."""
    assert us_cautions([""]) == ()
    with pytest.raises(ValueError, match=PRODUCT_GROUPS[1]):
        us_cautions(["bubbles"])


@pytest.mark.parametrize(
    ("label", "is_said"),
    [
        ("For hands. AVOID  contact\nwith eyes", True),
        ("Avoid contact", False),
        ("Caution - keep away", False),
    ],
)
def test_the_words_must_stand_there(label: str, is_said: bool) -> None:
    """Case, spaces and a last full stop don't count; words do."""
    assert says(label, "Avoid contact with eyes.") is is_said


def test_kinds_of_dash_dont_matter() -> None:
    """A hyphen for the long dash is the same sentence."""
    assert says("Caution - Use only as directed", "Caution—Use only as directed.")
