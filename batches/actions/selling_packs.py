"""Packs: filled from a batch, counted, kept back, destroyed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, cast
from uuid import UUID

from django.db.models import F, Sum

from batches.actions.holds import open_hold
from batches.actions.ledger import locked, owned, write_line
from batches.actions.once import once, still_new
from batches.actions.selling_places import built_in
from batches.filled import short_of
from batches.models import (
    Batch,
    Lot,
    LotEntry,
    LotStatus,
    Output,
    Pack,
    PackBalance,
    PackEntry,
    Place,
    RetainedSample,
)
from batches.trial_lots import trial_behind
from formulas.models import Product
from makers.actions import By, Refused, give_code, recording
from makers.actions.journal import Draft
from makers.rules.display import in_mark
from makers.rules.reading import decimal_mark

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"


def move(by: By, draft: Draft, *, entry_key: UUID | None = None, **fields: Any) -> PackEntry:
    """Write one line of the packs' ledger inside a recording; the database moves the balances."""
    to_place = fields.get("to_place")
    if to_place is not None:
        PackBalance.objects.get_or_create(maker=by.maker, pack=fields["pack"], place=to_place)
    fields.setdefault("occurred_at", by.now())
    line = PackEntry(maker=by.maker, user=by.user, entered_at=by.now(), entry_key=entry_key, **fields)
    line.full_clean()
    line.save()
    draft.change.setdefault("moves", []).append([str(line.uuid), line.kind, line.units])
    return line


def there(pack: Pack, place: Place) -> int:
    """How many units of a pack are at a place."""
    return sum(PackBalance.objects.filter(pack=pack, place=place).values_list("units", flat=True))


def enough(pack: Pack, place: Place, units: int, field: str = "units") -> None:
    """Refuse to take more than is there."""
    if units <= 0:
        raise Refused({field: "Write how many, 1 or more."})
    here = there(pack, place)
    if units > here:
        raise Refused({field: f"{here} of {pack} are at {place}; {units} can't leave. Count, or take fewer."})


def next_pack_code(batch: Batch) -> str:
    """The batch's code with the next letter, short enough to print."""
    taken = batch.packs.count()
    letter = (
        LETTERS[taken] if taken < len(LETTERS) else f"{LETTERS[taken % len(LETTERS)]}{taken // len(LETTERS)}"
    )
    return f"{batch.code[: 19 - len(letter)]}-{letter}"


def pack_batch(
    by: By,
    *,
    batch: Batch,
    product: Product,
    units: int,
    grams: Decimal,
    packed_on: date | None = None,
    best_before: date | None = None,
    although_short: bool = False,
    entry_key: UUID | None = None,
) -> Pack:
    """Fill units of a product from a batch for sale: the packs stand in the workshop, articles leave stock.

    grams: all that went into the packs. The batch must be made; packs leave the house once it is released.
    although_short: must be given where that is less than the label says. The release asks for a reason then;
    packs of a batch that is released already stand on hold until somebody judges them.
    """

    def act() -> Output:
        with recording(by, "pack.packed") as entry:
            still_new(Output, by, entry_key)
            current = locked(by, batch)
            check_packable(current, product, units, grams)
            short = check_full(product, units, grams, although_short)
            day = packed_on or by.today()
            if day > by.today():
                raise Refused({"packed_on": f"{day:%Y-%m-%d} is still to come."})
            pack = Pack(
                maker=by.maker,
                batch=current,
                product=product,
                units=units,
                grams=grams,
                packed_on=day,
                best_before=best_before or current.best_before,
                best_before_why=current.best_before_why,
            )
            pack.code = give_code(by, "pack", pack, wanted=next_pack_code(current))
            pack.full_clean()
            pack.save()
            output = write_output(by, pack, entry_key)
            workshop = built_in(by, Place.Kind.WORKSHOP)
            move(by, entry, pack=pack, kind=PackEntry.Kind.PACKED, units=units, to_place=workshop)
            used = take_articles(by, entry, current, product, units)
            entry.about(pack)
            entry.mention(current, product)
            entry.say(units=units, product=str(product), grams=grams, articles=used)
            if short:
                entry.say(short=short)
            if short and current.state == Batch.State.RELEASED:
                cause = in_mark(f"{short} Packed after the release.", decimal_mark(by.maker.locale))
                open_hold(by, pack=pack, cause=cause)
        return output

    return cast(Pack, once(Output, by, entry_key, act).pack)


def write_output(by: By, pack: Pack, entry_key: UUID | None) -> Output:
    """Write down that a batch yielded these packs; call inside a recording."""
    output = Output(
        maker=by.maker,
        batch=pack.batch,
        kind=Output.Kind.PACKS,
        grams=pack.grams,
        units=pack.units,
        product=pack.product,
        pack=pack,
        occurred_at=by.now(),
        entered_at=by.now(),
        user=by.user,
        entry_key=entry_key,
    )
    output.full_clean()
    output.save()
    return output


