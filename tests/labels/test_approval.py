"""Labels from records: what they say, what they wait for, what an approved issue fixes."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import DatabaseError, transaction

from formulas.actions.formulas import next_version, save_version
from formulas.models import FormulaVersion, SubstanceName
from labels.actions import (
    approve_label,
    change_label,
    confirm_all,
    confirm_fact_on,
    draft_label,
    judge_caution,
    name_substance,
    withdraw_label,
)
from labels.assembly import assemble_one, current_issues, differences
from labels.contributions import digests_hold, today
from labels.models import Label, LabelIssue
from labels.preview import preview
from labels.proof import proof_of
from makers.actions import entries_about
from makers.guards import lifted
from makers.models import Maker
from tests.cast import Cast
from tests.labels.factories_labels import (
    approved,
    compose,
    confirm_everything,
    make_balm,
    make_product,
    make_substance,
    make_version,
    material,
)

pytestmark = pytest.mark.django_db


def paper_of(label: Label):  # type: ignore[no-untyped-def]  # the type is the function's own
    """The label of today; there must be one."""
    paper = assemble_one(Label.objects.get(pk=label.pk))
    assert paper is not None
    return paper


def test_a_balm_for_the_eu_lists_descending_and_says_net_quantity_and_date(cast: Cast) -> None:
    """Shares: sunflower 50 x 0.995 = 49.75, shea 28, wax 22, tocopherol 0.25; Art. 19(1)(b), (c), (g)."""
    label = draft_label(cast.owner, product=make_balm(cast.owner), market="EU")

    paper = paper_of(label)

    assert paper.declaration.text == (
        "Ingredients: Helianthus Annuus Seed Oil, Butyrospermum Parkii Butter, Cera Alba, Tocopherol"
    )
    assert paper.printed["net quantity"] == "50 g"
    assert paper.printed["keeps"] == "date with each batch, 18 months from making"
    assert [one.key for one in paper.missing] == []
    assert proof_of(paper).layout.fits


def test_a_balm_for_the_us_has_us_names_and_both_systems(cast: Cast) -> None:
    """50 g / 28.349523125 = 1.7637 oz, down to 1.7; Beeswax for Cera Alba (21 CFR 701.3(c))."""
    label = draft_label(cast.owner, product=make_balm(cast.owner), market="US", origin="Made in Ireland")

    paper = paper_of(label)

    assert paper.printed["net quantity"] == "Net Wt 1.7 oz (50 g)"
    assert "Beeswax" in paper.declaration.names
    assert "Cera Alba" not in paper.declaration.names


def cream(cast: Cast, *, allergens: bool = True) -> Label:
    """A cream with water, a preservative blend and lavender oil."""
    maker = cast.maker
    water = material(maker, "Water", ("Aqua", "100"))
    shea = material(maker, "Shea", ("Butyrospermum Parkii Butter", "100"))
    blend = material(
        maker, "Preservative", ("Benzyl Alcohol", "87"), ("Dehydroacetic Acid", "8"), ("Aqua", "5")
    )
    lavender = material(
        maker,
        "Lavender oil",
        ("Lavandula Angustifolia Oil", "100"),
        within=[("Linalool", "45"), ("Coumarin", "0.2")] if allergens else [],
        stated=allergens,
        is_perfume=True,
    )
    lines = [
        (water, "78.7", ""),
        (shea, "20", ""),
        (blend, "1", "preservative"),
        (lavender, "0.3", "perfume"),
    ]
    product = make_product(cast.owner, make_version(cast.owner, "Eelmere cream", lines, form="cream"))
    return draft_label(cast.owner, product=product, market="EU")


def test_a_cream_names_its_preservative_and_the_perfume_allergens_above_the_threshold(cast: Cast) -> None:
    """0.3 x 45 % = 0.135 % linalool is named above 0.001 %; coumarin 0.0006 % is not (Reg (EU) 2023/1545)."""
    paper = paper_of(cream(cast))

    names = paper.declaration.names
    assert names[:2] == ("Aqua", "Butyrospermum Parkii Butter")
    assert "Benzyl Alcohol" in names
    assert "Parfum" in names
    assert "Linalool" in names
    assert "Coumarin" not in names
    assert "Coumarin" in [one.name for one in paper.declaration.left_out]


def test_a_perfume_whose_allergens_nobody_stated_keeps_the_label_from_approval(cast: Cast) -> None:
    """Unknown is never zero."""
    label = cream(cast, allergens=False)
    confirm_everything(cast.owner, label)

    with pytest.raises(ValidationError, match="what allergens it holds"):
        approve_label(cast.owner, label=label)


def test_an_unknown_composition_blocks_approval_and_is_drawn_as_a_gap(cast: Cast) -> None:
    base = material(cast.maker, "Mystery base")
    version = make_version(cast.owner, "Mystery balm", [(base, "100", "")])
    label = draft_label(cast.owner, product=make_product(cast.owner, version), market="EU")

    proof = proof_of(paper_of(label))

    assert not proof.paper.declaration.is_complete
    assert "ingredients missing here" in [gap.text for gap in proof.layout.gaps]
    with pytest.raises(ValidationError, match="Waits"):
        approve_label(cast.owner, label=label)


def test_facts_from_memory_block_until_they_are_confirmed_and_count_for_other_labels(cast: Cast) -> None:
    label = draft_label(cast.owner, product=make_balm(cast.owner), market="US", origin="Made in Ireland")
    waiting = paper_of(label).waiting
    assert waiting
    with pytest.raises(ValidationError, match="from memory"):
        approve_label(cast.owner, label=label)

    first, *others = [(fact.key, fact.text) for fact in waiting]
    confirm_fact_on(cast.worker, label=label, key=first[0], text=first[1], basis="eCFR, title 21")
    if others:
        confirm_all(cast.worker, label=label, facts=others, basis="eCFR, title 21")

    assert paper_of(label).waiting == ()
    assert approve_label(cast.owner, label=label).number == 1


def test_a_confirmation_needs_a_basis_and_words_the_label_rests_on(cast: Cast) -> None:
    label = draft_label(cast.owner, product=make_balm(cast.owner), market="US")
    fact = paper_of(label).waiting[0]

    with pytest.raises(ValidationError, match="checked it against"):
        confirm_fact_on(cast.owner, label=label, key=fact.key, text=fact.text, basis="  ")
    with pytest.raises(ValidationError, match="no longer rests"):
        confirm_fact_on(cast.owner, label=label, key=fact.key, text="Other words.", basis="a sheet")


def issue_of(cast: Cast, market: str = "EU") -> LabelIssue:
    """An approved balm label."""
    label = draft_label(cast.owner, product=make_balm(cast.owner), market=market)
    confirm_everything(cast.owner, label)
    return approve_label(cast.owner, label=label)


def test_approval_freezes_the_version_the_compositions_and_a_pdf(cast: Cast) -> None:
    issue = issue_of(cast)

    label = issue.label
    paper = paper_of(label)
    assert label.state == "approved"
    assert FormulaVersion.objects.get(pk=issue.version_id).is_frozen
    assert all(one.frozen_at for one in paper.compositions)
    assert issue.compositions == sorted(str(one.uuid) for one in paper.compositions)
    assert issue.pdf is not None
    assert issue.pdf.content_type == "application/pdf"
    assert digests_hold(cast.maker) == []
    assert "label.approved" in [one.action for one in entries_about(cast.maker, label.uuid)]


def test_an_issue_never_changes(cast: Cast) -> None:
    """The model refuses, and so does the database."""
    issue = issue_of(cast)

    with pytest.raises(TypeError):
        issue.save()
    with pytest.raises(DatabaseError), transaction.atomic():
        LabelIssue.objects.filter(pk=issue.pk).update(declaration="Ingredients: Aqua")


def test_a_label_of_a_draft_version_waits_for_the_formula(cast: Cast) -> None:
    wax = material(cast.maker, "Wax", ("Cera Alba", "100"))
    version = make_version(cast.owner, "Draft balm", [(wax, "100", "")], approve=False)
    label = draft_label(cast.owner, product=make_product(cast.owner, version), market="EU")

    with pytest.raises(ValidationError, match="approve the formula first"):
        approve_label(cast.owner, label=label)


def test_a_label_goes_stale_when_an_approved_version_says_something_else(cast: Cast) -> None:
    issue = issue_of(cast)
    assert differences(issue, paper_of(issue.label).printed) == ()
    formula = issue.version.formula
    version = next_version(cast.owner, formula=formula)
    things = [line.ingredient for line in issue.version.lines.order_by("position")]
    lines = [
        {"ingredient": thing, "kind": "percent", "percent": Decimal(percent)}
        for thing, percent in zip(things, ("20", "50", "30"), strict=True)
    ]
    version = save_version(
        cast.owner, version=version, phases=[{"letter": "A", "name": "", "lines": lines}], edit=None
    )
    assert differences(issue, paper_of(issue.label).printed) == ()

    approved(cast.owner, version)

    assert differences(issue, paper_of(issue.label).printed) == ("ingredients",)
    items = today(cast.maker, cast.owner.today())
    assert [item.mark for item in items] == ["stale"]


def test_changing_the_texts_makes_a_draft_and_a_second_issue(cast: Cast) -> None:
    issue = issue_of(cast)

    label = change_label(cast.owner, label=issue.label, extra="Not for children.")
    assert label.state == "draft"
    again = approve_label(cast.owner, label=label)

    assert again.number == 2
    assert current_issues(cast.maker, [label.pk])[label.pk] == again
    assert LabelIssue.objects.get(pk=issue.pk).snapshot["printed"]["more"] == ""


def test_a_stale_form_is_noticed(cast: Cast) -> None:
    label = draft_label(cast.owner, product=make_balm(cast.owner), market="EU")
    change_label(cast.owner, label=label, edit=label.edit, extra="One")

    with pytest.raises(ValidationError, match="changed since you opened it"):
        change_label(cast.owner, label=label, edit=label.edit, extra="Two")


def test_a_withdrawn_label_has_no_issue_in_force_and_can_be_taken_up_again(cast: Cast) -> None:
    issue = issue_of(cast)

    withdraw_label(cast.owner, label=issue.label, why="Another jar.")
    assert current_issues(cast.maker, [issue.label_id]) == {}
    label = draft_label(cast.owner, product=issue.label.product, market="EU")

    assert (label.pk, label.state) == (issue.label_id, "draft")


def test_a_market_without_rules_is_refused_and_a_label_stands_once(cast: Cast) -> None:
    product = make_balm(cast.owner)
    draft_label(cast.owner, product=product, market="EU")

    with pytest.raises(ValidationError, match="No rules for Canada"):
        draft_label(cast.owner, product=product, market="CA")
    with pytest.raises(ValidationError, match="has a label"):
        draft_label(cast.owner, product=product, market="EU")


def test_a_plant_without_a_us_name_is_cured_by_the_makers_own_name_alone(cast: Cast) -> None:
    substance = make_substance("Sambucus Nigra Fruit Oil", us_name="")
    oil = material(cast.maker, "Elder oil", ("Sambucus Nigra Fruit Oil", "100"))
    product = make_product(cast.owner, make_version(cast.owner, "Elder oil balm", [(oil, "100", "")]))
    label = draft_label(cast.owner, product=product, market="US")
    assert [one.problem != "" for one in paper_of(label).names] == [True]

    name_substance(
        cast.owner,
        substance=substance,
        market="US",
        name="Sambucus Nigra (Elder) Fruit Oil",
        source="a handbook",
    )

    assert paper_of(label).declaration.names == ("Sambucus Nigra (Elder) Fruit Oil",)
    substance.refresh_from_db()
    assert substance.us_name == ""
    assert SubstanceName.objects.for_maker(cast.stranger.maker).count() == 0


def test_a_us_label_without_the_containers_measures_says_so(cast: Cast) -> None:
    product = make_balm(cast.owner, width_mm=None, height_mm=None)
    label = draft_label(cast.owner, product=product, market="US")

    assert any("container's measures" in words for words in paper_of(label).waits)


def test_texts_that_do_not_fit_are_said_and_not_cut(cast: Cast) -> None:
    label = draft_label(cast.owner, product=make_balm(cast.owner), market="EU")
    label = change_label(cast.owner, label=label, width_mm=Decimal(20), height_mm=Decimal(12))

    proof = proof_of(paper_of(label))

    assert not proof.layout.fits
    assert any("Make the label" in words for words in proof.waits)
    assert (
        "".join(item.text for item in proof.layout.items if item.kind == "text").count("Butyrospermum") == 1
    )


def test_a_reader_and_nobody_else_is_kept_from_writing(cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        draft_label(cast.reader, product=make_balm(cast.owner), market="EU")


def test_the_review_of_a_formula_shows_each_markets_list_as_a_note(cast: Cast) -> None:
    from formulas.actions.formulas import Seen, review_version

    version = make_balm(cast.owner).formula.versions.get()
    reviewed = review_version(cast.maker, version)

    notes = [one for one in reviewed.findings if one.rule == "label.preview"]
    assert {one.subject for one in notes} == {"Label, EU", "Label, US"}
    assert {one.severity for one in reviewed.findings if one.rule.startswith("label.")} == {"note"}
    assert preview(version, Seen(reviewed.asked, reviewed.paper))


def test_what_the_us_prohibit_stops_a_formula_that_is_sold_there_alone(cast: Cast) -> None:
    """21 CFR 700.18: chloroform. A maker who sells in the EU alone hears of the EU's tables."""
    from formulas.actions.formulas import review_version

    wax = material(cast.maker, "Rice wax", ("Oryza Sativa Cera", "100"))
    solvent = material(cast.maker, "Solvent", ("Chloroform", "100"))
    version = make_version(cast.owner, "Odd balm", [(wax, "99", ""), (solvent, "1", "")], approve=False)

    def us_rules() -> list[tuple[str, str]]:
        reviewed = review_version(cast.maker, version)
        return [(one.rule, one.severity) for one in reviewed.findings if one.rule.startswith("us.")]

    assert us_rules() == [("us.prohibited", "stop")]
    cast.maker.markets = ["EU"]
    cast.maker.save()
    version.refresh_from_db()
    assert us_rules() == []


