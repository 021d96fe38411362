"""The signed decision: password, open points, who may sign, what it signs, amendments."""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from batches.actions.making import (
    amend_batch,
    deviate,
    judge_deviation,
    note_batch,
    open_points,
    read,
    take_back,
    yield_output,
)
from batches.actions.making_review import content_digest, line_faults, signature_faults
from batches.actions.selling import pack_batch
from batches.actions.stock import decide_lot, open_hold
from batches.models import Batch, BatchNote, BatchStep, Lot, Release, Weighing
from makers.actions import By, Refused
from makers.actions.journal import chain_faults
from tests.batches.making.factories_making import (
    line_at,
    make_accounted,
    make_made,
    make_making,
    make_product,
    make_released,
    make_rework,
    make_version,
    second_owner,
    sign,
    weigh_all,
    weigh_line,
)
from tests.batches.stock.factories_stock import make_ingredient
from tests.cast import PASSWORD, Cast


def named(batch: Batch) -> dict[str, bool]:
    """The names of the batch's own open points, and whether each blocks."""
    return {point.name: point.blocks for point in open_points(batch) if not point.name.startswith("label")}


# -- signing


def test_a_release_is_signed_over_the_batchs_content(by: By) -> None:
    """Who, what it means, the digest; the state follows."""
    batch = make_accounted(by)

    release = sign(by, batch)

    batch.refresh_from_db()
    assert batch.state == "released"
    assert release.content_digest == content_digest(batch)
    assert (release.user, release.decision, release.after_amendment) == (by.user, "released", 0)
    assert signature_faults(by.maker) == []
    assert line_faults(by.maker) == []
    assert chain_faults(by.maker) == []


def test_a_release_asks_for_the_password_again(by: By) -> None:
    """Without it, or with another, nothing is signed."""
    batch = make_accounted(by)

    for wrong in ("", "marsh-samphire-18"):
        with pytest.raises(Refused, match="That is not your password"):
            sign(by, batch, password=wrong)

    batch.refresh_from_db()
    assert batch.state == "made"
    assert not Release.objects.exists()


def test_one_who_works_alone_reviews_itself_and_the_record_says_so(by: By) -> None:
    """Named as what it is."""
    release = sign(by, make_accounted(by))

    assert release.self_reviewed is True
    assert release.meaning.endswith(", who also made it")


def test_where_several_work_another_one_releases(by: By) -> None:
    """Whoever weighed all of it can't sign; another owner can."""
    by.maker.works_alone = False
    by.maker.save()
    batch = make_accounted(by)

    with pytest.raises(Refused, match="another owner looks at it"):
        sign(by, batch)

    release = sign(second_owner(by), batch)
    assert release.self_reviewed is False


def test_a_worker_signs_nothing(cast: Cast) -> None:
    """The owner decides."""
    batch = make_accounted(cast.owner)

    with pytest.raises(PermissionDenied):
        sign(cast.worker, batch)


def test_a_rejection_says_why_and_stops_what_it_put_on_stock(by: By) -> None:
    """Rework out of it stands on hold until somebody judges it."""
    batch = make_made(by)
    rework = make_rework(by, batch)

    with pytest.raises(Refused, match="Say why it is rejected"):
        sign(by, batch, "rejected", reasons=" ")
    sign(by, batch, "rejected")

    batch.refresh_from_db()
    rework.refresh_from_db()
    assert (batch.state, rework.held) == ("rejected", True)


def test_a_batch_on_the_bench_is_not_released(by: By) -> None:
    """It has no bulk yet."""
    batch = make_making(by)
    weigh_all(by, batch)

    with pytest.raises(Refused, match="still being made"):
        sign(by, batch)


# -- open points


def test_a_batch_in_order_leaves_nothing_open(by: By) -> None:
    """All weighed, within, accounted for."""
    assert named(make_accounted(by)) == {}