def check_packable(batch: Batch, product: Product, units: int, grams: Decimal) -> None:
    """Refuse to pack what can't be packed, with a sentence that says why."""
    if batch.purpose == Batch.Purpose.TRIAL:
        raise Refused(f"{batch} is a trial. Trials are never sold, so they never become packs.")
    if batch.purpose != Batch.Purpose.SALE:
        raise Refused(f"{batch} makes an ingredient. Put it on stock as a lot.")
    if batch.state not in (Batch.State.MADE, Batch.State.RELEASED):
        raise Refused(f"{batch} is {batch.get_state_display().lower()}; packs are filled once it is made.")
    if batch.held:
        raise Refused(f"{batch} is on hold. Judge the hold first.")
    trial = trial_behind(batch)
    if trial is not None:
        raise Refused(f"Trial {trial} is in {batch}. Trials are never sold, so it never becomes packs.")
    if product.formula_id != batch.formula_id:
        raise Refused({"product": f"{product} is made to another formula than {batch}."})
    if units <= 0:
        raise Refused({"units": "Write how many packs, 1 or more."})
    if grams <= 0:
        raise Refused({"grams": "Write the grams that went into the packs."})
    left = bulk_left(batch)
    if left is not None and grams > left:
        raise Refused(
            {"grams": f"{grams.normalize():f} g in packs, but {left.normalize():f} g of the bulk are left."}
        )


def check_full(product: Product, units: int, grams: Decimal, although_short: bool) -> str:
    """What is said of packs that hold less than their label, "" where they hold enough.

    Refuses them unless that is meant: a figure may be mistyped.
    """
    short = short_of(product, units, grams)
    if short and not although_short:
        raise Refused({"grams": f"{short} Look at both figures, or tick that they are filled so."})
    return short


def bulk_left(batch: Batch) -> Decimal | None:
    """Grams of the bulk that no output has taken yet; None before the bulk is weighed."""
    if batch.bulk_g is None:
        return None
    taken = batch.outputs.exclude(kind=Output.Kind.WASTE).aggregate(sum=Sum("grams"))["sum"]
    left: Decimal = batch.bulk_g - (taken or Decimal(0))
    return left


def take_articles(by: By, draft: Draft, batch: Batch, product: Product, units: int) -> list[str]:
    """Take jars, lids and the rest from stock, first to expire first; what is missing is said."""
    said = []
    for part in product.parts.select_related("article"):
        wanted = Decimal(part.count * units)
        lots = (
            Lot.objects.for_maker(by.maker)
            .filter(article=part.article, status=LotStatus.RELEASED, held=False, on_hand__gt=0)
            .order_by(F("good_until").asc(nulls_last=True), "received_on", "pk")
            .select_for_update()
        )
        for lot in lots:
            if wanted <= 0:
                break
            amount = min(wanted, lot.on_hand)
            write_line(by, draft, lot=lot, kind=LotEntry.Kind.PACKED, amount=-amount, batch=batch)
            draft.mention(lot)
            said.append(f"{amount.normalize():f} {part.article} from {lot}")
            wanted -= amount
        if wanted > 0:
            said.append(f"{wanted.normalize():f} {part.article} not on stock")
    return said


def keep_units(
    by: By, *, pack: Pack, units: int, where: str = "", keep_until: date | None = None
) -> RetainedSample:
    """Keep units back as samples."""
    with recording(by, "pack.kept") as entry:
        pack = locked(by, pack, "batch")
        workshop = built_in(by, Place.Kind.WORKSHOP)
        enough(pack, workshop, units)
        sample = RetainedSample(
            maker=by.maker,
            batch=pack.batch,
            pack=pack,
            units=units,
            where=where,
            keep_until=keep_until,
            kept_at=by.now(),
            user=by.user,
        )
        sample.full_clean()
        sample.save()
        move(
            by,
            entry,
            pack=pack,
            kind=PackEntry.Kind.KEPT,
            units=units,
            from_place=workshop,
            to_place=built_in(by, Place.Kind.KEPT),
            why=where,
        )
        entry.about(pack)
        entry.mention(pack.batch)
        entry.say(units=units)
    return sample


def destroy_units(by: By, *, pack: Pack, units: int, place: Place, why: str) -> PackEntry:
    """Destroy units, with the reason."""
    if not why.strip():
        raise Refused({"why": "Say why they are destroyed."})
    with recording(by, "pack.destroyed", why=why) as entry:
        pack, place = locked(by, pack, "batch"), owned(by, place)
        enough(pack, place, units)
        line = move(
            by, entry, pack=pack, kind=PackEntry.Kind.DESTROYED, units=units, from_place=place, why=why
        )
        entry.about(pack)
        entry.mention(pack.batch)
        entry.say(units=units, place=str(place))
    return line


def count_units(by: By, *, pack: Pack, place: Place, found: int, why: str) -> PackEntry | None:
    """Correct the books to what a count found at a place; None when it agrees."""
    if not why.strip():
        raise Refused({"why": "Say how the difference came about, or that nobody knows."})
    if found < 0:
        raise Refused({"found": "A count is 0 or more."})
    with recording(by, "pack.counted", why=why) as entry:
        pack, place = locked(by, pack, "batch"), owned(by, place)
        difference = found - there(pack, place)
        entry.about(pack)
        entry.mention(pack.batch, place)
        entry.say(found=found, place=str(place), difference=f"{difference:+d}")
        if difference == 0:
            return None
        return move(
            by,
            entry,
            pack=pack,
            kind=PackEntry.Kind.COUNTED,
            units=abs(difference),
            from_place=place if difference < 0 else None,
            to_place=place if difference > 0 else None,
            why=why,
        )
