"""What may be written down about ingredients, suppliers and compositions, and what is refused."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, transaction
from django.db.models.signals import post_migrate
from django.utils import timezone

from formulas.actions.ingredients import (
    add_composition,
    add_ingredient,
    add_price,
    add_source,
    add_substance,
    add_supplier,
    add_use_level,
    change_ingredient,
    change_supplier,
    confirm_composition,
    confirm_fact,
    confirm_use_level,
    copy_from_catalogue,
    find_substance,
    prefer_source,
    remove_use_level,
)
from formulas.assembly import in_force
from formulas.models import Composition, Formula, Ingredient, Source, Substance, Supplier, UseLevel
from formulas.overview import overview, short_keys, stock_of, with_paper
from formulas.reference import load_reference
from formulas.rules.catalogue import catalogue, catalogue_by_key, substances
from makers import registries
from makers.actions import By, Refused
from makers.models import JournalEntry
from makers.registries import Registry, StockSource
from tests.cast import Cast, make_member
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_source,
    make_supplier,
    part,
    substance,
)


def newest(by: By) -> JournalEntry:
    """The last line of the journal."""
    entry: JournalEntry = JournalEntry.objects.filter(maker=by.maker).order_by("-number")[0]
    return entry


def lines(by: By) -> int:
    """How many lines the journal has."""
    return JournalEntry.objects.filter(maker=by.maker).count()


def refusal(error: pytest.ExceptionInfo[Any]) -> str:
    """The sentences of a refusal."""
    return " ".join(error.value.messages)


# -- the shared reference


@pytest.mark.django_db
def test_reference_substances_are_there_after_migrating() -> None:
    """Every row of the data file is a shared substance, and loading again changes nothing."""
    shared = Substance.objects.filter(maker=None)

    assert shared.count() == len(substances())
    assert load_reference() == 0


@pytest.mark.django_db
def test_reference_substances_come_back_after_the_tables_were_emptied() -> None:
    """Whatever empties the database and says that it migrated finds the reference in place."""
    Substance.objects.filter(maker=None).delete()
    world = apps.get_app_config("formulas")

    post_migrate.send(sender=world, app_config=world, verbosity=0, interactive=False, using="default")

    assert Substance.objects.filter(maker=None).count() == len(substances())


@pytest.mark.django_db
def test_a_changed_data_file_changes_its_row_alone() -> None:
    """Loading brings a row that differs back to the file and leaves the others."""
    Substance.objects.filter(maker=None, key="glycerin").update(function="something else")

    assert load_reference() == 1
    assert substance("Glycerin").function != "something else"


# -- ingredients and their facts


def test_an_ingredient_gets_a_code_and_each_fact_its_basis(by: By) -> None:
    """What was given rests on what the maker says; what was not given has no basis, for it is unknown."""
    row = add_ingredient(
        by,
        name="Rosehip oil",
        form="liquid",
        add_below_c=Decimal(40),
        basis="supplier",
        basis_source="Sheet, 2025",
    )

    assert row.code == "I-001"
    assert row.facts["add_below_c"]["basis"] == "supplier"
    assert row.facts["add_below_c"]["source"] == "Sheet, 2025"
    assert row.facts["form"]["by"] == str(by.user)
    assert "density_g_ml" not in row.facts
    assert row.density_g_ml is None
    assert newest(by).action == "ingredient.added"


def test_a_name_is_given_once(by: By) -> None:
    """The second ingredient of a name is refused, and nothing of it stays."""
    make_ingredient(by, "Shea butter")
    before = lines(by)

    with pytest.raises(Exception, match="There is an ingredient of that name"):
        make_ingredient(by, "Shea butter")

    assert lines(by) == before
    assert Ingredient.objects.for_maker(by.maker).count() == 1


def test_a_form_sent_twice_adds_one_ingredient(by: By) -> None:
    """The second sending of the same form gives back the first record."""
    key = uuid4()

    first = add_ingredient(by, name="Castor oil", entry_key=key)
    second = add_ingredient(by, name="Castor oil", entry_key=key)

    assert first == second
    assert Ingredient.objects.for_maker(by.maker).count() == 1


def test_a_reader_writes_nothing(cast: Cast) -> None:
    """Every action refuses a reader."""
    row = make_ingredient(cast.owner)

    for act in (
        lambda: add_ingredient(cast.reader, name="Beeswax"),
        lambda: change_ingredient(cast.reader, ingredient=row, note="x"),
        lambda: add_supplier(cast.reader, name="Dunlin"),
        lambda: make_composition(cast.reader, row),
        lambda: add_substance(cast.reader, inci_name="Reed Root Extract"),
        lambda: copy_from_catalogue(cast.reader, key=catalogue()[0].key),
    ):
        with pytest.raises(PermissionDenied):
            act()

    assert Ingredient.objects.for_maker(cast.maker).count() == 1


def test_a_stranger_cannot_change_it(cast: Cast) -> None:
    """Another maker's member does not find the ingredient."""
    row = make_ingredient(cast.owner)

    with pytest.raises(Ingredient.DoesNotExist):
        change_ingredient(cast.stranger, ingredient=row, note="mine now")


