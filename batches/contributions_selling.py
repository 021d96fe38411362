"""What packs, dispatches, complaints, recalls and the trace contribute to the house."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial

from django.db.models import F, Q, Sum

from batches.complaint_clocks import running_clocks
from batches.models import (
    Batch,
    Complaint,
    Dispatch,
    Pack,
    PackBalance,
    PackEntry,
    Recall,
    Recipient,
    Return,
)
from makers.actions import By
from makers.http import address
from makers.models import Code, Maker
from makers.registries import (
    CodeKind,
    Fault,
    FirstStep,
    Found,
    JournalKind,
    NavigationPlace,
    OpeningHook,
    RecordCheck,
    SearchSource,
    TodayItem,
    TodaySource,
    code_kinds,
    first_steps,
    journal_kinds,
    navigation,
    opening_hooks,
    record_checks,
    search_sources,
    today_items,
)

RUNNING = ("required", "unknown", "check")
"""Duties whose day counts until somebody knows better."""

CODES = (
    ("pack", 60, "Pack", "PK{year}-{number:04}", "batches:pack"),
    ("place", 61, "Place", "PL-{number:02}", "batches:place"),
    ("recipient", 62, "Recipient", "TO-{number:03}", "batches:recipient"),
    ("dispatch", 63, "Dispatch", "D-{number:04}", "batches:dispatch"),
    ("return", 64, "Return", "RT-{number:03}", "batches:return"),
    ("complaint", 65, "Complaint", "C-{number:04}", "batches:complaint"),
    ("recall", 66, "Recall", "RC-{number:02}", "batches:recall"),
)
"""Kinds of codes: name, order, title, how the next one is made, and the page of a record."""

JOURNAL = (
    JournalKind("place.added", "added the place {subject}, {kind}"),
    JournalKind("recipient.added", "added the recipient {subject}, {kind}"),
    JournalKind("pack.packed", "packed {units} of {product} as {subject}"),
    JournalKind("pack.kept", "kept {units} of {subject} as samples"),
    JournalKind("pack.destroyed", "destroyed {units} of {subject}"),
    JournalKind("pack.moved", "moved {units} of {subject} from {origin} to {target}"),
    JournalKind("pack.counted", "counted {subject} at {place}: {found}, {difference}"),
    JournalKind("dispatch.sent", "sent {what} to {recipient} as {subject}"),
    JournalKind("return.taken", "took back {units} of {pack} as {subject}"),
    JournalKind("return.restored", "put {units} of {subject} back for sale"),
    JournalKind("return.destroyed", "destroyed {units} of {subject}"),
    JournalKind("complaint.written", "wrote complaint {subject}, {kind}"),
    JournalKind("complaint.step", "wrote on complaint {subject}, {step}: {text}"),
    JournalKind("recall.started", "started the recall {subject} from {start}: {to_recover} packs to recover"),
    JournalKind(
        "recall.rehearsed", "rehearsed the recall {subject} from {start}: {to_recover} packs to recover"
    ),
    JournalKind("recall.ended", "ended {subject}: {found} packs found in {minutes} minutes"),
)


def code_url(view: str, maker: Maker, code: Code) -> str:
    """A record's page by its code."""
    return address(maker, view, code=code.text)


def find(maker: Maker, words: str, most: int) -> Sequence[Found]:
    """Recipients by name, dispatches by reference."""
    people = (
        Recipient.objects.for_maker(maker).filter(contact__name__icontains=words).select_related("contact")
    )
    hits = [
        Found(one.contact.name, address(maker, "batches:recipient", code=one.code), "Recipient", one.code)
        for one in people[:most]
        if one.contact
    ]
    sent = Dispatch.objects.for_maker(maker).filter(reference__icontains=words)
    hits += [
        Found(one.reference, address(maker, "batches:dispatch", code=one.code), "Dispatch", one.code)
        for one in sent[:most]
    ]
    return hits