def test_two_ranges_that_could_flip_are_said_in_the_review(cast: Cast) -> None:
    from formulas.actions.formulas import review_version

    base = material(cast.maker, "Base", ("Cera Alba", "40", "60"), ("Tocopherol", "40", "60"))
    version = make_version(cast.owner, "Flip", [(base, "100", "")])

    rules = [one.rule for one in review_version(cast.maker, version).findings]

    assert "label.order" in rules


def test_a_new_composition_of_the_supplier_makes_the_label_stale(cast: Cast) -> None:
    issue = issue_of(cast)
    oil = issue.version.lines.get(percent=Decimal(50)).ingredient

    compose(oil, ("Helianthus Annuus Seed Oil", "99"), ("Tocopherol", "0.5"), ("Citric Acid", "0.5"))

    assert differences(issue, paper_of(issue.label).printed) == ("ingredients",)


def test_the_open_jar_stands_where_a_product_keeps_longer_than_thirty_months(cast: Cast) -> None:
    """Reg (EC) 1223/2009 Art. 19(1)(c)."""
    label = draft_label(cast.owner, product=make_balm(cast.owner, life_months=36), market="EU")

    proof = proof_of(paper_of(label))

    assert [item.text for item in proof.layout.items if item.kind == "jar"] == ["12M"]


