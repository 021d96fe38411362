"""Forms for reading a recipe from elsewhere."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict

from formulas.forms.sheets import SheetField
from formulas.rules.recipe.measures import REGIONS
from formulas.rules.recipe.sheets import sheet_text
from makers.forms.base import MakerForm
from makers.forms.fields import GramsTextField, NameField, WordsField

MOST_CHARACTERS = 20_000
MEANT = {
    "g": "grams", "grain": "grains", "ml": "millilitres", "tsp": "teaspoons", "tbsp": "tablespoons", "cup": "cups",
    "drop": "drops", "part": "parts", "%": "percent", "oz": "ounces by weight", "fl oz": "fluid ounces",
}  # fmt: skip


class RecipeForm(MakerForm):
    """The text, whose spoons and cups it means, and what the whole weighs where that is needed."""

    text = WordsField(
        label="Recipe",
        max_length=MOST_CHARACTERS,
        required=False,
        widget=forms.Textarea(attrs={"rows": 12}),
        help_text="As it stands, a line an ingredient. Headings become phases, sentences become steps.",
    )
    sheet = SheetField(label="Or a spreadsheet", required=False)
    region = forms.ChoiceField(label="Its spoons and cups", choices=list(REGIONS.items()), initial="metric")
    total = GramsTextField(
        label="The whole weighs",
        required=False,
        above=0,
        least=None,
        help_text="Only where grams stand beside percents or a line to 100.",
    )

    def clean(self) -> dict[str, Any]:
        """A spreadsheet's rows become the text, to be seen and changed like a text that was pasted."""
        data = super().clean() or self.cleaned_data
        if rows := data.get("sheet"):
            data["text"] = sheet_text(rows)[:MOST_CHARACTERS]
            shown = QueryDict(mutable=True)
            shown.update(self.data)
            shown[self.add_prefix("text")] = data["text"]
            self.data = shown
        elif not data.get("text") and not self.errors:
            self.add_error("text", "Write or paste the recipe here, or choose a spreadsheet.")
        return data


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