def returns_to_judge(maker: Maker, today: date) -> Sequence[TodayItem]:
    """Returns that wait."""
    rows = (
        Return.objects.for_maker(maker)
        .select_related("pack__product")
        .annotate(judged=Sum("entries__units", filter=Q(entries__kind__in=["restored", "destroyed"])))
        .filter(Q(judged__isnull=True) | Q(judged__lt=F("units")))
        .order_by("pk")
    )
    return [
        TodayItem(
            mark="returned",
            word="Came back",
            text=f"{one.pack.product}, return {one.code}: {one.reason}",
            url=address(maker, "batches:return", code=one.code),
            figure=str(one.units - (one.judged or 0)),
            figure_note="packs to judge",
            act="Judge",
            order=40,
        )
        for one in rows[:20]
    ]


def open_complaints(maker: Maker, today: date) -> Sequence[TodayItem]:
    """Complaints that nobody has closed."""
    rows = (
        Complaint.objects.for_maker(maker)
        .filter(state=Complaint.State.OPEN)
        .select_related("batch", "product")
    )
    items = []
    for one in rows.order_by("pk")[:20]:
        days = (today - one.received_at.astimezone(maker.zone).date()).days
        dues = [clock.due for clock in running_clocks(maker, one) if clock.due and clock.duty in RUNNING]
        about = str(one.product or one.batch or "a product not named")
        health = one.kind == Complaint.Kind.REACTION
        until = f" Report due by {min(dues):%Y-%m-%d}, if it counts as serious." if health and dues else ""
        items.append(
            TodayItem(
                mark="clock" if health else "open",
                word="Clock running" if health else "Open",
                text=f"Complaint {one.code}, {one.get_kind_display().lower()}: {about}.{until}",
                url=address(maker, "batches:complaint", code=one.code),
                figure=str(days),
                figure_note="days since it came" if days != 1 else "day since it came",
                act="Decide",
                now=health,
                order=15 if health else 45,
            )
        )
    return items


def balances_agree(maker: Maker) -> Sequence[Fault]:
    """Every balance of packs equals the sum of its entries."""
    moved: dict[tuple[int, int], int] = {}
    for pack, start, end, units in (
        PackEntry.objects.for_maker(maker)
        .values_list("pack_id", "from_place_id", "to_place_id")
        .annotate(sum=Sum("units"))
        .order_by("pack_id")
    ):
        if start:
            moved[(pack, start)] = moved.get((pack, start), 0) - units
        if end:
            moved[(pack, end)] = moved.get((pack, end), 0) + units
    faults = []
    for balance in PackBalance.objects.for_maker(maker).select_related("pack", "place"):
        wanted = moved.pop((balance.pack_id, balance.place_id), 0)
        if balance.units != wanted:
            faults.append(
                Fault(
                    f"pack {balance.pack} at {balance.place}",
                    f"{balance.units} stand there, the moves give {wanted}.",
                )
            )
    faults += [Fault("packs", f"{units} units moved without a balance.") for units in moved.values() if units]
    return faults


def set_up(by: By) -> None:
    """The places of a new maker."""
    from batches.actions.selling import set_up_places

    set_up_places(by)


def register() -> None:
    """Add every contribution; called once on start."""
    for name, order, title, pattern, view in CODES:
        code_kinds.add(CodeKind(name, order, title, pattern, partial(code_url, view)))
    for kind in JOURNAL:
        journal_kinds.add(kind)
    navigation.add(
        NavigationPlace(
            "trace",
            60,
            "Trace",
            "batches:trace",
            (
                "batches:trace", "batches:complaints", "batches:complaint", "batches:complaint-add", "batches:recalls",
                "batches:recall", "batches:recall-start",
            ),
        )
    )  # fmt: skip
    search_sources.add(SearchSource("recipients", 50, find))
    today_items.add(TodaySource("complaints", 10, open_complaints))
    today_items.add(TodaySource("returns", 40, returns_to_judge))
    record_checks.add(RecordCheck("packs", 30, balances_agree))
    opening_hooks.add(OpeningHook("places", 10, set_up))
    first_steps.add(
        FirstStep(
            "dispatch",
            70,
            "Send packs, or write down a market day",
            "batches:packs",
            lambda maker: Dispatch.objects.for_maker(maker).exists(),
        )
    )


__all__ = ["Batch", "Pack", "Recall", "register"]