def test_another_maker_has_no_labels(cast: Cast) -> None:
    issue_of(cast)
    other: Maker = cast.stranger.maker

    assert today(other, cast.stranger.today()) == []
    assert current_issues(other, list(Label.objects.values_list("pk", flat=True))) == {}


def nappy_label(cast: Cast) -> Label:
    """A balm with propylparaben, whose words Annex V 12a asks for only on products for small children."""
    oil = material(cast.maker, "Oil", ("Helianthus Annuus Seed Oil", "100"))
    paraben = material(cast.maker, "Preservative", ("Propylparaben", "100"))
    version = make_version(cast.owner, "Kept balm", [(oil, "99.9", ""), (paraben, "0.1", "preservative")])
    return draft_label(cast.owner, product=make_product(cast.owner, version), market="EU")


def test_a_conditional_caution_waits_until_it_is_judged(cast: Cast) -> None:
    """Reg (EC) 1223/2009 Annex V 12a: "Do not use on the nappy area" on leave-on products for under 3."""
    label = nappy_label(cast)
    [caution] = paper_of(label).open_cautions
    assert caution.text == "Do not use on the nappy area"
    confirm_everything(cast.owner, label)
    with pytest.raises(ValidationError, match="Is “Do not use on the nappy area” needed"):
        approve_label(cast.owner, label=label)

    with pytest.raises(ValidationError, match="Say why"):
        judge_caution(cast.owner, label=label, key=caution.key, why=" ")
    judge_caution(cast.owner, label=label, key=caution.key, why="A foot balm for adults.")

    assert paper_of(label).open_cautions == ()
    issue = approve_label(cast.owner, label=label)
    assert "A foot balm for adults." in [one["basis"] for one in issue.snapshot["confirmations"]]
    with pytest.raises(ValidationError, match="doesn't wait"):
        judge_caution(cast.owner, label=label, key=caution.key, why="Again.")


