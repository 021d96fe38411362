"""Goods come in: deliveries and the count of what was on the shelf on the first day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, cast
from uuid import UUID

from django.core.exceptions import ValidationError

from batches.actions.holds import close_hold, open_hold
from batches.actions.ledger import PIECES, in_stock_unit, in_words, on_day, owned, write_line
from batches.actions.lots import (
    correct_entry,
    count_lot,
    decide_lot,
    file_paper,
    open_lot,
    retest_lot,
    waste_lot,
)
from batches.actions.once import once, part_key, still_new
from batches.models import Delivery, Lot, LotEntry
from batches.rules.receiving import share_by_value
from formulas.models import Article, Composition, Ingredient, Source, Supplier
from makers.actions import By, Refused, give_code, happened, recording
from makers.actions.codes import check_wanted
from makers.actions.journal import Draft
from makers.rules.display import in_mark
from makers.rules.reading import decimal_mark

__all__ = [
    "LinesRefused",
    "close_hold",
    "correct_entry",
    "count_in",
    "count_lot",
    "current_composition",
    "decide_lot",
    "file_paper",
    "open_hold",
    "open_lot",
    "receive_delivery",
    "retest_lot",
    "waste_lot",
]

MOST_LINES = 200
MOST_MONEY = Decimal(1_000_000_000)
DATE_KINDS = Lot.DateKind.values


class LinesRefused(Refused):
    """Some lines of a delivery can't be written down. ``lines``: number from 0 to its refusal."""

    def __init__(self, lines: Mapping[int, ValidationError]) -> None:
        self.lines = dict(lines)
        super().__init__(
            [f"Line {number + 1}: {' '.join(refusal.messages)}" for number, refusal in sorted(lines.items())]
        )


@dataclass(slots=True)
class Incoming:
    """One line as it will become a lot."""

    lot: Lot
    amount: Decimal
    wanted: str
    cost: Decimal | None
    document: Any


def current_composition(ingredient: Ingredient, source: Source | None, day: date) -> Composition | None:
    """What a lot received on ``day`` declares: its source's own composition, else the general one.

    Of several, the one in force on the day (the latest number); of none in force yet, the first to come. None
    when nobody wrote one down: then the lot's composition is unknown.
    """
    for owner in dict.fromkeys([source, None]):
        known = Composition.objects.filter(maker=ingredient.maker, ingredient=ingredient, source=owner)
        found = known.filter(valid_from__lte=day).order_by("-valid_from", "-number").first()
        if found is None:
            found = known.order_by("valid_from", "-number").first()
        if isinstance(found, Composition):
            return found
    return None


def receive_delivery(
    by: By,
    *,
    supplier: Supplier,
    received_on: date,
    currency: str,
    lines: Sequence[Mapping[str, Any]],
    reference: str = "",
    freight: Decimal | None = None,
    note: str = "",
    entry_key: UUID | None = None,
) -> Delivery:
    """Write down goods that came from a supplier; every line becomes a lot in quarantine.

    lines: dicts of ingredient or article, amount, unit (g, kg, mg, oz, lb or pieces), and optionally source,
    composition, supplier_lot ("" for not given), good_until, date_kind, cost (of the whole line, in
    ``currency``), code (of the maker's own), document (an upload or a paper that is kept already), note.
    freight: shared over the lines by their cost; the lots' cost is what they cost here, freight included.
    Raises Refused with sentences by field, and LinesRefused with sentences by line.
    """

    def act() -> LotEntry:
        with recording(by, "delivery.received") as entry:
            still_new(LotEntry, by, part_key(entry_key, 0))
            delivery = Delivery(
                maker=by.maker,
                supplier=owned(by, supplier),
                reference=reference.strip(),
                currency=currency.upper(),
                freight=freight,
                received_on=received_on,
                entered_at=by.now(),
                user=by.user,
                note=note,
            )
            at = on_day(by, received_on)
            check_money(freight, "freight")
            delivery.code = give_code(by, "delivery", delivery)
            delivery.full_clean()
            delivery.save()
            incoming = read_lines(by, lines, delivery)
            share_freight(by, freight, incoming)
            written = [
                put_on_stock(by, entry, line, LotEntry.Kind.RECEIVED, at, part_key(entry_key, number))
                for number, line in enumerate(incoming)
            ]
            entry.about(delivery)
            entry.say(
                supplier=supplier.name,
                reference=delivery.reference,
                count=f"{len(incoming)} {'lot' if len(incoming) == 1 else 'lots'}",
                lots=[described(by, line) for line in incoming],
                freight=freight,
            )
        return written[0]

    first = once(LotEntry, by, part_key(entry_key, 0), act)
    return cast(Delivery, first.lot.delivery)


