"""The demo: an invented workshop whose records are written by the same actions as the screens use.

Only the clock differs: it runs through the workshop's past fourteen months, and every journal entry says so.
Each world adds its chapters to the registry; here they are played in one transaction, so that an interrupted
loading leaves nothing behind.
"""

from __future__ import annotations

import gc
import random
import secrets
import time as stopwatch
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from makers.actions.by import By, Refused
from makers.actions.house import add_member, check_scale, open_maker
from makers.actions.journal import holding_chain
from makers.models import Maker, Role, Scale, User
from makers.registries import demo_chapters

ZONE = "Europe/Dublin"
CLOCK_NAME = "demo"
SEED = 1904
FIRST_DAY = -428
"""The day on which the demo's book was opened, counted from today."""

OWNER = ("ide@wrack-and-simples.example", "Íde Saltreed")
WORKER = ("bram@wrack-and-simples.example", "Bram Loosestrife")
READER = ("posy@wrack-and-simples.example", "Posy Marlfoot")
WORDS = (
    "amber basin bramble candle clover copper cordgrass cowrie drift eelgrass ember fathom fennel gannet "
    "harbour heather kelp kettle lantern larch linen lugsail marram mortar mussel oakum oyster pebble petrel "
    "pestle plover quern rowan saffron samphire sandbar sedge shingle sorrel tallow tansy teasel thistle thrift "
    "tidepool whelk willow wrack yarrow"
).split()


class DemoClock:
    """The demo's time: set from day to day, never backwards, never beyond the moment of loading."""

    def __init__(self, end: datetime, zone: ZoneInfo) -> None:
        self.end, self.zone = end, zone
        self.today: date = end.astimezone(zone).date()
        self.moment = datetime.combine(self.today + timedelta(FIRST_DAY - 1), time(8), zone)

    def __call__(self) -> datetime:
        return self.moment

    def day(self, offset: int) -> date:
        """The date ``offset`` days from today."""
        return self.today + timedelta(offset)

    def to(self, moment: datetime) -> None:
        """Go on to a moment; one that has passed, or is still to come for the server, changes nothing beyond."""
        self.moment = max(self.moment, min(moment, self.end))

    def to_day(self, offset: int, hour: int = 9, minute: int = 0) -> None:
        """Go on to a time of day, ``offset`` days from today."""
        self.to(datetime.combine(self.day(offset), time(hour, minute), self.zone))

    def forward(self, seconds: int) -> None:
        """Let some time pass."""
        self.to(self.moment + timedelta(seconds=seconds))


@dataclass(slots=True)
class DemoHouse:
    """What the chapters share; found in ``kept["house"]``."""

    clock: DemoClock
    owner: By
    worker: By
    password: str
    chance: random.Random
    scales: dict[str, Scale]
    when_packed: list[Callable[[Any], None]] = field(default_factory=list)
    """Called with each pack as it is filled: how the labels get on the jars."""


@dataclass(frozen=True, slots=True)
class DemoAccess:
    """How to get in."""

    owner: str
    worker: str
    reader: str
    password: str
    maker: Maker


def new_password() -> str:
    """Four words and two figures: easy to type from the screen, different on every machine."""
    words = [secrets.choice(WORDS) for _ in range(4)]
    return "-".join([*words, str(secrets.randbelow(90) + 10)])


def load_demo(say: Callable[[str], None], *, password: str = "", now: datetime | None = None) -> DemoAccess:
    """Write the demo into the database. Raises Refused when the demo, or its people, are there already.

    say: told what was written, chapter by chapter. now: the moment that everything is dated from.
    """
    if Maker.objects.filter(is_demo=True).exists():
        raise Refused("The demo is here already. Start with another data folder for a fresh one.")
    if User.objects.filter(email__in=[OWNER[0], WORKER[0], READER[0]]).exists():
        raise Refused("The demo's people have accounts here already, so the demo stays out of this database.")
    password = password or new_password()
    with unswept(), transaction.atomic():
        house = open_house(password, now or timezone.now())
        kept: dict[str, Any] = {"house": house}
        with holding_chain(house.owner.maker):
            for chapter in demo_chapters:
                started = stopwatch.monotonic()
                said: list[str] = []
                chapter.build(house.owner, kept, said.append)
                took = stopwatch.monotonic() - started
                say(f"{chapter.name}: {', '.join(said)} ({took:.1f} s)")
    return DemoAccess(OWNER[0], WORKER[0], READER[0], password, house.owner.maker)


@contextmanager
def unswept() -> Iterator[None]:
    """Leave the collector of unused cycles off meanwhile: there is little to collect, and much to look through."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def open_house(password: str, now: datetime) -> DemoHouse:
    """The workshop, its people and its scales."""
    clock = DemoClock(now, ZoneInfo(ZONE))
    clock.to_day(FIRST_DAY)
    user = User.objects.create_user(OWNER[0], password, name=OWNER[1])
    # Signing a release asks for the password. It was set a line above; deriving it anew for every batch would
    # take longer than all the rest, so this one object compares it directly.
    user.__dict__["check_password"] = lambda raw: constant_time_compare(raw, password)
    by = open_maker(
        user=user,
        trading_name="Wrack & Simples",
        legal_name="Wrack & Simples of Inisvarragh",
        address="The Lower Net Loft\nEbb Causeway\nInisvarragh, Co. Tidewater\nIreland",
        country="IE",
        currency="EUR",
        time_zone=ZONE,
        locale="en_IE",
        markets=["EU", "US"],
        scales=[
            ("Bench scale", Decimal("0.1"), Decimal(8200)),
            ("Fine scale", Decimal("0.01"), Decimal(600)),
        ],
        reactions_email="care@wrack-and-simples.example",
        reactions_phone="+1 202 555 0143",
        website="https://wrack-and-simples.example/",
        works_alone=False,
        is_demo=True,
        clock=clock,
        clock_name=CLOCK_NAME,
    )
    clock.forward(600)
    people = {}
    for (email, name), role in ((WORKER, Role.WORKER), (READER, Role.READER)):
        # All three have the one password that is printed, and deriving it takes longer than a whole batch.
        User(email=email, name=name, password=user.password).save()
        people[role] = add_member(by, email=email, name=name, role=role, password=password).user
        clock.forward(120)
    scales = {scale.name: scale for scale in Scale.objects.for_maker(by.maker)}
    for name, weight, shown in (("Bench scale", "2000", "2000.1"), ("Fine scale", "200", "200.00")):
        check_scale(
            by, scale=scales[name], weight_g=Decimal(weight), shown_g=Decimal(shown), note="Test weight"
        )
    return DemoHouse(
        clock=clock,
        owner=by,
        worker=replace(by, user=people[Role.WORKER], role=Role.WORKER, device="bench phone"),
        password=password,
        chance=random.Random(SEED),  # noqa: S311 - small deviations of weighings, nothing secret
        scales={"bench": scales["Bench scale"], "fine": scales["Fine scale"]},
    )