def test_a_stranger_adds_no_source_to_it(cast: Cast) -> None:
    """The database refuses a source of one maker's ingredient in another maker's book."""
    row = make_ingredient(cast.owner)
    supplier = make_supplier(cast.stranger)

    with pytest.raises(DatabaseError), transaction.atomic():
        add_source(cast.stranger, ingredient=row, supplier=supplier)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (
            {"ph_low": Decimal("7.5"), "ph_high": Decimal(4)},
            "pH range is the wrong way round: 7.5 is above 4",
        ),
        (
            {"melting_low_c": Decimal(40), "melting_high_c": Decimal(30)},
            "melting range is the wrong way round",
        ),
        ({"density_g_ml": Decimal("0.9")}, "A density of what"),
        ({"density_g_ml": Decimal(0), "density_kind": "liquid"}, "A density is above 0"),
        ({"ph_low": Decimal(15)}, "pH runs from 0 to 14"),
        ({"low_stock_g": Decimal(-1)}, "low-stock level is 0 g or more"),
    ],
)
def test_figures_that_cannot_be_are_refused(by: By, fields: dict[str, Any], words: str) -> None:
    """Ranges run upwards, and every figure has bounds."""
    with pytest.raises(Exception, match=words):
        make_ingredient(by, **fields)


def test_a_changed_fact_rests_on_what_is_said_now(by: By) -> None:
    """A change renews the basis of what changed and leaves the other facts' basis."""
    row = copy_from_catalogue(by, key="shea-butter")
    before = row.facts["density_g_ml"]

    changed = change_ingredient(
        by, ingredient=row, melting_low_c=Decimal(33), basis="supplier", basis_source="Certificate of May"
    )

    assert changed.facts["melting_low_c"]["basis"] == "supplier"
    assert changed.facts["melting_low_c"]["source"] == "Certificate of May"
    assert changed.facts["density_g_ml"] == before
    assert newest(by).change["values"] == {"melting_low_c": "33"}


def test_a_fact_taken_away_is_unknown_and_rests_on_nothing(by: By) -> None:
    """An emptied figure loses its basis too."""
    row = make_ingredient(by, add_below_c=Decimal(40))

    changed = change_ingredient(by, ingredient=row, add_below_c=None)

    assert changed.add_below_c is None
    assert "add_below_c" not in changed.facts


def test_a_change_that_changes_nothing_is_not_written_down(by: By) -> None:
    """Sending a form back untouched leaves no line in the journal."""
    row = make_ingredient(by, note="as it is")
    before = lines(by)

    change_ingredient(by, ingredient=row, note="as it is")

    assert lines(by) == before


def test_a_stale_change_says_who_changed_it_to_what(cast: Cast) -> None:
    """A field that somebody changed meanwhile is not overwritten unseen."""
    row = make_ingredient(cast.owner, add_below_c=Decimal(40))
    change_ingredient(cast.worker, ingredient=row, add_below_c=Decimal(45))

    with pytest.raises(Refused) as error:
        change_ingredient(
            cast.owner, ingredient=row, was={"add_below_c": Decimal(40)}, add_below_c=Decimal("37.5")
        )

    assert "Tam Reed changed it to 45 at" in refusal(error)
    assert "you wrote 37.5" in refusal(error)
    row.refresh_from_db()
    assert row.add_below_c == Decimal(45)


