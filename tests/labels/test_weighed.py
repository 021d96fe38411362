"""Whether a label still holds for a batch as it was really weighed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from batches.models import Batch, BatchLine, Lot, Pack, Weighing
from formulas.models import FormulaVersion, Ingredient, Product
from labels.actions import apply_label, approve_label, draft_label, print_run
from labels.contributions import batch_panel
from labels.models import AppliedLabel, LabelIssue, SheetLayout
from labels.weighed import label_url, pins_of, release_points
from makers.actions import By
from makers.http import address
from makers.registries import release_checks
from tests.batches.stock.factories_stock import make_lot
from tests.cast import Cast, make_scale
from tests.labels.factories_labels import (
    compose,
    confirm_everything,
    make_balm,
    make_product,
    make_version,
    material,
)
from tests.labels.test_pdf import words_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("sheet")]


def make_batch(
    by: By, product: Product | None, version: FormulaVersion | None = None, **fields: Any
) -> Batch:
    """A batch of a product's version that is being made, with a line for each of the version's."""
    made_to = version or FormulaVersion.objects.get(formula__products=product)
    given: dict[str, Any] = {
        "code": f"26-{Batch.objects.count() + 1:04}", "purpose": "sale", "state": "making",
        "scale": make_scale(by.maker, name=f"Scale {Batch.objects.count()}"),
        "planned_g": Decimal(1000), "planned_by": by.user, "planned_at": by.now(), **fields,
    }  # fmt: skip
    batch = Batch.objects.create(
        maker=by.maker,
        version=made_to,
        formula=made_to.formula,
        product=product,
        **given,
    )
    for position, line in enumerate(made_to.lines.all()):
        BatchLine.objects.create(
            maker=by.maker, batch=batch, position=position, ingredient=line.ingredient, percent=line.percent
        )
    return batch


def weigh(by: By, batch: Batch, lot: Lot, grams: str = "10", line: BatchLine | None = None) -> Weighing:
    """Grams of a lot into its line."""
    line = line or batch.lines.get(ingredient=lot.ingredient)
    row = Weighing(
        maker=by.maker, batch=batch, line=line, lot=lot, grams=Decimal(grams), scale=batch.scale,
        occurred_at=by.now(), entered_at=by.now(), user=by.user,
    )  # fmt: skip
    row.save()
    return row


def lots_for(by: By, batch: Batch) -> dict[str, Lot]:
    """A released lot of each ingredient, weighed in with the composition that is in force."""
    found = {}
    for line in batch.lines.select_related("ingredient"):
        composition = line.ingredient.compositions.order_by("-number").first()
        lot = make_lot(by, line.ingredient, released=True, composition=composition)
        weigh(by, batch, lot)
        found[line.ingredient.name] = lot
    return found


def balm_with_issue(cast: Cast) -> LabelIssue:
    """An approved EU label of a balm that is sold to the EU alone."""
    label = draft_label(cast.owner, product=make_balm(cast.owner, markets=["EU"]), market="EU")
    confirm_everything(cast.owner, label)
    return approve_label(cast.owner, label=label)


def test_a_label_holds_for_a_batch_of_the_compositions_it_was_approved_for(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product)
    lots_for(cast.owner, batch)

    assert release_points(batch) == []
    assert "label still holds" in release_checks


def test_a_market_without_an_approved_label_is_an_open_point_that_a_reason_can_answer(cast: Cast) -> None:
    batch = make_batch(cast.owner, make_balm(cast.owner))

    points = release_points(batch)

    assert [point.blocks for point in points] == [False, False]
    assert "no approved label for the European Union" in points[0].text


def test_an_open_point_leads_to_the_draft_where_there_is_one(cast: Cast) -> None:
    """Another label can't be added for the same product and market."""
    product = make_balm(cast.owner)
    label = draft_label(cast.owner, product=product, market="EU")

    to_draft, to_add = (point.url for point in release_points(make_batch(cast.owner, product)))

    assert to_draft == label_url(label)
    assert to_add == address(cast.maker, "labels:add") + f"?product={product.code}&market=US"


def test_a_lot_of_another_composition_is_named_with_what_differs(cast: Cast) -> None:
    """The other supplier's sunflower oil carries citric acid; the approved list doesn't."""
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product)
    lots = lots_for(cast.owner, batch)
    oil = lots["Sunflower oil"].ingredient
    assert isinstance(oil, Ingredient)
    other = compose(oil, ("Helianthus Annuus Seed Oil", "99"), ("Tocopherol", "0.5"), ("Citric Acid", "0.5"))

    assert release_points(batch) == []
    weigh(cast.owner, batch, make_lot(cast.owner, oil, released=True, composition=other))

    [point] = release_points(batch)
    assert "Citric Acid is not on the approved list" in point.text
    assert not point.blocks


