"""What every list shares: its filter, declared sorts, keyset pages, CSV."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import F, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import urlencode

from makers.forms.lists import FilterForm
from makers.http import MakerRequest, wants_fragment
from makers.rules.spreadsheet import safe_cell

Filter = TypeVar("Filter", bound=FilterForm)
PAGE = 50
SEPARATOR = "~"
LATEST = date(9999, 12, 31)
"""Where rows without a date stand when the list is sorted by it."""
OLDEST_FIRST = ("oldest first", "newest first")
SOONEST_FIRST = ("soonest first", "latest first")
WAYS = {
    date: OLDEST_FIRST,
    datetime: OLDEST_FIRST,
    int: ("least first", "most first"),
    Decimal: ("least first", "most first"),
}
"""What a sort up and a sort down is called, by the kind of its column; other columns go from A to Z."""


@dataclass(frozen=True, slots=True)
class Sort:
    """A declared sort on one non-null column; the row's key breaks ties.

    title: how a choice calls the column, empty where it offers none. ways: what up and down are called there.
    """

    column: str
    kind: type = str
    title: str = ""
    ways: tuple[str, str] | None = None

    @property
    def words(self) -> tuple[str, str]:
        """What sorting up and sorting down is called."""
        return self.ways or WAYS.get(self.kind, ("A to Z", "Z to A"))


WRITTEN = Sort("pk", int, "Written", OLDEST_FIRST)
"""The order in which the rows were written."""


@dataclass(frozen=True, slots=True)
class Listing:
    """How a list is shown. name: of its CSV file. default: the sort that it starts with ("-name": descending).

    fragment: the template of the list without the page around it, where htmx may ask for that alone.
    """

    template: str
    sorts: Mapping[str, Sort]
    default: str
    name: str
    heads: Sequence[str]
    cells: Callable[[Any], Sequence[Any]]
    fragment: str = ""

    @property
    def sort_choices(self) -> list[tuple[str, str]]:
        """Every sort both ways, as a form takes it."""
        return [
            (way + key, f"{sort.title}, {words}")
            for key, sort in self.sorts.items()
            if sort.title
            for way, words in zip(("", "-"), sort.words, strict=True)
        ]


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


def sort_asked(request: HttpRequest, sorts: Mapping[str, Sort], default: str) -> str:
    """The sort in the address; the default for none and for one that isn't declared."""
    asked = request.GET.get("sort", default)
    return default if asked.lstrip("-") not in sorts or asked.startswith("--") else asked


def in_order(rows: QuerySet[Any], sorts: Mapping[str, Sort], asked: str) -> QuerySet[Any]:
    """The rows in the order of a declared sort."""
    column, down = F(sorts[asked.lstrip("-")].column), asked.startswith("-")
    return rows.order_by(column.desc() if down else column.asc(), "-pk" if down else "pk")


def read_filter(request: MakerRequest, form: type[Filter], listing: Listing) -> Filter:
    """The list's filter as the address has it."""
    given = {name: request.GET[name] for name in form.base_fields if name in request.GET}
    if "q" in given:
        given["q"] = words_of(request)
    given["sort"] = sort_asked(request, listing.sorts, listing.default)
    return form(given, sorts=listing.sort_choices, usual=listing.default, maker=request.maker)


def show_list(
    request: MakerRequest,
    rows: QuerySet[Any],
    listing: Listing,
    filter_form: FilterForm,
    *,
    shown: Callable[[list[Any]], list[Any]] = list,
    context: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """A page of the filtered rows, or all of them as CSV, in the order that was asked for.

    shown: makes what the template or the CSV takes of the rows.
    """
    if wants_csv(request):
        order = sort_asked(request, listing.sorts, listing.default)
        every = shown(list(in_order(rows, listing.sorts, order)))
        return csv_response(listing.name, listing.heads, every, listing.cells)
    page = keyset_page(request, rows, listing.sorts, listing.default, PAGE)
    page.rows = shown(page.rows)
    found = {"page": page, "pager": pager(request, page), "filter": filter_form, **(context or {})}
    alone = listing.fragment and wants_fragment(request)
    return render(request, listing.fragment if alone else listing.template, found)


def keyset_page(
    request: HttpRequest, rows: QuerySet[Any], sorts: Mapping[str, Sort], default: str, size: int = PAGE
) -> Page:
    """Cut one page out of ``rows``, by the sort in the address or the default ("-name" is descending).

    Unknown sorts and positions that can't be read fall back to the default and to the first page.
    """
    asked = sort_asked(request, sorts, default)
    sort, down = sorts[asked.lstrip("-")], asked.startswith("-")
    after = position(request.GET.get("after", ""), sort.kind)
    if after is not None:
        value, key = after
        beyond, tie = ("lt", "lt") if down else ("gt", "gt")
        rows = rows.filter(
            Q(**{f"{sort.column}__{beyond}": value}) | Q(**{sort.column: value, f"pk__{tie}": key})
        )
    found = list(in_order(rows, sorts, asked)[: size + 1])
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
