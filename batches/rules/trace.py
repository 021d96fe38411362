"""Which lots are in which batches, which packs came of them and who has those: pure walks over links.

Lots go into batches (``Weighed``); batches make lots, in-house ingredients and rework alike (``Made``), and
packs (``Packed``); packs move between holders (``Moved``). Keys are the caller's own strings. A walk takes
any depth, visits each record once and so ends even on links that run in a circle.

Shares assume that a lot made by a batch has the composition of what went into it; they are plain sums and
ratios, kept as fractions so that nothing is rounded on the way.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_EVEN, Context, Decimal, DivisionByZero, InvalidOperation, Overflow
from fractions import Fraction
from typing import Literal

HolderKind = Literal["out", "in house", "to judge", "kept", "destroyed"]
"""Where units are: with somebody else, here for sale, come back and not judged, retained, gone for good."""

_WIDE = Context(prec=50, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation, DivisionByZero, Overflow])


@dataclass(frozen=True, slots=True)
class Weighed:
    """Grams of a lot that went into a batch, corrections taken off; one for each weighing is fine."""

    lot: str
    batch: str
    grams: Decimal


@dataclass(frozen=True, slots=True)
class Made:
    """Grams of a lot that a batch made: an in-house ingredient, or rework set aside."""

    batch: str
    lot: str
    grams: Decimal


@dataclass(frozen=True, slots=True)
class Packed:
    """Units filled from a batch; grams: what they hold together, None when not known."""

    batch: str
    pack: str
    units: int
    grams: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Moved:
    """Units of a pack that went from one holder to another. start "": filled, where they began."""

    pack: str
    start: str
    end: str
    units: int


@dataclass(frozen=True, slots=True)
class Links:
    """All links of a trace. Refuses to exist with a negative quantity or a lot that two batches made."""

    weighed: tuple[Weighed, ...] = ()
    made: tuple[Made, ...] = ()
    packed: tuple[Packed, ...] = ()
    moved: tuple[Moved, ...] = ()
    _into: Mapping[str, tuple[str, ...]] = field(init=False, repr=False, compare=False)
    _inputs: Mapping[str, tuple[str, ...]] = field(init=False, repr=False, compare=False)
    _lots_of: Mapping[str, tuple[str, ...]] = field(init=False, repr=False, compare=False)
    _maker_of: Mapping[str, str] = field(init=False, repr=False, compare=False)
    _grams: Mapping[tuple[str, str], Decimal] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if any(grams < 0 for grams in [*(w.grams for w in self.weighed), *(m.grams for m in self.made)]):
            raise ValueError("grams of a link are 0 or more")
        if any(units < 0 for units in [*(p.units for p in self.packed), *(m.units for m in self.moved)]):
            raise ValueError("units of a link are 0 or more")
        makers: dict[str, str] = {}
        for link in self.made:
            if makers.setdefault(link.lot, link.batch) != link.batch:
                raise ValueError(f"{link.lot} can't come of both {makers[link.lot]} and {link.batch}")
        sums: dict[tuple[str, str], Decimal] = {}
        for use in self.weighed:
            sums[(use.lot, use.batch)] = sums.get((use.lot, use.batch), Decimal(0)) + use.grams
        kept = {pair for pair, sum_g in sums.items() if sum_g > 0}
        object.__setattr__(self, "_grams", sums)
        object.__setattr__(self, "_into", _grouped((lot, batch) for lot, batch in kept))
        object.__setattr__(self, "_inputs", _grouped((batch, lot) for lot, batch in kept))
        object.__setattr__(self, "_lots_of", _grouped((link.batch, link.lot) for link in self.made))
        object.__setattr__(self, "_maker_of", makers)

    def batches_of(self, lot: str) -> tuple[str, ...]:
        """Batches that the lot was weighed into itself."""
        return self._into.get(lot, ())

    def lots_in(self, batch: str) -> tuple[str, ...]:
        """Lots weighed into the batch itself."""
        return self._inputs.get(batch, ())

    def lots_made_by(self, batch: str) -> tuple[str, ...]:
        """In-house and rework lots that the batch made."""
        return self._lots_of.get(batch, ())

    def maker_of(self, lot: str) -> str | None:
        """The batch that made the lot; None for one that came from outside."""
        return self._maker_of.get(lot)

    def grams_in(self, lot: str, batch: str) -> Decimal:
        """Grams of the lot weighed into the batch itself."""
        return self._grams.get((lot, batch), Decimal(0))

    def input_g(self, batch: str) -> Decimal:
        """All that went into the batch, g."""
        return sum((self.grams_in(lot, batch) for lot in self.lots_in(batch)), Decimal(0))


@dataclass(frozen=True, slots=True)
class BatchReached:
    """A batch that a lot reached. through: the made lots in it that carry the lot; empty when only direct."""

    batch: str
    direct: bool
    through: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LotBehind:
    """A lot behind a batch. through: the batches behind it that it went into; empty when only direct."""

    lot: str
    direct: bool
    through: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Forward:
    """Where lots went: each batch once, the lots made on the way, the packs."""

    batches: tuple[BatchReached, ...]
    lots: tuple[str, ...]
    packs: tuple[str, ...]

    @property
    def batch_keys(self) -> tuple[str, ...]:
        """Keys of the batches reached, sorted."""
        return tuple(one.batch for one in self.batches)


@dataclass(frozen=True, slots=True)
class Backward:
    """What stands behind a batch: each lot once, and the batches that made some of them."""

    lots: tuple[LotBehind, ...]
    batches: tuple[str, ...]

    @property
    def lot_keys(self) -> tuple[str, ...]:
        """Keys of the lots behind, sorted."""
        return tuple(one.lot for one in self.lots)

    def bought(self, links: Links) -> tuple[str, ...]:
        """Of these lots the ones that came from outside."""
        return tuple(lot for lot in self.lot_keys if links.maker_of(lot) is None)


def forward(links: Links, lots: Iterable[str]) -> Forward:
    """Every batch, made lot and pack that these lots reached; several for a supplier lot received twice."""
    starts = set(lots)
    carrying, reached = set(starts), set[str]()
    waiting = deque(sorted(starts))
    while waiting:
        for batch in links.batches_of(waiting.popleft()):
            if batch in reached:
                continue
            reached.add(batch)
            for made in links.lots_made_by(batch):
                if made not in carrying:
                    carrying.add(made)
                    waiting.append(made)
    return Forward(
        batches=tuple(
            BatchReached(
                batch,
                direct=any(lot in starts for lot in links.lots_in(batch)),
                through=tuple(lot for lot in links.lots_in(batch) if lot in carrying - starts),
            )
            for batch in sorted(reached)
        ),
        lots=tuple(sorted(carrying - starts)),
        packs=tuple(sorted({link.pack for link in links.packed if link.batch in reached})),
    )


def backward(links: Links, batch: str) -> Backward:
    """Every lot behind a batch, weighed into it or into a batch that made one of its lots."""
    behind, lots = {batch}, set[str]()
    waiting = deque([batch])
    while waiting:
        for lot in links.lots_in(waiting.popleft()):
            lots.add(lot)
            maker = links.maker_of(lot)
            if maker is not None and maker not in behind:
                behind.add(maker)
                waiting.append(maker)
    return Backward(
        lots=tuple(
            LotBehind(
                lot,
                direct=batch in links.batches_of(lot),
                through=tuple(one for one in links.batches_of(lot) if one in behind - {batch}),
            )
            for lot in sorted(lots)
        ),
        batches=tuple(sorted(behind - {batch})),
    )


def would_loop(links: Links, *, lot: str, batch: str) -> tuple[str, ...]:
    """The way on which ``batch`` already stands behind ``lot``, from batch to lot; empty when it does not.

    A lot with such a way may not be weighed into the batch: it would become its own ancestor.
    """
    came_from: dict[str, str] = {}
    waiting = deque(links.lots_made_by(batch))
    for made in links.lots_made_by(batch):
        came_from[made] = batch
    while waiting:
        here = waiting.popleft()
        if here == lot:
            way = [here]
            while way[-1] != batch:
                way.append(came_from[way[-1]])
            return tuple(reversed(way))
        for child in links.batches_of(here):
            if child in came_from or child == batch:
                continue
            came_from[child] = here
            for made in links.lots_made_by(child):
                if made not in came_from:
                    came_from[made] = child
                    waiting.append(made)
    return ()


def ways(links: Links, *, lot: str, batch: str, most: int = 50) -> tuple[tuple[str, ...], ...]:
    """How a lot got into a batch: every way as keys from lot to batch, shortest first, ``most`` of them.

    ("L2", "B1", "R1", "B2") reads: L2 into B1, which made R1, which went into B2.
    """
    needed = set(backward(links, batch).batches) | {batch}
    found: list[tuple[str, ...]] = []
    waiting: deque[tuple[str, ...]] = deque([(lot,)])
    while waiting and len(found) < most:
        way = waiting.popleft()
        for next_batch in links.batches_of(way[-1]):
            if next_batch not in needed or next_batch in way:
                continue
            if next_batch == batch:
                found.append((*way, batch))
                continue
            waiting.extend((*way, next_batch, made) for made in links.lots_made_by(next_batch))
    return tuple(found[:most])


def share_of(links: Links, *, lots: Iterable[str], batch: str) -> Fraction:
    """The part of a batch's input mass that came from these lots, 0 to 1, through made lots at any depth.

    Raises ValueError when the links run in a circle or a batch on the way has no input.
    """
    starts = frozenset(lots)
    shares: dict[str, Fraction] = {}
    waiting, under_way = [batch], {batch}
    while waiting:
        here = waiting[-1]
        next_maker = next(
            (
                maker
                for lot in links.lots_in(here)
                if lot not in starts and (maker := links.maker_of(lot)) is not None and maker not in shares
            ),
            None,
        )
        if next_maker is None:
            shares[here] = _own_share(links, here, starts, shares)
            under_way.discard(waiting.pop())
        elif next_maker in under_way:
            raise ValueError(f"{next_maker} would be its own ancestor")
        else:
            waiting.append(next_maker)
            under_way.add(next_maker)
    return shares[batch]


def grams_of(links: Links, *, lots: Iterable[str], batch: str) -> Decimal:
    """Grams of these lots among what went into a batch, through made lots at any depth."""
    return as_decimal(share_of(links, lots=lots, batch=batch) * Fraction(links.input_g(batch)))


def spread(amounts: Mapping[str, Decimal], share: Fraction) -> dict[str, Decimal]:
    """What part of each amount (packs, samples, waste…) came from a lot of that share, same keys."""
    return {name: as_decimal(Fraction(amount) * share) for name, amount in amounts.items()}


def holdings(moved: Iterable[Moved]) -> dict[tuple[str, str], int]:
    """Units by (pack, holder), zero ones left out. Raises ValueError where a holder gave more than it had."""
    units: dict[tuple[str, str], int] = {}
    for move in moved:
        if move.start:
            units[(move.pack, move.start)] = units.get((move.pack, move.start), 0) - move.units
        units[(move.pack, move.end)] = units.get((move.pack, move.end), 0) + move.units
    for (pack, holder), count in units.items():
        if count < 0:
            raise ValueError(f"{holder} gave {-count} more of {pack} than it had")
    return {place: count for place, count in sorted(units.items()) if count}


@dataclass(frozen=True, slots=True)
class UnitAccount:
    """Units of the packs asked for, by where they are. The parts and ``missing`` make ``filled``."""

    filled: int
    out: int
    in_house: int
    to_judge: int
    kept: int
    destroyed: int
    by_holder: tuple[tuple[str, int], ...]

    @property
    def missing(self) -> int:
        """Units that no record places; below 0 when more are placed than were filled."""
        return self.filled - self.out - self.in_house - self.to_judge - self.kept - self.destroyed


def unit_account(links: Links, packs: Iterable[str], kinds: Mapping[str, HolderKind]) -> UnitAccount:
    """Where the units of these packs are. kinds: of each holder; one that is not named counts as out.

    by_holder: units out of the house by holder, sorted by name, over all the packs: whom to ask in a recall.
    """
    wanted = set(packs)
    sums: dict[HolderKind, int] = {}
    outside: dict[str, int] = {}
    for (_, holder), count in holdings(move for move in links.moved if move.pack in wanted).items():
        kind = kinds.get(holder, "out")
        sums[kind] = sums.get(kind, 0) + count
        if kind == "out":
            outside[holder] = outside.get(holder, 0) + count
    return UnitAccount(
        filled=sum(link.units for link in links.packed if link.pack in wanted),
        out=sums.get("out", 0),
        in_house=sums.get("in house", 0),
        to_judge=sums.get("to judge", 0),
        kept=sums.get("kept", 0),
        destroyed=sums.get("destroyed", 0),
        by_holder=tuple(sorted(outside.items())),
    )


def grams_outside(links: Links, *, lots: Sequence[str], kinds: Mapping[str, HolderKind]) -> Decimal | None:
    """Grams of these lots out of the house in packs; None when a pack's filled grams are not known."""
    reached = set(forward(links, lots).batch_keys)
    total = Fraction(0)
    for link in links.packed:
        if link.batch not in reached or not link.units:
            continue
        out = unit_account(links, [link.pack], kinds).out
        if not out:
            continue
        if link.grams is None:
            return None
        per_unit = Fraction(link.grams) / link.units
        total += out * per_unit * share_of(links, lots=lots, batch=link.batch)
    return as_decimal(total)


def as_decimal(value: Fraction) -> Decimal:
    """A fraction with 50 digits."""
    return _WIDE.divide(Decimal(value.numerator), Decimal(value.denominator))


def _grouped(pairs: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    groups: dict[str, set[str]] = {}
    for key, value in pairs:
        groups.setdefault(key, set()).add(value)
    return {key: tuple(sorted(values)) for key, values in groups.items()}


def _own_share(links: Links, batch: str, starts: frozenset[str], shares: Mapping[str, Fraction]) -> Fraction:
    """The share in a batch whose made inputs have theirs."""
    whole = links.input_g(batch)
    if not whole:
        raise ValueError(f"nothing went into {batch}")
    part = Fraction(0)
    for lot in links.lots_in(batch):
        grams = Fraction(links.grams_in(lot, batch))
        maker = links.maker_of(lot)
        if lot in starts:
            part += grams
        elif maker is not None:
            part += grams * shares[maker]
    return part / Fraction(whole)
