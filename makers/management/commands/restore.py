"""``python3 manage.py restore FILE.zip``: a backup of everything, or the export of one workshop."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from makers.actions.backups import restore_backup
from makers.actions.restoring import restore_records
from makers.actions.sealed import RECORDS, SealedCopy
from makers.management.database import set_up_database


class Command(BaseCommand):
    """Put records back; the file itself says whether it is a backup or an export."""

    help = "Put a backup or the export of one workshop back. Stop Stillroom before restoring a backup."

    def add_arguments(self, parser: CommandParser) -> None:
        """Options, in the words of the page Export and backup."""
        parser.add_argument(
            "file", type=Path, metavar="FILE.zip", help="a backup, or an export of one workshop"
        )
        parser.add_argument(
            "--replace", action="store_true", help="a backup takes the place of the records that are here"
        )
        parser.add_argument(
            "--password",
            action="store_true",
            help="ask for a password for the first owner of an export, or read it from standard input",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Tell the two apart, then put it back; all or nothing."""
        try:
            with SealedCopy(options["file"]) as copy:
                kind = copy.kind
            set_up_database(self.stdout.write)
            if kind == RECORDS:
                self.export(options["file"], ask_password() if options["password"] else "")
            else:
                self.backup(options["file"], replace=options["replace"])
        except ValidationError as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal

    def export(self, path: Path, password: str) -> None:
        """The records of one workshop, beside those that are here."""
        done = restore_records(path, owner_password=password, say=self.stdout.write)
        self.stdout.write(
            f"{done.maker.trading_name} is back at /{done.maker.slug}/: "
            f"{done.rows} rows, {done.papers} papers."
        )
        if done.was_at:
            self.stdout.write(f"Its address /{done.was_at}/ is taken here.")
        for name in done.missing_papers:
            self.stdout.write(f"The paper {name} was missing already when the export was made.")
        for email in done.new_people:
            if email == done.let_in:
                self.stdout.write(f"New account {email}, with the password that was given.")
                continue
            self.stdout.write(
                f"New account {email}. Give it a password: python3 manage.py changepassword {email}"
            )

    def backup(self, path: Path, *, replace: bool) -> None:
        """The whole installation."""
        for head in restore_backup(path, replace=replace, say=self.stdout.write):
            self.stdout.write(f"{head.maker}: the journal ends at entry {head.number}, as in the backup.")
        self.stdout.write("Everything is back. Start Stillroom and go on.")


def ask_password() -> str:
    """Twice at a terminal; one line from standard input otherwise."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    first = getpass.getpass("Password for the first owner: ")
    if first != getpass.getpass("Once more: "):
        raise CommandError("The two were not the same. Start again.")
    return first
