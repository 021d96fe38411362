"""The demo's chapters of the physical world: goods, batches, packs and people, day by day over fourteen months."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from django.db.models import Q

from batches import demo_bench as bench_work
from batches.actions.selling import (
    add_place,
    add_recipient,
    built_in,
    destroy_units,
    dispatch,
    judge_return,
    move_units,
    take_return,
    there,
)
from batches.actions.stock import count_in, count_lot, decide_lot, open_hold, receive_delivery, waste_lot
from batches.actions.tracing import add_complaint_step, end_recall, start_recall, write_complaint
from batches.actions.trials import correct_trial_note, note_trial
from batches.demo_data.calendar import (
    DELIVERIES,
    MAKES,
    OPENING,
    PUZZLE_LOT,
    RECIPIENTS,
    SENDS,
    Came,
    Delivery,
    Make,
)
from batches.demo_data.papers import certificate, tin_from_above
from batches.models import Batch, Complaint, Dispatch, Hold, Lot, Pack, PackEntry, Place
from makers.actions import By
from makers.actions.demo import DemoHouse
from makers.registries import DemoChapter, demo_chapters

HOT_MONTH, HOT_DAY = 7, 19
"""When it was hot on the island: the last such day that lies at least ten days back."""


def register() -> None:
    """Add the chapters to the demo."""
    demo_chapters.add(DemoChapter("Places and people", 30, people))
    demo_chapters.add(DemoChapter("Goods, batches and packs", 40, workshop))


class Calendar:
    """What happens, in the order of its days."""

    def __init__(self, house: DemoHouse) -> None:
        self.house = house
        self._numbers = itertools.count()
        self._waiting: list[tuple[int, int, int, Callable[[], None]]] = []

    def at(self, day: int, hour: int, act: Callable[[], None]) -> None:
        """Put something down for an hour of a day; what lies after today is left out."""
        if day < 0:
            heapq.heappush(self._waiting, (day, hour, next(self._numbers), act))

    def play(self) -> None:
        """Let it all happen."""
        while self._waiting:
            day, hour, _, act = heapq.heappop(self._waiting)
            self.house.clock.to_day(day, hour)
            self.house.clock.forward(60)
            act()


def people(by: By, kept: dict[str, Any], say: Callable[[str], None]) -> None:
    """A stall box, a shop on sale-or-return, and who gets packs."""
    house: DemoHouse = kept["house"]
    house.clock.to_day(-425, 11)
    kept["places"] = {
        "workshop": built_in(by, Place.Kind.WORKSHOP),
        "returns": built_in(by, Place.Kind.RETURNS),
        "stall": add_place(by, name="Stall box", kind=Place.Kind.STALL),
        "shop": add_place(
            by,
            name="Pierhead Reading Room, shelf",
            kind=Place.Kind.SHOP,
            email="till@pierhead-reading.example",
        ),
    }
    kept["recipients"] = {}
    for key, (kind, name, email, market) in RECIPIENTS.items():
        house.clock.forward(120)
        kept["recipients"][key] = add_recipient(
            by, kind=kind, name=name, email=email, market=market or "EU", note=""
        )
    say(f"{len(kept['places']) - 2} places beside the workshop")
    say(f"{len(kept['recipients'])} recipients")


def workshop(by: By, kept: dict[str, Any], say: Callable[[str], None]) -> None:
    """Fourteen months, day by day; then today."""
    house: DemoHouse = kept["house"]
    kept["lots"], kept["batches"], kept["packs"], kept["sent"] = {}, {}, {}, {}
    calendar = Calendar(house)
    calendar.at(-425, 14, lambda: opening(kept))
    for delivery in DELIVERIES:
        calendar.at(delivery.day, 11, partial(received, calendar, kept, delivery))
    for make in MAKES:
        calendar.at(make.day, 10, partial(made, calendar, kept, make))
    put_down_counts(calendar, kept)
    put_down_complaints(calendar, kept)
    calendar.play()
    today(kept)
    maker = by.maker
    say(f"{Lot.objects.for_maker(maker).count()} lots")
    say(f"{Batch.objects.for_maker(maker).count()} batches")
    say(f"{Pack.objects.for_maker(maker).count()} fillings in packs")
    say(f"{Dispatch.objects.for_maker(maker).count()} dispatches")
    say(f"{Complaint.objects.for_maker(maker).count()} complaints")


def good_until(kept: dict[str, Any], came: Came) -> date | None:
    """The last good day of something that came today."""
    today: date = kept["house"].owner.today()
    return today + timedelta(came.months * 30 + 12) if came.months else None


def as_line(kept: dict[str, Any], came: Came) -> dict[str, Any]:
    """A line of a delivery as the action takes it."""
    article = kept["articles"].get(came.what)
    thing = {"article": article} if article else {"ingredient": kept["ingredients"][came.what]}
    return {
        **thing,
        "amount": Decimal(came.amount),
        "unit": "pieces" if article else "g",
        "supplier_lot": came.supplier_lot,
        "good_until": good_until(kept, came),
        "cost": Decimal(came.cost) if came.cost else None,
        "note": came.note if came.fate == "quarantine" else "",
    }


def opening(kept: dict[str, Any]) -> None:
    """The count of what was on the shelf, released on what the owner saw."""
    house: DemoHouse = kept["house"]
    for came in OPENING:
        house.clock.forward(300)
        lot = count_in(house.owner, **as_line(kept, came))
        basis = "Counted on the first day; clean, smells as it should. Where it came from is not known."
        decide_lot(house.owner, lot=lot, became="released", basis=basis)


def received(calendar: Calendar, kept: dict[str, Any], row: Delivery) -> None:
    """A delivery comes in; a day later each lot is decided."""
    house: DemoHouse = kept["house"]
    lines = [as_line(kept, came) for came in row.lines]
    if lines[0].get("ingredient") and row.lines[0].supplier_lot in {PUZZLE_LOT, "BW-2231", "LAV-F-33"}:
        lines[0]["document"] = certificate(
            str(kept["suppliers"][row.supplier]), row.lines[0].what, row.lines[0].supplier_lot
        )
    delivery = receive_delivery(
        house.worker,
        supplier=kept["suppliers"][row.supplier],
        received_on=house.owner.today(),
        currency="EUR",
        reference=row.reference,
        freight=Decimal(row.freight) if row.freight else None,
        lines=lines,
    )
    for came, lot in zip(row.lines, delivery.lots.order_by("pk"), strict=True):
        kept["lots"][came.supplier_lot or came.what] = lot
        if came.fate != "quarantine":
            calendar.at(row.day + 1, 9, partial(decided, kept, came, lot))


def decided(kept: dict[str, Any], came: Came, lot: Lot) -> None:
    """Released or rejected, on what was seen."""
    house: DemoHouse = kept["house"]
    house.clock.forward(180)
    if came.fate == "rejected":
        decide_lot(house.owner, lot=lot, became="rejected", basis=came.note)
        return
    what = (
        "Count and look" if lot.article_id else "Label and certificate name this lot; looks and smells right"
    )
    decide_lot(house.owner, lot=lot, became="released", basis=what)


def made(calendar: Calendar, kept: dict[str, Any], make: Make) -> None:
    """A batch is made; a day or two later it is decided, and its packs go out."""
    house: DemoHouse = kept["house"]
    if make.special == "trial":
        from formulas.demo import start_variant

        start_variant(house.owner, kept)
    bench = bench_work.plan(house, kept, make)
    house.clock.forward(1200)
    pack = bench_work.make_whole(bench)
    kept["batches"][make.key] = bench.batch
    if pack is not None:
        kept["packs"][make.key] = pack
    if make.special == "trial":
        looked_at(calendar, kept, make, bench.batch)
    if make.special in ("waits", "trial"):
        return
    after = 1 if not make.ware else 2
    calendar.at(make.day + after, 15, lambda: settled(calendar, kept, bench, make.day + after))


def looked_at(calendar: Calendar, kept: dict[str, Any], make: Make, trial: Batch) -> None:
    """What the trial showed: set overnight, then a week in the warm; a slip of the pen is put right."""
    house: DemoHouse = kept["house"]

    def cool() -> None:
        note_trial(
            house.worker, batch=trial, seen_on=house.worker.today(), at_c=Decimal(18), firmness="hard",
            look="Even, paler than with beeswax, a glossy top", feel="Drags at first touch, then glides; less tack",
            upload=tin_from_above("candelilla-trial.jpg"),
        )  # fmt: skip

    def warm() -> None:
        kept["warm"] = note_trial(
            house.worker, batch=trial, seen_on=house.worker.today(), at_c=Decimal(36), firmness="right",
            look="No beads of oil", feel="Soft to the finger, keeps its shape in the tin",
            text="A week on the window sill. Next: 11 % of the wax, the difference to the oil.",
        )  # fmt: skip

    def put_right() -> None:
        correct_trial_note(
            house.owner, note=kept["warm"], why="The thermometer on the sill says 26 to 30 °C; 36 was a slip.",
            seen_on=kept["warm"].seen_on, at_c=Decimal(30), firmness="right", look=kept["warm"].look,
            feel=kept["warm"].feel, text=kept["warm"].text,
        )  # fmt: skip

    calendar.at(make.day + 1, 9, cool)
    calendar.at(make.day + 8, 18, warm)
    calendar.at(make.day + 9, 9, put_right)


def settled(calendar: Calendar, kept: dict[str, Any], bench: bench_work.Bench, day: int) -> None:
    """The owner's decision; what was released goes out over the next weeks."""
    bench_work.decide(bench)
    pack = kept["packs"].get(bench.make.key)
    if pack is None:
        return
    calendar.at(day + 1, 16, lambda: to_places(kept, pack))
    for number, (after, origin, to, most) in enumerate(SENDS[len(kept["packs"]) % len(SENDS)]):
        calendar.at(
            day + after,
            11 + number % 5,
            partial(send, kept, bench.make.key, pack, origin, to, most),
        )