def test_a_conditional_caution_that_is_printed_waits_for_nothing(cast: Cast) -> None:
    label = nappy_label(cast)
    [caution] = paper_of(label).open_cautions

    change_label(cast.owner, label=label, cautions=caution.text)

    assert paper_of(label).open_cautions == ()
    assert "cautions" not in [one.key for one in paper_of(label).missing]


def test_a_us_foaming_bath_is_drafted_with_its_fixed_words(cast: Cast) -> None:
    """21 CFR 740.17."""
    label = draft_label(
        cast.owner,
        product=make_balm(cast.owner),
        market="US",
        product_groups=["foaming bath"],
        origin="Made in Ireland",
    )

    assert "Use only as directed" in label.cautions
    change_label(cast.owner, label=label, cautions="Keep away from cats.")

    assert "cautions" in [one.key for one in paper_of(label).missing]


def test_great_britain_asks_for_somebody_there_unless_the_easement_holds(cast: Cast) -> None:
    """EU particulars may stand in until 31 December 2027 (guidance, May 2023)."""
    label = draft_label(cast.owner, product=make_balm(cast.owner), market="GB", origin="Made in Ireland")
    assert "responsible" in [one.key for one in paper_of(label).missing]

    change_label(cast.owner, label=label, placed_from=date(2027, 1, 1))

    assert "responsible" not in [one.key for one in paper_of(label).missing]


def test_the_record_check_names_an_issue_that_was_tampered_with(cast: Cast) -> None:
    """With the guards lifted, as only somebody with the database in hand could."""
    issue = issue_of(cast)

    with lifted():
        LabelIssue.objects.filter(pk=issue.pk).update(declaration="Ingredients: Aqua")

    [fault] = digests_hold(cast.maker)
    assert "digest" in fault.text
