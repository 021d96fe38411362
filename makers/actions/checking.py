"""Whether the records are as they were written: chains, balances, papers, and the database's own guards."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence

from django.core.files.storage import default_storage
from django.db import DEFAULT_DB_ALIAS, connections

from makers import guards
from makers.models import Document, Maker
from makers.registries import Fault, record_checks


def faults_of(maker: Maker) -> Iterator[Fault]:
    """What every check finds in a maker's records; reads only."""
    for check in record_checks:
        yield from check.faults(maker)


def guard_faults(using: str = DEFAULT_DB_ALIAS) -> list[Fault]:
    """Guards of the database that are declared and not there, or there and not declared."""
    declared = {guard.trigger: guard.table for guard in guards.declared()}
    if connections[using].vendor == "postgresql":
        declared |= dict(guards.truncate_guards())
    found = guards.installed(using)
    lost = [
        Fault(f"guard {name}", f"It is not on {declared[name]}.")
        for name in sorted(set(declared) - set(found))
    ]
    strange = [
        Fault(f"guard {name}", f"It is on {found[name]}, and nothing here made it.")
        for name in sorted(set(found) - set(declared))
    ]
    return [*lost, *strange]


def paper_faults(maker: Maker) -> Sequence[Fault]:
    """Papers that are gone or are not what was filed."""
    faults = []
    for paper in Document.objects.for_maker(maker).order_by("pk").iterator(chunk_size=500):
        where = f"paper {paper.name}"
        try:
            with default_storage.open(paper.file.name or "") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
        except FileNotFoundError:
            faults.append(Fault(where, "Its file is gone."))
            continue
        if found != paper.sha256:
            faults.append(Fault(where, "Its file isn't what was filed."))
    return faults
