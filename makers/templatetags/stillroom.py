"""Filters and tags that write figures, days, codes, states and heads; the wording is in ``makers.rules``.

Filters give "" for None: an empty cell means "does not apply". Where a figure is not known, say so with
``{{ value|grams|or_unknown }}``.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import template
from django.http import HttpRequest, QueryDict
from django.utils import timezone
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import slugify

from makers.forms.locale import current_mark
from makers.rules import display, marks

register = template.Library()

SORT, AFTER, BEFORE = "sort", "after", "before"


def _number(value: Any) -> Decimal | None:
    """The value as a Decimal; None for nothing. Raises TypeError for a float."""
    if value is None or value == "":
        return None
    if isinstance(value, float):
        raise TypeError("Figures are Decimal or int, never float.")
    return Decimal(value)


def _shown(text: str) -> SafeString:
    return format_html("{}", text)


@register.filter
def grams(value: Any, places: int | None = None) -> str:
    """Grams without unit: one decimal at least, as recorded up to four; ``|grams:1`` fixes the decimals."""
    number = _number(value)
    return "" if number is None else display.grams(number, places, mark=current_mark())


@register.filter
def grams_left(value: Any, places: int = 1) -> str:
    """Grams that may not be overstated (stock, net quantity): rounded down."""
    number = _number(value)
    return "" if number is None else display.grams(number, places, mark=current_mark(), rounding="down")


@register.filter
def percent(value: Any, places: int | None = None) -> str:
    """Percent without sign: two decimals at least, as recorded up to eight; ``|percent:2`` fixes them."""
    number = _number(value)
    return "" if number is None else display.percent(number, places, mark=current_mark())


@register.filter
def number(value: Any, places: int = 0) -> str:
    """Any figure with that many decimals and parted thousands."""
    found = _number(value)
    return "" if found is None else display.number(found, places, mark=current_mark())


@register.filter
def figure(value: Any, most: int = 4) -> str:
    """Any figure in a sentence: no idle zeros, at most ``most`` decimals."""
    found = _number(value)
    return "" if found is None else display.figure(found, most=most, mark=current_mark())


@register.filter
def difference(value: Any, places: int = 1) -> str:
    """A difference with its sign: +0.4, a true minus for less, 0.0."""
    found = _number(value)
    return "" if found is None else display.number(found, places, sign=True, mark=current_mark())


@register.filter
def padded(value: Any, places: int = 2) -> str:
    """A figure as exact as it is known, filled out invisibly so that the points of a column stand in line."""
    found = _number(value)
    if found is None:
        return ""
    shown, pad = display.padded(found, places, mark=current_mark())
    if not pad:
        return _shown(shown)
    return format_html('{}<span class="pad" aria-hidden="true">{}</span>', shown, pad)


@register.filter
def money(value: Any, currency: str = "EUR") -> str:
    """Money with its sign: ``{{ cost|money:maker.currency }}``."""
    found = _number(value)
    return "" if found is None else display.money(found, currency, mark=current_mark())


@register.filter
def price(value: Any, currency: str = "EUR") -> str:
    """A unit price: as ``money``, up to four decimals where they are known."""
    found = _number(value)
    return "" if found is None else display.money(found, currency, mark=current_mark(), exact=True)


@register.filter
def rate(value: Any) -> str:
    """An exchange rate: four decimals, up to eight where they were written down."""
    found = _number(value)
    return "" if found is None else display.number(found, 4, most=8, mark=current_mark())


@register.filter
def sign(currency: str) -> str:
    """The sign of a currency, for the head of a column: ``{{ maker.currency|sign }}``."""
    return display.currency_sign(currency)


@register.filter(name="with_unit")
def with_unit(value: Any, unit: str) -> str:
    """A figure, a no-break space and its unit: ``{{ lot.on_hand|grams|with_unit:"g" }}``."""
    text = str(value) if value is not None else ""
    if not text:
        return ""
    shown = conditional_escape(value)
    return mark_safe(shown + conditional_escape(display.with_unit("", unit)))  # noqa: S308 - both are escaped


@register.filter
def units(count: Any, words: str) -> str:
    """A count with its word: ``{{ n|units:"jar" }}``, ``{{ n|units:"batch,batches" }}``."""
    one, _, many = words.partition(",")
    return "" if count is None else display.units(int(count), one, many)


@register.filter
def plural(count: Any, words: str) -> str:
    """The word alone: ``{{ n|plural:"needs,need" }}``."""
    one, _, many = words.partition(",")
    return display.plural(int(count), one, many)


@register.filter
def or_unknown(value: Any) -> SafeString:
    """The figure, or the word Unknown with its mark: never an empty cell or a zero."""
    return conditional_escape(value) if value not in (None, "") else status("unknown")


def _local(value: Any) -> date | None:
    """A date of the maker's zone; a moment is taken into the active zone first."""
    if isinstance(value, datetime):
        return timezone.localtime(value).date() if timezone.is_aware(value) else value.date()
    return value if isinstance(value, date) else None


