"""What was typed beside what is saved: while they differ nobody goes back in the draft, nor leaves the desk by it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from formulas.actions.formulas import LINE_KEYS, Stale, refuse_older, stored_phases
from formulas.models import FormulaVersion, Line
from formulas.views.desk.rows import FIELDS, Row, is_empty, start_of
from formulas.views.stale import lines_differ, show_stale
from formulas.views.versions import stored_lines
from makers.http import MakerRequest, address
from makers.rules.reading import as_typed

if TYPE_CHECKING:
    from formulas.views.desk.acts import Typed

UNSAVED = "What you changed here is not saved yet."
LEAVING = {
    "approve": "Save it first: what is approved is what is saved.",
    "steps": "Save it first: then edit the steps, and nothing typed is lost.",
    "product": "Save it first: then add the product, and nothing typed is lost.",
    "compare": "Save it first: what is laid beside another version is what is saved.",
    "variant": "Save it first: a variant starts from what is saved.",
}
"""The acts that lead away from the desk, and what to do before each while something is not saved."""


def may_leave(typed: Typed, act: str) -> bool:
    """Whether the desk can be left without a loss; where it can't, its head says why and everything typed stays."""
    if not is_unsaved(typed):
        return True
    version = typed.desk.version
    if typed.holds:
        try:
            refuse_older(version, typed.edit)
        except Stale as refusal:
            show_stale(typed.head, version, refusal, lines_differ(stored_phases(version), typed.phases))
            return False
    typed.head.add_error(None, f"{UNSAVED} {LEAVING[act]}")
    return False


def way_out(request: MakerRequest, version: FormulaVersion, act: str) -> str:
    """The page that such an act leads to."""
    code, number = version.formula.code, version.number
    if act == "product":
        return address(request.maker, "formulas:product-add", code=code)
    if act == "compare":
        numbers = list(version.formula.versions.order_by("-number").values_list("number", flat=True))
        sides = {"left": compare_left(version, numbers), "right": f"{code}.{number}"}
        return f"{address(request.maker, 'formulas:compare')}?{urlencode(sides)}"
    return address(request.maker, f"formulas:{act}", code=code, number=number)


def compare_left(version: FormulaVersion, numbers: Sequence[int]) -> str:
    """What a version is laid beside first: the one before it, what it varies, the next one, or itself.

    numbers: of all versions of the formula, the newest first.
    """
    earlier = [number for number in numbers if number < version.number]
    parent = version.formula.parent
    if earlier:
        return f"{version.formula.code}.{earlier[0]}"
    if parent is not None:
        return f"{parent.formula.code}.{parent.number}"
    return f"{version.formula.code}.{numbers[0]}"


def is_unsaved(typed: Typed) -> bool:
    """Something stands in the fields that is not on record, whether it can be read or not. Mass and scale never are."""
    version = typed.desk.version
    same_ph = not {"ph_low", "ph_high"} & typed.head.errors.keys()
    same_ph = same_ph and typed.head.ph == (version.ph_low, version.ph_high)
    if same_ph and sent_rows(typed.rows) == saved_rows(typed):
        return False
    readable = typed.holds and all(form.is_empty or form.line for form in typed.forms)
    return not (readable and same_ph and plain(stored_phases(version)) == plain(typed.phases))


def sent_rows(rows: Iterable[Row]) -> list[Row]:
    """What stands in the rows, but for empty ones and empty fields."""
    kept = [{name: text.strip() for name, text in row.items()} for row in rows if not is_empty(row)]
    return [{name: text for name, text in row.items() if text} for row in kept]


def saved_rows(typed: Typed) -> list[Row]:
    """The lines on record as their fields would be sent."""
    desk = typed.desk
    locale = desk.request.maker.locale
    rows = [start_of(line) for line in stored_lines(desk.version)]
    found = [{name: text_of(row.get(name), locale) for name in FIELDS} for row in rows]
    return [{name: text for name, text in row.items() if text} for row in found]


def text_of(value: Any, locale: str) -> str:
    """A value as its field sends it."""
    if isinstance(value, Decimal):
        return as_typed(value, locale)
    if isinstance(value, bool):
        return "on" if value else ""
    return str(value or "")


def plain(phases: list[dict[str, Any]]) -> list[Any]:
    """Lines as they compare: without what a kind doesn't use."""
    return [
        (phase["letter"], [plain_value(line, key) for key in LINE_KEYS])
        for phase in phases
        for line in phase["lines"]
    ]


def plain_value(line: dict[str, Any], key: str) -> Any:
    """One field of a line, an absent one as an empty one."""
    value, kind = line.get(key), line.get("kind")
    if key == "percent":
        return value if kind == Line.Kind.PERCENT else None
    if key in ("adjust_low", "adjust_high"):
        return (value or Decimal(0)) if kind == Line.Kind.ADJUST else None
    return value or ("" if key == "purpose" else None) if not isinstance(value, Decimal) else value
