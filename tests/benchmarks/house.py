"""The physical world of a made-up book, streamed to the database some batches at a time.

Invented, and the same for the same seed and day. Amounts are tenths of a gram until they are written, so what
is taken from each lot, made of it and left over is exact.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.db.models import Model

from batches.actions.ledger import seal
from batches.actions.making_bench import seal_weighing
from batches.actions.making_review import content_digest
from batches.models import (
    Batch,
    BatchLine,
    Complaint,
    Delivery,
    Dispatch,
    Lot,
    LotEntry,
    Output,
    Pack,
    PackBalance,
    PackEntry,
    Place,
    Reading,
    Recall,
    Recipient,
    Release,
    Weighing,
)
from formulas.models import Ingredient
from makers.models import Contact, Scale
from tests.benchmarks.paper import Paper, Recipe
from tests.benchmarks.shelf import Shelf
from tests.benchmarks.size import DEEPEST, Size

MONTHS = 14
SALE_TENTHS, STOCK_TENTHS = 20_000, 40_000
FILL = 500
OPEN_AT_END = 33
"""One batch in so many, the newest, waits for its release."""
ORDER: tuple[type[Model], ...] = (
    Delivery, Batch, Lot, BatchLine, Weighing, Pack, Contact, Recipient, Dispatch, LotEntry, PackEntry,
)  # fmt: skip


def grams(tenths: int) -> Decimal:
    """Tenths of a gram as the columns keep grams."""
    return Decimal(tenths * 1000).scaleb(-4)


@dataclass(slots=True)
class Shelved:
    """A lot with what is left of it, and how many batches stand behind it."""

    lot: Lot
    left: int
    depth: int = 0


@dataclass(slots=True)
class House:
    """The bench's memory: open lots alone, never the whole book."""

    shelf: Shelf
    paper: Paper
    size: Size
    scale: Scale
    places: dict[str, Place]
    start: datetime
    end: datetime
    lots: dict[int, deque[Shelved]] = field(default_factory=dict)
    rework: dict[int, Shelved] = field(default_factory=dict)
    recipients: list[Recipient] = field(default_factory=list)
    written: list[tuple[Batch, bool]] = field(default_factory=list)
    for_complaints: list[Pack] = field(default_factory=list)
    batches: int = 0
    sales: int = 0
    weighings: int = 0
    received: int = 0
    packs: int = 0
    dispatches: int = 0
    deepest: int = 0

    @property
    def now(self) -> datetime:
        """The moment of the next batch."""
        return self.start + (self.end - self.start) * self.batches / self.size.batches

    # -- stock

    def entry(self, kind: str, lot: Lot, tenths: int, at: datetime, **fields: Any) -> LotEntry:
        """A line of the ledger, signed."""
        return self.shelf.happened(LotEntry, at, lot=lot, kind=kind, amount=grams(tenths), **fields)

    def receive(self, ingredient: Ingredient) -> Shelved:
        """A delivery of one lot, released."""
        self.received += 1
        at, code, tenths = self.now, f"L-{self.received:06}", self.shelf.random.randrange(60, 150) * 100
        source = self.paper.sources[ingredient.uuid]
        delivery = self.shelf.coded(
            Delivery,
            "delivery",
            f"R-{self.received:06}",
            supplier=source.supplier,
            currency="EUR",
            received_on=at.date(),
            entered_at=at,
            user=self.shelf.by.user,
        )
        lot = self.shelf.coded(
            Lot,
            "lot",
            code,
            ingredient=ingredient,
            unit="g",
            source=source,
            composition=self.paper.compositions[ingredient.uuid],
            origin="delivery",
            delivery=delivery,
            supplier_lot=f"S{self.shelf.random.randrange(10**7):07}",
            entered_amount=str(tenths // 10),
            entered_unit="g",
            received_on=at.date(),
            good_until=at.date() + timedelta(days=730),
            status="released",
            cost=Decimal(tenths).scaleb(-3),
            currency="EUR",
        )
        line = self.entry("received", lot, tenths, at)
        self.shelf.tell(
            "delivery.received", at, delivery, lot, ingredient, ledger={str(line.uuid): seal(line)}
        )
        found = Shelved(lot, tenths)
        self.lots.setdefault(ingredient.pk, deque()).append(found)
        return found

    def waste(self, shelved: Shelved) -> None:
        """Throw away what is left of a lot."""
        if shelved.left:
            line = self.entry("wasted", shelved.lot, -shelved.left, self.now, why="The last of the drum.")
            self.shelf.tell(
                "lot.wasted", self.now, shelved.lot, why=line.why, ledger={str(line.uuid): seal(line)}
            )
            shelved.left = 0

    def is_short(self, recipe: Recipe) -> bool:
        """No in-house lot holds what a batch needs; scant ones are thrown away on the way."""
        if recipe.needs is None:
            return False
        shelf, need = self.lots.setdefault(recipe.needs.pk, deque()), self.in_house_need(recipe)
        while shelf and shelf[0].left < need:
            self.waste(shelf.popleft())
        return not shelf

    @staticmethod
    def total(recipe: Recipe) -> int:
        """Tenths of a gram that a batch plans."""
        return STOCK_TENTHS if recipe.makes else SALE_TENTHS

    def in_house_need(self, recipe: Recipe) -> int:
        """Tenths of a gram of the in-house ingredient in a batch."""
        parts = next(parts for ingredient, parts in recipe.lines if ingredient is recipe.needs)
        return self.total(recipe) * parts // 1000

    # -- making

    def next_recipe(self) -> Recipe:
        """The next product, or the in-house ingredient that it waits for."""
        wanted = self.paper.sale[self.sales % len(self.paper.sale)]
        while self.is_short(wanted):
            wanted = next(one for one in self.paper.stock if one.makes is wanted.needs)
        return wanted

    def make(self) -> None:
        """One batch from plan to dispatch."""
        recipe, shelf = self.next_recipe(), self.shelf
        at, total = self.now, self.total(recipe)
        batch = shelf.coded(
            Batch,
            "batch",
            f"B-{self.batches + 1:06}",
            purpose="stock" if recipe.makes else "sale",
            version=recipe.version,
            formula=recipe.version.formula,
            product=recipe.product,
            makes=recipe.makes,
            state="made",
            scale=self.scale,
            planned_g=grams(total),
            started_at=at,
            made_on=at.date(),
            made_at=at,
            planned_by=shelf.by.user,
            planned_at=at,
            best_before=at.date() + timedelta(days=540),
        )
        shelf.happened(Reading, at, batch=batch, kind="temperature", value=Decimal(75), unit="°C")
        shelf.tell(
            "batch.planned", at, batch, recipe.version, planned=batch.planned_g, formula=recipe.version
        )
        went_in, depth = self.weigh_all(batch, recipe, total)
        self.deepest = max(self.deepest, depth)
        waste = went_in // 100
        batch.bulk_g = grams(went_in - waste)
        shelf.happened(Output, at, batch=batch, kind="waste", grams=grams(waste))
        released = self.batches < self.size.batches - self.size.batches // OPEN_AT_END
        if recipe.makes:
            self.keep(batch, "lot", went_in - waste, depth, ingredient=recipe.makes)
        else:
            self.sales += 1
            self.pack(batch, recipe, went_in - waste, depth, released=released)
        self.written.append((batch, released))
        self.batches += 1

    def weigh_all(self, batch: Batch, recipe: Recipe, total: int) -> tuple[int, int]:
        """Weigh every line; returns tenths of a gram, and how many batches deep this one stands."""
        lines: list[tuple[BatchLine, int]] = []
        for position, (ingredient, parts) in enumerate(recipe.lines):
            planned = total * parts // 1000
            line = self.shelf.add(
                BatchLine,
                batch=batch,
                position=position,
                phase="A",
                ingredient=ingredient,
                percent=Decimal(parts).scaleb(-1),
                planned_g=grams(planned),
            )
            lines.append((line, planned))
        left = self.rework.pop(recipe.version.formula_id, None)
        portions = [] if left is None else [self.take_rework(batch, left, len(lines))]
        spare = self.quota() - len(lines) - len(portions)
        for line, planned in lines:
            found = self.portions_of(line, planned, spare)
            spare -= len(found) - 1
            portions += found
        self.write_weighings(batch, self.in_more_portions(portions, spare))
        return sum(tenths for _, _, tenths in portions), 1 + max(shelved.depth for _, shelved, _ in portions)

    def quota(self) -> int:
        """Weighings of this batch, so that the whole comes out exactly."""
        batches, weighings = self.size.batches - self.batches, self.size.weighings - self.weighings
        return -(-weighings // batches)

    def take_rework(self, batch: Batch, left: Shelved, position: int) -> tuple[BatchLine, Shelved, int]:
        """The last batch's leftover goes in whole."""
        amount, left.left = left.left, 0
        line = self.shelf.add(
            BatchLine,
            batch=batch,
            position=position,
            kind="rework",
            rework_lot=left.lot,
            planned_g=grams(amount),
            why="Left over from the batch before.",
        )
        return line, left, amount

    def portions_of(self, line: BatchLine, planned: int, spare: int) -> list[tuple[BatchLine, Shelved, int]]:
        """A line from the open lot, or from two where it runs out and a weighing is to spare."""
        ingredient = line.ingredient
        assert ingredient is not None
        found, shelf = [], self.lots.setdefault(ingredient.pk, deque())
        while planned:
            if not shelf:
                self.receive(ingredient)
            current = shelf[0]
            if current.left < planned and (spare < 1 or not current.left):
                self.waste(shelf.popleft())
                continue
            amount = min(current.left, planned)
            spare -= amount < planned
            current.left -= amount
            planned -= amount
            found.append((line, current, amount))
        return found

    @staticmethod
    def in_more_portions(
        portions: list[tuple[BatchLine, Shelved, int]], spare: int
    ) -> list[tuple[BatchLine, Shelved, int]]:
        """The largest weighings done in two goes, until none is to spare."""
        found = list(portions)
        for _ in range(spare):
            at = max(range(len(found)), key=lambda at: found[at][2])
            line, shelved, tenths = found[at]
            found[at : at + 1] = [(line, shelved, tenths - tenths // 2), (line, shelved, tenths // 2)]
        return found

    def write_weighings(self, batch: Batch, portions: list[tuple[BatchLine, Shelved, int]]) -> None:
        """Each weighing with its ledger line and its journal entry."""
        for number, (line, shelved, tenths) in enumerate(portions):
            at = self.now + timedelta(seconds=20 * number)
            lot = shelved.lot
            row = self.shelf.happened(
                Weighing, at, batch=batch, line=line, lot=lot, grams=grams(tenths), scale=self.scale
            )
            entry = self.entry("weighed", lot, -tenths, at, batch=batch)
            sealed = {str(entry.uuid): seal(entry)}
            change = {"grams": row.grams, "lot": lot.code, "what": str(line.ingredient or "rework")}
            self.shelf.tell("weighed", at, batch, lot, **change, seal=seal_weighing(row), ledger=sealed)
        self.weighings += len(portions)

    def keep(self, batch: Batch, kind: str, tenths: int, depth: int, **of: Any) -> None:
        """What a batch yields becomes a lot: an in-house ingredient, or rework for the next of its formula."""
        self.received += 1
        at, day = self.now, self.now.date()
        lot = self.shelf.coded(
            Lot,
            "lot",
            f"L-{self.received:06}",
            unit="g",
            origin="batch",
            from_batch=batch,
            entered_amount=str(grams(tenths)),
            entered_unit="g",
            received_on=day,
            good_until=day + timedelta(days=365),
            status="released",
            **of,
        )
        line = self.entry("made", lot, tenths, at, batch=batch)
        self.shelf.happened(Output, at, batch=batch, kind=kind, grams=grams(tenths), lot=lot)
        self.shelf.tell(
            "batch.yielded", at, batch, lot, grams=grams(tenths), ledger={str(line.uuid): seal(line)}
        )
        if kind == "rework":
            self.rework[batch.formula_id] = Shelved(lot, tenths, depth)
        elif batch.makes is not None:
            self.lots.setdefault(batch.makes.pk, deque()).append(Shelved(lot, tenths, depth))

    # -- selling

    def pack(self, batch: Batch, recipe: Recipe, bulk: int, depth: int, *, released: bool) -> None:
        """Fill packs of 50 g; the rest is lost in filling, or rework where the chain isn't too long yet."""
        units = bulk // FILL - 1
        rest, at = bulk - units * FILL, self.now
        if depth < DEEPEST and self.sales % 3:
            self.keep(batch, "rework", rest, depth, rework_of=recipe.version.formula)
        else:
            self.shelf.happened(Output, at, batch=batch, kind="fill_loss", grams=grams(rest))
        self.packs += 1
        facts = {"product": recipe.product, "units": units, "grams": grams(units * FILL)}
        pack = self.shelf.coded(
            Pack,
            "pack",
            f"P-{self.packs:06}",
            batch=batch,
            packed_on=at.date(),
            best_before=batch.best_before,
            **facts,
        )
        self.shelf.happened(Output, at, batch=batch, kind="packs", pack=pack, **facts)
        home, shop = self.places["workshop"], self.places["shop"]
        self.shelf.happened(PackEntry, at, pack=pack, kind="packed", units=units, to_place=home)
        self.shelf.tell("pack.packed", at, pack, batch, units=units)
        here, given = units, 0
        if released:
            for _ in range(self.size.dispatches_each):
                here -= self.send(pack, home, at, self.shelf.random.randrange(1, 8))
            given = self.shelf.random.randrange(1, 8)
            moved = {"from_place": home, "to_place": shop, "units": given}
            self.shelf.happened(PackEntry, at, pack=pack, kind="moved", **moved)
            self.shelf.add(PackBalance, pack=pack, place=shop, units=given)
            if len(self.for_complaints) < self.size.complaints:
                self.for_complaints.append(pack)
        self.shelf.add(PackBalance, pack=pack, place=home, units=here - given)

    def send(self, pack: Pack, home: Place, at: datetime, units: int) -> int:
        """A dispatch of some units to one of the recipients."""
        self.dispatches += 1
        recipient = self.recipients[self.shelf.random.randrange(len(self.recipients))]
        sent = self.shelf.coded(
            Dispatch,
            "dispatch",
            f"D-{self.dispatches:06}",
            recipient=recipient,
            on=at.date(),
            market="EU",
            entered_at=at,
            user=self.shelf.by.user,
        )
        self.shelf.happened(
            PackEntry, at, pack=pack, kind="dispatched", units=units, from_place=home, dispatch=sent
        )
        self.shelf.tell("dispatch.sent", at, sent, pack, units=units)
        return units

    # -- writing

    def people(self) -> None:
        """Those whom packs go to."""
        for number in range(self.size.recipients):
            contact = self.shelf.add(Contact, name=f"Buyer {number:05}", email=f"buyer{number}@example.org")
            row = self.shelf.coded(
                Recipient, "recipient", f"C-{number:05}", kind="person", contact=contact, made_at=self.start
            )
            self.recipients.append(row)
        self.shelf.write(ORDER)

    @transaction.atomic
    def flush(self) -> None:
        """Write the batches made since the last time, then sign those that are to be released."""
        self.shelf.write(ORDER)
        to_sign = [batch.pk for batch, released in self.written if released]
        for batch in Batch.objects.filter(pk__in=to_sign).select_related("version").order_by("pk"):
            digest = content_digest(batch)
            self.shelf.happened(
                Release,
                batch.made_at or self.start,
                batch=batch,
                decision="released",
                meaning="I release this batch.",
                content_digest=digest,
            )
            self.shelf.tell("batch.released", batch.made_at or self.start, batch, content=digest)
        self.shelf.write()
        Batch.objects.filter(pk__in=to_sign).update(state="released")
        self.written.clear()

    def complain(self) -> None:
        """Complaints on packs that were sent."""
        for number in range(self.size.complaints):
            pack = self.for_complaints[number % len(self.for_complaints)]
            complaint = self.shelf.coded(
                Complaint,
                "complaint",
                f"Q-{number:05}",
                kind="quality",
                received_at=self.end,
                entered_at=self.end,
                user=self.shelf.by.user,
                words="It is softer than the last one.",
                code_given=pack.code,
                batch_known="known",
                batch=pack.batch,
                pack=pack,
                product=pack.product,
            )
            self.shelf.tell("complaint.written", self.end, complaint, pack, kind="quality", known="known")
        self.shelf.write()

    def rehearse(self) -> None:
        """Recalls tried out on the newest lots of open shelves."""
        lots = [shelf[-1].lot for shelf in self.lots.values() if shelf]
        for number in range(self.size.few):
            recall = self.shelf.coded(
                Recall,
                "recall",
                f"X-{number:04}",
                rehearsal=True,
                lot=lots[number % len(lots)],
                reason="The yearly rehearsal.",
                scope={"batches": [], "holders": [], "made": 0, "in_house": 0, "to_recover": 0},
                started_at=self.end,
                user=self.shelf.by.user,
            )
            self.shelf.tell("recall.started", self.end, recall, rehearsal=True)
        self.shelf.write()

    def settle(self) -> None:
        """Balances of lots, which the lifted guard would have kept, from the ledger."""
        lot, entry = Lot._meta.db_table, LotEntry._meta.db_table
        with connection.cursor() as cursor:
            cursor.execute(
                f"UPDATE {lot} SET on_hand = (SELECT COALESCE(SUM(e.amount), 0) FROM {entry} e "
                f"WHERE e.lot_id = {lot}.id) WHERE maker_id = %s",
                [self.shelf.by.maker.pk],
            )

    @property
    def left(self) -> dict[int, int]:
        """What the bench remembers of open lots, tenths of a gram by the lot's key."""
        open_lots = [shelved for shelf in self.lots.values() for shelved in shelf] + list(
            self.rework.values()
        )
        return {shelved.lot.pk: shelved.left for shelved in open_lots}
