"""Change forms of records that somebody else may change meanwhile: a form knows what it showed.

A form carries a short mark of each value that it was made from. When it arrives and the record says something else
by then, it comes back once: each field that changed is named with its value now beside what the form says, a field
that was left alone takes the newer value, and sent again it holds.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from decimal import Decimal
from hashlib import blake2b
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import Truncator

from makers.actions import entries_about
from makers.http import MakerRequest
from makers.models import Maker, MakerRecord
from makers.rules.display import clock, with_unit

MARK_BYTES = 6
SHOWN_LETTERS = 120
HEAD = "This was changed in another window since you opened it. Look at what is marked, then send it again."

Who = Callable[[str], tuple[str, str]]
"""Who last changed a field and at what time, by the field's name; two empty words where that isn't known."""


def nobody(_name: str) -> tuple[str, str]:
    """Where it isn't known who changed a field."""
    return "", ""


def changed_by(request: MakerRequest, row: Maker | MakerRecord) -> Who:
    """Who changed a field of a record, from its journal. Read only when asked."""

    def who(name: str) -> tuple[str, str]:
        for entry in entries_about(request.maker, row.uuid).filter(action__endswith=".changed")[:50]:
            told = str(entry.change.get("fields", "")).replace("_", " ").split(", ")
            if name.replace("_", " ") in told:
                return entry.user_label, clock(entry.at.astimezone(request.maker.zone))
        return "", ""

    return who


def plain(field: forms.Field, value: Any) -> str:
    """A value of a field so that two of one meaning are equal: as a form shows it, tidied, in one order."""
    if isinstance(field, forms.CharField):
        try:
            value = field.clean(value)
        except ValidationError:
            return str(value or "")
    if isinstance(field, forms.BooleanField):
        return "yes" if value else ""
    if value is None or value in ("", [], ()):
        return ""
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if not isinstance(value, str) and isinstance(value, Iterable):
        return json.dumps(sorted(str(field.prepare_value(one)) for one in value))
    return str(field.prepare_value(value))


def mark_of(value: str) -> str:
    """A short mark of a value: equal for equal ones."""
    return blake2b(value.encode(), digest_size=MARK_BYTES).hexdigest()


def in_words(field: forms.Field, value: Any) -> str:
    """A value of a field as a sentence says it."""
    if isinstance(field, forms.BooleanField):
        return "yes" if value else "no"
    if value is None or value in ("", []):
        return "nothing"
    shown = field.prepare_value(value)
    if isinstance(field, forms.ChoiceField):
        names = {str(key): str(name) for key, name in cast(Any, field).choices}
        keys = shown if isinstance(shown, (list, tuple)) else [shown]
        return ", ".join(names.get(str(key), str(key)) for key in keys)
    text = Truncator(str(shown)).chars(SHOWN_LETTERS)
    if isinstance(field, forms.CharField):
        return f"“{text}”"
    unit = str(getattr(field, "unit", ""))
    return with_unit(text, unit) if unit else text


def read_marks(text: Any) -> dict[str, str]:
    """The marks that a form brought back, by field; nothing where they can't be read."""
    try:
        found = json.loads(str(text or ""))
    except (ValueError, RecursionError):
        return {}
    return {str(name): str(mark) for name, mark in found.items()} if isinstance(found, dict) else {}


class SeenForm(forms.BaseForm):
    """Put before a form of ours: ``class PlaceChangeForm(SeenForm, PlaceForm)``, made with the record's values.

    who: tells who changed a field. unseen: fields that are no part of the record.
    """

    unseen: frozenset[str] = frozenset()

    def __init__(self, *args: Any, who: Who = nobody, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.who = who
        self.carry_marks()

    def carry_marks(self) -> None:
        """Carry the marks of what the fields show now; again, where a form adds fields of its own afterwards."""
        self.fields["seen"] = forms.CharField(
            required=False, widget=forms.HiddenInput, initial=json.dumps(self.marks(), separators=(",", ":"))
        )

    @property
    def kept_fields(self) -> dict[str, forms.Field]:
        """The fields that show a value of the record."""
        return {
            name: field
            for name, field in self.fields.items()
            if name != "seen"
            and name not in self.unseen
            and not field.widget.is_hidden
            and not isinstance(field, forms.FileField)
        }

    def now(self, name: str) -> Any:
        """What the record says of a field."""
        return self.get_initial_for_field(self.fields[name], name)

    def marks(self) -> dict[str, str]:
        """The mark of each value that the record has now."""
        return {name: mark_of(plain(field, self.now(name))) for name, field in self.kept_fields.items()}

    @property
    def changes(self) -> dict[str, Any]:
        """What a form that holds says otherwise than the record, by field: all that an action needs."""
        return {
            name: self.cleaned_data[name]
            for name, field in self.kept_fields.items()
            if name in self.cleaned_data
            and plain(field, self.cleaned_data[name]) != plain(field, self.now(name))
        }

    def _post_clean(self) -> None:
        """After all else was checked: has somebody changed the record since this form was made?"""
        cast(Any, super())._post_clean()
        seen = read_marks(self.cleaned_data.pop("seen", ""))
        moved = [name for name, mark in self.marks().items() if seen.get(name, mark) != mark]
        said = {name: self.said(name, seen[name]) for name in moved}
        if not moved:
            return
        data = cast(Any, self.data).copy()
        data[self.add_prefix("seen")] = self.fields["seen"].initial
        self.data = data
        told = {name: words for name, words in said.items() if words}
        for name, words in told.items():
            self.add_error(name, words)
        if told:
            self.add_error(None, HEAD)

    def said(self, name: str, seen: str) -> str:
        """What to say of a field that was changed elsewhere; nothing where this form says the same.

        A field that was left alone takes the newer value.
        """
        field = self.fields[name]
        is_good = name in self.cleaned_data
        mine = self.cleaned_data[name] if is_good else self[name].value()
        if is_good and plain(field, mine) == plain(field, self.now(name)):
            return ""
        person, at = self.who(name)
        became = f"to {in_words(field, self.now(name))}"
        lead = (
            f"{person} changed it {became} at {at}"
            if person
            else f"It was changed {became} in another window"
        )
        if is_good and mark_of(plain(field, mine)) == seen:
            self.take_newer(name)
            return f"{lead}; this form said {in_words(field, mine)}. The newer one stands here now."
        typed = in_words(field, mine) if is_good else f"“{Truncator(str(mine)).chars(SHOWN_LETTERS)}”"
        return f"{lead}; you wrote {typed}. Which holds? Send it again to keep yours."

    def take_newer(self, name: str) -> None:
        """Show the record's value of now in a field that came back."""
        field, key = self.fields[name], self.add_prefix(name)
        value = field.prepare_value(self.now(name))
        data = cast(Any, self.data).copy()
        if isinstance(field, forms.BooleanField):
            data.pop(key, None)
            if value:
                data[key] = "on"
        elif isinstance(value, (list, tuple)) and hasattr(data, "setlist"):
            data.setlist(key, [str(one) for one in value])
        else:
            data[key] = "" if value is None else value
        self.data = data
