"""The stock ledger's own verb, and what every action on stock needs: amounts, locks, moments.

A lot's balance is moved by the database as its lines are written; here each line is also sealed into the
journal, so that a line changed afterwards is found.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time
from decimal import ROUND_DOWN, Decimal
from typing import Any, TypeVar
from uuid import UUID

from batches.models import Lot, LotEntry
from makers.actions import By, Refused
from makers.actions.journal import Draft, digest_of
from makers.models import MakerRecord
from makers.models.fields import scaled
from makers.rules.display import figure, grams, plural, with_unit
from makers.rules.reading import MASS_UNITS, decimal_mark

PLACES = 4
GRAM_STEP = Decimal("0.0001")
MOST = Decimal(1_000_000_000)
PIECES = "pieces"
STOCK_UNITS = (*MASS_UNITS, PIECES)
NOON = time(12)

RecordT = TypeVar("RecordT", bound=MakerRecord)


def in_words(by: By, amount: Decimal, unit: str) -> str:
    """An amount as a sentence says it: ``1 240.0 g``, ``12 pieces``."""
    mark = decimal_mark(by.maker.locale)
    if unit == PIECES:
        return with_unit(figure(amount, most=0, mark=mark), plural(amount, "piece"))
    return with_unit(grams(amount, mark=mark), "g")


TOO_LITTLE = "That is less than 0.0001 g, the least that the book keeps. Look at the unit, or leave it out."


def in_stock_unit(
    amount: Decimal, unit: str, stock_unit: str, *, least_above: Decimal | None = Decimal(0)
) -> Decimal:
    """``amount`` in the unit that the lot is kept in: exact grams, or whole pieces.

    What a unit of weight leaves below 0.0001 g (an ounce is 28.349523125 g) is left off: stock is never
    overstated. Raises Refused for a unit that does not fit or an amount that is not above ``least_above``.
    """
    if not amount.is_finite():
        raise Refused({"amount": "That is not an amount. Write a figure."})
    if stock_unit == PIECES:
        if unit != PIECES:
            raise Refused(
                {"unit": f"This is counted, not weighed: write pieces instead of {unit or 'nothing'}."}
            )
        if amount != amount.to_integral_value():
            raise Refused({"amount": f"{amount} is not a whole number of pieces."})
        found = amount.to_integral_value()
    else:
        if unit == PIECES:
            raise Refused({"unit": "This is weighed, not counted: write g, kg, oz or lb."})
        if unit not in MASS_UNITS:
            raise Refused(
                {"unit": f"“{unit}” is not a weight. Write g, kg, mg, oz or lb; weigh what came in ml."}
            )
        found = (amount * MASS_UNITS[unit]).quantize(GRAM_STEP, rounding=ROUND_DOWN)
    if least_above is not None and found <= least_above:
        raise Refused({"amount": "An amount is above 0." if amount <= 0 else TOO_LITTLE})
    if found > MOST:
        raise Refused({"amount": "That is more than a thousand tonnes. Look at the unit."})
    return found


def owned(by: By, record: RecordT) -> RecordT:
    """The record, if it is in this maker's book. Raises Refused otherwise."""
    if record.maker_id != by.maker.pk:
        raise Refused("That is not in this book.")
    return record


def locked(by: By, record: RecordT, *loaded: str) -> RecordT:
    """The record as it stands now, locked for the rest of the recording. Refuses another book's.

    loaded: relations that are read with it, and not locked.
    """
    model = type(record)
    rows = model._default_manager.select_for_update(of=("self",))
    try:
        found = (rows.select_related(*loaded) if loaded else rows).get(maker=by.maker, pk=record.pk)
    except model.DoesNotExist as unknown:
        raise Refused("That is not in this book.") from unknown
    found.maker = by.maker  # the same, and at hand
    return found


def on_day(by: By, day: date) -> datetime:
    """The moment for something known by its day alone: now for today, noon of the day otherwise.

    Raises Refused for a day to come.
    """
    today = by.today()
    if day > today:
        raise Refused(
            {"received_on": f"{day:%Y-%m-%d} is still to come. Write it down when the goods are here."}
        )
    return by.now() if day == today else datetime.combine(day, NOON, by.maker.zone)


def seal_over(*facts: object) -> str:
    """The digest over what a record says, in the order given: what the journal keeps of it."""
    return digest_of(json.dumps(facts, ensure_ascii=False, separators=(",", ":")))


def seal(line: LotEntry) -> str:
    """The digest of what a ledger line says, as the journal keeps it."""
    return seal_over(
        str(line.uuid),
        str(line.lot.uuid),
        line.kind,
        scaled(line.amount, PLACES),
        None if line.counted is None else scaled(line.counted, PLACES),
        line.occurred_at.astimezone(UTC).isoformat(),
        line.why,
    )


def write_line(
    by: By,
    draft: Draft,
    *,
    lot: Lot,
    kind: str,
    amount: Decimal,
    why: str = "",
    counted: Decimal | None = None,
    batch: Any = None,
    reverses: LotEntry | None = None,
    occurred_at: datetime | None = None,
    entry_key: UUID | None = None,
) -> LotEntry:
    """Write one line of the ledger inside a recording and bring ``lot.on_hand`` up to date.

    lot: locked. amount: signed, in the lot's unit. Raises Refused when the lot would hold less than nothing.
    """
    if lot.on_hand + amount < 0:
        raise Refused(
            {
                "amount": f"Taking {in_words(by, -amount, lot.unit)} from {lot.code} would leave "
                f"{in_words(by, lot.on_hand + amount, lot.unit)}. "
                f"At most {in_words(by, lot.on_hand, lot.unit)} can go."
            }
        )
    line = LotEntry(
        maker=by.maker,
        lot=lot,
        kind=kind,
        amount=amount,
        counted=counted,
        batch=batch,
        reverses=reverses,
        why=why,
        occurred_at=occurred_at or by.now(),
        entered_at=by.now(),
        user=by.user,
        entry_key=entry_key,
    )
    line.full_clean()
    line.save()
    lot.on_hand = (lot.on_hand + amount).quantize(GRAM_STEP)  # as the database's own guard moved it just now
    draft.change.setdefault("ledger", {})[str(line.uuid)] = seal(line)
    return line