def to_places(kept: dict[str, Any], pack: Pack) -> None:
    """Some units to the stall box, some to the shop's shelf."""
    house: DemoHouse = kept["house"]
    places = kept["places"]
    for key, units in (("stall", 14), ("shop", 10)):
        if there(pack, places["workshop"]) > units + 4:
            house.clock.forward(300)
            move_units(
                house.worker, pack=pack, units=units, from_place=places["workshop"], to_place=places[key]
            )


def send(kept: dict[str, Any], key: str, pack: Pack, origin: str, to: str, most: int) -> None:
    """A dispatch, as far as there is something to send and nothing stands against it."""
    house: DemoHouse = kept["house"]
    place = kept["places"][origin]
    units = min(most, there(pack, place))
    holds = Hold.objects.for_maker(house.owner.maker).open()
    if units <= 0 or holds.filter(Q(pack=pack) | Q(batch=pack.batch)).exists():
        return
    sent = dispatch(
        house.worker, recipient=kept["recipients"][to], on=house.owner.today(), lines=[(pack, units, place)]
    )
    kept["sent"][key, to] = sent


def put_down_counts(calendar: Calendar, kept: dict[str, Any]) -> None:
    """A half-yearly count, something spilled, a rehearsal of a recall, and packs that came back."""
    calendar.at(-260, 16, lambda: stocktaking(kept))
    calendar.at(-203, 16, lambda: rehearsal(kept))
    calendar.at(-190, 12, lambda: came_back(kept))
    calendar.at(-21, 12, lambda: back_unjudged(kept))


