"""From the records of a batch to what its lots cost. Queries grow with the depth of in-house lots, not with rows."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.db.models import Min, Q, Sum

from batches.models import Batch, Lot, LotEntry, Output, Weighing
from batches.rules.lot_cost import Bought, Made, Pot, PotCost, Share, Went, per_pack, pot_cost
from formulas.models import ExchangeRate
from formulas.rules.cost import as_decimal
from makers.models import Maker

CAME = (LotEntry.Kind.RECEIVED, LotEntry.Kind.OPENING)


@dataclass(frozen=True, slots=True)
class CostRow:
    """One lot in the table. each: money per kg, or per piece of an article; cost: None where unknown."""

    lot: Lot
    amount: Decimal
    each: Decimal | None
    cost: Decimal | None


@dataclass(frozen=True, slots=True)
class BatchCost:
    """What a batch took from the shelf, in the maker's currency. lacking: lots behind it without a cost."""

    rows: tuple[CostRow, ...]
    articles: tuple[CostRow, ...]
    contents: Decimal
    packaging: Decimal
    lacking: tuple[Lot, ...]
    per_kg: Decimal | None
    per_pack: Decimal | None
    packs: int

    @property
    def whole(self) -> Decimal:
        """All of it that is known."""
        return self.contents + self.packaging

    @property
    def is_complete(self) -> bool:
        """Every lot has a cost."""
        return not self.lacking


def cost_of(batch: Batch) -> BatchCost | None:
    """What a batch cost by the lots that were really used; None before anything was weighed in."""
    pots, lots = _behind(batch)
    if not pots[batch.code].went:
        return None
    taken = _articles(batch)
    lots |= {lot.code: lot for lot, _ in taken}
    facts = _facts(batch.maker, lots.values())
    pots["articles"] = Pot("articles", tuple(Went(lot.code, amount) for lot, amount in taken), None)
    found, around = pot_cost(batch.code, pots, facts), pot_cost("articles", pots, facts)
    packs = batch.packs.aggregate(units=Sum("units"))["units"] or 0
    rework = batch.outputs.filter(kind=Output.Kind.REWORK).aggregate(grams=Sum("grams"))["grams"] or Decimal(
        0
    )
    each = None
    if packs and batch.bulk_g and rework <= batch.bulk_g:
        each = as_decimal(per_pack(found.at_least, batch.bulk_g, rework, packs) + around.at_least / packs)
    return BatchCost(
        rows=_rows(found, lots, 1000),
        articles=_rows(around, lots, 1),
        contents=as_decimal(found.at_least),
        packaging=as_decimal(around.at_least),
        lacking=tuple(lots[code] for code in dict.fromkeys((*found.missing, *around.missing))),
        per_kg=as_decimal(found.at_least * 1000 / Fraction(batch.bulk_g)) if batch.bulk_g else None,
        per_pack=each,
        packs=packs,
    )


def _rows(found: PotCost, lots: dict[str, Lot], times: int) -> tuple[CostRow, ...]:
    return tuple(_row(share, lots[share.lot], times) for share in found.shares)


def _row(share: Share, lot: Lot, times: int) -> CostRow:
    each, cost = share.price.each, share.cost
    return CostRow(
        lot,
        share.amount,
        None if each is None else as_decimal(each * times),
        None if cost is None else as_decimal(cost),
    )


def _behind(batch: Batch) -> tuple[dict[str, Pot], dict[str, Lot]]:
    """The batch and every batch behind it, with the lots that they took."""
    pots: dict[str, Pot] = {}
    lots: dict[str, Lot] = {}
    wanted = {batch.pk: batch}
    while wanted:
        sums = (
            Weighing.objects.filter(batch__in=wanted)
            .values("batch", "lot")
            .annotate(net=Sum("grams"), first=Min("pk"))
            .filter(net__gt=0)
            .order_by("batch", "first")
        )
        rows = list(sums)
        found = {lot.pk: lot for lot in _loaded(batch.maker, {row["lot"] for row in rows})}
        lots |= {lot.code: lot for lot in found.values()}
        for pk, one in wanted.items():
            went = tuple(Went(found[row["lot"]].code, row["net"]) for row in rows if row["batch"] == pk)
            pots[one.code] = Pot(one.code, went, one.bulk_g)
        wanted = {
            lot.from_batch.pk: lot.from_batch
            for lot in found.values()
            if lot.from_batch is not None and lot.from_batch.code not in pots
        }
    return pots, lots


def _loaded(maker: Maker, ids: Collection[int]) -> Iterable[Lot]:
    return (
        Lot.objects.for_maker(maker)
        .filter(pk__in=ids)
        .select_related("ingredient", "article", "rework_of", "from_batch")
    )


def _articles(batch: Batch) -> list[tuple[Lot, Decimal]]:
    """Lots of articles that the packs of the batch took, net of what was put back."""
    sums = (
        LotEntry.objects.filter(batch=batch, lot__article__isnull=False)
        .values("lot")
        .annotate(net=Sum("amount"))
        .filter(net__lt=0)
        .order_by("lot")
    )
    net = {row["lot"]: -row["net"] for row in sums}
    return [(lot, net[lot.pk]) for lot in _loaded(batch.maker, net)]


def _facts(maker: Maker, lots: Iterable[Lot]) -> dict[str, Bought | Made]:
    lots = list(lots)
    came = dict(
        LotEntry.objects.filter(lot__in=[lot.pk for lot in lots])
        .filter(Q(kind__in=CAME) | Q(reverses__kind__in=CAME))
        .values_list("lot")
        .annotate(net=Sum("amount"))
        .order_by("lot")
    )
    foreign = {lot.currency for lot in lots if lot.currency and lot.currency != maker.currency}
    rates = list(ExchangeRate.objects.for_maker(maker).filter(currency__in=foreign).order_by("-on"))
    found: dict[str, Bought | Made] = {}
    for lot in lots:
        if lot.from_batch is not None:
            found[lot.code] = Made(lot.code, lot.from_batch.code)
            continue
        rate: Decimal | None = Decimal(1)
        if lot.currency and lot.currency != maker.currency:
            rate = next(
                (r.rate for r in rates if r.currency == lot.currency and r.on <= lot.received_on), None
            )
        quantity = came.get(lot.pk) or Decimal(0)
        cost = lot.cost if quantity > 0 else None
        found[lot.code] = Bought(lot.code, quantity, cost, lot.currency, rate)
    return found
