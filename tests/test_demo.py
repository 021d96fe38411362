"""The demo: an invented workshop of fourteen months, written through the actions of the screens."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.conf import global_settings, settings
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import override_settings
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from batches.demo_data.calendar import MAKES, PUZZLE_LOT
from batches.models import (
    Batch,
    Complaint,
    Dispatch,
    Hold,
    Lot,
    Pack,
    PackEntry,
    Recall,
    Recipient,
    TrialNote,
    Weighing,
)
from batches.taken import batches_that_took
from batches.tracing import trace_forward
from formulas.models import Composition, FormulaVersion, Ingredient, Product
from labels.models import AppliedLabel, Label
from makers.actions.checking import faults_of
from makers.actions.demo import DemoClock
from makers.models import JournalEntry, Maker, Membership, Role, User
from makers.registries import demo_chapters
from tests.batches.stock.test_taken import reached_by_hand
from tests.filled import Filled, brought_in
from tests.kept import kept

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Loaded:
    """The demo as it stands in the database, and what its filling printed."""

    maker: Maker
    said: str


@pytest.fixture(scope="module")
def demo(filled_demo: Filled, django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Loaded]:
    """The demo, for all tests here, taken out afterwards.

    On SQLite it is the one that ``serve --demo`` filled for this run; another database is filled here.
    """
    if connection.vendor == "sqlite":
        with brought_in(filled_demo, django_db_blocker):
            yield Loaded(Maker.objects.get(is_demo=True), filled_demo.said)
        return
    with kept(django_db_blocker):
        out = io.StringIO()
        call_command("load_demo", stdout=out)
        yield Loaded(Maker.objects.get(is_demo=True), out.getvalue())


def test_it_holds_what_a_workshop_gathers_in_fourteen_months(demo: Loaded) -> None:
    """About 30 ingredients, 60 lots, 25 batches, 15 recipients, three complaints, labels for two markets."""
    maker = demo.maker
    assert 28 <= Ingredient.objects.for_maker(maker).count() <= 36
    assert Lot.objects.for_maker(maker).count() == 60
    assert Batch.objects.for_maker(maker).count() == 25
    assert Recipient.objects.for_maker(maker).count() == 15
    assert Complaint.objects.for_maker(maker).count() == 3
    assert Product.objects.for_maker(maker).count() == 4
    assert Dispatch.objects.for_maker(maker).count() > 50
    assert Label.objects.for_maker(maker).filter(state="approved").count() == 7
    assert Label.objects.for_maker(maker).filter(state="draft").count() == 1
    assert AppliedLabel.objects.for_maker(maker).count() > 20


def test_every_record_is_as_it_was_written(demo: Loaded) -> None:
    """Chains, balances, signatures and papers verify as any workshop's do."""
    assert list(faults_of(demo.maker)) == []


def test_every_journal_entry_says_that_the_clock_was_the_demos(demo: Loaded) -> None:
    """The demo's own clock is marked, runs forward, starts fourteen months ago and ends now at the latest."""
    entries = list(JournalEntry.objects.filter(maker=demo.maker).order_by("number"))
    assert {entry.clock for entry in entries} == {"demo"}
    moments = [entry.at for entry in entries]
    assert moments == sorted(moments)
    assert timezone.now() - moments[0] > timedelta(days=420)
    assert timezone.now() - timedelta(hours=2) < moments[-1] <= timezone.now()


def test_something_of_each_state_waits_for_a_hand(demo: Loaded) -> None:
    """A lot in quarantine, one on hold, one rejected, one near its date; batches in every state."""
    lots = Lot.objects.for_maker(demo.maker)
    today = timezone.now().date()
    assert lots.filter(status="quarantine").exists()
    assert lots.filter(held=True).exists()
    assert lots.filter(status="rejected").exists()
    soon = lots.filter(
        status="released", on_hand__gt=0, good_until__gt=today, good_until__lte=today + timedelta(45)
    )
    assert soon.exists()
    states = set(Batch.objects.for_maker(demo.maker).values_list("state", flat=True))
    assert states == {"planned", "making", "made", "released", "rejected"}
    assert Batch.objects.for_maker(demo.maker).filter(purpose="trial").count() == 1
    notes = TrialNote.objects.for_maker(demo.maker)
    assert notes.count() == 3
    assert notes.get(corrects__isnull=False).at_c < notes.get(corrected_by__isnull=False).at_c


