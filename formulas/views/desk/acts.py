"""What the desk writes down: a save, an exchange, a step back or forth; and making room, which is only typed."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.core.exceptions import ValidationError

from formulas.actions.formulas import (
    Stale,
    exchange_ingredient,
    go_back,
    go_forth,
    holding_formula,
    save_version,
    stored_phases,
    would_hold_itself,
)
from formulas.forms.formulas import DeskForm, ExchangeForm, LineForm, RoomForm
from formulas.rules.lettering import phase_order
from formulas.rules.room import Room, make_room
from formulas.views.desk.rows import Desk, Row
from formulas.views.desk.surface import typed_lines
from formulas.views.desk.unsaved import UNSAVED, is_unsaved
from formulas.views.desk.words import undo_words
from formulas.views.stale import lines_differ, show_stale
from makers.forms.refusals import show_refusal
from makers.rules.display import figure
from makers.rules.reading import as_typed

if TYPE_CHECKING:
    from formulas.views.desk.page import Shown

WRITES = ("save", "exchange", "undo", "redo")
"""What changes the record, and so wants a form without a fault."""

GOING_BACK = "Save it first: then this takes it back and brings it again, and nothing typed is lost."


@dataclass(slots=True)
class Typed:
    """The desk as it was sent."""

    desk: Desk
    head: DeskForm
    rows: list[Row]
    forms: list[LineForm]
    holds: bool = False

    def check(self) -> None:
        """Read every field; ``holds`` when nothing wants a hand."""
        good = [self.head.is_valid(), *(form.is_valid() for form in self.forms)]
        self.holds = all(good) and not self.ask_of_premixes()

    def ask_of_premixes(self) -> bool:
        """Say beside each line that would make the formula contain itself; True where there is one."""
        version = self.desk.version
        taken = {form.typed_ingredient for form in self.forms}
        rows = [row for row in taken if row is not None]
        inside = holding_formula(self.desk.request.maker, version.formula_id, rows)
        for form in self.forms:
            if form.typed_ingredient in inside:
                form.add_error("ingredient", would_hold_itself(version, form.typed_ingredient))
        return bool(inside)

    @property
    def edit(self) -> int | None:
        """The save that the page showed."""
        found: int | None = self.head.cleaned_data.get("edit")
        return found

    @property
    def phases(self) -> list[dict[str, Any]]:
        """Rows by phase letter, as save_version takes them; phases keep their names."""
        names = {phase.letter: phase.name for phase in self.desk.version.phases.all()}
        phases: OrderedDict[str, dict[str, Any]] = OrderedDict()
        for form in self.forms:
            line = form.line
            if line is None:
                continue
            letter = form.cleaned_data["phase"]
            phases.setdefault(letter, {"letter": letter, "name": names.get(letter, ""), "lines": []})
            phases[letter]["lines"].append(line)
        return [phases[letter] for letter in sorted(phases, key=phase_order)]


def written(typed: Typed, act: str, shown: Shown) -> bool:
    """Carry out what writes; False where the page comes back with what keeps it."""
    if act == "exchange":
        shown.exchange = exchange_form(typed)
        typed.holds = shown.exchange.is_valid() and typed.holds
    if not typed.holds:
        return False
    target: Any = shown.exchange if act == "exchange" else typed.head
    try:
        messages.success(typed.desk.request, ACTS[act](typed, shown))
    except Stale as refusal:
        version = typed.desk.version
        show_stale(typed.head, version, refusal, lines_differ(stored_phases(version), typed.phases))
        return False
    except ValidationError as refusal:
        show_refusal(target, refusal)
        return False
    return True


def save(typed: Typed, _: Shown) -> str:
    """Write what was typed."""
    version = typed.desk.version
    save_version(
        typed.desk.request.by, version=version, phases=typed.phases, edit=typed.edit, ph=typed.head.ph
    )
    return f"{version} is written down."


def exchange(typed: Typed, shown: Shown) -> str:
    """Write what was typed, with one ingredient in the place of another."""
    assert shown.exchange is not None  # noqa: S101 - made by ``written`` for this act
    data = shown.exchange.cleaned_data
    exchange_ingredient(
        typed.desk.request.by,
        version=typed.desk.version,
        out=data["out"],
        into=data["into"],
        phases=typed.phases,
        edit=typed.edit,
        ph=typed.head.ph,
    )
    return f"{data['into']} stands in the place of {data['out']}."


def undo(typed: Typed, _: Shown) -> str:
    """Go back, when nothing typed would be lost."""
    refuse_unsaved(typed)
    back = undo_words(typed.desk.version).get("undo", "the last save")
    go_back(typed.desk.request.by, version=typed.desk.version, edit=typed.edit)
    return f"Taken back: {back}. It stands as before the last save."


def redo(typed: Typed, _: Shown) -> str:
    """Go forth, when nothing typed would be lost."""
    refuse_unsaved(typed)
    forth = undo_words(typed.desk.version).get("redo", "what was undone")
    go_forth(typed.desk.request.by, version=typed.desk.version, edit=typed.edit)
    return f"Brought again: {forth}. It stands as before you went back."


ACTS = {"save": save, "exchange": exchange, "undo": undo, "redo": redo}


def refuse_unsaved(typed: Typed) -> None:
    """Raises ValidationError when what was typed is not what is saved; an older page is refused by the action."""
    if typed.edit in (None, typed.desk.version.edit) and is_unsaved(typed):
        raise ValidationError(f"{UNSAVED} {GOING_BACK}")


def exchange_form(typed: Typed) -> ExchangeForm:
    """The form of an exchange as it was sent."""
    used = {
        form.cleaned_data["ingredient"].pk: form.cleaned_data["ingredient"]
        for form in typed.forms
        if getattr(form, "cleaned_data", {}).get("ingredient") is not None
    }
    return ExchangeForm(
        typed.desk.request.POST,
        known=typed.desk.known.ingredients,
        used=list(used.values()),
        prefix="exchange",
        maker=typed.desk.request.maker,
    )


def make_room_for(typed: Typed, shown: Shown) -> None:
    """Give a line its new percent in what is typed, the others making room; nothing is saved by that."""
    version, request = typed.desk.version, typed.desk.request
    lines = typed_lines(version, typed.forms)
    ours = {one.line.key: one for one in lines if one.line is not None}
    choices = [(one.index, one.name) for one in ours.values()]
    form = shown.room = RoomForm(request.POST, lines=choices, prefix="room", maker=request.maker)
    if not form.is_valid():
        return
    chosen, percent = form.cleaned_data["line"], form.cleaned_data["to"]
    wanted = next(key for key, one in ours.items() if one.index == chosen)
    try:
        found = make_room([one.line for one in ours.values() if one.line is not None], wanted, percent)
    except ValueError as refusal:
        form.add_error("to", str(refusal))
        return
    for key, share in found.percents.items():
        typed.rows[int(ours[key].index)]["percent"] = as_typed(share, request.maker.locale)
    shown.forms = typed.forms = typed.desk.typed_forms(typed.rows)
    typed.check()
    shown.room = None
    shown.said = f"{ours[wanted].name} takes {figure(percent)} %. {moved_words(found)} Save to keep it."


def moved_words(room: Room) -> str:
    """What became of the other lines."""
    words = f"Every other line {'shrank' if room.shrank else 'grew'} in the same proportion"
    if room.rest is None:
        return f"{words}."
    name, before, after = room.rest
    return f"{words}; {name}, “to 100”, went from {figure(before)} % to {figure(after)} %."