def count_in(
    by: By,
    *,
    amount: Decimal,
    unit: str,
    ingredient: Ingredient | None = None,
    article: Article | None = None,
    source: Source | None = None,
    composition: Composition | None = None,
    supplier_lot: str = "",
    good_until: date | None = None,
    date_kind: str = Lot.DateKind.EXPIRY,
    cost: Decimal | None = None,
    currency: str = "",
    code: str = "",
    document: Any = None,
    note: str = "",
    received_on: date | None = None,
    occurred_at: datetime | None = None,
    entry_key: UUID | None = None,
) -> Lot:
    """Count in what was on the shelf before the book was opened: a lot of unknown provenance, in quarantine.

    amount, unit: as counted. received_on: the day of the count, today unless given. Raises Refused.
    """

    def act() -> LotEntry:
        with recording(by, "lot.counted_in") as entry:
            still_new(LotEntry, by, entry_key)
            day = received_on or by.today()
            at = happened(by, occurred_at) if occurred_at else on_day(by, day)
            line = {
                "ingredient": ingredient, "article": article, "source": source, "composition": composition,
                "amount": amount, "unit": unit, "supplier_lot": supplier_lot, "good_until": good_until,
                "date_kind": date_kind, "cost": cost, "code": code, "document": document, "note": note,
            }  # fmt: skip
            incoming = read_line(
                by, line, day, currency=(currency or by.maker.currency).upper(), delivery=None
            )
            written = put_on_stock(by, entry, incoming, LotEntry.Kind.OPENING, at, entry_key)
            lot = incoming.lot
            entry.about(lot)
            entry.mention(lot.ingredient, lot.article)
            entry.say(
                what=str(lot.ingredient or lot.article),
                amount=in_words(by, incoming.amount, lot.unit),
                entered=as_entered(by, lot),
                good_until=good_until,
            )
        return written

    return once(LotEntry, by, entry_key, act).lot


def check_money(amount: Decimal | None, name: str) -> None:
    """Refuse money below 0, or beyond what a column takes."""
    if amount is not None and not (amount.is_finite() and 0 <= amount <= MOST_MONEY):
        raise Refused({name: "Money is 0 or more here. Leave it empty where it isn't known."})


def read_lines(by: By, lines: Sequence[Mapping[str, Any]], delivery: Delivery) -> list[Incoming]:
    """Every line as a lot to be. Raises Refused for no line, LinesRefused for lines that can't be."""
    if not lines:
        raise Refused({"lines": "Nothing came yet. Write one line for each thing in the parcel."})
    if len(lines) > MOST_LINES:
        raise Refused({"lines": f"{len(lines)} lines; {MOST_LINES} fit. Write the rest as another delivery."})
    incoming, refusals = [], {}
    wanted: dict[str, int] = {}
    for number, line in enumerate(lines):
        try:
            found = read_line(by, line, delivery.received_on, currency=delivery.currency, delivery=delivery)
            first = wanted.setdefault(found.wanted.casefold() or f" {number}", number)
            if first != number:
                raise Refused(
                    {"code": f"{found.wanted} is the code of line {first + 1}. Codes are never used twice."}
                )
            incoming.append(found)
        except ValidationError as refusal:
            refusals[number] = refusal
    if refusals:
        raise LinesRefused(refusals)
    return incoming