def test_bulk_without_an_account_needs_a_reason(by: By) -> None:
    """And is kept with it."""
    batch = make_made(by)
    assert named(batch) == {"bulk": False}

    with pytest.raises(Refused, match=r"990 g of the bulk have no account yet"):
        sign(by, batch, accepted={})

    release = sign(by, batch, accepted={"bulk": "It is in the cool room.", **accepted_labels(batch)})
    kept = {point["name"]: point["reason"] for point in release.open_points}
    assert kept["bulk"] == "It is in the cool room."


def accepted_labels(batch: Batch) -> dict[str, str]:
    """Reasons for what other worlds ask."""
    return {
        point.name: "looked at" for point in open_points(batch) if not point.blocks and point.name != "bulk"
    }


def test_a_deviation_blocks_until_it_is_judged_acceptable(by: By) -> None:
    """No reason waves it through."""
    batch = make_accounted(by)
    deviation = deviate(by, batch=batch, text="Stirred in too early.")
    assert named(batch) == {f"deviation-{deviation.pk}": True}
    with pytest.raises(Refused, match=r"It can't be released yet\. Not judged yet: Stirred in too early"):
        sign(by, batch, accepted={f"deviation-{deviation.pk}": "never mind"})

    judge_deviation(by, deviation=deviation, accepted=True, text="Harmless.")

    assert sign(by, batch).decision == "released"


def test_a_deviation_judged_unacceptable_leaves_only_rejection(by: By) -> None:
    """It blocks for good."""
    batch = make_accounted(by)
    deviation = deviate(by, batch=batch, text="A screw in the pot.")
    judge_deviation(by, deviation=deviation, accepted=False, text="Metal.")

    with pytest.raises(Refused, match="Judged as not acceptable"):
        sign(by, batch)

    assert sign(by, batch, "rejected").decision == "rejected"


def test_a_lot_that_was_held_or_put_back_since_blocks(by: By) -> None:
    """What is in the pot must still be good."""
    batch = make_accounted(by)
    first, second = Lot.objects.filter(weighings__batch=batch).order_by("pk")
    open_hold(by, lot=first, cause="Supplier's notice.")
    decide_lot(by, lot=second, became="quarantine", basis="Certificate withdrawn.")

    assert named(batch) == {f"lot-{first.code}": True, f"lot-{second.code}": True}


def test_a_held_batch_is_not_released(by: By) -> None:
    """Its hold is judged first."""
    batch = make_accounted(by)
    open_hold(by, batch=batch, cause="x")

    batch.refresh_from_db()
    assert named(batch) == {"hold": True}


def test_a_weighing_taken_back_leaves_its_line_open(by: By) -> None:
    """A line that holds nothing blocks."""
    batch = make_accounted(by)
    wrong = batch.weighings.get(line=line_at(batch, 2))

    take_back(by, weighing=wrong, why="x")

    assert named(batch)["line-2"] is True
    assert named(batch)["over"] is False


def test_a_reading_outside_its_steps_gate_needs_a_reason(by: By) -> None:
    """At the gate is within it."""
    version = make_version(by, steps=[{"phase": "A", "text": "Add the oil", "max_c": Decimal(40)}])
    batch = make_making(by, version)
    step = BatchStep.objects.get(batch=batch)
    weigh_all(by, batch)
    read(by, batch=batch, kind="temperature", value=Decimal(40), step=step)
    assert [point.name for point in open_points(batch) if point.name.startswith("reading")] == []

    read(by, batch=batch, kind="temperature", value=Decimal("41.5"), step=step)

    [point] = [point for point in open_points(batch) if point.name.startswith("reading")]
    assert point.text == "41.5 °C at step 1; the step says 40 °C or below."


# -- what closing means


def test_a_closed_batch_is_not_signed_again(by: By) -> None:
    """Nor amended without its password, nor by a worker's word."""
    batch = make_released(by)

    with pytest.raises(Refused, match=r"is released\. Write an amendment"):
        sign(by, batch)
    with pytest.raises(Refused, match="not your password"):
        amend_batch(by, batch=batch, what="x", why="x", password="no")


