"""``python3 manage.py export WORKSHOP FILE.zip``: all records of one workshop, as on the page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from makers.actions.exporting import export_records, first_owner
from makers.models import Maker


class Command(BaseCommand):
    """Write the zip that the page Export and backup gives, in the name of the first owner."""

    help = "Write all records of one workshop into one zip file: CSV, JSON, papers and journal."

    def add_arguments(self, parser: CommandParser) -> None:
        """Which workshop, and where to."""
        parser.add_argument("workshop", help="its address, as in the browser: /WORKSHOP/")
        parser.add_argument("file", type=Path, metavar="FILE.zip", help="the file to write")

    def handle(self, *args: Any, **options: Any) -> None:
        """Export, with progress; the journal notes it."""
        slug, target = str(options["workshop"]).strip("/"), options["file"]
        maker = Maker.objects.filter(slug=slug).first()
        if maker is None:
            known = ", ".join(Maker.objects.values_list("slug", flat=True)) or "none yet"
            raise CommandError(f"There is no workshop {slug}. Here: {known}.")
        by = first_owner(maker)
        if by is None:
            raise CommandError(f"{maker} has no owner who could export it.")
        if target.exists():
            raise CommandError(f"{target} is there already. Name another file.")
        half = target.with_name(f".{target.name}.half")
        try:
            with half.open("w+b") as file:
                half.chmod(0o600)
                done = export_records(by, file, self.stdout.write)
            half.replace(target)
        except OSError as problem:
            raise CommandError(
                f"{target} can't be written ({problem.strerror}). Name another place."
            ) from problem
        except ValidationError as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        finally:
            half.unlink(missing_ok=True)
        for sha256 in done.missing_papers:
            self.stderr.write(f"A paper is gone and not in the export: SHA-256 {sha256}")
        self.stdout.write(
            f"{target}: {done.rows} rows, {done.papers} papers; the journal ends at entry "
            f"{done.head_number}, seal {done.head_digest}"
        )