def stocktaking(kept: dict[str, Any]) -> None:
    """What the count found, and what was spilled."""
    house: DemoHouse = kept["house"]
    for code, off in (("GL-7789", "-6"), ("XG-14", "-1.2"), ("SHB-0907", "-12")):
        lot: Lot = kept["lots"][code]
        lot.refresh_from_db()
        house.clock.forward(240)
        found = lot.on_hand + Decimal(off)
        count_lot(house.worker, lot=lot, found=found, why="Half-yearly count; spatulas and the bucket's rim.")
    lot = kept["lots"]["MCT-448"]
    waste_lot(house.worker, lot=lot, amount=Decimal(45), why="Knocked over at the bench.")


def rehearsal(kept: dict[str, Any]) -> None:
    """A recall is rehearsed once a year, from a lot of wax."""
    house: DemoHouse = kept["house"]
    recall = start_recall(
        house.owner,
        rehearsal=True,
        lot=kept["lots"]["BW-2231"],
        reason="The yearly rehearsal, with a lot of wax.",
    )
    house.clock.forward(2700)
    found = int(recall.scope.get("to_recover", 0)) + int(recall.scope.get("in_house", 0))
    end_recall(
        house.owner, recall=recall, found_units=found,
        conclusion="Every unit has a name or a market day. For market days a notice at the stall is all we have.",
    )  # fmt: skip


