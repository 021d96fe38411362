"""The database's own guards, on whichever database the tests run."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Any

import pytest
from django.apps import apps
from django.db import Error, IntegrityError, connection, models, transaction

from formulas.models import Composition, Constituent, Ingredient, Source, Substance, Supplier
from makers import guards
from makers.actions import recording
from makers.actions.checking import guard_faults
from makers.actions.house import add_scale
from makers.actions.journal import chain_faults, digest_of
from makers.models import AppendOnly, Code, JournalEntry, JournalHead, Scale
from tests.cast import Cast, make_cast, make_scale

pytestmark = pytest.mark.django_db
FACTS = [model for model in apps.get_models() if issubclass(model, AppendOnly)]


@pytest.fixture
def cast() -> Cast:
    """The cast."""
    return make_cast()


def refused(act: Callable[[], Any], words: str) -> None:
    """The database refuses, with words that say which guard it was."""
    with pytest.raises(Error) as problem, transaction.atomic():
        act()
    assert words in str(problem.value)


def run(statement: str, *values: Any) -> None:
    """A statement past all models."""
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def write_entries(cast: Cast, count: int = 3) -> list[JournalEntry]:
    """So many entries in the journal."""
    for number in range(count):
        with recording(cast.owner, "scale.changed", why=f"reason {number}") as entry:
            entry.about(cast.maker)
    return list(JournalEntry.objects.for_maker(cast.maker).order_by("number"))


# -- what is declared is what is there


def test_every_declared_guard_is_installed_on_its_table() -> None:
    """The check that the command runs finds nothing to say."""
    assert guard_faults() == []


def test_a_guard_that_was_taken_away_and_one_that_was_put_in_are_named() -> None:
    """Both directions are noticed."""
    lost = guards.declared()[0]
    table = lost.table
    on = f" ON {table}" if connection.vendor == "postgresql" else ""
    run(f"DROP TRIGGER {lost.trigger}{on}")
    stranger = guards.Guard("zz_stranger", table, "BEFORE DELETE", message="no")
    for statement in stranger.postgres() if connection.vendor == "postgresql" else stranger.sqlite():
        run(statement)

    assert [fault.where for fault in guard_faults()] == [f"guard {lost.trigger}", "guard sr_zz_stranger"]


def test_names_of_guards_are_whole_and_unique() -> None:
    """No two guards share a name after it was cut to what databases take."""
    names = [guard.trigger for guard in guards.declared()] + [name for name, _ in guards.truncate_guards()]

    assert len(names) == len(set(names))
    assert all(re.fullmatch(r"sr_[a-z0-9_]{1,57}", name) for name in names)


def test_every_fact_is_guarded_against_change_and_removal() -> None:
    """Each append-only model has both guards in the database, not only in Python."""
    found = set(guards.installed())
    for model in FACTS:
        name = model._meta.db_table
        assert {f"sr_{name}_no_update"[:60], f"sr_{name}_no_delete"[:60]} <= found


def test_guards_come_back_after_they_were_lifted_even_when_something_breaks() -> None:
    """Loading a copy that fails leaves the database guarded."""
    seen = {"": "not asked"}

    def broken() -> None:
        with guards.lifted():
            seen.update(guards.installed())
            seen.pop("")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken()
    assert seen == {}

    assert guard_faults() == []


# -- facts are added, never changed


@pytest.mark.parametrize("model", FACTS, ids=lambda model: model._meta.label)
def test_the_models_refuse_in_words_for_programmers(model: type[models.Model]) -> None:
    """Saving again and deleting a fact is a TypeError before it reaches the database."""
    row = model()
    row._state.adding = False
    for act in (row.save, row.delete):
        with pytest.raises(TypeError, match="never"):
            act()


def test_no_way_in_changes_a_fact(cast: Cast) -> None:
    """Through the manager, the base manager, in bulk, by force, and in SQL."""
    entry = write_entries(cast)[0]
    table = JournalEntry._meta.db_table
    base = JournalEntry._base_manager
    entry.why = "another"

    with pytest.raises(TypeError, match="never change"):
        JournalEntry.objects.filter(pk=entry.pk).update(why="another")
    with pytest.raises(TypeError, match="never deleted"):
        JournalEntry.objects.filter(pk=entry.pk).delete()
    with pytest.raises(TypeError, match="never change"), transaction.atomic():
        JournalEntry.objects.bulk_update([entry], ["why"])
    for act in (
        lambda: models.Model.save(entry, force_update=True),
        lambda: models.Model.delete(entry),
        lambda: base.filter(pk=entry.pk).update(why="another"),
        lambda: base.bulk_update([entry], ["why"]),
        lambda: base.filter(pk=entry.pk).delete(),
        lambda: run(f"UPDATE {table} SET why = 'another' WHERE id = %s", entry.pk),
        lambda: run(f"DELETE FROM {table} WHERE id = %s", entry.pk),
    ):
        refused(act, "append-only")

    assert JournalEntry.objects.get(pk=entry.pk).why == "reason 0"


def test_replacing_a_row_is_no_way_around(cast: Cast) -> None:
    """SQLite's REPLACE deletes first, PostgreSQL's ON CONFLICT updates; neither changes a fact."""
    entry = write_entries(cast)[0]
    names = [field.column for field in JournalEntry._meta.concrete_fields]
    columns = ", ".join(f'"{name}"' for name in names)
    new = ", ".join("'another'" if name == "why" else f'"{name}"' for name in names)
    select = f"SELECT {new} FROM makers_journalentry WHERE id = %s"
    if connection.vendor == "sqlite":
        statement = f"REPLACE INTO makers_journalentry ({columns}) {select}"
    else:
        conflict = "ON CONFLICT (id) DO UPDATE SET why = 'another'"
        statement = f"INSERT INTO makers_journalentry ({columns}) {select} {conflict}"

    refused(lambda: run(statement, entry.pk), "append-only")


def test_no_table_of_facts_is_emptied_at_once(cast: Cast) -> None:
    """PostgreSQL's TRUNCATE passes row triggers by and has a guard of its own; SQLite has a bare DELETE."""
    write_entries(cast)
    connection.check_constraints()  # PostgreSQL truncates nothing while keys wait to be checked
    if connection.vendor == "sqlite":
        refused(lambda: run("DELETE FROM makers_journalentry"), "append-only")
    else:
        for model in FACTS:
            refused(partial(run, f"TRUNCATE {model._meta.db_table} CASCADE"), "append-only")

    assert JournalEntry.objects.count() == 3


