"""Forms for a composition in a supplier's spreadsheet: the file, its columns, and what is said of one row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from formulas.forms.sheets import RowsField, SheetField, carried, too_much
from formulas.models import Constituent
from formulas.rules.composition_sheet import ROLES, Guess, Role
from formulas.rules.recipe.sheets import Cell
from formulas.rules.sheet_columns import columns_of, head_rows
from makers.forms.base import MakerForm
from makers.forms.fields import NameField, PercentTextField
from makers.rules.reading import decimal_mark

NO_HEADS = "none"
NOT_THERE = [("", "Not in this file")]
MARKS = [(".", "a point: 0.5"), (",", "a comma: 0,5")]
UNITS = [
    ("percent", "percent"),
    ("ppm", "parts per million (mg/kg)"),
    ("fraction", "parts of 1: 0.25 is 25 %"),
]


class SheetForm(MakerForm):
    """The supplier's file, or the rows of one that was read already."""

    sheet = SheetField(label="Spreadsheet", required=False)
    rows = RowsField(required=False)
    called = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        """A new file goes before the rows of an earlier one."""
        data = super().clean() or self.cleaned_data
        if data.get("sheet"):
            data["rows"] = data["sheet"]
            data["called"] = str(getattr(self.files.get(self.add_prefix("sheet")), "name", "") or "")[-200:]
            if said := too_much(data["rows"]):
                self.add_error("sheet", said)
        elif not data.get("rows") and not self.errors:
            self.add_error("sheet", "Choose the file that the supplier sent: CSV or XLSX.")
        return data

    @property
    def kept(self) -> dict[str, str]:
        """What the next step sends along."""
        return {"rows": carried(self.cleaned_data["rows"]), "called": self.cleaned_data["called"]}


class ColumnsForm(MakerForm):
    """Which column is what, and how the file writes its figures."""

    prefix = "columns"

    head = forms.ChoiceField(label="Heads stand in", required=False)
    name = forms.ChoiceField(label="INCI or substance name", required=False)
    cas = forms.ChoiceField(label="CAS number", required=False)
    percent = forms.ChoiceField(
        label="Share", required=False, help_text="One column with a figure or a range: 5, 0.1-1, <0.1."
    )
    low = forms.ChoiceField(label="Low", required=False)
    typical = forms.ChoiceField(label="Typical", required=False)
    high = forms.ChoiceField(label="High", required=False)
    kind = forms.ChoiceField(label="Declared or within", required=False)
    function = forms.ChoiceField(label="Function", required=False)
    unit = forms.ChoiceField(label="Its figures are", choices=UNITS)
    mark = forms.ChoiceField(label="Decimals stand after", choices=MARKS)
    rows_are = forms.ChoiceField(
        label="Rows without a word are",
        choices=[("declared", "declared: together 100 %"), ("within", "within: allergens of an oil, say")],
    )
    is_ordered = forms.BooleanField(
        label="The rows stand in descending order",
        required=False,
        help_text="Then the order counts where a share is not given.",
    )

    def __init__(self, *args: Any, rows: Sequence[Sequence[Cell]], guessed: Guess, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        heads: Any = self.fields["head"]
        heads.choices = [(NO_HEADS, "No row: the figures begin at once")] + [
            (str(number), words) for number, words in head_rows(rows)
        ]
        chosen = str(self.data.get(self.add_prefix("head"), "")) if self.is_bound else ""
        head = int(chosen) if chosen in {str(number) for number, _ in head_rows(rows)} else guessed.head
        columns = [
            (str(one.index), one.words) for one in columns_of(rows, head if chosen != NO_HEADS else None)
        ]
        for role in ROLES:
            field: Any = self.fields[role]
            field.choices = NOT_THERE + columns

    @classmethod
    def guess_of(cls, guessed: Guess, locale: str) -> dict[str, Any]:
        """What the form shows before anything was said: what the heads tell."""
        found = {f"columns-{role}": str(index) for role, index in guessed.columns.items()}
        return {
            **found,
            "columns-head": NO_HEADS if guessed.head is None else str(guessed.head),
            "columns-unit": guessed.unit,
            "columns-mark": decimal_mark(locale),
            "columns-rows_are": "declared",
        }

    def clean(self) -> dict[str, Any]:
        """A name or a number to go by, and no column in two places."""
        data = super().clean() or self.cleaned_data
        if not data.get("name") and not data.get("cas"):
            self.add_error("name", "Which column holds the names, or the CAS numbers?")
        seen: dict[str, str] = {}
        for role in ROLES:
            column = data.get(role)
            if column and column in seen:
                self.add_error(role, f"That column is taken for “{self.fields[seen[column]].label}” already.")
            elif column:
                seen[column] = role
        if data.get("percent") and any(data.get(role) for role in ("low", "typical", "high")):
            self.add_error("percent", "Either one column of shares, or columns of low, typical and high.")
        return data

    @property
    def columns(self) -> dict[Role, int]:
        """The column of each role that has one."""
        return {role: int(column) for role in ROLES if (column := self.cleaned_data.get(role))}

    @property
    def head_row(self) -> int | None:
        """The row of the heads."""
        chosen = self.cleaned_data.get("head") or NO_HEADS
        return None if chosen == NO_HEADS else int(chosen)

    @property
    def locale(self) -> str:
        """A locale that writes decimals as the file does; the maker's own where it does."""
        mark = self.cleaned_data["mark"]
        own = self.maker.locale if self.maker is not None else "en_IE"
        if decimal_mark(own) == mark:
            return own
        return "en_IE" if mark == "." else "de_DE"


class SheetRowForm(MakerForm):
    """What the maker says of one row."""

    typed = forms.CharField(widget=forms.HiddenInput, required=False, max_length=4000, strip=False)
    means = NameField(label="INCI name", max_length=200, required=False)
    is_own = forms.BooleanField(label="Keep this name as a substance of my own", required=False)
    kind = forms.ChoiceField(
        label="It is", required=False, choices=[("", "Choose"), *Constituent.Kind.choices]
    )
    low = PercentTextField(label="Low", required=False)
    typical = PercentTextField(label="Typical", required=False)
    high = PercentTextField(label="High", required=False)
    is_unknown = forms.BooleanField(label="Its share is unknown", required=False)
    is_out = forms.BooleanField(label="Leave this row out", required=False)

    def __init__(
        self, *args: Any, offers: tuple[str, ...] = (), asks_share: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["means"].widget.attrs.update({"list": "substance-names", "autocomplete": "off"})
        if offers:
            self.fields["means"].help_text = f"Could be: {'; '.join(offers)}."
        if not asks_share:
            del self.fields["is_unknown"]

    def clean(self) -> dict[str, Any]:
        """Low, typical and high in order."""
        data = super().clean() or self.cleaned_data
        given = [one for name in ("low", "typical", "high") if (one := data.get(name)) is not None]
        if given != sorted(given):
            self.add_error("low", "Low, typical and high stand in the wrong order.")
        return data