def test_an_amendment_voids_the_release_until_it_is_given_again(by: By) -> None:
    """The second release takes the amendment in; both stay to be read."""
    batch = make_released(by)

    amendment = amend_batch(
        by, batch=batch, what="pH written down late", why="Found the note.", password=PASSWORD
    )
    batch.refresh_from_db()
    assert batch.state == "made"
    read(by, batch=batch, kind="pH", value=Decimal("5.2"), conditions="neat, 20 °C")
    release = sign(by, batch)

    assert release.after_amendment == amendment.pk
    assert Release.objects.filter(batch=batch).count() == 2
    assert signature_faults(by.maker) == []


def test_an_amendment_says_what_and_why(by: By) -> None:
    """Both."""
    batch = make_released(by)

    for what, why in (("", "x"), ("x", " ")):
        with pytest.raises(Refused, match="Say what is to change"):
            amend_batch(by, batch=batch, what=what, why=why, password=PASSWORD)


def test_remarks_and_packs_follow_a_release(by: By) -> None:
    """They don't disturb what was signed."""
    version = make_version(by)
    batch = make_made(by, version)
    product = make_product(version)
    yield_output(by, batch=batch, kind="sample", grams=Decimal(490))
    sign(by, batch)
    batch.refresh_from_db()

    note_batch(by, batch=batch, text="Smells of hay, nicely.")
    pack_batch(by, batch=batch, product=product, units=10, grams=Decimal(500))

    assert BatchNote.objects.count() == 1
    assert signature_faults(by.maker) == []


@pytest.mark.parametrize("purpose", ["trial", "stock"])
def test_what_is_not_for_sale_never_becomes_packs(by: By, purpose: str) -> None:
    """By the action, and past it by the database."""
    from batches.models import Pack

    version = make_version(by)
    product = make_product(version)
    makes: dict[str, Any] = (
        {"makes": make_ingredient(by.maker, made_from=version.formula)} if purpose == "stock" else {}
    )
    batch = make_made(by, version, purpose=purpose, **makes)

    with pytest.raises(Refused):
        pack_batch(by, batch=batch, product=product, units=1, grams=Decimal(50))
    with pytest.raises(IntegrityError), transaction.atomic():
        Pack.objects.create(
            maker=by.maker, batch=batch, product=product, code="X-1", units=1, grams=Decimal(50),
            packed_on=by.today(),
        )  # fmt: skip


def test_the_database_closes_nothing_without_a_signature(by: By) -> None:
    """Nor opens a closed batch without an amendment."""
    made, released = make_accounted(by), make_released(by)

    for batch, state in ((made, "released"), (made, "rejected"), (released, "made"), (released, "rejected")):
        with pytest.raises(IntegrityError), transaction.atomic():
            Batch.objects.filter(pk=batch.pk).update(state=state)


def test_a_record_that_was_changed_past_the_product_is_found(by: By) -> None:
    """The digest is no longer the one that was signed."""
    from django.db import connection

    from makers import guards

    batch = make_released(by)
    weighing = Weighing.objects.filter(batch=batch).first()
    assert weighing is not None
    guards.remove()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE batches_weighing SET grams = grams + 1 WHERE id = %s", [weighing.pk])
    guards.install()

    [fault] = signature_faults(by.maker)

    assert fault.where == f"batch {batch.code}"
    assert fault.text == "Its record is not the one that was signed."


def test_a_release_by_another_clock_says_so(by: By) -> None:
    """The demo's clock is marked in the journal."""
    from makers.models import JournalEntry

    batch = make_accounted(by)

    sign(dataclasses.replace(by, clock_name="demo"), batch)

    assert JournalEntry.objects.get(action="batch.released").clock == "demo"


def test_a_line_added_after_the_weighing_was_signed_is_refused(by: By) -> None:
    """A closed batch takes no further line either."""
    from batches.actions.making import add_substitute_line

    batch = make_released(by)

    with pytest.raises(Refused, match="Write an amendment"):
        add_substitute_line(
            by, batch=batch, line=line_at(batch), ingredient=make_ingredient(by.maker), why="x"
        )
    with pytest.raises(Refused, match="Write an amendment"):
        weigh_line(by, batch)