def read_line(
    by: By, line: Mapping[str, Any], day: date, *, currency: str, delivery: Delivery | None
) -> Incoming:
    """One line as a lot to be, not saved. Raises Refused with sentences by field."""
    ingredient, article = line.get("ingredient"), line.get("article")
    things = [thing for thing in (ingredient, article) if thing is not None]
    if len(things) != 1:
        raise Refused({"ingredient": "Name one thing: an ingredient, or an article such as a jar."})
    owned(by, things[0])
    stock_unit = PIECES if article is not None else "g"
    amount = in_stock_unit(Decimal(line["amount"]), line["unit"], stock_unit)
    source, composition = pinned(by, line, day, delivery)
    cost = line.get("cost")
    check_money(cost, "cost")
    wanted = str(line.get("code") or "").strip()
    if wanted:
        check_wanted(by, wanted)
    date_kind = line.get("date_kind") or Lot.DateKind.EXPIRY
    if date_kind not in DATE_KINDS:
        raise Refused({"date_kind": "A date is an expiry or a retest."})
    lot = Lot(
        maker=by.maker,
        ingredient=ingredient,
        article=article,
        unit=stock_unit,
        source=source,
        composition=composition,
        origin=Lot.Origin.DELIVERY if delivery else Lot.Origin.OPENING,
        delivery=delivery,
        supplier_lot=str(line.get("supplier_lot") or "").strip(),
        entered_amount=format(Decimal(line["amount"]), "f"),
        entered_unit=line["unit"],
        received_on=day,
        good_until=line.get("good_until"),
        date_kind=date_kind,
        cost=cost,
        currency=currency if cost is not None else "",
        note=line.get("note") or "",
    )
    return Incoming(lot, amount, wanted, cost, line.get("document"))


def pinned(
    by: By, line: Mapping[str, Any], day: date, delivery: Delivery | None
) -> tuple[Source | None, Composition | None]:
    """The source and the composition that a lot keeps for good. Refuses those that don't fit the line."""
    ingredient = line.get("ingredient")
    if ingredient is None:
        return None, None
    source, composition = line.get("source"), line.get("composition")
    if source is None and delivery is not None:
        sold = list(Source.objects.filter(ingredient=ingredient, supplier=delivery.supplier, active=True)[:2])
        source = sold[0] if len(sold) == 1 else None
    if source is not None:
        owned(by, source)
        if source.ingredient_id != ingredient.pk:
            raise Refused({"source": f"{source} is an article of another ingredient than {ingredient}."})
        if delivery is not None and source.supplier_id != delivery.supplier_id:
            raise Refused(
                {"source": f"{source} is not sold by {delivery.supplier}. Choose an article of theirs."}
            )
    if composition is None:
        return source, current_composition(ingredient, source, day)
    owned(by, composition)
    fits = composition.ingredient_id == ingredient.pk and composition.source_id in {
        None,
        source.pk if source else None,
    }
    if not fits:
        raise Refused({"composition": f"{composition} is not one of this ingredient from this source."})
    return source, composition


def share_freight(by: By, freight: Decimal | None, incoming: Sequence[Incoming]) -> None:
    """Add to each lot's cost its share of the freight, by value. Raises Refused while a cost is unknown."""
    if not freight:
        return
    costs = [line.cost for line in incoming]
    missing = [number for number, cost in enumerate(costs, 1) if cost is None]
    if missing:
        raise Refused(
            {
                "freight": f"Freight is shared by cost, and line {missing[0]} has none. Write its cost (0 if "
                "it was free), or leave the freight out."
            }
        )
    shares = share_by_value(freight, [cost for cost in costs if cost is not None])
    for line, share in zip(incoming, shares, strict=True):
        line.lot.cost = (line.cost or Decimal(0)) + share


def put_on_stock(
    by: By, entry: Draft, line: Incoming, kind: str, at: datetime, entry_key: UUID | None
) -> LotEntry:
    """Save the lot with its code, its first ledger line and its paper, and freeze its composition."""
    lot = line.lot
    lot.code = give_code(by, "lot", lot, wanted=line.wanted)
    lot.full_clean()
    lot.save()
    if lot.composition_id is not None:
        Composition.objects.filter(pk=lot.composition_id, frozen_at=None).update(frozen_at=by.now())
    written = write_line(
        by, entry, lot=lot, kind=kind, amount=line.amount, occurred_at=at, entry_key=entry_key
    )
    if line.document is not None:
        file_paper(by, lot=lot, document=line.document)
    entry.mention(lot, lot.ingredient, lot.article)
    return written


def as_entered(by: By, lot: Lot) -> str:
    """What was typed for a lot, with the maker's own decimal mark: 1.500 kg may read as thousands."""
    return f"{in_mark(lot.entered_amount, decimal_mark(by.maker.locale))} {lot.entered_unit}"


def described(by: By, line: Incoming) -> dict[str, Any]:
    """What the journal keeps of one line of a delivery."""
    lot = line.lot
    return {
        "code": lot.code,
        "what": str(lot.ingredient or lot.article),
        "entered": as_entered(by, lot),
        "amount": in_words(by, line.amount, lot.unit),
        "supplier_lot": lot.supplier_lot or "not given",
        "good_until": lot.good_until,
        "cost": lot.cost,
    }