def test_two_people_change_different_fields(cast: Cast) -> None:
    """Neither undoes the other."""
    row = make_ingredient(cast.owner, add_below_c=Decimal(40), note="")
    change_ingredient(cast.worker, ingredient=row, was={"note": ""}, note="smells of hay")
    change_ingredient(cast.owner, ingredient=row, was={"add_below_c": Decimal(40)}, add_below_c=Decimal(35))

    row.refresh_from_db()
    assert (row.note, row.add_below_c) == ("smells of hay", Decimal(35))


def test_no_ingredient_is_made_from_a_formula_that_contains_it(by: By) -> None:
    """A circle is refused, also through another in-house ingredient."""
    from formulas.models import FormulaVersion, Line, Phase

    oil, infusion = make_ingredient(by, "Oil"), make_ingredient(by, "Infusion")
    formulas = []
    for name, inside in (("Steeping", oil), ("Balm", infusion)):
        formula = Formula.objects.create(maker=by.maker, code=name, name=name, kind="leave-on", form="balm")
        version = FormulaVersion.objects.create(
            maker=by.maker, formula=formula, number=1, made_at=timezone.now()
        )
        phase = Phase.objects.create(maker=by.maker, version=version, letter="A", position=1)
        Line.objects.create(
            maker=by.maker, version=version, phase=phase, position=1, ingredient=inside, percent=Decimal(100)
        )
        formulas.append(formula)
    change_ingredient(by, ingredient=infusion, made_from=formulas[0])

    for formula in formulas:
        with pytest.raises(Refused, match="contains Oil already"):
            change_ingredient(by, ingredient=oil, made_from=formula)


def test_a_fact_from_memory_is_confirmed_by_whom_and_against_what(by: By) -> None:
    """Confirming keeps the figure and changes what it rests on; the same words again change nothing."""
    row = copy_from_catalogue(by, key="shea-butter")
    before = row.form
    assert row.facts["form"]["basis"] == "memory"

    row = confirm_fact(by, ingredient=row, field="form", basis="Looked at the drum")
    count = lines(by)
    again = confirm_fact(by, ingredient=row, field="form", basis="Looked at the drum")

    assert row.form == before
    assert row.facts["form"]["basis"] == "confirmed"
    assert row.facts["form"]["by"] == str(by.user)
    assert row.facts["form"]["at"]
    assert again.facts == row.facts
    assert lines(by) == count


@pytest.mark.parametrize(
    ("field", "basis", "words"),
    [
        ("form", " ", "Say against what"),
        ("name", "sheet", "no fact to confirm"),
        ("add_below_c", "sheet", "not known yet"),
    ],
)
def test_a_confirmation_needs_a_basis_and_a_figure(by: By, field: str, basis: str, words: str) -> None:
    """Nothing is confirmed against nothing, and the unknown can't be confirmed."""
    row = make_ingredient(by, form="liquid")

    with pytest.raises(Refused, match=words):
        confirm_fact(by, ingredient=row, field=field, basis=basis)


# -- the catalogue


def test_a_copy_brings_facts_composition_and_use_level_with_their_basis(by: By) -> None:
    """Figures seen in a source are "read", the rest is memory; both name where they are from."""
    row = copy_from_catalogue(by, key="cocoa-butter")

    assert row.name == "Cocoa butter"
    assert row.melting_low_c == Decimal(30)
    assert row.facts["melting_low_c"]["basis"] == "read"
    assert row.facts["density_g_ml"]["basis"] == "memory"
    assert row.facts["density_g_ml"]["source"]
    level = row.use_levels.get()
    assert (level.low, level.high, level.basis) == (Decimal(5), Decimal(80), "memory")
    composition = row.compositions.get()
    assert composition.basis == "memory"
    assert [str(one.substance) for one in composition.constituents.all()] == ["Theobroma Cacao Seed Butter"]
    assert newest(by).action == "ingredient.copied"