def came_back(kept: dict[str, Any]) -> None:
    """A shop sends balms back after a window in the sun; looked at one by one."""
    house: DemoHouse = kept["house"]
    pack: Pack = kept["packs"]["balm4"]
    units = min(4, there(pack, kept["places"]["shop"]))
    back = take_return(
        house.worker, pack=pack, units=units, on=house.owner.today(), place=kept["places"]["shop"],
        reason="Stood in the shop window in the sun; the shop would rather have fresh ones.",
    )  # fmt: skip
    house.clock.forward(5400)
    judge_return(
        house.owner, came_back=back, units=units - 1, verdict="restore", why="Firm, smell and seal as new."
    )
    judge_return(house.owner, came_back=back, units=1, verdict="destroy", why="Lid dented, oil at the rim.")


def back_unjudged(kept: dict[str, Any]) -> None:
    """One bar comes back and still waits to be judged."""
    house: DemoHouse = kept["house"]
    sent = next(
        one for (key, _), one in kept["sent"].items() if key == "bar4" and one.recipient.kind == "shop"
    )
    take_return(
        house.worker, pack=kept["packs"]["bar4"], units=2, on=house.owner.today(), sent=sent,
        reason="Dark specks in two bars, noticed on the shelf.",
    )  # fmt: skip


def hot_day(house: DemoHouse) -> int:
    """Days from today to the last hot spell."""
    year = house.clock.today.year
    days = [(date(one, HOT_MONTH, HOT_DAY) - house.clock.today).days for one in (year, year - 1)]
    return next(day for day in days if day <= -10)


def put_down_complaints(calendar: Calendar, kept: dict[str, Any]) -> None:
    """Three complaints, and what the third sets off."""
    calendar.at(hot_day(kept["house"]), 17, lambda: too_soft(calendar, kept))
    calendar.at(-6, 19, lambda: rash(kept))
    calendar.at(-12, 18, lambda: specks(kept))
    calendar.at(-9, 10, lambda: off_specification(kept))


def last_sent(kept: dict[str, Any], ware: str) -> PackEntry:
    """The last dispatch of a product so far."""
    house: DemoHouse = kept["house"]
    found: PackEntry = (
        PackEntry.objects.for_maker(house.owner.maker)
        .filter(kind=PackEntry.Kind.DISPATCHED, pack__product=kept["products"][ware])
        .select_related("pack", "dispatch")
        .latest("pk")
    )
    return found


def too_soft(calendar: Calendar, kept: dict[str, Any]) -> None:
    """A balm that ran in the heat: looked into, answered, closed."""
    house: DemoHouse = kept["house"]
    line = last_sent(kept, "balm")
    complaint = write_complaint(
        house.owner, kind="quality", channel="e-mail", market="EU", code_given=line.pack.code,
        words="The balm was like soup when I opened it after a day in the car. Is it still good?",
        name="Sorcha Bellwether", email="sorcha@letterbox.example",
    )  # fmt: skip
    house.clock.forward(4000)
    found = (
        "29 °C in the shade all week; a car is far hotter. Kept sample firm at 22 °C. No other buyer wrote."
    )
    add_complaint_step(house.owner, complaint=complaint, kind="found", text=found)
    answer = "Still good: let it set in the fridge. It can turn grainy, which does no harm. Sent a new tin."
    add_complaint_step(house.owner, complaint=complaint, kind="answered", text=answer)
    house.clock.forward(600)
    conclusion = "Storage, not the batch. The next label says to keep it below 25 °C."
    add_complaint_step(house.owner, complaint=complaint, kind="closed", text=conclusion)


