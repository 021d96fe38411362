"""A filled book from an older edition: its tables change under it, and everything is still there and guarded."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
STEPS = """
import sys, django
django.setup()
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from formulas.models import FormulaVersion, Line
from makers import guards
from makers.actions.checking import faults_of, guard_faults
from tests.cast import make_maker, make_member
from tests.formulas.older import fill
call_command("migrate", verbosity=0)
by = make_member(make_maker())
fill(by)
before = list(Line.objects.order_by("pk").values_list("pk", "version__formula__name", "percent"))
names = guards.installed().keys()
for world, name in sorted(MigrationLoader(connection).graph.leaf_nodes()):
    if world in {"makers", "formulas", "batches", "labels"} and not name.startswith("0001"):
        call_command("migrate", world, str(int(name[:4]) - 1).zfill(4), verbosity=0)
        print("went back before", world, name)
call_command("migrate", verbosity=0)
assert list(Line.objects.order_by("pk").values_list("pk", "version__formula__name", "percent")) == before
assert len(before) == 2
assert guards.installed().keys() == names
assert guard_faults() == []
assert list(faults_of(by.maker)) == []
connection.check_constraints()
print("all there")
"""


def test_a_filled_book_is_brought_to_the_newest_tables(tmp_path: Path) -> None:
    """Back by a step in each world and forward again, in a process of its own: SQLite makes whole tables anew."""
    named = {
        name: value for name, value in os.environ.items() if not name.startswith(("STILLROOM_", "DATABASE"))
    }
    named |= {"DJANGO_SETTINGS_MODULE": "makers.settings", "STILLROOM_DATA": str(tmp_path)}
    done = subprocess.run(  # noqa: S603  (our own command, no shell)
        [sys.executable, "-c", STEPS], cwd=ROOT, env=named, text=True, capture_output=True, check=False
    )

    assert done.returncode == 0, done.stderr
    assert "went back before formulas" in done.stdout
    assert done.stdout.endswith("all there\n")
