"""``python3 manage.py backup FILE.zip``: the whole installation in one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from makers.actions.backups import back_up, file_name


class Command(BaseCommand):
    """Copy database, papers and secret while everything may go on running."""

    help = "Copy the whole installation (database, papers, secret) into one zip file."

    def add_arguments(self, parser: CommandParser) -> None:
        """The file, or a folder in which it gets a name with day and time."""
        parser.add_argument(
            "file", type=Path, metavar="FILE.zip", help="the file to write, or a folder for it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the copy and say where the journals end."""
        target: Path = options["file"]
        if target.is_dir():
            target = target / file_name(timezone.localtime())
        try:
            heads = back_up(target, self.stdout.write)
        except ValidationError as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        for head in heads:
            self.stdout.write(
                f"{head.maker}: the journal ends at entry {head.number}, seal {head.digest or 'none'}"
            )
        size = target.stat().st_size
        self.stdout.write(f"{target}: {size} bytes. Keep it where only you can read it, and on another disk.")
