"""Forms of the formula desk."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from formulas.models import BodyArea, Formula, Ingredient, Line, ProductForm, ProductKind
from makers.forms.base import MakerForm
from makers.forms.fields import (
    CountField,
    DecimalTextField,
    GramsTextField,
    NameField,
    PercentTextField,
    WordsField,
)
from makers.models import Scale


class FormulaForm(MakerForm):
    """What a formula is for."""

    name = NameField(label="Name", max_length=120)
    form = forms.ChoiceField(label="Made as", choices=ProductForm.choices)
    kind = forms.ChoiceField(label="On the skin", choices=ProductKind.choices)
    body_area = forms.ChoiceField(label="Used on", choices=BodyArea.choices, initial=BodyArea.UNKNOWN)
    used_in_water = forms.BooleanField(
        label="Used with water", required=False, help_text="In the shower or bath, or taken with wet fingers."
    )
    note = WordsField(label="Note", required=False)


class DeskForm(MakerForm):
    """The head of the desk: at what mass, on which scale."""

    edit = forms.IntegerField(widget=forms.HiddenInput, required=False)
    mass = GramsTextField(label="Batch", above=0, least=None, required=False)
    scale = forms.ModelChoiceField(
        label="Scale", queryset=Scale.objects.none(), required=False, empty_label="No scale"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["scale"]
        field.queryset = Scale.objects.filter(maker=self.maker, active=True)


class IngredientByName(NameField):
    """An ingredient typed by its name or code. Cleaned value: Ingredient or None."""

    def __init__(self, **kwargs: Any) -> None:
        self.known: dict[str, Ingredient] = {}
        super().__init__(max_length=120, **kwargs)
        self.widget.attrs.update({"list": "ingredient-names", "autocomplete": "off"})

    def to_python(self, value: Any) -> Any:
        """Find the ingredient. Raises ValidationError with what to do when there is none of that name."""
        text = super().to_python(value)
        if not text:
            return None
        found = self.known.get(str(text).casefold())
        if found is None:
            raise forms.ValidationError(
                f"There is no ingredient called “{text}”. Take one from the list, or add it under Ingredients."
            )
        return found


class LineForm(MakerForm):
    """One line of a formula. An empty ingredient leaves the line out."""

    phase = forms.CharField(
        label="Phase", max_length=3, required=False, widget=forms.TextInput({"class": "letter"})
    )
    ingredient = IngredientByName(label="Ingredient", required=False)
    kind = forms.ChoiceField(label="How much", choices=Line.Kind.choices, initial=Line.Kind.PERCENT)
    percent = PercentTextField(label="Percent", above=0, least=None, required=False)
    adjust_low = PercentTextField(label="From", required=False)
    adjust_high = PercentTextField(label="At most", required=False, above=0, least=None)
    ph_low = DecimalTextField(label="pH from", required=False, least=0, most=14, places=2)
    ph_high = DecimalTextField(label="pH to", required=False, least=0, most=14, places=2)
    purpose = NameField(label="What it does here", max_length=40, required=False)

    def __init__(self, *args: Any, known: dict[str, Ingredient], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["ingredient"]
        field.known = known

    def clean_phase(self) -> str:
        """A letter in capitals; A when none is given."""
        return "".join(str(self.cleaned_data.get("phase") or "A").upper().split()) or "A"

    def clean(self) -> dict[str, Any]:
        """A percent for a percent line, a range for an adjusted one."""
        data = super().clean() or self.cleaned_data
        if data.get("ingredient") is None:
            typed = self.data.get(self.add_prefix("percent"), "")
            if "ingredient" not in self.errors and str(typed).strip():
                self.add_error("ingredient", "Which ingredient takes this percent?")
            return data
        kind = data.get("kind")
        if kind == Line.Kind.PERCENT and data.get("percent") is None and "percent" not in self.errors:
            self.add_error("percent", "Write the percent, or make it “to 100”.")
        if kind == Line.Kind.ADJUST:
            if data.get("adjust_high") is None and "adjust_high" not in self.errors:
                self.add_error("adjust_high", "Say how much at most.")
            elif (data.get("adjust_low") or Decimal(0)) > (data.get("adjust_high") or Decimal(0)):
                self.add_error("adjust_low", "From is above at most.")
        return data

    @property
    def line(self) -> dict[str, Any] | None:
        """The line as save_version takes it; None for an empty row."""
        data = self.cleaned_data
        if data.get("ingredient") is None:
            return None
        return {key: data.get(key) for key in LINE_KEYS}


LINE_KEYS = ("ingredient", "kind", "percent", "adjust_low", "adjust_high", "ph_low", "ph_high", "purpose")


class StepForm(MakerForm):
    """One step. An empty text leaves it out."""

    phase = forms.CharField(
        label="Phase", max_length=3, required=False, widget=forms.TextInput({"class": "letter"})
    )
    text = WordsField(label="What to do", required=False)
    target_c = DecimalTextField(label="Target", required=False, least=-40, most=300, unit="°C", places=1)
    min_c = DecimalTextField(label="At least", required=False, least=-40, most=300, unit="°C", places=1)
    max_c = DecimalTextField(label="At most", required=False, least=-40, most=300, unit="°C", places=1)
    minutes = CountField(label="Minutes", required=False, most=10_000)

    def clean(self) -> dict[str, Any]:
        """Temperatures need a text, and stand in order."""
        data = super().clean() or self.cleaned_data
        figures = [data.get(name) for name in ("target_c", "min_c", "max_c", "minutes")]
        if not data.get("text") and any(one is not None for one in figures):
            self.add_error("text", "Say what to do at this step.")
        if data.get("min_c") is not None and data.get("max_c") is not None and data["min_c"] > data["max_c"]:
            self.add_error("min_c", "The lower temperature is above the upper one.")
        return data

    @property
    def step(self) -> dict[str, Any] | None:
        """The step as save_version takes it; None for an empty row."""
        data = self.cleaned_data
        if not data.get("text"):
            return None
        found = {key: data.get(key) for key in ("text", "target_c", "min_c", "max_c", "minutes")}
        return {**found, "phase": str(data.get("phase") or "").upper().strip()}


class WhyForm(MakerForm):
    """A reason."""

    why = WordsField(label="Why")


class NextVersionForm(MakerForm):
    """What the next version is to try."""

    note = WordsField(label="What this version tries", required=False)


class VariantForm(MakerForm):
    """The name of a variant."""

    name = NameField(label="Name of the variant", max_length=120)


class FormulaFilter(MakerForm):
    """The filter of the list."""

    q = NameField(label="Name", required=False, max_length=100)
    form = forms.ChoiceField(label="Made as", required=False, choices=[("", "All"), *ProductForm.choices])


__all__ = [
    "LINE_KEYS",
    "DeskForm",
    "Formula",
    "FormulaFilter",
    "FormulaForm",
    "LineForm",
    "NextVersionForm",
    "StepForm",
    "VariantForm",
    "WhyForm",
]