def test_a_weighing_that_was_taken_back_counts_no_more(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product)
    oil = lots_for(cast.owner, batch)["Sunflower oil"].ingredient
    assert isinstance(oil, Ingredient)
    other = compose(oil, ("Helianthus Annuus Seed Oil", "99"), ("Citric Acid", "1"))
    wrong = weigh(cast.owner, batch, make_lot(cast.owner, oil, released=True, composition=other))

    Weighing(
        maker=batch.maker, batch=batch, line=wrong.line, lot=wrong.lot, grams=-wrong.grams, scale=wrong.scale,
        reverses=wrong, occurred_at=wrong.occurred_at, entered_at=wrong.entered_at, user=wrong.user,
    ).save()  # fmt: skip

    assert release_points(batch) == []


def test_a_substitute_that_was_weighed_takes_the_lines_place(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product)
    lots_for(cast.owner, batch)
    cocoa = material(cast.maker, "Cocoa butter", ("Theobroma Cacao Seed Butter", "100"))
    planned = batch.lines.get(ingredient__name="Shea butter")
    line = BatchLine.objects.create(
        maker=batch.maker, batch=batch, position=9, kind="substitute", ingredient=cocoa, instead_of=planned
    )
    assert release_points(batch) == []

    weigh(cast.owner, batch, make_lot(cast.owner, cocoa, released=True), line=line)

    [point] = release_points(batch)
    assert "Theobroma Cacao Seed Butter is not on the approved list" in point.text
    assert "Butyrospermum Parkii Butter is on it and no longer in" in point.text


def test_an_in_house_lot_brings_the_compositions_of_the_batch_it_was_made_in(cast: Cast) -> None:
    """Through an infusion: the lot of oil weighed into the infusion counts, not the newest paper."""
    maker, by = cast.maker, cast.owner
    oil = material(maker, "Sunflower oil", ("Helianthus Annuus Seed Oil", "100"))
    first = oil.compositions.get()
    inner = make_version(by, "Calendula oil", [(oil, "100", "")], form="infusion")
    infusion = material(maker, "Calendula infusion", made_from=inner.formula)
    version = make_version(by, "Infused oil", [(infusion, "100", "")], form="oil")
    product = make_product(by, version, markets=["EU"])
    label = draft_label(by, product=product, market="EU")
    confirm_everything(by, label)
    approve_label(by, label=label)
    second = compose(oil, ("Helianthus Annuus Seed Oil", "99"), ("Citric Acid", "1"))
    stock = make_batch(by, None, inner, purpose="stock", makes=infusion)
    weigh(by, stock, make_lot(by, oil, released=True, composition=second))
    made = make_lot(by, infusion, released=True)
    Lot.objects.filter(pk=made.pk).update(origin="batch", delivery=None, from_batch=stock)
    batch = make_batch(by, product)
    weigh(by, batch, Lot.objects.get(pk=made.pk))

    assert list(pins_of(batch).compositions[oil.pk].values()) == [second]
    assert first != second
    [point] = release_points(batch)
    assert "Citric Acid is not on the approved list" in point.text


def rework_lot(by: By, source: Batch) -> Lot:
    """A released lot of bulk that a batch set aside."""
    lot = make_lot(by, source.lines.exclude(ingredient=None)[0].ingredient, released=True)
    Lot.objects.filter(pk=lot.pk).update(
        origin="batch", delivery=None, source=None, composition=None, ingredient=None, from_batch=source,
        rework_of=source.formula,
    )  # fmt: skip
    return Lot.objects.get(pk=lot.pk)


def take_rework(by: By, batch: Batch, lot: Lot, grams: str) -> None:
    """Grams of set-aside bulk into a batch, as a line of its own."""
    line = BatchLine.objects.create(
        maker=batch.maker,
        batch=batch,
        position=9,
        kind="rework",
        rework_lot=lot,
        why="it is good",
        percent=None,
    )
    weigh(by, batch, lot, grams, line)