@pytest.mark.django_db
def test_every_material_of_the_catalogue_can_be_copied(by: By) -> None:
    """None is refused, and none loses a constituent on the way."""
    for material in catalogue():
        row = copy_from_catalogue(by, key=material.key)

        assert row.compositions.get().constituents.exists(), material.key
        assert set(row.roles) == {material.role}


def test_an_essential_oil_brings_what_it_contains_within(by: By) -> None:
    """Its allergens are within, and the supplier has not stated them yet."""
    row = copy_from_catalogue(by, key="lavender-oil")

    composition = row.compositions.get()
    within = composition.constituents.filter(kind="within")
    assert row.is_perfume
    assert within.filter(substance__key="linalool").exists()
    assert not composition.allergens_stated


def test_a_material_is_copied_once_under_a_name(by: By) -> None:
    """A second copy wants another name, and gets along with it."""
    copy_from_catalogue(by, key="shea-butter")

    with pytest.raises(Refused, match="Give the copy another name"):
        copy_from_catalogue(by, key="shea-butter")
    second = copy_from_catalogue(by, key="shea-butter", name="Shea butter, raw")

    assert second.name == "Shea butter, raw"
    assert Ingredient.objects.for_maker(by.maker).count() == 2


def test_what_is_not_in_the_catalogue_is_not_copied(by: By) -> None:
    """An unknown key is refused."""
    with pytest.raises(Refused, match="not in the catalogue"):
        copy_from_catalogue(by, key="unobtainium")


# -- suppliers, sources, prices


def test_the_first_source_is_the_preferred_one_and_one_alone_is(by: By) -> None:
    """Reviews always go by exactly one source."""
    row = make_ingredient(by)
    first, second = make_source(by, row), make_source(by, row)

    prefer_source(by, source=second)

    first.refresh_from_db()
    assert not first.preferred
    assert row.sources.get(preferred=True) == second


def test_an_article_of_a_supplier_is_written_once(by: By) -> None:
    """The same article again is refused; another article of the same supplier is not."""
    row = make_ingredient(by)
    source = make_source(by, row, article_code="R-10")

    with pytest.raises(Exception, match="already here"):
        add_source(by, ingredient=row, supplier=source.supplier, article_code="R-10")
    add_source(by, ingredient=row, supplier=source.supplier, article_code="R-11")

    assert row.sources.count() == 2


def test_a_supplier_is_changed_and_the_journal_says_what(by: By) -> None:
    """Only the fields that differ are written down; a repeat writes nothing."""
    supplier = make_supplier(by, "Dunlin")

    change_supplier(by, supplier=supplier, name="Dunlin Oils", country="")
    count = lines(by)
    change_supplier(by, supplier=supplier, name="Dunlin Oils")

    assert newest(by).change["fields"] == "name"
    assert lines(by) == count
    assert Supplier.objects.get(pk=supplier.pk).name == "Dunlin Oils"


def test_a_price_is_in_the_makers_currency_and_written_once(by: By) -> None:
    """The same form twice is one price; a pack of nothing is refused."""
    source, key = make_source(by, make_ingredient(by)), uuid4()
    for _ in range(2):
        price = add_price(
            by,
            source=source,
            on=date(2025, 4, 1),
            amount=Decimal("46.00"),
            pack_g=Decimal(1000),
            entry_key=key,
        )

    assert price.currency == by.maker.currency
    assert source.prices.count() == 1
    with pytest.raises(Exception, match="above 0 g"):
        add_price(by, source=source, on=date(2025, 4, 1), amount=Decimal(1), pack_g=Decimal(0))


# -- use levels


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(None, None, "at least one end"), ("3", "2", "above the upper"), (None, "101", "between 0 and 100")],
)
def test_a_use_level_is_a_range(by: By, low: str | None, high: str | None, words: str) -> None:
    """It has an end, runs upwards and stays within 0 to 100 %."""
    ends = {"low": low and Decimal(low), "high": high and Decimal(high)}

    with pytest.raises(Exception, match=words):
        add_use_level(by, ingredient=make_ingredient(by), source="sheet", **ends)  # type: ignore[arg-type]