def test_the_batch_being_made_is_half_weighed(demo: Loaded) -> None:
    """Some of its lines hold grams, others wait."""
    batch = Batch.objects.for_maker(demo.maker).get(state="making")
    weighed = set(batch.weighings.values_list("line", flat=True))
    assert 0 < len(weighed) < batch.lines.count()


def test_the_off_specification_petals_reached_two_products_through_the_infusion(demo: Loaded) -> None:
    """From the lot forward: the infusion, a balm and a bar, and units with buyers; all of it is on hold."""
    lot = Lot.objects.for_maker(demo.maker).get(supplier_lot=PUZZLE_LOT)
    trace = trace_forward(demo.maker, [lot])
    reached = list(trace.batches.values())
    products = {batch.product.name for batch in reached if batch.product}
    assert products == {"Causeway Hand Balm", "Net-Mender's Body Bar"}
    direct = set(Weighing.objects.filter(lot=lot).values_list("batch", flat=True))
    assert {batch.pk for batch in reached if batch.product} & direct == set()
    assert trace.to_recover > 0
    assert lot.held
    assert all(batch.held for batch in reached if batch.product)


def test_rework_of_one_balm_went_into_a_later_one(demo: Loaded) -> None:
    """The rework lot was made by a batch and weighed into another."""
    lot = Lot.objects.for_maker(demo.maker).get(rework_of__isnull=False)
    into = {weighing.batch_id for weighing in Weighing.objects.filter(lot=lot)}
    assert into
    assert lot.from_batch_id not in into
    assert lot.on_hand == 0


def test_a_mistyped_weighing_was_taken_back(demo: Loaded) -> None:
    """The wrong figure stays to be seen, beside the weighing that takes it back."""
    assert Weighing.objects.for_maker(demo.maker).filter(reverses__isnull=False).count() == 1


def test_two_ingredients_come_from_two_suppliers_with_different_compositions(demo: Loaded) -> None:
    """Told apart down to the lots."""
    several = 0
    for ingredient in Ingredient.objects.for_maker(demo.maker):
        lots = Lot.objects.filter(ingredient=ingredient, composition__source__isnull=False)
        several += len(set(lots.values_list("composition", flat=True))) > 1
    assert several == 2
    assert Composition.objects.for_maker(demo.maker).filter(allergens_stated=True).exists()


def test_formulas_are_approved_but_for_the_variant_on_trial(demo: Loaded) -> None:
    """Six approved versions and one draft."""
    states = list(FormulaVersion.objects.for_maker(demo.maker).values_list("state", flat=True))
    assert sorted(states) == ["approved"] * 6 + ["draft"]


def test_packs_came_back_and_one_return_waits(demo: Loaded) -> None:
    """Some went back for sale, one was destroyed, and two bars wait to be judged."""
    kinds = set(PackEntry.objects.for_maker(demo.maker).values_list("kind", flat=True))
    assert {"packed", "moved", "dispatched", "returned", "restored", "destroyed", "kept"} <= kinds
    assert Pack.objects.for_maker(demo.maker).count() >= 14


def test_the_reaction_in_the_united_states_is_still_open(demo: Loaded) -> None:
    """A complaint with facts, whose clock runs; the hot spell's one is closed."""
    complaint = Complaint.objects.for_maker(demo.maker).get(market="US")
    assert complaint.state == "open"
    assert complaint.facts["rash"] == "yes"
    assert complaint.batch is not None
    assert Complaint.objects.for_maker(demo.maker).filter(state="closed").count() == 1


def test_a_recall_was_rehearsed_and_ended(demo: Loaded) -> None:
    """Once, from a lot of wax, and everything was found."""
    recall = Recall.objects.for_maker(demo.maker).get()
    assert recall.rehearsal
    assert recall.ended_at is not None
    assert Hold.objects.for_maker(demo.maker).filter(closed_at=None).count() >= 4


