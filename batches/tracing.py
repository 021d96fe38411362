"""The trace: from a lot forward to packs and people, from a batch back to lots, through in-house lots and rework.

The closure is one recursive query in the database; what it reaches is then read in a constant number of queries.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import connection
from django.db.models import Sum

from batches.models import Batch, Lot, LotEntry, Pack, PackBalance, PackEntry, Place, Recipient, Weighing
from makers.models import Maker

# A weighing that stands: grams above 0 (below it takes another back) and not taken back. "reverses_id IS NULL" would
# say the same, but SQLite takes the unique index on it for one of at most one row and then walks every weighing.
NET = "w.grams > 0 AND NOT EXISTS (SELECT 1 FROM batches_weighing r WHERE r.reverses_id = w.id)"

FORWARD = """
WITH RECURSIVE reach(id) AS (
    SELECT w.batch_id FROM batches_weighing w WHERE w.lot_id IN ({starts}) AND {net}
    UNION
    SELECT w.batch_id FROM reach
    JOIN batches_lot l ON l.from_batch_id = reach.id
    JOIN batches_weighing w ON w.lot_id = l.id
    WHERE {net}
) SELECT id FROM reach
"""

BACK = """
WITH RECURSIVE reach(id) AS (
    SELECT id FROM batches_batch WHERE id IN ({starts})
    UNION
    SELECT l.from_batch_id FROM reach
    JOIN batches_weighing w ON w.batch_id = reach.id
    JOIN batches_lot l ON l.id = w.lot_id
    WHERE l.from_batch_id IS NOT NULL AND {net}
) SELECT id FROM reach
"""


def closure(statement: str, starts: Collection[int]) -> set[int]:
    """Keys of the batches that a recursive query reaches; the starting keys are its parameters."""
    if not starts:
        return set()
    marks = ", ".join(["%s"] * len(starts))
    with connection.cursor() as cursor:
        cursor.execute(statement.format(starts=marks, net=NET), list(starts))
        return {row[0] for row in cursor.fetchall()}


def batches_reached_from(lots: Iterable[Lot]) -> set[int]:
    """Keys of every batch that these lots went into, at any depth."""
    return closure(FORWARD, [lot.pk for lot in lots])


def batches_behind(batches: Iterable[Batch]) -> set[int]:
    """Keys of these batches and of every batch whose in-house or rework lots went into them."""
    return closure(BACK, [batch.pk for batch in batches])


@dataclass(frozen=True, slots=True)
class Use:
    """Grams of a lot that went into a batch, corrections taken off."""

    lot: int
    batch: int
    grams: Decimal


@dataclass(slots=True)
class PackAccount:
    """Where the units of one pack are. ``made`` equals all the rest together."""

    pack: Pack
    made: int
    in_house: int = 0
    at_shops: int = 0
    to_judge: int = 0
    kept: int = 0
    destroyed: int = 0
    counted_off: int = 0
    with_recipients: int = 0

    @property
    def out(self) -> int:
        """Units out of the house: to be recovered in a recall."""
        return self.at_shops + self.with_recipients

    @property
    def accounted(self) -> int:
        """Units whose place is known."""
        return (
            self.in_house + self.at_shops + self.to_judge + self.kept + self.destroyed + self.with_recipients
        )

    @property
    def missing(self) -> int:
        """Units that nobody can place; a count took them off the books."""
        return self.made - self.accounted


@dataclass(frozen=True, slots=True)
class Holder:
    """Who has how many units of a pack: a recipient, or a shop on sale-or-return."""

    name: str
    code: str
    pack: Pack
    units: int
    dispatches: tuple[str, ...]
    last_on: str
    reached_by: str
    is_shop: bool


@dataclass(frozen=True, slots=True)
class LotAccount:
    """What became of a lot, in its unit."""

    lot: Lot
    came_in: Decimal
    into_batches: Decimal
    other: Decimal
    on_hand: Decimal

    @property
    def difference(self) -> Decimal:
        """0 unless the ledger and the balance disagree."""
        return self.came_in - self.into_batches - self.other - self.on_hand


@dataclass(slots=True)
class Trace:
    """What a trace reached, with quantities on the way and accounts that balance."""

    forward: bool
    start_lots: list[Lot] = field(default_factory=list)
    start_batches: list[Batch] = field(default_factory=list)
    lots: dict[int, Lot] = field(default_factory=dict)
    batches: dict[int, Batch] = field(default_factory=dict)
    uses: list[Use] = field(default_factory=list)
    accounts: list[PackAccount] = field(default_factory=list)
    holders: list[Holder] = field(default_factory=list)
    lot_accounts: list[LotAccount] = field(default_factory=list)
    on_path: set[int] = field(default_factory=set)

    @property
    def made_units(self) -> int:
        """Units packed from the batches reached."""
        return sum(account.made for account in self.accounts)

    @property
    def to_recover(self) -> int:
        """Units out of the house."""
        return sum(account.out for account in self.accounts)

    @property
    def in_house(self) -> int:
        """Units still in the house, for sale, to be judged or kept."""
        return sum(account.in_house + account.to_judge + account.kept for account in self.accounts)

    @property
    def missing(self) -> int:
        """Units that nobody can place."""
        return sum(account.missing for account in self.accounts)

    @property
    def direct(self) -> set[int]:
        """Keys of the batches that a starting lot was weighed into itself."""
        starts = {lot.pk for lot in self.start_lots}
        return {use.batch for use in self.uses if use.lot in starts}

    def lots_into(self, batch: Batch) -> list[tuple[Lot, Decimal]]:
        """The lots weighed into a batch, with grams."""
        return [(self.lots[use.lot], use.grams) for use in self.uses if use.batch == batch.pk]


def trace_forward(maker: Maker, lots: Iterable[Lot]) -> Trace:
    """Where lots went: batches at any depth, packs, places, recipients."""
    starts = list(lots)
    reached = batches_reached_from(starts)
    trace = Trace(forward=True, start_lots=starts)
    read_uses(maker, trace, reached)
    for lot in starts:
        trace.lots.setdefault(lot.pk, lot)
    trace.on_path = {lot.pk for lot in starts} | {
        key for key, lot in trace.lots.items() if lot.from_batch_id in reached
    }
    read_packs(maker, trace, reached)
    read_lot_accounts(maker, trace, trace.on_path)
    return trace


def trace_back(maker: Maker, batches: Iterable[Batch]) -> Trace:
    """What lots stand behind batches, through in-house lots and rework, and where the batches' packs are."""
    starts = list(batches)
    reached = batches_behind(starts)
    trace = Trace(forward=False, start_batches=starts)
    read_uses(maker, trace, reached)
    trace.on_path = set(trace.lots)
    read_packs(maker, trace, {batch.pk for batch in starts})
    read_lot_accounts(maker, trace, trace.on_path)
    return trace


