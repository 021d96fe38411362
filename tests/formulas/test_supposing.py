"""What a composition would change before it is written: through premixes, per product, storing nothing."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from formulas.actions.formulas import review_version, what_would_change
from formulas.actions.formulas.supposing import review_together
from formulas.actions.ingredients import add_composition, supposed_composition
from formulas.actions.products import add_product
from formulas.assembly import NOTHING_SUPPOSED, Supposed
from formulas.models import Composition, Constituent, FormulaVersion, Ingredient
from labels.actions import draft_label
from makers.actions import By, Refused
from makers.models import Document, JournalEntry
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_sheet,
    make_source,
    part,
)
from tests.formulas.pages import text_of, url
from tests.formulas.test_compositions_views import rows
from tests.formulas.test_formula_actions import approve, line, start

D = Decimal
ADD = "ingredients/I-001/compositions/add/"


@pytest.fixture
def infused(by: By) -> FormulaVersion:
    """A cream that takes a carrier oil through a premix that is made from an infusion of it, two deep."""
    oil, water = make_ingredient(by, "Carrier oil"), make_ingredient(by, "Spring water")
    make_composition(by, oil, part("Glycerin", "100"))
    make_composition(by, water, part("Aqua", "100"))
    infusion = approve(by, start(by, line(oil, "90"), line(water, "10"), name="Infusion"))
    first = make_ingredient(by, "Infused oil", made_from=infusion.formula)
    premix = approve(by, start(by, line(first, "80"), line(water, "20"), name="Premix"))
    second = make_ingredient(by, "Ready premix", made_from=premix.formula)
    version = start(by, line(second, "50"), line(water, "50"), name="Cream")
    add_product(
        by,
        formula=version.formula,
        name="Cream in a jar",
        net_amount=D(30),
        net_unit="g",
        fill_g=D(31),
        markets=["EU", "US"],
    )
    return version


def supposed(by: By, row: Ingredient, *parts: dict[str, Any], **fields: Any) -> Supposed:
    """A composition that is only typed."""
    return Supposed(composition=supposed_composition(by, ingredient=row, constituents=parts, **fields))


def oil_of(by: By) -> Ingredient:
    """The carrier oil."""
    row: Ingredient = Ingredient.objects.for_maker(by.maker).get(name="Carrier oil")
    return row


def test_what_is_supposed_reads_as_it_does_once_it_is_written(by: By, infused: FormulaVersion) -> None:
    """Findings and lists of every version, two premixes deep, are those of a review after the same is stored."""
    parts = (part("Aqua", "60"), part("Phenoxyethanol", "", low=D(1), high=D(40)))
    versions = list(FormulaVersion.objects.for_maker(by.maker))
    typed = supposed(by, oil_of(by), *parts)

    foreseen = review_together(by.maker, versions, typed, by.today())
    add_composition(by, ingredient=oil_of(by), constituents=parts)

    for version in versions:
        assert foreseen[version.pk].findings == review_version(by.maker, version, on=by.today()).findings
    assert len(versions) == 3


def test_reviews_made_together_say_what_each_says_alone(by: By, infused: FormulaVersion) -> None:
    """What is loaded once for all brings nothing of one formula into the review of another."""
    other = make_ingredient(by, "Rose water")
    for number, source in enumerate((make_source(by, other), make_source(by, other))):
        make_composition(by, other, part("Aqua", str(100 - number)), source=source)
    start(by, line(other, "100"), name="Rose spray")
    versions = list(FormulaVersion.objects.for_maker(by.maker))

    together = review_together(by.maker, versions, NOTHING_SUPPOSED, by.today())

    for version in versions:
        alone = review_version(by.maker, version, on=by.today())
        assert (together[version.pk].findings, together[version.pk].passed) == (alone.findings, alone.passed)


def test_the_page_tells_findings_lists_products_and_labels_and_stores_nothing(
    at_home: Client, by: By, infused: FormulaVersion
) -> None:
    """The preservative of two premixes down stands over its limit, comes onto the list, and the label would differ."""
    product = infused.formula.products.get()
    draft_label(by, product=product, market="EU")
    before = (Composition.objects.count(), Constituent.objects.count(), JournalEntry.objects.count())
    data = rows(
        {"substance": "Glycerin", "typical": "90"},
        {"substance": "Phenoxyethanol", "typical": "10"},
        do="suppose",
        after="1",
        origin="Sheet 9",
        paper=make_sheet("sheet-nine.pdf"),
    )

    text = text_of(at_home.post(url(by, ADD), data))

    assert before == (Composition.objects.count(), Constituent.objects.count(), JournalEntry.objects.count())
    assert not Document.objects.exists()
    told = text[text.index('id="h-would"') :]
    assert '<b class="num">3</b> of 3 versions' in told
    cream = told[told.index("Cream, version 1") :]
    assert "Cream in a jar" in cream
    assert "Phenoxyethanol would come on." in cream
    assert "3.6" in cream, "90 % of 80 % of 50 % of the oil, a tenth of which is the preservative"
    assert "Cream in a jar, the European Union" in told
    assert "ingredients would read differently" in " ".join(told.split())
    for kept in ('value="Phenoxyethanol"', 'value="Sheet 9"', "sheet-nine.pdf"):
        assert kept in text
    assert at_home.post(url(by, ADD), data | {"do": "save", "paper": make_sheet()}).status_code == 303


def test_the_same_again_changes_nothing_and_is_said_to(
    at_home: Client, by: By, infused: FormulaVersion
) -> None:
    """A composition typed as it stands."""
    data = rows({"substance": "Glycerin", "typical": "100"}, do="suppose", after="1")

    text = text_of(at_home.post(url(by, ADD), data))

    assert "It would change nothing: 3 versions with it say the same as now." in " ".join(text.split())


def test_an_ingredient_that_nothing_takes_is_said_to(at_home: Client, by: By) -> None:
    """No formula, no label."""
    make_ingredient(by)

    text = text_of(at_home.post(url(by, ADD), rows({"substance": "Aqua"}, do="suppose")))

    assert "It would change nothing: no formula takes it yet." in " ".join(text.split())


def test_a_sheet_of_another_source_than_the_preferred_changes_no_review(
    at_home: Client, by: By, infused: FormulaVersion
) -> None:
    """The page says which composition reviews go on by."""
    oil = oil_of(by)
    main, other = make_source(by, oil, "Brackwater", preferred=True), make_source(by, oil, "Thistledown")
    make_composition(by, oil, part("Glycerin", "100"), source=main)
    data = rows({"substance": "Aqua", "typical": "100"}, do="suppose", after="2", source=str(other.pk))

    text = " ".join(text_of(at_home.post(url(by, ADD), data)).split())

    assert "Reviews would go on by composition 2, of Brackwater" in text
    assert "would come on" not in text


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([{"substance": "Glycerin", "typical": "80"}, {"substance": "Aqua", "typical": "30"}], "over 100"),
        ([{"substance": "Glycerin"}, {"substance": "Glycerin"}], "already in this composition"),
        ([{"substance": "Linalool", "kind": "within"}], "at least one substance that it declares"),
        ([{"substance": "Glycerinn"}], "Did you mean Glycerin?"),
    ],
)
def test_what_could_not_be_written_is_refused_in_the_same_words(
    at_home: Client, by: By, parts: list[dict[str, Any]], words: str
) -> None:
    """Asking what it would change says no less than writing it down, and shows no changes."""
    make_ingredient(by)

    answers = [text_of(at_home.post(url(by, ADD), rows(*parts, do=act))) for act in ("suppose", "save")]

    assert all(words in text for text in answers)
    assert 'id="h-would"' not in answers[0]


def test_a_circle_is_refused_and_nothing_breaks(by: By, infused: FormulaVersion) -> None:
    """An ingredient that would be made from what takes it."""
    oil = oil_of(by)
    oil.made_from = infused.formula

    with pytest.raises(Refused):
        what_would_change(by.maker, oil, Supposed(ingredient=oil), on=by.today())


def test_asking_takes_as_many_queries_for_many_formulas(by: By, infused: FormulaVersion) -> None:
    """What the reviews rest on is loaded once; products and labels too."""

    def asked() -> int:
        typed = supposed(by, oil_of(by), part("Aqua", "100"))
        with CaptureQueriesContext(connection) as queries:
            assert what_would_change(by.maker, oil_of(by), typed, on=by.today()).versions
        return len(queries)

    draft_label(by, product=infused.formula.products.get(), market="EU")
    asked()
    few = asked()
    for number in range(6):
        version = start(by, line(oil_of(by), "100"), name=f"Oil {number}")
        product = add_product(
            by,
            formula=version.formula,
            name=f"Oil {number}",
            net_amount=D(30),
            net_unit="g",
            fill_g=D(31),
            markets=["EU"],
        )
        draft_label(by, product=product, market="EU")

    assert asked() <= few, "less, where an ingredient is met at a lower depth already"


def test_a_reader_may_not_ask_and_a_stranger_finds_nothing(
    client: Client, cast: Cast, infused: FormulaVersion
) -> None:
    """The form is for those who write."""
    data = rows({"substance": "Aqua"}, do="suppose")
    for by, status in ((cast.reader, 403), (cast.stranger, 404)):
        client.force_login(by.user)
        assert client.post(url(cast.owner, ADD), data).status_code == status