def test_a_use_level_is_confirmed_and_taken_off_with_a_reason(by: By) -> None:
    """The journal keeps what it was."""
    row = copy_from_catalogue(by, key="cocoa-butter")
    level = row.use_levels.get()

    confirmed = confirm_use_level(by, level=level, basis="Sheet of 2025-02")
    assert (confirmed.basis, confirmed.source, confirmed.high) == (
        "confirmed",
        "Sheet of 2025-02",
        Decimal(80),
    )
    with pytest.raises(Refused, match="Say why"):
        remove_use_level(by, level=level, why=" ")
    remove_use_level(by, level=level, why="The supplier changed it")
    remove_use_level(by, level=level, why="The supplier changed it")

    assert not UseLevel.objects.filter(pk=level.pk).exists()
    assert Decimal(newest(by).change["high"]) == 80
    assert newest(by).why == "The supplier changed it"


# -- substances


def test_a_substance_of_ones_own_stands_beside_the_shared_ones(cast: Cast) -> None:
    """It is found by its maker alone, however its name is written."""
    made = add_substance(cast.owner, inci_name="Eelmere Reed Root Extract")

    assert find_substance(cast.owner, "eelmere REED root extract") == made
    assert find_substance(cast.stranger, "Eelmere Reed Root Extract") is None
    assert made.basis == "confirmed"


def test_a_name_that_the_reference_has_is_not_added_again(by: By) -> None:
    """The refusal says under which name it is known."""
    with pytest.raises(Refused, match="as Glycerin"):
        add_substance(by, inci_name="GLYCERIN")


def test_a_name_in_any_script_is_kept(by: By) -> None:
    """Names without Latin letters are different substances."""
    first, second = (add_substance(by, inci_name=name) for name in ("ヨモギ葉エキス", "甘草根エキス"))

    assert first.key != second.key
    assert find_substance(by, "ヨモギ葉エキス") == first


# -- compositions


def test_two_suppliers_of_one_ingredient_are_told_apart(by: By) -> None:
    """Each source has its own composition, numbered through; reviews go by the preferred one's."""
    row = make_ingredient(by, "Olive emulsifier")
    first, second = make_source(by, row, "Alder"), make_source(by, row, "Birch")
    of_first = make_composition(by, row, part("Glycerin", "60"), part("Aqua", "40"), source=first)
    of_second = make_composition(by, row, part("Glycerin", "55"), part("Aqua", "45"), source=second)

    assert (of_first.number, of_second.number) == (1, 2)
    assert in_force(row.compositions.select_related("source")) == of_first
    prefer_source(by, source=second)
    assert in_force(row.compositions.select_related("source")) == of_second
    assert in_force(row.compositions.select_related("source"), source_id=first.pk) == of_first


def test_the_next_composition_leaves_the_one_before_as_it_was(by: By) -> None:
    """A new sheet is a new number; a frozen one can't be edited by anybody."""
    row = make_ingredient(by)
    old = make_composition(by, row, part("Glycerin", "99.5"), part("Aqua", "0.5"))
    Composition.objects.filter(pk=old.pk).update(frozen_at=timezone.now())
    new = make_composition(by, row, part("Glycerin", "86.5"), part("Aqua", "13.5"))

    assert new.number == 2
    assert old.constituents.get(substance__key="aqua").typical == Decimal("0.5")
    with pytest.raises(DatabaseError), transaction.atomic():
        old.constituents.update(typical=Decimal(1))


def test_the_order_alone_is_a_composition(by: By) -> None:
    """No figure is needed; what is unknown stays unknown and is never taken for zero."""
    row = make_ingredient(by)
    made = make_composition(
        by, row, part("Aqua", rank=1), part("Glycerin", rank=2), part("Sodium Benzoate", rank=3)
    )

    assert [one.typical for one in made.constituents.all()] == [None, None, None]
    assert [one.rank for one in made.constituents.all()] == [1, 2, 3]


