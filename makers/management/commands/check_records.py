"""``python3 manage.py check_records``: whether everything is as it was written; changes nothing."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from makers.actions.checking import faults_of, guard_faults
from makers.models import JournalHead, Maker


class Command(BaseCommand):
    """Verify the guards of the database and every maker's records; one line each, exit code 1 on faults."""

    help = "Verify journals, balances and papers of every workshop. Reads only; exits with 1 on a fault."

    def handle(self, *args: Any, **options: Any) -> None:
        """Name the first fault of each maker and count the rest."""
        wrong = 0
        guards = guard_faults()
        if guards:
            wrong += len(guards)
            self.stdout.write(
                f"The database: {len(guards)} guards not as declared. "
                f"First: {guards[0].where}: {guards[0].text}"
            )
        else:
            self.stdout.write("The database: every guard is in place.")
        for maker in Maker.objects.order_by("pk"):
            faults = list(faults_of(maker))
            wrong += len(faults)
            if faults:
                first = faults[0]
                line = f"{len(faults)} not as written. First: {first.where}: {first.text}"
            else:
                head = JournalHead.objects.filter(maker=maker).first() or JournalHead()
                line = f"as written, {head.number} journal entries, seal {head.digest or 'none'}"
            self.stdout.write(f"{maker.trading_name} (/{maker.slug}/): {line}")
        if wrong:
            sys.exit(1)
