"""Forms of ingredients, suppliers, sources, prices, use levels, substances and compositions."""

from __future__ import annotations

from typing import Any

from django import forms

from formulas.models import (
    ROLES,
    Basis,
    Constituent,
    DensityKind,
    Form,
    Formula,
    Ingredient,
    Solubility,
    Source,
    Substance,
    Supplier,
    UseLevel,
)
from formulas.rules.composition import substance_key
from makers.forms.base import MakerForm
from makers.forms.fields import (
    CountField,
    DayField,
    DecimalTextField,
    GramsTextField,
    NameField,
    PaperField,
    PercentTextField,
    WordsField,
)
from makers.models import Market

BASIS_CHOICES = [choice for choice in Basis.choices if choice[0] != Basis.CONFIRMED] + [
    (Basis.CONFIRMED.value, "Confirmed by me")
]


class IngredientForm(MakerForm):
    """The facts of an ingredient."""

    name = NameField(label="Name", max_length=120)
    common_name = NameField(label="Also called", max_length=160, required=False)
    roles = forms.MultipleChoiceField(
        label="What it does",
        choices=[(role, role[:1].upper() + role[1:] if role != "pH" else role) for role in ROLES],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    form = forms.ChoiceField(label="At 20 °C it is", choices=Form.choices, initial=Form.UNKNOWN)
    soluble_in = forms.ChoiceField(label="Dissolves in", choices=Solubility.choices, initial=Solubility.UNKNOWN)
    solubility_note = NameField(label="Note on that", max_length=200, required=False)
    density_g_ml = DecimalTextField(label="Density", required=False, above=0, most=25, places=6, unit="g/ml")
    density_kind = forms.ChoiceField(
        label="Density of", required=False, choices=[("", "Not given"), *DensityKind.choices]
    )
    melting_low_c = DecimalTextField(label="Melts from", required=False, least=-80, most=400, places=2, unit="°C")
    melting_high_c = DecimalTextField(label="Clear melt at", required=False, least=-80, most=400, places=2, unit="°C")
    add_below_c = DecimalTextField(
        label="Add at or below", required=False, least=-20, most=300, places=2, unit="°C"
    )
    ph_low = DecimalTextField(label="Works from pH", required=False, least=0, most=14, places=2)
    ph_high = DecimalTextField(label="Works to pH", required=False, least=0, most=14, places=2)
    dietary_source = NameField(
        label="Dietary allergen source",
        max_length=120,
        required=False,
        help_text="Nut, sesame, soy, wheat, milk, bee, lanolin…",
    )
    shelf_life_months = CountField(label="Keeps, unopened", required=False, most=240, unit="months")
    is_perfume = forms.BooleanField(
        label="Counts as perfume", required=False, help_text="Fragrance or essential oil: declared as perfume, with its allergens."
    )
    made_from = forms.ModelChoiceField(
        label="Made here from", queryset=Formula.objects.none(), required=False, empty_label="Bought in"
    )
    low_stock_g = GramsTextField(label="Say when less than", required=False)
    note = WordsField(label="Note", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["made_from"]
        field.queryset = Formula.objects.filter(maker=self.maker, active=True)


class IngredientChangeForm(IngredientForm):
    """The facts, and whether it is still in use."""

    active = forms.BooleanField(label="In use", required=False)


class IngredientFilter(MakerForm):
    """The filter of the list."""

    q = NameField(label="Name or INCI", required=False, max_length=100)
    role = forms.ChoiceField(
        label="What it does", required=False, choices=[("", "All"), *((role, role) for role in ROLES)]
    )


class ConfirmForm(MakerForm):
    """Against what a fact was checked."""

    basis = WordsField(label="Checked against", help_text="Sheet, certificate, your own test.")


class SupplierForm(MakerForm):
    """A supplier."""

    name = NameField(label="Name", max_length=120)
    country = NameField(label="Country, two letters", max_length=2, required=False)
    contact = WordsField(label="How to reach them", required=False)


class SupplierChangeForm(SupplierForm):
    """A supplier, and whether still in use."""

    active = forms.BooleanField(label="In use", required=False)


class SourceForm(MakerForm):
    """A supplier's article of an ingredient."""

    supplier = forms.ModelChoiceField(
        label="Supplier", queryset=Supplier.objects.none(), empty_label="Choose a supplier", required=False
    )
    new_supplier = NameField(label="Or a new supplier", max_length=120, required=False)
    article_code = NameField(label="Their article code", max_length=60, required=False)
    name = NameField(label="They call it", max_length=160, required=False)
    preferred = forms.BooleanField(label="Reviews go by this one", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["supplier"]
        field.queryset = Supplier.objects.filter(maker=self.maker, active=True)

    def clean(self) -> dict[str, Any]:
        """One supplier, chosen or named."""
        data = super().clean() or self.cleaned_data
        if not data.get("supplier") and not data.get("new_supplier"):
            self.add_error("supplier", "Choose a supplier, or name a new one.")
        return data


class PriceForm(MakerForm):
    """What a source costs."""

    source = forms.ModelChoiceField(label="Source", queryset=Source.objects.none(), empty_label=None)
    on = DayField(label="From")
    amount = DecimalTextField(label="Price of a pack", least=0, most=1_000_000, places=4)
    pack_g = GramsTextField(label="A pack holds", above=0, least=None)

    def __init__(self, *args: Any, ingredient: Ingredient, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["source"]
        field.queryset = Source.objects.filter(ingredient=ingredient).select_related("supplier")


class UseLevelForm(MakerForm):
    """How much belongs in a product."""

    kind = forms.ChoiceField(label="In", choices=UseLevel.Kind.choices)
    low = PercentTextField(label="From", required=False)
    high = PercentTextField(label="At most", required=False, above=0, least=None)
    source = NameField(label="Who says so", max_length=400, help_text="Supplier's sheet with its date, certificate, book.")
    basis = forms.ChoiceField(label="You know it from", choices=BASIS_CHOICES, initial=Basis.SUPPLIER)


class SubstanceForm(MakerForm):
    """A substance that the reference does not have."""

    inci_name = NameField(label="INCI name", max_length=200)
    us_name = NameField(label="US label name", max_length=200, required=False)
    cas = NameField(label="CAS number", max_length=60, required=False)
    is_colourant = forms.BooleanField(label="Is a colourant", required=False)
    is_perfume = forms.BooleanField(label="Is a fragrance material", required=False)
    source = NameField(label="Where you have it from", max_length=400, required=False)


class CompositionForm(MakerForm):
    """Where a composition is from."""

    source = forms.ModelChoiceField(
        label="Of", queryset=Source.objects.none(), required=False, empty_label="Every source"
    )
    basis = forms.ChoiceField(label="You know it from", choices=BASIS_CHOICES, initial=Basis.SUPPLIER)
    origin = NameField(label="Document", max_length=400, required=False, help_text="Name and date of the sheet.")
    allergens_stated = forms.BooleanField(
        label="The supplier states the perfume allergens",
        required=False,
        help_text="Then what is not listed within is not there. Without a statement it stays unknown.",
    )
    valid_from = DayField(label="From")
    paper = PaperField(label="The sheet itself", required=False)

    def __init__(self, *args: Any, ingredient: Ingredient, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["source"]
        field.queryset = Source.objects.filter(ingredient=ingredient).select_related("supplier")


class ConstituentForm(MakerForm):
    """One substance. An empty name leaves the row out."""

    substance = NameField(label="INCI name", max_length=200, required=False)
    kind = forms.ChoiceField(label="It is", choices=Constituent.Kind.choices)
    low = PercentTextField(label="Low", required=False)
    typical = PercentTextField(label="Typical", required=False)
    high = PercentTextField(label="High", required=False)
    rank = CountField(label="Place in their order", required=False, least=1, most=999)
    incidental_reason = NameField(
        label="Incidental, because", max_length=200, required=False, help_text="Only what has no effect in the product."
    )

    def __init__(self, *args: Any, known: dict[str, Substance], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = known
        self.fields["substance"].widget.attrs.update({"list": "substance-names", "autocomplete": "off"})

    def clean_substance(self) -> Substance | None:
        """The substance of that INCI name."""
        text = self.cleaned_data.get("substance")
        if not text:
            return None
        found = self.known.get(substance_key(str(text)))
        if found is None:
            raise forms.ValidationError(
                f"“{text}” is not among the substances known here. Look at the spelling, or add it as your own."
            )
        return found

    def clean(self) -> dict[str, Any]:
        """Low, typical and high in order."""
        data = super().clean() or self.cleaned_data
        figures = [data.get(name) for name in ("low", "typical", "high")]
        given = [one for one in figures if one is not None]
        if given != sorted(given):
            self.add_error("low", "Low, typical and high stand in the wrong order.")
        if given and data.get("substance") is None and "substance" not in self.errors:
            self.add_error("substance", "Which substance has these figures?")
        return data

    @property
    def part(self) -> dict[str, Any] | None:
        """The constituent as add_composition takes it."""
        data = self.cleaned_data
        if data.get("substance") is None:
            return None
        found = {key: data.get(key) for key in ("substance", "kind", "low", "typical", "high", "rank")}
        reason = data.get("incidental_reason") or ""
        return {**found, "incidental": bool(reason), "incidental_reason": reason}


MARKETS = [("", "Every market"), *Market.choices]