def test_no_pack_leaves_after_its_day(demo: Loaded) -> None:
    """Neither to a buyer nor to the shop that may bring it back: what is sold is sold while it is good."""
    lines = PackEntry.objects.for_maker(demo.maker).select_related("pack", "dispatch")
    sold = [(line, line.dispatch.on) for line in lines.filter(kind="dispatched") if line.dispatch]
    lent = [
        (line, line.occurred_at.astimezone(demo.maker.zone).date())
        for line in lines.filter(kind="moved", to_place__kind="shop")
    ]
    assert len(sold) > 50
    assert len(lent) > 8
    assert [
        str(line.pack)
        for line, day in sold + lent
        if line.pack.best_before is None or day > line.pack.best_before
    ] == []


@override_settings(PASSWORD_HASHERS=[*settings.PASSWORD_HASHERS, *global_settings.PASSWORD_HASHERS])
def test_owner_worker_and_reader_can_sign_in_with_what_was_printed(demo: Loaded) -> None:
    """The loading prints the e-mail addresses and the password that really work."""
    word = next(line.split()[-1] for line in demo.said.splitlines() if line.startswith("Password:"))
    roles = {}
    for membership in Membership.objects.filter(maker=demo.maker).select_related("user"):
        assert membership.user.email in demo.said
        assert User.objects.get(pk=membership.user_id).check_password(word)
        roles[membership.role] = membership.user.email
    assert set(roles) == {Role.OWNER, Role.WORKER, Role.READER}


def test_progress_is_printed_for_every_chapter(demo: Loaded) -> None:
    """One line each, with counts."""
    for chapter in demo_chapters:
        line = next(line for line in demo.said.splitlines() if line.startswith(chapter.name))
        assert any(character.isdigit() for character in line)


def test_loading_it_twice_is_refused_with_what_to_do(demo: Loaded) -> None:
    """The second loading says that it is here, and changes nothing."""
    before = JournalEntry.objects.count()
    with pytest.raises(CommandError, match="here already"):
        call_command("load_demo", stdout=io.StringIO())
    assert JournalEntry.objects.count() == before


def test_an_empty_folder_gets_its_database_first(tmp_path: Path) -> None:
    """Before the demo is written everything is there that it is written into; the demo itself is left out here."""
    code = (
        "import django; django.setup()\n"
        "from django.core.management import ManagementUtility\n"
        "from makers.actions.by import Refused\n"
        "from makers.management.commands import load_demo\n"
        "from makers.models import Maker\n"
        "def count(say):\n"
        "    raise Refused(f'Found {Maker.objects.count()} workshops.')\n"
        "load_demo.load_demo = count\n"
        "ManagementUtility(['manage.py', 'load_demo']).execute()\n"
    )
    named = {
        name: value for name, value in os.environ.items() if not name.startswith(("STILLROOM_", "DATABASE"))
    }
    done = subprocess.run(  # noqa: S603  (our own Python)
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=named | {"STILLROOM_DATA": str(tmp_path / "new"), "DJANGO_SETTINGS_MODULE": "makers.settings"},
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.stdout.startswith("Setting up the database (")
    assert done.stderr.strip() == "CommandError: Found 0 workshops."
    assert done.returncode == 1


def test_the_demos_clock_never_runs_backwards_nor_ahead_of_the_server() -> None:
    """Whatever it is set to."""
    now = timezone.now()
    clock = DemoClock(now, ZoneInfo("Europe/Dublin"))
    clock.to_day(-10)
    later = clock()
    clock.to_day(-20)
    assert clock() == later
    clock.to_day(3)
    assert clock() == now


def test_the_calendar_plans_twenty_five_batches_in_order() -> None:
    """Each key once, day by day."""
    assert len({make.key for make in MAKES}) == len(MAKES) == 25
    assert [make.day for make in MAKES] == sorted(make.day for make in MAKES)


def test_an_ingredients_page_finds_its_batches_through_infusion_and_rework(demo: Loaded) -> None:
    """The same batches as by walking the weighings; some of them only through lots made here."""
    through = 0
    for row in Ingredient.objects.for_maker(demo.maker):
        taken, more = batches_that_took(demo.maker, row)
        lots = set(Lot.objects.filter(ingredient=row).values_list("pk", flat=True))
        assert {one.batch.pk for one in taken} == reached_by_hand(lots), row
        assert more == 0
        through += sum(one.grams is None for one in taken)

    assert through > 0