# -- one maker's records never point to another's


def crossing(cast: Cast) -> list[Callable[[], Any]]:
    """Rows of the maker that point to a record of the stranger."""
    mine, theirs = cast.maker, cast.stranger.maker
    ingredient = Ingredient.objects.create(maker=mine, name="Shea", code="I-1")
    foreign = Ingredient.objects.create(maker=theirs, name="Shea", code="I-1")
    supplier = Supplier.objects.create(maker=theirs, name="Dunlin")
    own = Supplier.objects.create(maker=mine, name="Dunlin")
    source = Source.objects.create(maker=mine, ingredient=ingredient, supplier=own)
    composition = Composition.objects.create(
        maker=mine, ingredient=ingredient, number=1, valid_from=date(2026, 1, 1)
    )
    secret = Substance.objects.create(maker=theirs, key="secret", inci_name="Secret")
    return [
        lambda: Source.objects.create(maker=mine, ingredient=foreign, supplier=own, article_code="x"),
        lambda: Source.objects.create(maker=mine, ingredient=ingredient, supplier=supplier, article_code="x"),
        lambda: Source.objects.filter(pk=source.pk).update(supplier=supplier),
        lambda: run("UPDATE formulas_source SET ingredient_id = %s WHERE id = %s", foreign.pk, source.pk),
        lambda: Constituent.objects.create(maker=mine, composition=composition, substance=secret),
    ]


def test_a_key_to_another_makers_record_is_refused(cast: Cast) -> None:
    """On insert and on update, through the models and in SQL."""
    for act in crossing(cast):
        refused(act, "points to another maker")


def test_a_shared_substance_belongs_to_everyone(cast: Cast) -> None:
    """Reference rows have no maker and may be pointed to."""
    ingredient = Ingredient.objects.create(maker=cast.maker, name="Shea", code="I-1")
    composition = Composition.objects.create(
        maker=cast.maker, ingredient=ingredient, number=1, valid_from=date(2026, 1, 1)
    )
    shared = Substance.objects.filter(maker=None)[0]

    assert Constituent.objects.create(maker=cast.maker, composition=composition, substance=shared).pk


def test_no_row_moves_to_another_maker(cast: Cast) -> None:
    """Not even one that nothing points to."""
    scale = make_scale(cast.maker)
    other = cast.stranger.maker

    refused(lambda: Scale.objects.filter(pk=scale.pk).update(maker=other), "changes its maker")


def test_every_table_of_a_maker_keeps_its_maker() -> None:
    """Each has the guard, and each with a key to a maker's record has the other one on both events."""
    declared = {guard.trigger for guard in guards.declared()}
    for model in apps.get_models():
        if not guards.has_maker(model) or model._meta.app_label not in {
            "makers",
            "formulas",
            "batches",
            "labels",
        }:
            continue
        name = model._meta.db_table
        assert f"sr_{name}_stays"[:60] in declared
        pointing = [
            field
            for field in model._meta.concrete_fields
            if isinstance(field, models.ForeignKey)
            and field.name != "maker"
            and guards.has_maker(field.related_model)
        ]
        if pointing:
            assert {f"sr_{name}_one_maker_i"[:60], f"sr_{name}_one_maker_u"[:60]} <= declared


