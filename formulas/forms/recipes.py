"""Forms for reading a recipe from elsewhere."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.http import QueryDict

from formulas.forms.sheets import RowsField, SheetField, carried, too_much
from formulas.rules.recipe.heads import read_head
from formulas.rules.recipe.measures import REGIONS
from formulas.rules.recipe.sheets import (
    Cell,
    Columns,
    Measured,
    Question,
    at,
    bare_figure,
    find_columns,
    sheet_text,
    told,
)
from formulas.rules.sheet_columns import columns_of, head_rows
from makers.forms.base import MakerForm
from makers.forms.fields import GramsTextField, NameField, WordsField

MOST_CHARACTERS = 20_000
MEANT = {
    "g": "grams", "grain": "grains", "ml": "millilitres", "tsp": "teaspoons", "tbsp": "tablespoons", "cup": "cups",
    "drop": "drops", "part": "parts", "%": "percent", "oz": "ounces by weight", "fl oz": "fluid ounces",
}  # fmt: skip
FIGURES_ARE = {
    "": "what the head or the cells say", "g": "grams", "kg": "kilograms", "mg": "milligrams",
    "%": "percent of the whole, by weight", "oz": "ounces", "lb": "pounds", "ml": "millilitres", "l": "litres",
    "fl oz": "fluid ounces", "tsp": "teaspoons", "tbsp": "tablespoons", "cup": "cups", "drop": "drops",
    "part": "parts",
}  # fmt: skip
NO_HEADS = "none"
NOT_THERE = [("", "None")]
TOO_LONG = f"The rows make more than {MOST_CHARACTERS} characters of text. Leave out what doesn't belong to the recipe."


class RecipeForm(MakerForm):
    """The text, whose spoons and cups it means, and what the whole weighs where that is needed.

    A spreadsheet's rows go along from page to page, so that its columns can be chosen, and chosen anew. columns:
    their form, once there are rows. asks: what has to be said of them before there is a text. says: which were
    read. lacks_measure: whether figures stand there alone.
    """

    text = WordsField(
        label="Recipe",
        max_length=MOST_CHARACTERS,
        required=False,
        widget=forms.Textarea(attrs={"rows": 12}),
        help_text="As it stands, a line an ingredient. Headings become phases, sentences become steps.",
    )
    sheet = SheetField(label="Or a spreadsheet", required=False)
    rows = RowsField(required=False)
    called = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200)
    chosen = forms.CharField(widget=forms.HiddenInput, required=False, max_length=400)
    region = forms.ChoiceField(label="Its spoons and cups", choices=list(REGIONS.items()), initial="metric")
    total = GramsTextField(
        label="The whole weighs",
        required=False,
        above=0,
        least=None,
        help_text="Only where grams stand beside percents or a line to 100.",
    )

    columns: RecipeColumnsForm | None = None
    asks = ""
    says = ""
    lacks_measure = False

    def clean(self) -> dict[str, Any]:
        """A spreadsheet's rows become the text, to be seen and changed like a text that was pasted."""
        data = super().clean() or self.cleaned_data
        if self.data.get("do") == "leave":
            self._keep(rows="", called="", chosen="")
        elif rows := data.get("sheet"):
            if said := too_much(rows):
                self.add_error("sheet", said)
                return data
            called = str(getattr(self.files.get(self.add_prefix("sheet")), "name", "") or "")[-200:]
            self._keep(rows=carried(rows), called=called, chosen="")
            self._first(rows)
        elif rows := data.get("rows"):
            self._again(rows)
        if not data.get("text") and not self.errors and not self.asks:
            self.add_error("text", "Write or paste the recipe here, or choose a spreadsheet.")
        return data

    def _first(self, rows: Sequence[Sequence[Cell]]) -> None:
        """What the heads of a new file tell, or the question which column is the amount."""
        found = find_columns(rows)
        if found is None:
            self._keep(rows="", called="", chosen="")
            self._take(sheet_text(rows, None))
            return
        if isinstance(found, Question):
            self.asks = found.asks
            self.columns = RecipeColumnsForm(rows=rows, found=found, maker=self.maker)
            return
        said = RecipeColumnsForm.said_by(found)
        self.columns = RecipeColumnsForm(_prefixed(said), rows=rows, found=found, maker=self.maker)
        self._read(rows, found, said)

    def _again(self, rows: Sequence[Sequence[Cell]]) -> None:
        """The rows of an earlier page: read by the columns chosen now, or by those that were chosen before."""
        chosen = _read_back(self.cleaned_data.get("chosen", ""))
        is_now = not chosen or self.data.get("do") == "columns"
        columns = RecipeColumnsForm(
            self.data if is_now else _prefixed(chosen), rows=rows, asks_measure=is_now, maker=self.maker
        )
        self.columns = columns
        if not columns.is_valid():
            self.asks = "Nothing is read from these columns yet. What is open stands beside its field."
        elif is_now:
            self._read(rows, columns.found, columns.said)
        else:
            self._tell(rows, columns.found)

    def _read(self, rows: Sequence[Sequence[Cell]], found: Columns, said: dict[str, str]) -> None:
        """The text of the rows, and from which columns it comes."""
        if self._take(sheet_text(rows, found)):
            self._keep(chosen=json.dumps(said))
            self._tell(rows, found)

    def _tell(self, rows: Sequence[Sequence[Cell]], found: Columns) -> None:
        """Say which columns were read, and that a measure is missing where it is."""
        heads = find_columns(rows)
        is_same = isinstance(heads, Columns) and replace(heads, same=()) == found
        self.says = told(rows, heads if is_same and isinstance(heads, Columns) else found)
        self.lacks_measure = bool(bare_figure(rows, found))

    def _take(self, text: str) -> bool:
        """Put a text into the box; a text that is too long says so and leaves the box as it is."""
        if len(text) > MOST_CHARACTERS:
            self.add_error("sheet", TOO_LONG)
            return False
        self.cleaned_data["text"] = text
        self._keep(text=text)
        return True

    def _keep(self, **shown: str) -> None:
        """Show other values than those that came."""
        data = QueryDict(mutable=True)
        data.update(self.data)
        for name, value in shown.items():
            data[self.add_prefix(name)] = value
        self.data = data