def trace_from_batches(maker: Maker, batches: Iterable[Batch]) -> Trace:
    """Where batches went: their own packs first, then, through the lots that they made, as of any lot."""
    starts = list(batches)
    trace = trace_forward(maker, Lot.objects.for_maker(maker).with_subject().filter(from_batch__in=starts))
    own = trace_back(maker, starts)
    known = {account.pack.pk for account in trace.accounts}
    trace.accounts = [*(one for one in own.accounts if one.pack.pk not in known), *trace.accounts]
    trace.holders = [*(one for one in own.holders if one.pack.pk not in known), *trace.holders]
    trace.batches |= {batch.pk: batch for batch in starts}
    return trace


def read_uses(maker: Maker, trace: Trace, batches: set[int]) -> None:
    """Read the batches reached, every lot weighed into them, and lots that they made."""
    rows = (
        Batch.objects.for_maker(maker)
        .filter(pk__in=batches)
        .select_related("formula", "product", "makes")
        .order_by("pk")
    )
    trace.batches = {batch.pk: batch for batch in rows}
    uses = (
        Weighing.objects.for_maker(maker)
        .filter(batch__in=batches)
        .values_list("lot_id", "batch_id")
        .annotate(net=Sum("grams"))
        .order_by("batch_id", "lot_id")
    )
    trace.uses = [Use(lot, batch, net) for lot, batch, net in uses if net > 0]
    keys = {use.lot for use in trace.uses}
    lots = Lot.objects.for_maker(maker).filter(pk__in=keys) | Lot.objects.for_maker(maker).filter(
        from_batch__in=batches
    )
    related = ("ingredient", "article", "rework_of", "from_batch", "delivery__supplier", "source__supplier")
    trace.lots = {lot.pk: lot for lot in lots.select_related(*related).order_by("pk")}


SLOTS = {
    Place.Kind.WORKSHOP: "in_house",
    Place.Kind.STALL: "in_house",
    Place.Kind.SHOP: "at_shops",
    Place.Kind.RETURNS: "to_judge",
    Place.Kind.KEPT: "kept",
}
"""In which column of an account the packs of a kind of place stand."""


def read_packs(maker: Maker, trace: Trace, batches: set[int]) -> None:
    """Read where every unit packed from these batches is."""
    packs = (
        Pack.objects.for_maker(maker)
        .filter(batch__in=batches)
        .select_related("batch", "product")
        .order_by("batch_id", "pk")
    )
    accounts = {pack.pk: PackAccount(pack, 0) for pack in packs}
    holders = stand_at_places(accounts)
    with_recipient = moved_units(maker, accounts)
    for (key, _), units in with_recipient.items():
        accounts[key].with_recipients += units
    trace.accounts = list(accounts.values())
    trace.holders = [*recipients_of(maker, accounts, with_recipient), *holders]