def _of_day(write: Callable[[date], str]) -> Callable[[Any], str]:
    """A filter that writes a day, or a moment's day in the maker's zone."""

    def shown(value: Any) -> str:
        found = _local(value)
        return "" if found is None else write(found)

    return shown


DAYS: dict[str, Callable[[date], str]] = {
    "day": display.day_iso,  # 2026-11-25, in tables
    "day_fact": display.day_fact,  # 25 Nov 2026, in facts and sentences
    "day_title": display.day_title,  # Wednesday 25 November, in titles
    "day_full": display.day_full,  # Wednesday 25 November 2026, in the foot
    "month": display.month,  # May 2028
}
"""The filters that write a day, by the name that templates use."""

for _name, _write in DAYS.items():
    register.filter(_name, _of_day(_write))


@register.filter
def days_to(value: Any, today: date) -> str:
    """ "in 12 days", "today", "3 days ago": ``{{ lot.expiry|days_to:today }}``."""
    found = _local(value)
    return "" if found is None else display.days_between(found, today)


@register.filter
def clock(value: Any) -> str:
    """14:32 in the maker's zone."""
    return "" if value is None else display.clock(timezone.localtime(value))


@register.filter
def moment(value: Any, today: date | None = None) -> SafeString | str:
    """When it happened, as a ``time`` element: ``{{ entry.at|moment:today }}``."""
    return _moment(value, today, "Today")


@register.filter
def moment_within(value: Any, today: date | None = None) -> SafeString | str:
    """As ``moment``, within a sentence: "On hold since today 14:32"."""
    return _moment(value, today, "today")


def _moment(value: Any, today: date | None, word: str) -> SafeString | str:
    if not isinstance(value, datetime):
        return ""
    local = timezone.localtime(value)
    return format_html(
        '<time datetime="{}">{}</time>',
        local.isoformat(timespec="minutes"),
        display.moment(local, today, word=word),
    )


@register.filter
def one_line(text: Any) -> str:
    """Several lines as one, parted by commas: an address in the foot."""
    return ", ".join(line.strip(" ,") for line in str(text or "").splitlines() if line.strip(" ,"))


@register.filter
def file_size(count: Any) -> str:
    """210 kB."""
    return "" if count is None else display.bytes_size(int(count))


@register.filter
def code(value: Any) -> SafeString | str:
    """A code that never breaks at its hyphen."""
    return format_html('<span class="no-break">{}</span>', value) if value else ""


@register.filter
def sentence(text: Any) -> SafeString | str:
    """A sentence with its figures in the plain face and the maker's decimal mark, and its codes unbroken."""
    if not text:
        return ""
    shapes = {"text": "{}", "figure": "<b>{}</b>", "code": '<span class="no-break">{}</span>'}
    return mark_safe(  # noqa: S308 - every piece goes through format_html
        "".join(
            format_html(shapes[kind], piece)
            for kind, piece in display.pieces(display.in_mark(str(text), current_mark()))
        )
    )


@register.filter
def in_mark(text: Any) -> str:
    """A figure that was typed, or words with figures in a drawing, with the maker's decimal mark."""
    return display.in_mark(str(text), current_mark()) if text not in (None, "") else ""


@register.filter
def without_addresses(text: Any) -> str:
    """A source without the web addresses in it; the record itself keeps them."""
    kept = re.sub(r"\s*<?https?://[^\s>;]+>?", "", str(text or ""))
    return re.sub(r"\s+([;,.|])", r"\1", kept).replace(" | ", "; ").replace("|", ";").strip(" ;")


@register.filter
def finding_id(finding: Any) -> str:
    """The id under which a finding stands in its list; the same finding has the same id on every load."""
    return "f-" + slugify(f"{finding.rule}-{finding.subject}")


@register.filter
def tally(findings: Sequence[Any]) -> list[tuple[str, str]]:
    """How many of each severity, as (severity, "2 cautions"), worst first; none is left out."""
    counts = Counter(finding.severity for finding in findings)
    words = {"stop": "", "caution": "", "unknown": "unknown", "note": ""}
    return [(one, display.units(counts[one], one, many)) for one, many in words.items() if counts[one]]