class RecipeColumnsForm(MakerForm):
    """Which column of a spreadsheet is what. found: the columns as they were said, once the form is valid."""

    prefix = "columns"

    head = forms.ChoiceField(label="Heads stand in", required=False)
    name = forms.ChoiceField(label="Ingredient", required=False)
    amount = forms.ChoiceField(
        label="Amount",
        required=False,
        help_text="What goes into the recipe, not its price, limit or strength.",
    )
    unit = forms.ChoiceField(label="Its figures are", choices=list(FIGURES_ARE.items()), required=False)
    added = forms.ChoiceField(
        label="Added to it",
        required=False,
        help_text="Ounces beside pounds, or a second column used in turn.",
    )
    units = forms.ChoiceField(label="Measures stand in", required=False)
    phase = forms.ChoiceField(label="Phase", required=False)

    found: Columns

    def __init__(
        self,
        *args: Any,
        rows: Sequence[Sequence[Cell]],
        found: Columns | Question | None = None,
        asks_measure: bool = False,
        **kwargs: Any,
    ) -> None:
        if isinstance(found, Question):
            kwargs["initial"] = self.said_by(found)
        super().__init__(*args, **kwargs)
        self.rows, self.asks_measure = rows, asks_measure
        self.fields["head"].choices = [  # type: ignore[attr-defined]  # a field of choices
            (NO_HEADS, "No row: the recipe begins at once"),
            *((str(number), words) for number, words in head_rows(rows)),
        ]
        typed = str(self.data.get(self.add_prefix("head"), NO_HEADS)) if self.is_bound else ""
        head = found.row if found is not None else int(typed) if typed in self._numbers() else None
        columns = [(str(one.index), one.words) for one in columns_of(rows, head)]
        for name in ("name", "amount", "added", "units", "phase"):
            empty = [("", "Choose")] if name in {"name", "amount"} else NOT_THERE
            self.fields[name].choices = empty + columns  # type: ignore[attr-defined]  # a field of choices

    def _numbers(self) -> set[str]:
        return {str(number) for number, _ in head_rows(self.rows)}

    @staticmethod
    def said_by(found: Columns | Question) -> dict[str, str]:
        """What the fields hold for columns that the heads tell."""
        said = {"head": NO_HEADS if found.row is None else str(found.row)}
        places = {"name": found.name, "phase": found.phase}
        if isinstance(found, Columns):
            places |= {"units": found.units, "amount": found.amounts[0].index}
            said["unit"] = ""
            if len(found.amounts) > 1:
                places["added"] = found.amounts[1].index
        return said | {name: str(index) for name, index in places.items() if index is not None}

    @property
    def said(self) -> dict[str, str]:
        """What was chosen, to go along."""
        return {name: str(value) for name, value in self.cleaned_data.items() if value}

    def clean(self) -> dict[str, Any]:
        """A column of names and one of amounts, none in two places, and a measure for every figure."""
        data = super().clean() or self.cleaned_data
        for name, asks in (
            ("name", "Which column holds the ingredients?"),
            ("amount", "Which column goes in?"),
        ):
            if not data.get(name) and name not in self.errors:
                self.add_error(name, asks)
        seen: dict[str, str] = {}
        for name in ("name", "amount", "added", "units", "phase"):
            column = data.get(name)
            if column and column in seen:
                self.add_error(name, f"That column is taken for “{self.fields[seen[column]].label}” already.")
            elif column:
                seen[column] = name
        if not self.errors:
            self.found = self._columns(data)
            if self.asks_measure and (bare := bare_figure(self.rows, self.found)):
                self.add_error("unit", f"{bare} of what? Its head doesn't say for certain: choose a measure.")
        return data

    def _columns(self, data: dict[str, Any]) -> Columns:
        head = int(data["head"]) if data.get("head") not in {None, "", NO_HEADS} else None
        amounts = [Measured(int(data["amount"]), data.get("unit") or self._unit(head, data["amount"]))]
        if data.get("added"):
            amounts.append(Measured(int(data["added"]), self._unit(head, data["added"])))
        phase, units = (int(data[name]) if data.get(name) else None for name in ("phase", "units"))
        return Columns(head, int(data["name"]), tuple(amounts), phase, units)

    def _unit(self, head: int | None, column: str) -> str:
        """The measure that a head says for certain."""
        said = read_head(at(self.rows[head], int(column))) if head is not None else None
        return said.unit if said is not None and said.kind == "sure" else ""


