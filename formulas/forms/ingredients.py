"""Forms of ingredients, suppliers, sources, use levels, substances and compositions."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any, cast
from uuid import UUID, uuid4

from django import forms
from django.forms import BoundField

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
from makers.forms.lists import FilterForm
from makers.forms.seen import SeenForm
from makers.models import Market
from makers.rules.places import countries

MARKETS = [("", "Every market"), *Market.choices]

STATES = [
    ("", "Everything in use"),
    ("short", "Short of stock"),
    ("unknown", "Composition unknown"),
    ("retired", "Not used any more"),
]

BASIS_CHOICES = [choice for choice in Basis.choices if choice[0] != Basis.CONFIRMED] + [
    (Basis.CONFIRMED.value, "Confirmed by me")
]


class OnceForm(MakerForm):
    """A form whose second sending has no further effect: its key becomes the record's identity."""

    entry_key = forms.UUIDField(required=False, widget=forms.HiddenInput, initial=uuid4)

    @property
    def key(self) -> UUID | None:
        """The key, once the form was read."""
        found: UUID | None = self.cleaned_data.get("entry_key")
        return found


class IngredientForm(OnceForm):
    """The facts of an ingredient, and what the figures rest on."""

    GROUPS = (
        ("What it is", ("name", "common_name", "roles", "is_perfume", "made_from", "active")),
        ("In the hand", ("form", "soluble_in", "solubility_note", "density_g_ml", "density_kind")),
        ("In the pot", ("melting_low_c", "melting_high_c", "add_below_c", "ph_low", "ph_high")),
        ("In an emulsion", ("hlb", "hlb_required")),
        ("Care", ("dietary_source", "shelf_life_months", "low_stock_g", "note")),
        ("What these facts rest on", ("basis", "basis_source")),
    )

    name = NameField(label="Name", max_length=120)
    common_name = NameField(label="Also called", max_length=160, required=False)
    roles = forms.MultipleChoiceField(
        label="Role",
        choices=[(role, role[:1].upper() + role[1:] if role != "pH" else role) for role in ROLES],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    form = forms.ChoiceField(label="At 20 °C it is", choices=Form.choices, initial=Form.UNKNOWN)
    soluble_in = forms.ChoiceField(
        label="Dissolves in", choices=Solubility.choices, initial=Solubility.UNKNOWN
    )
    solubility_note = NameField(label="Note on that", max_length=200, required=False)
    density_g_ml = DecimalTextField(label="Density", required=False, above=0, most=25, places=6, unit="g/ml")
    density_kind = forms.ChoiceField(
        label="Density of", required=False, choices=[("", "Not given"), *DensityKind.choices]
    )
    melting_low_c = DecimalTextField(
        label="Melts from", required=False, least=-80, most=400, places=2, unit="°C"
    )
    melting_high_c = DecimalTextField(
        label="Clear melt at", required=False, least=-80, most=400, places=2, unit="°C"
    )
    add_below_c = DecimalTextField(
        label="Add at or below", required=False, least=-20, most=300, places=2, unit="°C"
    )
    ph_low = DecimalTextField(label="Works from pH", required=False, least=0, most=14, places=2)
    ph_high = DecimalTextField(label="Works to pH", required=False, least=0, most=14, places=2)
    hlb = DecimalTextField(
        label="HLB", required=False, least=0, most=40, places=2, help_text="Of a single emulsifier."
    )
    hlb_required = DecimalTextField(
        label="Required HLB",
        required=False,
        least=0,
        most=40,
        places=2,
        help_text="Of an oil, butter or wax, for oil in water.",
    )
    dietary_source = NameField(
        label="Dietary allergen source",
        max_length=120,
        required=False,
        help_text="Nut, sesame, soy, wheat, milk, bee, lanolin…",
    )
    shelf_life_months = CountField(label="Keeps, unopened", required=False, most=240, unit="months")
    is_perfume = forms.BooleanField(
        label="Counts as perfume",
        required=False,
        help_text="Fragrance or essential oil: declared as perfume, with its allergens.",
    )
    made_from = forms.ModelChoiceField(
        label="Made here from", queryset=Formula.objects.none(), required=False, empty_label="Bought in"
    )
    low_stock_g = GramsTextField(label="Say when less than", required=False)
    note = WordsField(label="Note", required=False)
    basis = forms.ChoiceField(label="You know it from", choices=BASIS_CHOICES, initial=Basis.SUPPLIER)
    basis_source = NameField(
        label="Which one",
        max_length=400,
        required=False,
        help_text="Sheet with its date, book, your own test.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["made_from"]
        field.queryset = Formula.objects.filter(maker=self.maker, active=True).order_by("name")

    @property
    def sections(self) -> list[tuple[str, list[BoundField]]]:
        """The fields under their side-heads."""
        named = (
            (title, [self[name] for name in names if name in self.fields]) for title, names in self.GROUPS
        )
        return [(title, fields) for title, fields in named if fields]


class IngredientChangeForm(SeenForm, IngredientForm):
    """The facts, and whether it is still in use."""

    unseen = frozenset({"basis", "basis_source"})

    active = forms.BooleanField(label="In use", required=False)
    basis_source = NameField(
        label="Which one",
        max_length=400,
        required=False,
        help_text="Said of every fact that you change here.",
    )

    @property
    def was(self) -> dict[str, Any]:
        """What the record said, of the fields that were changed in the form."""
        return {name: self.now(name) for name in self.changes if name != "made_from"}


class IngredientFilter(FilterForm):
    """What the list of ingredients shows."""

    q = NameField(label="Name or INCI", required=False, max_length=100)
    role = forms.ChoiceField(
        label="Role", required=False, choices=[("", "Anything"), *((role, role) for role in ROLES)]
    )
    supplier = forms.ChoiceField(label="Sold by", required=False)
    state = forms.ChoiceField(label="Look for", required=False, choices=STATES)

    def fill_choices(self) -> None:
        """Offer the maker's suppliers."""
        suppliers = Supplier.objects.for_maker(self.maker).order_by("name") if self.maker else ()
        cast(forms.ChoiceField, self.fields["supplier"]).choices = [
            ("", "Anybody"), *((str(one.uuid), one.name) for one in suppliers)
        ]  # fmt: skip


class WhyForm(MakerForm):
    """Why something goes."""

    why = WordsField(label="Why", missing="Say why it goes; the journal keeps it.")


class CopyForm(OnceForm):
    """Under which name a raw material of the catalogue is copied."""

    name = NameField(label="Name on your list", max_length=120)


class ConfirmForm(MakerForm):
    """Against what a fact was checked."""

    basis = WordsField(label="Checked against", help_text="Sheet, certificate, your own test.")


class SupplierForm(OnceForm):
    """A supplier."""

    name = NameField(label="Name", max_length=120)
    country = forms.ChoiceField(
        label="Country", required=False, choices=lambda: [("", "Not given"), *countries()]
    )
    contact = WordsField(label="How to reach them", required=False)


class SupplierChangeForm(SeenForm, SupplierForm):
    """A supplier, and whether still in use."""

    active = forms.BooleanField(label="In use", required=False)


class SourceForm(OnceForm):
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


class UseLevelForm(OnceForm):
    """How much belongs in a product."""

    kind = forms.ChoiceField(label="In", choices=UseLevel.Kind.choices)
    market = forms.ChoiceField(label="Sold in", choices=MARKETS, required=False)
    category = NameField(
        label="Product category",
        max_length=4,
        required=False,
        help_text="Of a perfume certificate, 5A say; empty where it holds for every category.",
    )
    low = PercentTextField(label="From", required=False)
    high = PercentTextField(label="At most", required=False, above=0, least=None)
    source = NameField(
        label="Who says so", max_length=400, help_text="Supplier's sheet with its date, certificate, book."
    )
    basis = forms.ChoiceField(label="You know it from", choices=BASIS_CHOICES, initial=Basis.SUPPLIER)


class SubstanceForm(OnceForm):
    """A substance that the reference does not have."""

    inci_name = NameField(label="INCI name", max_length=200)
    us_name = NameField(label="US label name", max_length=200, required=False)
    cas = NameField(label="CAS number", max_length=60, required=False)
    is_colourant = forms.BooleanField(label="Is a colourant", required=False)
    is_perfume = forms.BooleanField(label="Is a fragrance material", required=False)
    source = NameField(label="Where you have it from", max_length=400, required=False)


class CompositionForm(OnceForm):
    """Where a composition is from."""

    source = forms.ModelChoiceField(
        label="Of", queryset=Source.objects.none(), required=False, empty_label="Every source"
    )
    basis = forms.ChoiceField(label="You know it from", choices=BASIS_CHOICES, initial=Basis.SUPPLIER)
    origin = NameField(
        label="Document", max_length=400, required=False, help_text="Name and date of the sheet."
    )
    allergens_stated = forms.BooleanField(
        label="The supplier states the perfume allergens",
        required=False,
        help_text="Then what is not listed within is not there. Without a statement it stays unknown.",
    )
    valid_from = DayField(label="From")
    paper = PaperField(label="The sheet itself", required=False)
    issued_on = DayField(label="The sheet is dated", required=False)
    after = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=0, max_value=32_767)

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
    rank = CountField(label="Place", required=False, least=1, most=999)
    incidental_reason = NameField(
        label="Incidental: why",
        max_length=200,
        required=False,
        help_text="Only what has no effect in the product.",
    )

    def __init__(self, *args: Any, known: dict[str, Substance], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = known
        self.unknown_name = ""
        self.fields["substance"].widget.attrs.update({"list": "substance-names", "autocomplete": "off"})

    def clean_substance(self) -> Substance | None:
        """The substance of that INCI name."""
        text = self.cleaned_data.get("substance")
        if not text:
            return None
        found = self.known.get(substance_key(str(text)))
        if found is None:
            self.unknown_name = str(text)
            raise forms.ValidationError(
                f"“{text}” is not among the substances known here. {self.advice(text)}"
            )
        return found

    def advice(self, text: str) -> str:
        """What to do about a name that is not known."""
        near = get_close_matches(substance_key(text), self.known, n=1, cutoff=0.8)
        if near:
            return f"Did you mean {self.known[near[0]].inci_name}? If not, add yours with the button below."
        return "Look at the spelling, or add it as your own with the button below."

    def clean(self) -> dict[str, Any]:
        """Low, typical and high in order."""
        data = super().clean() or self.cleaned_data
        figures = [data.get(name) for name in ("low", "typical", "high")]
        given = [one for one in figures if one is not None]
        if given != sorted(given):
            self.add_error("low", "Low, typical and high stand in the wrong order.")
        filled = given or data.get("rank") is not None or data.get("incidental_reason")
        if filled and data.get("substance") is None and "substance" not in self.errors:
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
