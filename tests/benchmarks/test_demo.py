"""Filling the demo against nothing but saving the rows that it leaves."""

from __future__ import annotations

import gc
import itertools
from collections.abc import Callable
from time import process_time
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.db.models import Max, Model

from makers.actions.demo import load_demo
from makers.guards import lifted
from tests.benchmarks.timing import Figures

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db]
CEILING = 12.0
STATEMENTS_CEILING = 3.3
ROUNDS = 3


def fill() -> None:
    """Through the actions, with every check, lock and guard."""
    load_demo(lambda line: None)


def undone(act: Callable[[], None]) -> None:
    """Do something and take it back."""
    with transaction.atomic():
        act()
        transaction.set_rollback(True)


def filled() -> list[Model]:
    """Every row that the demo leaves, parents first."""
    with transaction.atomic():
        last = {model: newest(model) for model in apps.get_models()}
        fill()
        rows = [row for model, pk in last.items() if newest(model) != pk for row in rows_after(model, pk)]
        transaction.set_rollback(True)
    return rows


def newest(model: type[Model]) -> int:
    """The key of a table's last row, 0 for none. Sessions and the like, with other keys, are none."""
    key = model._base_manager.aggregate(last=Max("pk"))["last"]
    return key if isinstance(key, int) else 0


def rows_after(model: type[Model], pk: int) -> list[Model]:
    """The rows of a table that came after one."""
    return list(model._base_manager.filter(pk__gt=pk).order_by("pk"))


def save(rows: list[Model]) -> None:
    """As they are, one by one, with nothing but Django's own saving."""
    for row in rows:
        row._state.adding = True
        Model.save(row, force_insert=True)


def statements(act: Callable[[], None]) -> int:
    """How many statements the database gets meanwhile, savepoints among them."""
    found = itertools.count()

    def counted(execute: Callable[..., Any], *given: Any) -> Any:
        next(found)
        return execute(*given)

    with connection.execute_wrapper(counted):
        act()
    return next(found)


def worked(act: Callable[[], None]) -> float:
    """Seconds of the processor's time that something takes once: this is long enough for others to come between."""
    gc.collect()
    start = process_time()
    act()
    return process_time() - start


def test_filling_the_demo_asks_a_few_times_for_each_row(figures: Figures) -> None:
    """The same on every machine, however busy it is."""
    rows = filled()

    asked = statements(lambda: undone(fill))

    figures.hold(
        "statements of filling the demo", "rows that it leaves", asked / len(rows), STATEMENTS_CEILING
    )


def test_filling_the_demo_is_a_few_times_the_saving_of_its_rows(figures: Figures) -> None:
    """The rows are saved without guards, which would move the balances a second time."""
    rows = filled()
    best_fill = best_save = float("inf")
    for _ in range(ROUNDS):
        best_fill = min(best_fill, worked(lambda: undone(fill)))
        with lifted():
            best_save = min(best_save, worked(lambda: undone(lambda: save(rows))))

    figures.hold(
        "filling the demo", "saving its rows one by one", best_fill / best_save, CEILING, f"{len(rows)} rows"
    )
