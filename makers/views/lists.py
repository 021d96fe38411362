"""What every list shares: filter words, declared sorts, keyset pages, CSV."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import F, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.http import urlencode

from makers.rules.spreadsheet import safe_cell

PAGE = 50
SEPARATOR = "~"


@dataclass(frozen=True, slots=True)
class Sort:
    """A declared sort on one non-null column; the row's key breaks ties."""

    column: str
    kind: type = str


@dataclass(slots=True)
class Page:
    """One page of a list. ``next_after`` continues it; empty at its end."""

    rows: list[Any]
    next_after: str
    is_first: bool
    sort: str
    words: str


def words_of(request: HttpRequest, name: str = "q") -> str:
    """What the filter was asked for: no control signs, at most 100 signs."""
    return "".join(mark for mark in request.GET.get(name, "") if mark.isprintable()).strip()[:100]


def keyset_page(
    request: HttpRequest, rows: QuerySet[Any], sorts: Mapping[str, Sort], default: str, size: int = PAGE
) -> Page:
    """Cut one page out of ``rows``, by the sort in the address or the default ("-name" is descending).

    Unknown sorts and positions that can't be read fall back to the default and to the first page.
    """
    asked = request.GET.get("sort", default)
    if asked.lstrip("-") not in sorts or asked.startswith("--"):
        asked = default
    sort, down = sorts[asked.lstrip("-")], asked.startswith("-")
    after = position(request.GET.get("after", ""), sort.kind)
    if after is not None:
        value, key = after
        beyond, tie = ("lt", "lt") if down else ("gt", "gt")
        rows = rows.filter(
            Q(**{f"{sort.column}__{beyond}": value}) | Q(**{sort.column: value, f"pk__{tie}": key})
        )
    order = F(sort.column).desc() if down else F(sort.column).asc()
    found = list(rows.order_by(order, "-pk" if down else "pk")[: size + 1])
    more = len(found) > size
    found = found[:size]
    cursor = mark_of(value_of(found[-1], sort.column), found[-1].pk) if more else ""
    return Page(found, cursor, after is None, asked, words_of(request))


def value_of(row: Any, column: str) -> Any:
    """The value of a column that may cross relations."""
    for part in column.split("__"):
        row = getattr(row, part)
    return row


def mark_of(value: Any, key: int) -> str:
    """A position in a list as text."""
    text = value.isoformat() if isinstance(value, date | datetime) else str(value)
    return f"{text}{SEPARATOR}{key}"


def position(text: str, kind: type) -> tuple[Any, int] | None:
    """A position read back; None when it can't be read."""
    value, found, key = text.rpartition(SEPARATOR)
    if not found or not (key.isascii() and key.isdigit()) or len(key) > 18:
        return None
    try:
        if kind is datetime:
            moment = datetime.fromisoformat(value)
            return (moment if timezone.is_aware(moment) else timezone.make_aware(moment)), int(key)
        return (date.fromisoformat(value) if kind is date else kind(value)), int(key)
    except (ValueError, TypeError, ArithmeticError):
        return None


def pager(request: HttpRequest, page: Page, count_text: str = "") -> dict[str, str]:
    """What parts/pager.html takes."""
    base = {key: str(value) for key, value in request.GET.items() if key not in {"after", "as"}}

    def url(**changes: str) -> str:
        return "?" + urlencode({**base, **changes})

    return {
        "count_text": count_text,
        "csv_url": url(**{"as": "csv"}),
        "first_url": "" if page.is_first else url(),
        "next_url": url(after=page.next_after) if page.next_after else "",
    }


def wants_csv(request: HttpRequest) -> bool:
    """Whether the list was asked for as CSV."""
    return request.GET.get("as") == "csv"


def csv_response(
    name: str, heads: Sequence[str], rows: Iterable[Any], cells: Callable[[Any], Sequence[Any]]
) -> HttpResponse:
    """A list as CSV, UTF-8 with a byte order mark so that spreadsheets read every script."""
    response = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    writer = csv.writer(response)
    writer.writerow(heads)
    for row in rows:
        writer.writerow([safe_cell(cell) for cell in cells(row)])
    return response