# -- the chain speaks where somebody got past the guards


def forge(entry: JournalEntry, **columns: Any) -> None:
    """Change a row with the guards away, as somebody with the database in hand could."""
    with guards.lifted():
        JournalEntry._base_manager.filter(pk=entry.pk).update(**columns)


def test_a_whole_chain_has_no_fault(cast: Cast) -> None:
    """Number by number from one, each on the digest of the one before, to the head."""
    entries = write_entries(cast)
    head = JournalHead.objects.get(maker=cast.maker)

    assert [entry.number for entry in entries] == [1, 2, 3]
    assert json.loads(entries[2].text)["previous"] == entries[1].digest
    assert (head.number, head.digest) == (3, entries[2].digest)
    assert chain_faults(cast.maker) == []


@pytest.mark.parametrize("column", ["why", "action", "subject_label", "user_label", "device", "clock"])
def test_a_changed_column_is_found_and_named(cast: Cast, column: str) -> None:
    """The columns must say what the sealed text says."""
    second = write_entries(cast)[1]
    forge(second, **{column: "another"})

    (fault,) = chain_faults(cast.maker)
    assert fault.where == "journal entry 2"
    assert "columns" in fault.text


def test_a_changed_figure_is_found(cast: Cast) -> None:
    """What the entry reports of the change is sealed too."""
    second = write_entries(cast)[1]
    forge(second, change={"grams": "12.0"})

    assert [fault.where for fault in chain_faults(cast.maker)] == ["journal entry 2"]


def test_a_changed_text_is_found(cast: Cast) -> None:
    """The text must give the digest."""
    second = write_entries(cast)[1]
    forge(second, text=second.text.replace("reason 1", "reason 9"), why="reason 9")

    (fault,) = chain_faults(cast.maker)
    assert (fault.where, "digest" in fault.text) == ("journal entry 2", True)


def test_a_text_with_a_digest_made_to_fit_breaks_the_next_link(cast: Cast) -> None:
    """Whoever changes one entry must change all that follow, and the head."""
    second = write_entries(cast)[1]
    text = second.text.replace("reason 1", "reason 9")
    forge(second, text=text, why="reason 9", digest=digest_of(text))

    (fault,) = chain_faults(cast.maker)
    assert (fault.where, "follow" in fault.text) == ("journal entry 3", True)


def test_a_missing_entry_is_found(cast: Cast) -> None:
    """In the middle by its number, at the end by the head."""
    entries = write_entries(cast)
    with guards.lifted():
        JournalEntry._base_manager.filter(pk=entries[2].pk).delete()
    assert chain_faults(cast.maker)[0].where == "journal head"
    with guards.lifted():
        JournalEntry._base_manager.filter(pk=entries[0].pk).delete()
    assert "Entry 1 is missing" in chain_faults(cast.maker)[0].text


def test_the_same_number_is_never_given_twice(cast: Cast) -> None:
    """By the database, were the lock ever forgotten."""
    first = write_entries(cast)[0]
    copy = {
        f.name: getattr(first, f.name) for f in first._meta.concrete_fields if f.name not in {"id", "uuid"}
    }

    with pytest.raises(IntegrityError), transaction.atomic():
        JournalEntry(**copy).save()


def test_a_refused_action_leaves_no_entry_and_no_gap(cast: Cast) -> None:
    """What fails is not in the chain, and the next takes its number."""
    write_entries(cast, 1)
    with pytest.raises(RuntimeError), recording(cast.owner, "scale.changed"):
        raise RuntimeError
    scale = make_scale(cast.maker, "0.01", "100", "Small")
    add_scale(cast.owner, name="Fine", readability_g=scale.readability_g, capacity_g=scale.capacity_g)

    assert [entry.number for entry in JournalEntry.objects.for_maker(cast.maker)] == [2, 1]
    assert chain_faults(cast.maker) == []


def test_a_code_is_a_fact_too(cast: Cast) -> None:
    """A code given once is never given again, whatever becomes of its record."""
    code = Code(maker=cast.maker, text="L-1", kind="lot", subject=cast.maker.uuid)
    code.save()

    refused(lambda: Code._base_manager.filter(pk=code.pk).delete(), "append-only")
    with pytest.raises(IntegrityError), transaction.atomic():
        Code(maker=cast.maker, text="L-1", kind="batch", subject=cast.maker.uuid).save()