@register.filter
def of_severity(findings: Sequence[Any], severity: str) -> list[Any]:
    """The findings of one severity."""
    return [finding for finding in findings if finding.severity == severity]


def _mark(name: str, tone: str) -> SafeString:
    if name not in marks.MARKS:
        raise ValueError(f"the sprite has no mark {name!r}")
    return format_html(
        '<svg class="mark{}" aria-hidden="true"><use href="#m-{}"/></svg>',
        f" is-{tone}" if tone else "",
        name,
    )


@register.simple_tag(name="mark")
def mark_tag(state: str, words: str = "") -> SafeString:
    """The mark of a state alone, in its ink; ``words`` are read out but not shown."""
    found = marks.STATES.get(state) or marks.State("", state)
    shape = _mark(found.mark, found.tone)
    return shape if not words else format_html('{}<span class="away">{}</span>', shape, words)


@register.simple_tag
def status(state: str, word: str = "") -> SafeString:
    """A state: its mark and its word. ``word`` replaces the usual one ("12 days" for expiring).

    Raises KeyError for a state that the product doesn't have.
    """
    found = marks.state_for(state)
    return format_html(
        '<span class="st{}">{}{}</span>',
        f" is-{found.tone}" if found.tone else "",
        _mark(found.mark, ""),
        word or found.word,
    )


@register.simple_tag
def line_flag(finding: Any) -> SafeString:
    """On a formula line: the finding's mark as a link to it."""
    found = marks.state_for(finding.severity)
    return format_html(
        '<a class="flag{}" href="#{}" aria-label="{}: see the finding">{}</a>',
        f" is-{found.tone}" if found.tone else "",
        finding_id(finding),
        found.word,
        _mark(found.mark, ""),
    )


@register.simple_tag
def bar(done: Any, whole: Any) -> SafeString:
    """An SVG bar; words must stand beside it."""
    part, total = _number(done) or Decimal(0), _number(whole) or Decimal(0)
    width = Decimal(0) if total <= 0 else min(Decimal(100), max(Decimal(0), part * 100 / total))
    return format_html(
        '<svg class="bar" viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true">'
        '<rect class="bar-all" width="100" height="4"/><rect class="bar-done" width="{}" height="4"/></svg>',
        f"{width:.1f}",
    )


def _query(context: template.Context) -> QueryDict:
    request = context.get("request") or getattr(context, "request", None)
    return request.GET.copy() if isinstance(request, HttpRequest) else QueryDict(mutable=True)


@register.simple_tag(takes_context=True)
def query(context: template.Context, **changes: Any) -> str:
    """This page's query with ``changes``; None or "" takes one out: ``{% query after=None sort="x" %}``."""
    found = _query(context)
    for name, value in changes.items():
        if value is None or value == "":
            found.pop(name, None)
        else:
            found[name] = str(value)
    return f"?{found.urlencode()}" if found else "?"


@register.simple_tag(takes_context=True)
def sort_head(
    context: template.Context, key: str, title: str, kind: str = "", default: str = ""
) -> SafeString:
    """A table head that sorts by ``?sort=key`` or ``?sort=-key`` and goes back to the first page.

    kind: "n" for figures. default: the sort in force when the address names none.
    """
    found = _query(context)
    now = found.get(SORT) or default
    up, down = now == key, now == f"-{key}"
    for name in (AFTER, BEFORE):
        found.pop(name, None)
    found[SORT] = f"-{key}" if up else key
    order = ' aria-sort="ascending"' if up else ' aria-sort="descending"' if down else ""
    shape = _mark("up", "") if up else _mark("down", "") if down else ""
    return format_html(
        '<th scope="col" role="columnheader"{}{}><a href="?{}">{}{}{}</a></th>',
        mark_safe(f' class="{kind}"') if kind == "n" else "",  # noqa: S308 - a constant
        mark_safe(order),  # noqa: S308 - a constant
        found.urlencode(),
        title,
        " " if shape else "",
        shape,
    )


@register.inclusion_tag("parts/field.html")
def field(bound: Any, label: str = "", hint: str = "", unit: str = "") -> dict[str, Any]:
    """A form's field with label, hint, unit and sentence; given words replace the form's own."""
    if label:
        bound.label = label
    if hint:
        bound.help_text = hint
    if unit:
        bound.field.unit = unit
    return {"field": bound}
