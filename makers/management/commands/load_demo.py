"""``python3 manage.py load_demo``: an invented workshop with fourteen months of records."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from makers.actions.by import Refused
from makers.actions.demo import load_demo
from makers.management.database import set_up_database
from makers.models import JournalHead

KEPT = "demo-sign-in.txt"


class Command(BaseCommand):
    """Fill an empty database with the demo, and print how to get in."""

    help = "Write an invented workshop with fourteen months of records, and print who can sign in."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load it; a demo that is there already is left as it is, with exit code 1."""
        set_up_database(self.tell)
        started = time.monotonic()
        try:
            access = load_demo(self.tell)
        except Refused as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        head = JournalHead.objects.get(maker=access.maker)
        self.tell(f"{head.number} journal entries in {time.monotonic() - started:.1f} s")
        lines = [
            f"Sign in as the owner: {access.owner}",
            f"Password: {access.password}",
            f"The same password is good for {access.worker}, who works there,",
            f"and for {access.reader}, who may read everything and write nothing.",
        ]
        self.tell("")
        keep_for_next_start(lines)
        for line in lines:
            self.tell(line)

    def tell(self, line: str) -> None:
        """Print at once: a demo that is loading shows how far it is."""
        self.stdout.write(line)
        self.stdout.flush()


def keep_for_next_start(lines: Sequence[str]) -> None:
    """Keep how to get in beside the database, for this account's eyes only: every start of the demo prints it."""
    path = Path(settings.DATA) / KEPT
    path.touch(mode=0o600)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
