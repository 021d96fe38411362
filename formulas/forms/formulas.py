"""Forms of the formula desk."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from formulas.actions.formulas import LINE_KEYS
from formulas.models import BodyArea, Formula, Ingredient, Line, ProductForm, ProductKind, Substance
from formulas.rules.composition import substance_key
from makers.forms.base import MakerForm
from makers.forms.fields import (
    CountField,
    DecimalTextField,
    GramsTextField,
    NameField,
    NumberInput,
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
    perfume_category = NameField(
        label="Category of perfume certificates",
        max_length=4,
        required=False,
        help_text="Under which a perfume's certificate states the most for such a product: 5A say.",
    )
    note = WordsField(label="Note", required=False)


class LiveForm(MakerForm):
    """A form that may be looked at while it is typed. live: what is still empty is not asked for yet."""

    def __init__(self, *args: Any, live: bool = False, **kwargs: Any) -> None:
        self.live = live
        super().__init__(*args, **kwargs)

    def full_clean(self) -> None:
        """Clean; while it is typed the keyboard stays where it is."""
        super().full_clean()
        if self.live:
            for field in self.fields.values():
                field.widget.attrs.pop("autofocus", None)


class DeskForm(LiveForm):
    """The head of the desk: at what mass, on which scale, made to which pH."""

    edit = forms.IntegerField(widget=forms.HiddenInput, required=False)
    mass = GramsTextField(label="Batch", above=0, least=None, required=False)
    scale = forms.ModelChoiceField(
        label="Scale", queryset=Scale.objects.none(), required=False, empty_label="No scale"
    )

    ph_low = DecimalTextField(label="Made to pH, from", required=False, least=0, most=14, places=2)
    ph_high = DecimalTextField(label="Made to pH, to", required=False, least=0, most=14, places=2)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["scale"]
        field.queryset = Scale.objects.filter(maker=self.maker, active=True)

    def clean(self) -> dict[str, Any]:
        """The ends of the pH in order."""
        data = super().clean() or self.cleaned_data
        low, high = data.get("ph_low"), data.get("ph_high")
        if low is not None and high is not None and low > high:
            self.add_error("ph_low", "The lower pH is above the upper one.")
        return data

    @property
    def ph(self) -> tuple[Decimal | None, Decimal | None]:
        """The pH as save_version takes it."""
        return self.cleaned_data.get("ph_low"), self.cleaned_data.get("ph_high")


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


class LineForm(LiveForm):
    """One line of a formula. An empty ingredient leaves the line out.

    substances: what straining may leave, by key; None where nothing is strained.
    """

    ingredient = IngredientByName(label="Ingredient", required=False)
    percent = PercentTextField(
        label="Percent", above=0, least=None, required=False, widget=NumberInput({"class": "short pct"})
    )
    kind = forms.ChoiceField(label="How much", choices=Line.Kind.choices, initial=Line.Kind.PERCENT)
    phase = forms.CharField(
        label="Phase", max_length=3, required=False, widget=forms.TextInput({"class": "letter"})
    )
    purpose = NameField(label="What it does here", max_length=40, required=False)
    adjust_low = PercentTextField(label="From", required=False)
    adjust_high = PercentTextField(label="At most", required=False, above=0, least=None)
    ph_low = DecimalTextField(label="pH from", required=False, least=0, most=14, places=2)
    ph_high = DecimalTextField(label="pH to", required=False, least=0, most=14, places=2)
    strained = forms.BooleanField(label="Strained out", required=False)
    leaves = NameField(
        label="Leaves behind",
        max_length=200,
        required=False,
        help_text="The INCI name of what stays in the infusion.",
    )

    def __init__(
        self,
        *args: Any,
        known: dict[str, Ingredient],
        substances: dict[str, Substance] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["ingredient"]
        field.known = known
        self.substances = substances or {}
        self.fields["leaves"].widget.attrs.update({"list": "substance-names", "autocomplete": "off"})
        if substances is None:
            del self.fields["strained"], self.fields["leaves"]

    @property
    def is_empty(self) -> bool:
        """Nothing stands in it that would be lost."""
        return not any(str(self[name].value() or "").strip() for name in ("ingredient", "percent", "purpose"))

    @property
    def typed_ingredient(self) -> Ingredient | None:
        """The ingredient that was typed, where it is known."""
        found: Ingredient | None = getattr(self, "cleaned_data", {}).get("ingredient")
        return found

    @property
    def errors_within(self) -> bool:
        """Something needs a hand in the part of a row that folds away."""
        return any(name != "percent" for name in self.errors)

    def clean_leaves(self) -> Substance | None:
        """The substance of that INCI name."""
        text = str(self.cleaned_data.get("leaves") or "")
        found = self.substances.get(substance_key(text)) if text else None
        if text and found is None:
            raise forms.ValidationError(
                f"“{text}” is not among the substances known here. Look at the spelling."
            )
        return found

    def clean_phase(self) -> str:
        """A letter in capitals; A when none is given."""
        return "".join(str(self.cleaned_data.get("phase") or "A").upper().split()) or "A"

    def clean(self) -> dict[str, Any]:
        """A percent for a percent line, a range for an adjusted one."""
        data = super().clean() or self.cleaned_data
        if data.get("ingredient") is None:
            if not self.is_empty:
                has_percent = str(self.data.get(self.add_prefix("percent"), "")).strip()
                self.ask(
                    "ingredient",
                    "Which ingredient takes this percent?"
                    if has_percent
                    else "Which ingredient does this here?",
                )
            return data
        kind = data.get("kind")
        if kind == Line.Kind.PERCENT and data.get("percent") is None:
            self.ask("percent", "Write the percent, or make it “to 100”.")
        if kind == Line.Kind.ADJUST:
            if data.get("adjust_high") is None:
                self.ask("adjust_high", "Say how much at most.")
            elif (data.get("adjust_low") or Decimal(0)) > data["adjust_high"]:
                self.add_error("adjust_low", "From is above at most.")
        if data.get("leaves") is not None and not data.get("strained"):
            self.add_error(
                "leaves", "Only what is strained out leaves something behind. Tick that, or empty this."
            )
        return data

    def ask(self, name: str, sentence: str) -> None:
        """Ask for what is empty, once the row is to be saved."""
        if name not in self.errors and not self.live:
            self.add_error(name, sentence)

    @property
    def line(self) -> dict[str, Any] | None:
        """The line as save_version takes it; None for an empty row."""
        data = self.cleaned_data
        if data.get("ingredient") is None:
            return None
        return {key: data.get(key) for key in LINE_KEYS}


class ExchangeForm(MakerForm):
    """One ingredient for another throughout a draft."""

    missing = {
        "out": "Choose the ingredient that goes.",
        "into": "Write the ingredient that comes in its place.",
    }

    out = forms.ChoiceField(label="In place of")
    into = IngredientByName(label="Take")

    def __init__(
        self, *args: Any, known: dict[str, Ingredient], used: Sequence[Ingredient], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.used = {str(row.pk): row for row in used}
        out: Any = self.fields["out"]
        out.choices = [(key, row.name) for key, row in self.used.items()]
        into: Any = self.fields["into"]
        into.known = known

    def clean_out(self) -> Ingredient | None:
        """The ingredient that goes."""
        return self.used.get(self.cleaned_data["out"])


class RoomForm(MakerForm):
    """A line and its new percent; the other lines make room."""

    missing = {
        "line": "Choose the line that is to take another percent.",
        "to": "Write the percent that it is to take.",
    }

    line = forms.ChoiceField(label="Line")
    to = PercentTextField(label="Takes", above=0, least=None)

    def __init__(self, *args: Any, lines: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        line: Any = self.fields["line"]
        line.choices = list(lines)


class CompareForm(MakerForm):
    """Two versions. choices: as a select takes them, by formula."""

    left = forms.ChoiceField(label="First")
    right = forms.ChoiceField(label="Beside it")

    def __init__(
        self, *args: Any, choices: Sequence[tuple[str, list[tuple[str, str]]]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, label in (("left", "First"), ("right", "Beside it")):
            field = forms.ChoiceField(label=label, choices=list(choices))
            field.error_messages["invalid_choice"] = "That version is not among yours. Choose one."
            field.error_messages["required"] = "Choose a version."
            self.fields[name] = field


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


__all__ = [
    "LINE_KEYS",
    "CompareForm",
    "DeskForm",
    "ExchangeForm",
    "Formula",
    "FormulaForm",
    "LineForm",
    "NextVersionForm",
    "RoomForm",
    "StepForm",
    "VariantForm",
    "WhyForm",
]
