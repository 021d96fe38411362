"""Required statements: Reg (EC) 1223/2009 Art. 19; 21 CFR 701, 740; FD&C Act 609(a)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from formulas.rules.limits import LabelWarning
from labels.rules.cautions import eu_cautions, us_cautions
from labels.rules.declaration import MARKETS
from labels.rules.durability import eu_durability, us_durability
from labels.rules.quantity import NET_QUANTITY
from labels.rules.requirements import REQUIREMENTS, LabelTexts, Requirement, missing
from tests.labels.rules.examples import amount, product


def _label(market: str, **changes: object) -> LabelTexts:
    amounts = product(amount("Aqua", "96"), amount("Glycerin", "4"))
    durability = us_durability() if market == "US" else eu_durability(24, None, date(2026, 11, 25))
    complete = LabelTexts(
        product_name="Sea mist",
        identity="hand cream",
        net=NET_QUANTITY[market](Decimal(50), "g"),
        declaration=MARKETS[market](amounts),
        durability=durability,
        maker_name="Quill & Tern",
        maker_address="4 Sluice Row\nEelmere, ME 04999" if market == "US" else "4 Sluice Row\nEelmere",
        country={"EU": "IE"}.get(market, market),
        batch_code="26-0141",
    )
    return replace(complete, **changes)  # type: ignore[arg-type]  # fields by name


def _of(market: str, key: str, **changes: object) -> Requirement:
    return {part.key: part for part in REQUIREMENTS[market](_label(market, **changes))}[key]


@pytest.mark.parametrize("market", sorted(REQUIREMENTS))
def test_a_full_label_misses_nothing(market: str) -> None:
    """Everything there: every statement present or not needed, each with its rule."""
    requirements = REQUIREMENTS[market](_label(market))

    assert missing(requirements) == ()
    assert all(part.source for part in requirements)


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("responsible", {"maker_address": ""}),
        ("responsible", {"country": "US"}),
        ("origin", {"made_in": "US"}),
        ("origin", {"made_in": "", "country": "", "responsible_name": "A", "responsible_address": "B"}),
        ("durability", {"durability": eu_durability(None, None)}),
        ("durability", {"durability": eu_durability(24, None), "with_each_batch": False}),
        ("batch", {"batch_code": "", "with_each_batch": False}),
        ("function", {"identity": "", "product_name": ""}),
        ("language", {"language": ""}),
        ("digits", {"net_digits_mm": Decimal("1.9")}),
    ],
)
def test_eu_label_says_what_is_missing(key: str, changes: dict[str, object]) -> None:
    """Art. 19(1)(a) to (g), (5); Dir 76/211/EEC Annex I: one statement taken away at a time."""
    requirement = _of("EU", key, **changes)

    assert not requirement.satisfied
    assert requirement.todo


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("identity", {"identity": "", "product_name": ""}),
        ("maker", {"maker_name": ""}),
        ("maker", {"maker_address": "4 Sluice Row"}),
        ("contact", {"country": "IE", "maker_address": "4 Sluice Row, Eelmere", "phone": "+353 1 234 5678"}),
        ("origin", {"made_in": "IE"}),
        ("language", {"language": "de"}),
    ],
)
def test_us_label_says_what_is_missing(key: str, changes: dict[str, object]) -> None:
    """701.11, 701.12, 701.2(b), FD&C Act 609(a), 19 USC 1304."""
    requirement = _of("US", key, **changes)

    assert not requirement.satisfied
    assert requirement.todo


@pytest.mark.parametrize(
    "contact",
    [{"email": "hello@example.org"}, {"website": "https://example.org"}, {"phone": "+1 207 555 0134"}],
)
def test_us_contact_may_be_electronic_or_domestic(contact: dict[str, object]) -> None:
    """FD&C Act 609(a): domestic address, domestic telephone or electronic contact."""
    changes = {"country": "IE", "maker_address": "4 Sluice Row, Eelmere", **contact}

    assert _of("US", "contact", **changes).satisfied


def test_a_named_firm_that_isnt_the_maker_is_qualified() -> None:
    """701.12: "Distributed by" or other true words."""
    requirement = _of(
        "US", "maker", responsible_name="Harbor Goods", responsible_address="1 Pier\nPortland, ME 04101"
    )

    assert requirement.text == "Distributed by Harbor Goods, 1 Pier, Portland, ME 04101"


def test_below_five_grams_no_quantity_is_needed() -> None:
    """Art. 19(1)(b)."""
    assert _of("EU", "quantity", net=NET_QUANTITY["EU"](Decimal(4), "g")).state == "not needed"


def test_date_comes_with_each_batch() -> None:
    """A label printed ahead keeps a place for the date and the batch code."""
    requirement = _of("EU", "durability", durability=eu_durability(24, None))

    assert (requirement.state, requirement.text) == ("present", "printed with each batch")


def test_cautions_survive_no_edit() -> None:
    """Art. 19(1)(d): the words stand on the label or it waits."""
    warning = LabelWarning("retinol", "Retinol", "Contains Vitamin A.", "Annex III/376", "read")
    cautions = eu_cautions([warning])

    assert _of("EU", "cautions", cautions=cautions).state == "missing"
    assert _of("EU", "cautions", cautions=cautions, label_text="Contains vitamin A").state == "present"


def test_a_conditional_caution_waits_for_a_judgement() -> None:
    """Annex V/3: only the maker can say whether small children might use it."""
    text = "Not to be used for children under 3 years of age (only on products that such children might use)"
    cautions = eu_cautions([LabelWarning("s", "Salicylic Acid", text, "Annex V/3", "read")])
    judged = frozenset(caution.key for caution in cautions)

    assert _of("EU", "cautions", cautions=cautions).state == "unknown"
    assert _of("EU", "cautions", cautions=cautions, judged_cautions=judged).satisfied


def test_a_foaming_bath_without_its_caution_waits() -> None:
    """21 CFR 740.17."""
    assert _of("US", "cautions", cautions=us_cautions(["foaming bath"])).state == "missing"


def test_unknowns_of_the_list_keep_the_label_waiting() -> None:
    """A declaration with an unknown can't be approved as complete."""
    declaration = MARKETS["EU"](product(amount("Aqua", "90"), amount("Linalool", None, within=True)))
    label = _label("EU", declaration=declaration)

    assert [part.key for part in missing(REQUIREMENTS["EU"](label))] == ["ingredients", "allergens"]


def test_gb_takes_eu_particulars_until_the_easement_ends() -> None:
    """GB guidance of May 2023: seven years from 2021-01-01."""
    assert _of("GB", "responsible", country="IE", first_supply=date(2027, 12, 31)).satisfied
    assert not _of("GB", "responsible", country="IE", first_supply=date(2028, 1, 1)).satisfied