def rash(kept: dict[str, Any]) -> None:
    """A reaction in the United States; the clock runs."""
    house: DemoHouse = kept["house"]
    pack: Pack = kept["packs"]["cream4"]
    complaint = write_complaint(
        house.owner, kind="reaction", channel="e-mail", market="US", code_given=pack.code,
        words="Red itchy patches on both cheeks the morning after I used your cream, still there a week later. "
        "The doctor gave me an ointment.",
        facts={"rash": "yes", "persistent": "yes", "disfigurement": "yes", "medical": "yes", "hospital": "no"},
        name="June Larkspur-Tate", email="june@mailbox.example",
    )  # fmt: skip
    house.clock.forward(3000)
    text = "Asked to stop using it, for a photo, for other products used, and whether she knows an allergy."
    add_complaint_step(house.owner, complaint=complaint, kind="answered", text=text)


def specks(kept: dict[str, Any]) -> None:
    """The beginning of the puzzle: dark specks and a musty smell."""
    house: DemoHouse = kept["house"]
    pack: Pack = kept["packs"]["bar4"]
    complaint = write_complaint(
        house.owner, kind="quality", channel="at the stall", market="EU", code_given=pack.code,
        words="The bar has dark specks inside and smells like a damp cupboard.",
        name="Orlaith Penhallurick-Moon", email="orlaith@letterbox.example",
    )  # fmt: skip
    kept["puzzle"] = complaint
    house.clock.forward(3600)
    text = "The two bars that came back from a shop look the same. The kept sample smells faintly of it too."
    add_complaint_step(house.owner, complaint=complaint, kind="found", text=text)


def off_specification(kept: dict[str, Any]) -> None:
    """The supplier's notice: petals off specification; everything that holds them is stopped."""
    house: DemoHouse = kept["house"]
    cause = f"Notice of Petrelwick: petals {PUZZLE_LOT} were packed too damp, mould above specification."
    open_hold(house.owner, lot=kept["lots"][PUZZLE_LOT], cause=cause)
    add_complaint_step(
        house.owner, complaint=kept["puzzle"], kind="found",
        text=f"{cause} Traced forward: one infusion, and through it a balm and a bar.",
    )  # fmt: skip
    house.clock.forward(900)
    why = f"Made with petals {PUZZLE_LOT}, off specification."
    open_hold(house.owner, lot=kept["lots"]["inf3"], cause=why)
    for key in ("balm5", "bar4"):
        house.clock.forward(300)
        through = f"Through the infusion, petals {PUZZLE_LOT}, off specification. To be judged before anything leaves."
        open_hold(house.owner, batch=kept["batches"][key], cause=through)
    pack: Pack = kept["packs"]["bar4"]
    place = kept["places"]["stall"]
    if there(pack, place):
        destroy_units(
            house.worker, pack=pack, units=1, place=place, why="Cut open to look inside: specks all through."
        )


def today(kept: dict[str, Any]) -> None:
    """Today: one batch on the bench, half weighed, and one planned."""
    house: DemoHouse = kept["house"]
    for make in MAKES:
        if make.special == "now":
            house.clock.to(house.clock.end - timedelta(minutes=50))
            bench = bench_work.plan(house, kept, make)
            house.clock.forward(300)
            bench_work.start(bench)
            bench_work.weigh_all(bench, lines=5)
            kept["batches"][make.key] = bench.batch
        if make.special == "planned":
            kept["batches"][make.key] = bench_work.plan(house, kept, make).batch
