"""Giving human codes."""

from __future__ import annotations

import re
from typing import Any

from makers.actions.by import By, Refused
from makers.models import Code, CodeCounter
from makers.registries import code_kinds

SHAPE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,19}")


def give_code(by: By, kind: str, record: Any, *, wanted: str = "") -> str:
    """Give ``record`` a code of its kind: the one wanted, or the next in the series.

    Must run inside a recording, which locks the maker's chain. A code is never used twice, nor again after its
    record is gone. Raises Refused when the wanted one is taken or can't be a code.
    """
    entry = code_kinds[kind]
    if wanted:
        text = check_wanted(by, wanted)
    else:
        year = f"{by.today():%y}"
        series = f"{kind}:{year}" if "{year" in entry.pattern else kind
        counter, _ = CodeCounter.objects.get_or_create(maker=by.maker, series=series)
        while True:
            counter.last += 1
            text = entry.pattern.format(year=year, number=counter.last)
            if not Code.objects.filter(maker=by.maker, text=text).exists():
                break
        counter.save(update_fields=["last"])
    Code(maker=by.maker, text=text, kind=kind, subject=record.uuid).save()
    return text


def check_wanted(by: By, wanted: str) -> str:
    """Return the wanted code, or refuse it with a sentence."""
    text = wanted.strip()
    if not SHAPE.fullmatch(text):
        raise Refused({"code": f"“{text}” can't be a code: letters, digits, points and hyphens, 20 at most."})
    taken = Code.objects.called(by.maker, text)
    if taken is not None:
        title = code_kinds[taken.kind].title.lower() if taken.kind in code_kinds else "another record"
        raise Refused({"code": f"{taken.text} is already the code of a {title}. Codes are never used twice."})
    return text