def stand_at_places(accounts: dict[int, PackAccount]) -> list[Holder]:
    """Write what stands at places into the accounts; returns the shops that have some."""
    holders: list[Holder] = []
    balances = PackBalance.objects.filter(pack__in=accounts, units__gt=0).select_related(
        "place", "place__contact"
    )
    for balance in balances.order_by("place__name", "pk"):
        account = accounts[balance.pack_id]
        name = SLOTS[Place.Kind(balance.place.kind)]
        setattr(account, name, getattr(account, name) + balance.units)
        if balance.place.is_out:
            place = balance.place
            holders.append(
                Holder(
                    place.name,
                    place.code,
                    account.pack,
                    balance.units,
                    (),
                    "",
                    how_to_reach(place.contact),
                    True,
                )
            )
    return holders


def moved_units(maker: Maker, accounts: dict[int, PackAccount]) -> dict[tuple[int, int], int]:
    """Write what was made, destroyed and counted into the accounts; returns what each recipient has, by pack."""
    sums = (
        PackEntry.objects.for_maker(maker)
        .filter(pack__in=accounts)
        .values_list("pack_id", "kind", "dispatch__recipient_id", "from_place_id")
        .annotate(sum=Sum("units"))
        .order_by("pack_id")
    )
    with_recipient: dict[tuple[int, int], int] = defaultdict(int)
    for key, kind, recipient, from_place, units in sums:
        account = accounts[key]
        if kind == PackEntry.Kind.PACKED:
            account.made += units
        elif kind == PackEntry.Kind.DESTROYED:
            account.destroyed += units
        elif kind == PackEntry.Kind.COUNTED:
            account.counted_off += units if from_place else -units
        elif kind == PackEntry.Kind.DISPATCHED:
            with_recipient[(key, recipient)] += units
        elif kind == PackEntry.Kind.RETURNED and recipient is not None:
            with_recipient[(key, recipient)] -= units
    return with_recipient


def recipients_of(
    maker: Maker, accounts: dict[int, PackAccount], units: dict[tuple[int, int], int]
) -> list[Holder]:
    """Recipients with what they have, and the dispatches by which it came."""
    people = {
        row.pk: row
        for row in Recipient.objects.for_maker(maker)
        .filter(pk__in={recipient for _, recipient in units})
        .select_related("contact")
    }
    sent: dict[tuple[int, int], list[tuple[str, str]]] = defaultdict(list)
    entries = (
        PackEntry.objects.filter(pack__in=accounts, kind=PackEntry.Kind.DISPATCHED)
        .values_list("pack_id", "dispatch__recipient_id", "dispatch__code", "dispatch__on")
        .order_by("dispatch__on", "pk")
    )
    for pack, recipient, code, on in entries:
        sent[(pack, recipient)].append((code, on.isoformat()))
    found = []
    for (pack, recipient), count in sorted(units.items()):
        if count <= 0:
            continue
        person = people[recipient]
        ways = sent[(pack, recipient)]
        name = (person.contact.name if person.contact else "") or (
            "Buyers of a market day" if person.kind == Recipient.Kind.MARKET else f"{person.code} (erased)"
        )
        found.append(
            Holder(
                name,
                person.code,
                accounts[pack].pack,
                count,
                tuple(dict.fromkeys(code for code, _ in ways)),
                ways[-1][1] if ways else "",
                how_to_reach(person.contact) or "notice at the stall",
                False,
            )
        )
    return found


def how_to_reach(contact: object) -> str:
    """By what a contact can be reached, without the data themselves."""
    if contact is None:
        return ""
    ways = [name for name in ("phone", "email", "address") if getattr(contact, name, "")]
    return {"phone": "telephone", "email": "e-mail", "address": "letter"}[ways[0]] if ways else ""


def read_lot_accounts(maker: Maker, trace: Trace, keys: set[int]) -> None:
    """Read what became of each lot on the path."""
    arrivals = {LotEntry.Kind.RECEIVED, LotEntry.Kind.MADE, LotEntry.Kind.OPENING}
    came: dict[int, Decimal] = defaultdict(Decimal)
    weighed: dict[int, Decimal] = defaultdict(Decimal)
    other: dict[int, Decimal] = defaultdict(Decimal)
    sums = (
        LotEntry.objects.for_maker(maker)
        .filter(lot__in=keys)
        .values_list("lot_id", "kind", "reverses__kind")
        .annotate(sum=Sum("amount"))
        .order_by("lot_id")
    )
    for lot, own_kind, undone, amount in sums:
        kind = undone or own_kind
        if kind in arrivals:
            came[lot] += amount
        elif kind == LotEntry.Kind.WEIGHED:
            weighed[lot] -= amount
        else:
            other[lot] -= amount
    fresh = dict(Lot.objects.for_maker(maker).filter(pk__in=keys).values_list("pk", "on_hand"))
    trace.lot_accounts = [
        LotAccount(trace.lots[key], came[key], weighed[key], other[key], fresh[key])
        for key in sorted(keys)
        if key in trace.lots
    ]
