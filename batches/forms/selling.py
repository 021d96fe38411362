"""Forms of packs, places, recipients, dispatches and returns."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.filled import short_of
from batches.models import Pack, PackBalance, Place, Recipient
from formulas.models import Product
from makers.forms.base import EntryForm, MakerForm
from makers.forms.fields import CountField, DayField, GramsTextField, NameField, WordsField
from makers.forms.seen import SeenForm
from makers.models import Market

MARKETS = [("", "Not said"), *Market.choices]


class PackForm(EntryForm):
    """Fill packs from a batch."""

    product = forms.ModelChoiceField(
        label="Product", queryset=Product.objects.none(), empty_label="Choose a product"
    )
    units = CountField(label="Packs", least=1)
    grams = GramsTextField(label="In all of them", above=0, least=None)
    packed_on = DayField(label="Packed on")
    although_short = forms.BooleanField(
        label="They are filled so, with less than the label says",
        required=False,
        help_text="The release asks for the reason; packs of a batch that is released stand on hold until then.",
    )

    def __init__(self, *args: Any, formula: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["product"]
        field.queryset = Product.objects.filter(maker=self.maker, formula=formula, active=True)
        if not self.is_bound:
            del self.fields["although_short"]

    def clean(self) -> dict[str, Any]:
        """Ask about packs that hold less than the label only where they do."""
        data = super().clean() or self.cleaned_data
        product, units, grams = (data.get(name) for name in ("product", "units", "grams"))
        if not (product and units and grams and short_of(product, units, grams)):
            del self.fields["although_short"]
        return data


class UnitsForm(MakerForm):
    """A number of units."""

    units = CountField(label="Units", least=1)


class KeepForm(UnitsForm):
    """Units kept back as samples."""

    where = NameField(label="Where they lie", max_length=120, required=False)
    keep_until = DayField(label="Keep until", required=False)


def place_choice(**kwargs: Any) -> forms.Field:
    """A field for one of the maker's places; a form says which."""
    return forms.ModelChoiceField(queryset=Place.objects.none(), **kwargs)


class PlacedForm(UnitsForm):
    """Units at one of the places where there are any."""

    place = place_choice(label="From", empty_label=None)

    def __init__(self, *args: Any, pack: Pack, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pack = pack
        held = PackBalance.objects.filter(pack=pack, units__gt=0).values("place_id")
        field: Any = self.fields["place"]
        field.queryset = Place.objects.filter(maker=self.maker, pk__in=held)


class DestroyForm(PlacedForm):
    """Units destroyed."""

    why = WordsField(label="Why")


class MoveForm(PlacedForm):
    """Units moved."""

    to_place = place_choice(label="To", empty_label=None)
    why = WordsField(label="Note", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        movable = [Place.Kind.WORKSHOP, Place.Kind.STALL, Place.Kind.SHOP]
        for name in ("place", "to_place"):
            field: Any = self.fields[name]
            base = field.queryset if name == "place" else Place.objects.filter(maker=self.maker, active=True)
            field.queryset = base.filter(kind__in=movable)
        here = list(self.fields["place"].queryset[:2])  # type: ignore[attr-defined]  # a ModelChoiceField
        target: Any = self.fields["to_place"]
        if len(here) == 1:
            target.queryset = target.queryset.exclude(pk=here[0].pk)
        only = list(target.queryset[:2])
        target.empty_label = None if len(only) == 1 else "Choose where to"


class CountForm(MakerForm):
    """What a count found."""

    place = place_choice(label="Counted at", empty_label=None)
    found = CountField(label="Found")
    why = WordsField(label="Why it differs")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["place"]
        field.queryset = Place.objects.filter(maker=self.maker)


class PlaceForm(MakerForm):
    """A stall box or a shop."""

    name = NameField(label="Name", max_length=80)
    kind = forms.ChoiceField(
        label="Kind",
        choices=[(Place.Kind.STALL, "Stall box"), (Place.Kind.SHOP, "Shop, sale or return")],
    )
    contact_name = NameField(label="Who to ask for", max_length=160, required=False)
    email = forms.EmailField(label="E-mail", required=False)
    phone = NameField(label="Telephone", max_length=40, required=False)


class RecipientForm(MakerForm):
    """Who packs go to."""

    kind = forms.ChoiceField(label="Kind", choices=Recipient.Kind.choices)
    name = NameField(label="Name", max_length=160, required=False, help_text="A market day needs none.")
    email = forms.EmailField(label="E-mail", required=False)
    phone = NameField(label="Telephone", max_length=40, required=False)
    address = WordsField(label="Address", required=False)
    market = forms.ChoiceField(label="Market", choices=MARKETS, required=False)


class DispatchForm(EntryForm):
    """Where packs go, and when."""

    recipient = forms.ModelChoiceField(
        label="To", queryset=Recipient.objects.none(), empty_label="Choose a recipient"
    )
    on = DayField(label="On")
    market = forms.ChoiceField(label="Market", choices=MARKETS, required=False)
    reference = NameField(label="Their reference", max_length=80, required=False)
    note = WordsField(label="Note", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["recipient"]
        field.queryset = Recipient.objects.filter(maker=self.maker).select_related("contact")
        field.label_from_instance = recipient_label


def recipient_label(recipient: Recipient) -> str:
    """A recipient with a name where one is on record."""
    name = recipient.contact.name if recipient.contact else ""
    return f"{name or recipient.get_kind_display()} ({recipient.code})"


class DispatchLineForm(MakerForm):
    """Units of a pack from a place. No units leave the line out."""

    pack = NameField(label="Pack", max_length=20, required=False)
    units = CountField(label="Units", required=False, least=1)
    place = place_choice(label="From", required=False, empty_label=None)

    def __init__(self, *args: Any, places: Any, known: dict[str, Pack], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = known
        field: Any = self.fields["place"]
        field.queryset = places
        self.fields["pack"].widget.attrs.update({"list": "pack-codes", "autocomplete": "off"})

    def clean_pack(self) -> Pack | None:
        """The pack of that code."""
        text = self.cleaned_data.get("pack")
        if not text:
            return None
        found = self.known.get(str(text).casefold())
        if found is None:
            raise forms.ValidationError(
                f"There is no pack {text}. Read the code again, or take it from the list."
            )
        return found

    def clean(self) -> dict[str, Any]:
        """Pack, units and place together, or none of them."""
        data = super().clean() or self.cleaned_data
        if data.get("pack") and data.get("units") is None and "units" not in self.errors:
            self.add_error("units", "How many of it?")
        if data.get("units") and data.get("pack") is None and "pack" not in self.errors:
            self.add_error("pack", "Which pack?")
        return data


class ReturnForm(UnitsForm):
    """Packs that come back."""

    on = DayField(label="On")
    reason = WordsField(label="Why")


class JudgeForm(UnitsForm):
    """What becomes of returned packs."""

    verdict = forms.ChoiceField(
        label="Verdict",
        choices=[("restore", "Back for sale"), ("destroy", "Destroyed")],
        widget=forms.RadioSelect,
    )
    why = WordsField(label="What you looked at and found")


class ContactForm(SeenForm, MakerForm):
    """Personal data of a recipient or place."""

    name = NameField(label="Name", max_length=160, required=False)
    email = forms.EmailField(label="E-mail", required=False)
    phone = NameField(label="Telephone", max_length=40, required=False)
    address = WordsField(label="Address", required=False)
    note = WordsField(label="Note", required=False)
