"""Puts the shared reference substances into the database, from the data files, after every migration."""

from __future__ import annotations

from typing import Any

from django.db import DEFAULT_DB_ALIAS

from formulas.rules.catalogue import substances

BASES = {"read", "supplier", "confirmed", "memory"}
FIELDS = (
    "inci_name", "us_name", "cas", "is_colourant", "is_perfume", "is_flavour", "function", "source", "basis",
    "edition",
)  # fmt: skip


def basis_word(text: str) -> str:
    """The record's word for the basis of a fact; what was read only in part still rests on memory."""
    if text in BASES:
        return text
    return "read" if text.startswith("read") else "memory"


def load_reference(using: str = DEFAULT_DB_ALIAS) -> int:
    """Bring the shared substances up to date with the data files; returns how many rows differ."""
    from formulas.models import Substance

    shared = Substance.objects.using(using).filter(maker=None)
    known = {row.key: row for row in shared}
    new, changed = [], []
    for fact in substances():
        values = {
            "inci_name": fact.inci_name,
            "us_name": fact.us_name,
            "cas": fact.cas[:200],
            "is_colourant": fact.is_colourant,
            "is_perfume": fact.is_perfume,
            "is_flavour": fact.is_flavour,
            "function": fact.function[:80],
            "source": fact.source,
            "basis": basis_word(fact.basis),
            "edition": fact.edition[:40],
        }
        row = known.get(fact.key)
        if row is None:
            new.append(Substance(key=fact.key, **values))
        elif any(getattr(row, name) != value for name, value in values.items()):
            for name, value in values.items():
                setattr(row, name, value)
            changed.append(row)
    Substance.objects.using(using).bulk_create(new, batch_size=200)
    Substance.objects.using(using).bulk_update(changed, FIELDS, batch_size=100)
    return len(new) + len(changed)


def load_after_migrate(sender: Any, using: str = DEFAULT_DB_ALIAS, **kwargs: Any) -> None:
    """Run once this world's tables are there."""
    from django.db import connections

    if "formulas_substance" in connections[using].introspection.table_names():
        load_reference(using)
