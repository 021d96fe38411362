"""``python3 manage.py load_demo``: an invented workshop with fourteen months of records."""

from __future__ import annotations

import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from makers.actions.by import Refused
from makers.actions.demo import load_demo
from makers.models import JournalHead


class Command(BaseCommand):
    """Fill an empty database with the demo, and print how to get in."""

    help = "Write an invented workshop with fourteen months of records, and print who can sign in."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load it; a demo that is there already is left as it is, with exit code 1."""
        started = time.monotonic()
        try:
            access = load_demo(self.tell)
        except Refused as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        head = JournalHead.objects.get(maker=access.maker)
        self.tell(f"{head.number} journal entries in {time.monotonic() - started:.1f} s")
        self.tell("")
        self.tell(f"Sign in as the owner: {access.owner}")
        self.tell(f"Password: {access.password}")
        self.tell(f"The same password is good for {access.worker}, who works there,")
        self.tell(f"and for {access.reader}, who may read everything and write nothing.")

    def tell(self, line: str) -> None:
        """Print at once: a demo that is loading shows how far it is."""
        self.stdout.write(line)
        self.stdout.flush()
