"""The database of an installation, made or brought up to date before a command fills it."""

from __future__ import annotations

from collections.abc import Callable

from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor


def set_up_database(say: Callable[[str], None]) -> int:
    """Take the steps that are missing and say how many there are; returns their number.

    Raises CommandError with a plain sentence when the database doesn't answer.
    """
    try:
        executor = MigrationExecutor(connection)
        steps = len(executor.migration_plan(executor.loader.graph.leaf_nodes()))
    except OperationalError as problem:
        raise CommandError(f"The database does not answer: {problem}") from problem
    if steps:
        say(f"Setting up the database ({steps} steps)")
        call_command("migrate", interactive=False, verbosity=0)
    return steps