def test_a_composition_that_leaves_a_rest_is_kept_as_not_complete(by: By) -> None:
    """75 % panthenol with the rest not stated is what the supplier said."""
    row = make_ingredient(by)
    make_composition(by, row, part("Panthenol", "75"))

    listed = overview(by.maker, with_paper(Ingredient.objects.for_maker(by.maker)))

    assert (listed[0].paper, listed[0].paper_state) == ("Not complete", "unknown")


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([("Glycerin", {"typical": "80"}), ("Aqua", {"low": "30"})], "the lower ends make 110, 10 over 100"),
        ([("Glycerin", {"low": "60", "high": "40"})], "is above"),
        ([("Glycerin", {"typical": "100"}), ("Glycerin", {})], "already in this composition"),
        ([("Glycerin", {"typical": "100.1"})], "between 0 and 100"),
        ([("Linalool", {"kind": "within", "high": "5"})], "at least one substance that it declares"),
        (
            [("Aqua", {"rank": 1, "high": "20"}), ("Glycerin", {"rank": 2, "low": "30"})],
            "stands after Aqua",
        ),
        ([("Glycerin", {"typical": "100", "incidental": True})], "say why it counts as incidental"),
    ],
)
def test_figures_that_cannot_all_be_true_are_refused(
    by: By, parts: list[tuple[str, dict[str, Any]]], words: str
) -> None:
    """The refusal names the substance, and nothing of the composition stays."""
    figures = {"low", "typical", "high"}
    given = [
        {
            "substance": substance(name),
            **{key: Decimal(value) if key in figures else value for key, value in fields.items()},
        }
        for name, fields in parts
    ]
    row = make_ingredient(by)

    with pytest.raises(Refused) as error:
        add_composition(by, ingredient=row, constituents=given)

    assert words in refusal(error)
    assert not row.compositions.exists()


def test_a_composition_written_meanwhile_is_not_passed_over(by: By) -> None:
    """A form made before somebody's composition is told so; after a look it is written as the next."""
    row = make_ingredient(by)
    make_composition(by, row)

    with pytest.raises(Refused, match="Composition 1 was written meanwhile"):
        make_composition(by, row, part("Aqua", "100"), after=0)
    second = make_composition(by, row, part("Aqua", "100"), after=1)

    assert second.number == 2


def test_a_composition_sent_twice_is_one(by: By) -> None:
    """A double tap writes one composition."""
    row, key = make_ingredient(by), uuid4()

    first = make_composition(by, row, after=0, entry_key=key)
    second = make_composition(by, row, after=0, entry_key=key)

    assert first == second
    assert row.compositions.count() == 1


def test_a_source_of_another_ingredient_is_refused(by: By) -> None:
    """A composition belongs to the ingredient that its source sells."""
    other = make_source(by, make_ingredient(by))

    with pytest.raises(Refused, match="another ingredient"):
        make_composition(by, make_ingredient(by), source=other)


def test_anothers_own_substance_is_refused(cast: Cast) -> None:
    """What one maker added can't stand in another's composition."""
    theirs = add_substance(cast.stranger, inci_name="Eelmere Reed Root Extract")

    with pytest.raises(Refused, match="not one of your substances"):
        add_composition(
            cast.owner, ingredient=make_ingredient(cast.owner), constituents=[{"substance": theirs}]
        )


def test_a_composition_from_memory_is_confirmed_without_touching_a_figure(by: By) -> None:
    """Only what it rests on changes, and the journal keeps what that was."""
    row = copy_from_catalogue(by, key="shea-butter")
    record = row.compositions.get()
    before = list(record.constituents.values_list("substance", "low", "typical", "high"))

    confirmed = confirm_composition(by, composition=record, basis="Specification of May 2025")

    assert (confirmed.basis, confirmed.origin) == ("confirmed", "Specification of May 2025")
    assert list(record.constituents.values_list("substance", "low", "typical", "high")) == before
    assert newest(by).change["was"]["basis"] == "memory"
    with pytest.raises(Refused, match="against what"):
        confirm_composition(by, composition=record, basis="")