def test_rework_of_the_same_formula_leaves_the_label_as_it_is(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    earlier, batch = make_batch(cast.owner, issue.label.product), make_batch(cast.owner, issue.label.product)
    lots_for(cast.owner, earlier)
    lots_for(cast.owner, batch)

    take_rework(cast.owner, batch, rework_lot(cast.owner, earlier), "5")

    assert release_points(batch) == []


def test_rework_of_another_formula_is_compared_by_what_that_was_made_of(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    cocoa = material(cast.maker, "Cocoa butter", ("Theobroma Cacao Seed Butter", "100"))
    bar = make_version(cast.owner, "Bar", [(cocoa, "100", "")], form="bar")
    earlier = make_batch(cast.owner, None, bar)
    lots_for(cast.owner, earlier)
    batch = make_batch(cast.owner, issue.label.product)
    lots_for(cast.owner, batch)
    assert release_points(batch) == []

    take_rework(cast.owner, batch, rework_lot(cast.owner, earlier), "5")

    [point] = release_points(batch)
    assert "Theobroma Cacao Seed Butter is not on the approved list" in point.text


def test_rework_that_nobody_knows_the_making_of_leaves_the_question_open(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product)
    lots_for(cast.owner, batch)
    lot = rework_lot(cast.owner, batch)
    Lot.objects.filter(pk=lot.pk).update(from_batch=None, origin="opening")

    take_rework(cast.owner, batch, Lot.objects.get(pk=lot.pk), "5")

    [point] = release_points(batch)
    assert "is not on record" in point.text
    assert lot.code in point.text


def test_trials_and_stock_batches_ask_for_no_label(cast: Cast) -> None:
    product = make_balm(cast.owner)

    assert release_points(make_batch(cast.owner, product, purpose="trial")) == []


def make_pack(batch: Batch, product: Product) -> Pack:
    """Units of a batch."""
    return Pack.objects.create(
        maker=batch.maker,
        batch=batch,
        product=product,
        units=20,
        grams=Decimal(1000),
        code=f"K-{batch.code}",
        packed_on=date(2026, 11, 20),
    )


def test_an_issue_goes_on_its_own_products_packs_once(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product)
    pack = make_pack(batch, issue.label.product)

    one = apply_label(cast.worker, pack=pack, issue=issue)
    two = apply_label(cast.worker, pack=pack, issue=issue)

    assert one == two
    assert AppliedLabel.objects.count() == 1
    other = make_product(cast.owner, issue.version, "Other tin")
    with pytest.raises(ValidationError, match="That label is for"):
        apply_label(cast.worker, pack=make_pack(make_batch(cast.owner, other), other), issue=issue)


def test_the_batch_page_shows_labels_and_what_went_on(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product)
    pack = make_pack(batch, issue.label.product)
    found = batch_panel(cast.maker, batch)
    assert found is not None
    assert [one["pack"] for one in found[1]["to_apply"]] == [pack]

    apply_label(cast.worker, pack=pack, issue=issue)

    found = batch_panel(cast.maker, batch)
    assert found is not None
    assert found[1]["to_apply"] == []
    assert [one.issue for one in found[1]["applied"]] == [issue]


def test_a_print_run_of_another_formulas_batch_is_refused(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    wax = material(cast.maker, "Wax", ("Cera Alba", "100"))
    other = make_product(cast.owner, make_version(cast.owner, "Other", [(wax, "100", "")]))

    with pytest.raises(ValidationError, match="of another formula"):
        print_run(cast.owner, issue=issue, printed=5, batch=make_batch(cast.owner, other))


def test_a_sheet_for_a_batch_carries_its_code_and_date(cast: Cast) -> None:
    """Made 20 November 2026, keeps 18 months: good until 20 May 2028, so the end of 04/2028 is printed."""
    issue = balm_with_issue(cast)
    batch = make_batch(cast.owner, issue.label.product, made_on=date(2026, 11, 20))
    client = Client()
    client.force_login(cast.reader.user)
    sheet = SheetLayout.objects.get()
    path = address(cast.maker, "labels:sheet", code=issue.label.product.code, key="EU-en")

    response = client.get(path, {"layout": str(sheet.uuid), "batch": batch.code, "start": "1", "copies": "1"})

    words = words_of(response.content)
    assert batch.code in words
    assert "best used before the end of 04/2028" in words
    assert "PROOF" not in words


def test_packs_of_a_stranger_cannot_be_labelled(cast: Cast) -> None:
    issue = balm_with_issue(cast)
    pack = make_pack(make_batch(cast.owner, issue.label.product), issue.label.product)
    client = Client()
    client.force_login(cast.stranger.user)

    for maker in (cast.maker, cast.stranger.maker):
        path = address(maker, "labels:apply", pack=pack.code, issue=issue.uuid)
        assert client.post(path).status_code == 404
    assert AppliedLabel.objects.count() == 0
