"""The filter over a list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from makers.forms.base import MakerForm


class FilterForm(MakerForm):
    """What a list is asked to show: a subclass declares ``q``, its choices and what they start at.

    Always bound, to the address. What can't be read leaves everything, with a sentence beside its field.
    """

    sort = forms.ChoiceField(label="Sort by", required=False)

    def __init__(
        self,
        given: Mapping[str, Any],
        *,
        sorts: Sequence[tuple[str, str]] = (),
        usual: str = "",
        **kwargs: Any,
    ) -> None:
        """sorts: what can be chosen, as (key, words). usual: the one that the list starts with."""
        start = {name: field.initial for name, field in self.base_fields.items() if field.initial is not None}
        super().__init__({**start, **given}, auto_id="filter-%s", **kwargs)
        self.order_fields([*(name for name in self.fields if name != "sort"), "sort"])
        self.fields["sort"] = forms.ChoiceField(label="Sort by", required=False, choices=list(sorts))
        self.usual = usual
        self.fill_choices()
        self.is_valid()

    def fill_choices(self) -> None:
        """Let a subclass take its choices from the maker's records, before the address is read."""

    def asked(self, name: str) -> str:
        """What was typed or chosen; empty for nothing and for what can't be read."""
        value = self.cleaned_data.get(name)
        return str(value) if value else ""

    @property
    def is_narrowed(self) -> bool:
        """Whether a field after the first asks for something, an order of its own included, or can't be read."""
        _, *others = (bound.name for bound in self.visible_fields())
        return self.asked("sort") not in ("", self.usual) or any(
            name in self.errors or self.asked(name) != str(self.fields[name].initial or "")
            for name in others
            if name != "sort"
        )

    @property
    def is_filtering(self) -> bool:
        """Whether the list is asked to show other than what it shows by itself."""
        return any(
            self.asked(name) != str(field.initial or "")
            for name, field in self.fields.items()
            if name != "sort" and name not in self.errors
        )