# -- words of the list


def test_the_words_of_the_list_find_theirs_and_no_other(by: By, cast: Cast) -> None:
    """Each word brings the rows that it means, and never another maker's."""
    oil = make_ingredient(by, "Rosehip oil", roles=["emollient"])
    wax = make_ingredient(by, "Beeswax", roles=["wax", "thickener"])
    old = make_ingredient(by, "Old stock", active=False)
    make_composition(by, oil, part("Tocopherol", "100"))
    source = make_source(by, wax)
    make_ingredient(cast.stranger, "Beeswax", roles=["wax"])
    rows = Ingredient.objects.for_maker(by.maker)

    assert set(rows.in_use()) == {oil, wax}
    assert set(rows.put_away()) == {old}
    assert set(rows.with_role("thickener")) == {wax}
    assert set(rows.sold_by(source.supplier)) == {wax}
    assert set(rows.found_by("tocoph")) == {oil}
    assert set(rows.found_by("i-002")) == {wax}
    assert set(rows.of_unknown_composition()) == {wax, old}
    assert set(rows.among([oil.pk])) == {oil}


def test_short_is_what_is_free_below_the_level(by: By, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stock comes from the worlds that keep it; at the level is not short, and rejected grams don't count."""
    low, level, none = (
        make_ingredient(by, low_stock_g=Decimal(100)),
        make_ingredient(by, low_stock_g=Decimal(100)),
        make_ingredient(by),
    )
    stock: Registry[StockSource] = Registry("ingredient_stock")
    on_hand = {low.pk: Decimal(500), level.pk: Decimal(100)}
    free = {low.pk: Decimal("99.9"), level.pk: Decimal(100)}
    stock.add(StockSource("shelf", 1, lambda maker, keys: on_hand, lambda maker, keys: free))
    monkeypatch.setattr("formulas.overview.ingredient_stock", stock)

    assert short_keys(by.maker) == [low.pk]
    found = stock_of(by.maker, [low.pk, none.pk])
    assert (found[low.pk].on_hand, found[low.pk].free) == (Decimal(500), Decimal("99.9"))
    assert found[none.pk].on_hand == 0


def test_without_a_world_that_keeps_stock_it_is_not_known(by: By, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is said to be zero where nobody counts."""
    monkeypatch.setattr("formulas.overview.ingredient_stock", Registry[StockSource]("ingredient_stock"))

    row = make_ingredient(by, low_stock_g=Decimal(5))

    assert stock_of(by.maker, [row.pk])[row.pk].on_hand is None
    assert short_keys(by.maker) == []


def test_the_registries_know_ingredients(by: By) -> None:
    """A code leads to the page, names are found, the journal has its sentences, the export its tables."""
    row = make_ingredient(by, "Rosehip oil")
    supplier = make_supplier(by, "Rosehip and Sons")
    make_composition(by, row, part("Tocopherol", "100"))

    found = {hit.title for hit in registries.search_sources["ingredients"].find(by.maker, "rosehip", 9)}
    inside = [hit.title for hit in registries.search_sources["ingredients"].find(by.maker, "tocopherol", 9)]

    assert found == {row.name, supplier.name}
    assert inside == [row.name]
    assert "ingredient" in registries.code_kinds
    assert registries.navigation["ingredients"].view == "formulas:ingredients"
    order = [table.model for table in registries.export_tables if table.model.startswith("formulas.")]
    assert order.index("formulas.Ingredient") < order.index("formulas.Source")
    assert order.index("formulas.Source") < order.index("formulas.Composition")
    assert order.index("formulas.Composition") < order.index("formulas.Constituent")


def test_a_worker_may_do_all_of_it(cast: Cast) -> None:
    """Ingredients are no owner's matter alone."""
    row = copy_from_catalogue(make_member(cast.maker, "worker"), key="beeswax")

    assert row.code == "I-001"
    assert catalogue_by_key()["beeswax"].name.casefold() == row.name.casefold()
    assert Source.objects.for_maker(cast.maker).count() == 0