def _prefixed(said: dict[str, str]) -> dict[str, str]:
    return {f"{RecipeColumnsForm.prefix}-{name}": value for name, value in said.items()}


def _read_back(chosen: str) -> dict[str, str]:
    """What a page carried along of the columns; nothing for what no page of ours wrote."""
    try:
        said = json.loads(chosen or "{}")
    except (ValueError, RecursionError):
        return {}
    return {str(name): str(value) for name, value in said.items()} if isinstance(said, dict) else {}


class RecipeLineForm(MakerForm):
    """What the maker says of one line."""

    typed = forms.CharField(widget=forms.HiddenInput, required=False, max_length=2000, strip=False)
    name = NameField(label="It means", max_length=120, required=False)
    meant = forms.ChoiceField(label="Counted in", required=False)
    grams = GramsTextField(label="Or weighed", required=False, above=0, least=None)
    is_new = forms.BooleanField(label="New among my ingredients", required=False)
    is_out = forms.BooleanField(label="Leave it out", required=False)

    def __init__(
        self, *args: Any, may_mean: tuple[str, ...] = (), offers: tuple[str, ...] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        name, meant = self.fields["name"], self.fields["meant"]
        name.widget.attrs.update({"list": "material-names", "autocomplete": "off"})
        if offers:
            name.help_text = f"Could be: {'; '.join(offers)}."
        if isinstance(meant, forms.ChoiceField):
            meant.choices = [("", "Choose"), *((key, MEANT[key]) for key in may_mean if key in MEANT)]
        if len(may_mean) < 2:
            del self.fields["meant"]
