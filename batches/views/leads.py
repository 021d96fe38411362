"""Addresses of records of any world, by the kind of their code."""

from __future__ import annotations

from makers.models import Code, Maker
from makers.registries import code_kinds


def lead(maker: Maker, kind: str, code: str) -> str:
    """Where a code of this kind leads; "" where no world shows such records."""
    if not code or kind not in code_kinds:
        return ""
    return code_kinds[kind].url(maker, Code(maker=maker, text=code, kind=kind))
