"""Writing a whole made-up book, some batches at a time."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.db import connection

from batches.models import Place
from makers import guards
from makers.actions import By
from makers.models import Scale
from tests.benchmarks.house import MONTHS, House
from tests.benchmarks.paper import make_paper
from tests.benchmarks.progress import Progress
from tests.benchmarks.shelf import Shelf
from tests.benchmarks.size import Size

BATCHES_AT_ONCE = 50


def look_again() -> None:
    """Let PostgreSQL learn how large its tables are, as its own upkeep would by and by.

    Without it, the checks of foreign keys go on by plans that were made for empty tables.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def build(by: By, scale: Scale, size: Size, *, until: date, seed: int = 1, title: str = "") -> House:
    """Write a whole book for a maker that has none, over the 14 months before ``until``."""
    end = datetime.combine(until, time(9), by.maker.zone)
    start = end - timedelta(days=MONTHS * 30)
    progress = Progress(title or by.maker.trading_name, size.batches)
    with guards.lifted():
        shelf = Shelf(by, seed)
        paper = make_paper(shelf, size, start)
        kinds = {
            "workshop": "Workshop",
            "shop": "Driftline Shelf",
            "returns": "Returns",
            "kept": "Kept samples",
        }
        places = {
            kind: shelf.coded(Place, "place", f"W-{at}", name=name, kind=kind)
            for at, (kind, name) in enumerate(kinds.items())
        }
        for number in range(size.few):
            shelf.coded(Place, "place", f"W-{number + len(kinds)}", name=f"Stall {number:04}", kind="stall")
        shelf.write()
        house = House(shelf, paper, size, scale, places, start, end)
        house.people()
        while house.batches < size.batches:
            house.make()
            if house.batches % BATCHES_AT_ONCE == 0 or house.batches == size.batches:
                house.flush()
                look_again()
                progress.at(house.batches, f"batches, {house.weighings:,} weighings")
        house.complain()
        house.rehearse()
        house.settle()
        look_again()
    return house
