"""Releasing, rejecting and putting back into quarantine."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied

from batches.actions.stock import decide_lot, file_paper
from batches.models import LotDecision
from makers.actions import By, Refused
from makers.models import JournalEntry
from tests.batches.stock.factories_stock import make_lot, make_upload
from tests.cast import Cast


def test_a_decision_keeps_from_what_to_what_and_on_what_basis(by: By) -> None:
    """The row stays; the lot's status follows it."""
    lot = make_lot(by)

    decision = decide_lot(
        by, lot=lot, became="released", basis="certificate AB-114, smell and colour as before"
    )

    assert (decision.was, decision.became) == ("quarantine", "released")
    assert lot.status == "released"


@pytest.mark.parametrize("basis", ["", "   \n"])
def test_without_a_basis_nothing_is_decided(by: By, basis: str) -> None:
    """A certificate alone is no default: what the decision rests on is written."""
    lot = make_lot(by)

    with pytest.raises(Refused, match="what the decision rests on"):
        decide_lot(by, lot=lot, became="released", basis=basis)

    lot.refresh_from_db()
    assert lot.status == "quarantine"


def test_a_certificate_of_another_lot_is_no_basis(by: By) -> None:
    """The numbers are compared; the sentence has both."""
    lot = make_lot(by, supplier_lot="AB-114")

    with pytest.raises(Refused, match="names AB-115, this lot is AB-114"):
        decide_lot(by, lot=lot, became="released", basis="certificate", certificate_lot="AB-115")


def test_it_can_be_released_all_the_same_and_the_journal_says_so(by: By) -> None:
    """Said on purpose, with a reason, it is written down as such."""
    lot = make_lot(by, supplier_lot="AB-114")

    decide_lot(
        by,
        lot=lot,
        became="released",
        basis="the supplier wrote that both lots are of one pressing",
        certificate_lot="AB-115",
        although_other_lot=True,
    )

    entry = JournalEntry.objects.get(action="lot.released")
    assert (entry.change["certificate_lot"], entry.change["certificate_of_another_lot"]) == ("AB-115", True)


def test_a_lot_is_rejected_whatever_the_certificate_names(by: By) -> None:
    """Another lot's certificate is a reason to reject, not an obstacle."""
    lot = make_lot(by, supplier_lot="AB-114")

    decide_lot(by, lot=lot, became="rejected", basis="wrong goods", certificate_lot="AB-115")

    assert lot.status == "rejected"


def test_a_released_lot_goes_back_into_quarantine(by: By) -> None:
    """Two decisions stand in its record."""
    lot = make_lot(by, released=True)

    decide_lot(by, lot=lot, became="quarantine", basis="customer says it smells")

    assert list(LotDecision.objects.filter(lot=lot).values_list("became", flat=True)) == [
        "released",
        "quarantine",
    ]


def test_what_is_decided_is_not_decided_again(by: By) -> None:
    """The sentence says how it stands."""
    lot = make_lot(by, released=True)

    with pytest.raises(Refused, match=f"{lot.code} is released already"):
        decide_lot(by, lot=lot, became="released", basis="again")


def test_a_status_out_of_the_blue_is_refused(by: By) -> None:
    """Expired and used up are reckoned, never set."""
    with pytest.raises(Refused, match="released, rejected or in quarantine"):
        decide_lot(by, lot=make_lot(by), became="expired", basis="it is")


def test_a_repeated_decision_is_one(by: By) -> None:
    """The second tap gets the first decision."""
    lot, key = make_lot(by), uuid4()

    first = decide_lot(by, lot=lot, became="released", basis="looked at", entry_key=key)

    assert first == decide_lot(by, lot=lot, became="released", basis="looked at", entry_key=key)
    assert LotDecision.objects.count() == 1


def test_the_paper_is_named_with_its_digest(by: By) -> None:
    """The journal seals which file the decision rests on."""
    lot = make_lot(by)
    paper = file_paper(by, lot=lot, document=make_upload())

    decision = decide_lot(by, lot=lot, became="released", basis="certificate", document=paper)

    assert decision.document == paper
    assert JournalEntry.objects.get(action="lot.released").change["sha256"] == paper.sha256


def test_readers_and_strangers_decide_nothing(cast: Cast) -> None:
    """Readers look; another maker's lot is not in the book."""
    lot = make_lot(cast.owner)

    with pytest.raises(PermissionDenied):
        decide_lot(cast.reader, lot=lot, became="released", basis="x")
    with pytest.raises(Refused, match="not in this book"):
        decide_lot(cast.stranger, lot=lot, became="released", basis="x")


def test_a_worker_may_decide(cast: Cast) -> None:
    """Release is no owner's privilege in a small workshop."""
    lot = make_lot(cast.owner)

    decide_lot(cast.worker, lot=lot, became="released", basis="compared with the sample kept of the last lot")

    assert lot.status == "released"
