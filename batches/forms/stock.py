"""Forms of deliveries, lots and holds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError

from batches.models import Lot, LotDecision, LotEntry, LotStatus
from formulas.models import Article, Ingredient, Source, Supplier
from makers.forms.base import EntryForm, MakerForm, PaperField
from makers.forms.fields import (
    AmountInput,
    CodeField,
    DayField,
    DecimalTextField,
    GramsTextField,
    NameField,
    NumberAndUnitField,
    WordsField,
)
from makers.models import Document, Maker
from makers.rules.reading import MASS_UNITS

PIECES = "pieces"
UNITS = ("g", "kg", "oz", "lb", "mg", PIECES)
NOT_GIVEN = "Empty: not given."
DATE_KINDS = [("expiry", "Good until"), ("retest", "To be tested again by")]


@dataclass(frozen=True, slots=True)
class Thing:
    """What a line is of: an ingredient (of one source, where that is known) or an article."""

    ingredient: Ingredient | None = None
    article: Article | None = None
    source: Source | None = None

    @property
    def is_counted(self) -> bool:
        """Whether it is counted in pieces rather than weighed."""
        return self.article is not None


@dataclass(frozen=True, slots=True)
class Things:
    """Everything that a line may be of, loaded once for all lines of a page."""

    choices: list[tuple[str, Any]]
    by_key: dict[str, Thing]


def things_of(maker: Maker, supplier: Supplier | None = None) -> Things:
    """Ingredients and articles of a maker; what the supplier sells comes first."""
    ingredients = list(Ingredient.objects.for_maker(maker).filter(active=True).order_by("name", "id"))
    articles = list(Article.objects.for_maker(maker).filter(active=True).order_by("name", "id"))
    by_key: dict[str, Thing] = {}
    groups: list[tuple[str, Any]] = [("", "Choose what it is")]
    if supplier is not None:
        sold = Source.objects.for_maker(maker).filter(supplier=supplier, active=True, ingredient__active=True)
        rows = []
        for source in sold.select_related("ingredient").order_by("ingredient__name", "article_code", "id"):
            key = f"s-{source.uuid}"
            by_key[key] = Thing(ingredient=source.ingredient, source=source)
            detail = ", ".join(filter(None, [source.name, source.article_code]))
            rows.append((key, f"{source.ingredient}: {detail}" if detail else str(source.ingredient)))
        if rows:
            groups.append((f"Sold by {supplier}", rows))
    for letter, title, found in (("i", "Ingredients", ingredients), ("a", "Jars, lids, labels", articles)):
        rows = []
        for thing in found:
            key = f"{letter}-{thing.uuid}"
            by_key[key] = Thing(ingredient=thing) if letter == "i" else Thing(article=cast(Article, thing))
            rows.append((key, str(thing)))
        if rows:
            groups.append((title, rows))
    return Things(groups, by_key)


class ThingField(forms.ChoiceField):
    """One of the things of the page. Cleaned value: ``Thing`` or None."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=[("", "Choose what it is")], **kwargs)
        self.by_key: dict[str, Thing] = {}

    def offer(self, things: Things) -> None:
        """Offer these and no others."""
        self.choices = things.choices
        self.by_key = things.by_key

    def clean(self, value: Any) -> Any:
        """The thing that was chosen."""
        return self.by_key.get(super().clean(value))


@dataclass(frozen=True, slots=True)
class Entered:
    """An amount as it was entered, with a unit of weight or pieces."""

    amount: Decimal
    unit: str


class StockAmountField(NumberAndUnitField):
    """An amount in a unit of weight or in pieces. Cleaned value: ``Entered`` or None."""

    def __init__(self, *, units: Sequence[str] = UNITS, zero: bool = False, **kwargs: Any) -> None:
        number = DecimalTextField(
            places=6, least=0 if zero else None, above=None if zero else 0, most=100_000_000, required=False
        )
        choice = forms.ChoiceField(choices=[(one, one) for one in units], required=False)
        choice.error_messages["invalid_choice"] = "That unit is not on the list: " + ", ".join(units) + "."
        super().__init__((number, choice), widget=AmountInput(units), require_all_fields=False, **kwargs)

    def clean(self, value: Any) -> Any:
        """Read amount and unit; an empty amount is no amount, whatever the unit says."""
        typed, unit = [*list(value or []), None, None][:2]
        if typed is None or not str(typed).strip():
            if self.required:
                raise ValidationError(self.error_messages["required"], code="required")
            return None
        choice = self.fields[1].clean(unit)
        self.number.unit = "" if choice == PIECES else choice
        return Entered(self.number.clean(typed), choice)

    def prepare_value(self, value: Any) -> Any:
        """An amount as it would be typed."""
        if isinstance(value, Entered):
            return [self.number.prepare_value(value.amount), value.unit]
        return value

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Whether an amount was typed; the unit alone says nothing."""
        typed = [*list(data or []), None][0]
        return bool(str(typed or "").strip())


class SplitAmount:
    """What a cleaned form says as the actions take it."""

    @staticmethod
    def of(thing: Thing, amount: Entered) -> dict[str, Any]:
        """Material, amount and unit."""
        return {
            "ingredient": thing.ingredient,
            "article": thing.article,
            "source": thing.source,
            "amount": amount.amount,
            "unit": PIECES if thing.is_counted and amount.unit == "g" else amount.unit,
        }


class DeliveryForm(EntryForm):
    """The head of a delivery."""

    supplier = forms.ModelChoiceField(
        label="Supplier", queryset=Supplier.objects.none(), required=False, empty_label="Choose a supplier"
    )
    new_supplier = NameField(label="Or a new supplier", required=False)
    received_on = DayField(label="Received on")
    reference = NameField(
        label="Their reference", required=False, max_length=80, help_text="Delivery note or invoice number."
    )
    currency = forms.ChoiceField(label="Currency")
    freight = DecimalTextField(
        label="Freight",
        required=False,
        places=4,
        least=0,
        most=1_000_000_000,
        help_text="Shared over the lines by their cost.",
    )
    note = WordsField(label="Remark", required=False)

    def __init__(self, *args: Any, maker: Maker, currencies: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, maker=maker, **kwargs)
        supplier: Any = self.fields["supplier"]
        supplier.queryset = Supplier.objects.for_maker(maker).filter(active=True)
        money: Any = self.fields["currency"]
        money.choices = [(one, one) for one in dict.fromkeys([maker.currency, *currencies])]

    def clean(self) -> dict[str, Any]:
        """One supplier: chosen or new."""
        data = super().clean() or self.cleaned_data
        chosen, new = data.get("supplier"), data.get("new_supplier")
        if "supplier" in self.errors or "new_supplier" in self.errors:
            return data
        if not chosen and not new:
            self.add_error("supplier", "Choose who sent it, or write a new supplier's name beside it.")
        if chosen and new and chosen.name.casefold() != new.casefold():
            self.add_error("new_supplier", f"{chosen} is chosen and {new} is written. Leave one of them out.")
        if new and not chosen and self.maker is not None:
            data["supplier"] = Supplier.objects.for_maker(self.maker).filter(name__iexact=new).first()
        return data


class LineForm(MakerForm):
    """One thing in the parcel."""

    thing = ThingField(label="What it is")
    amount = StockAmountField(label="Amount")
    supplier_lot = NameField(label="Their lot number", required=False, max_length=60, help_text=NOT_GIVEN)
    good_until = DayField(
        label="Date on it", required=False, month_end=True, help_text="05/2028: its last day."
    )
    date_kind = forms.ChoiceField(label="Which is", choices=DATE_KINDS, required=False)
    cost = DecimalTextField(
        label="Cost of all of it",
        required=False,
        places=4,
        least=0,
        most=1_000_000_000,
        help_text="Without freight.",
    )
    code = CodeField(label="Own lot code", required=False, help_text="Empty: the next number.")
    document = PaperField(label="Certificate", required=False)

    def __init__(self, *args: Any, things: Things, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        thing = cast(ThingField, self.fields["thing"])
        thing.offer(things)
        thing.error_messages["required"] = "Choose what this line is."
        self.fields["amount"].error_messages["required"] = "Write how much came."

    def has_changed(self) -> bool:
        """Whether something was written in this line; what kind of date it would be says nothing alone."""
        return any(name != "date_kind" for name in self.changed_data)

    @property
    def facts(self) -> dict[str, Any]:
        """The line as ``receive_delivery`` and ``count_in`` take it."""
        data = self.cleaned_data
        return {
            **SplitAmount.of(data["thing"], data["amount"]),
            "supplier_lot": data.get("supplier_lot", ""),
            "good_until": data.get("good_until"),
            "date_kind": data.get("date_kind") or Lot.DateKind.EXPIRY,
            "cost": data.get("cost"),
            "code": data.get("code", ""),
            "document": data.get("document"),
            "note": data.get("note", ""),
        }


class CountInForm(LineForm, EntryForm):
    """What was on the shelf before the book was opened."""

    note = WordsField(label="What is known of it", required=False)
    field_order = (
        "thing",
        "amount",
        "good_until",
        "date_kind",
        "supplier_lot",
        "cost",
        "code",
        "note",
        "document",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].error_messages["required"] = "Write how much is there."
        self.fields["cost"].help_text = "Empty: unknown."


class MovementForm(EntryForm):
    """A count, or something that leaves the lot."""

    KINDS = (
        (LotEntry.Kind.COUNTED, "Counted: this much is here"),
        (LotEntry.Kind.WASTED, "Wasted"),
        (LotEntry.Kind.SAMPLED, "Sampled"),
        (LotEntry.Kind.RETURNED, "Sent back to the supplier"),
    )

    kind = forms.ChoiceField(label="What", choices=KINDS)
    amount = StockAmountField(label="Amount", zero=True)
    why = NameField(label="Why", required=False, max_length=400, help_text="Stays in the ledger for good.")
    expected = GramsTextField(widget=forms.HiddenInput, required=False, most=1_000_000_000)

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        initial = {"expected": lot.on_hand, **(kwargs.pop("initial", None) or {})}
        super().__init__(*args, initial=initial, **kwargs)
        self.fields["amount"] = amount = StockAmountField(label="Amount", zero=True, units=units_of(lot))
        amount.error_messages["required"] = "Write how much."
        if self.maker is not None:
            amount.locale = self.maker.locale


def units_of(lot: Lot) -> Sequence[str]:
    """The units in which an amount of this lot is written."""
    return (PIECES,) if lot.unit == PIECES else ("g", *(one for one in MASS_UNITS if one != "g"))


class DecideForm(EntryForm):
    """A lot's status, on a basis."""

    WORDS = {
        LotStatus.RELEASED: "Release: it may be weighed in",
        LotStatus.REJECTED: "Reject: it is never weighed in; what is left is sent back or wasted",
        LotStatus.QUARANTINE: "Back into quarantine: nothing is weighed until it is decided again",
    }

    after = forms.CharField(required=False, widget=forms.HiddenInput)
    became = forms.ChoiceField(label="Decision", widget=forms.RadioSelect)
    basis = WordsField(
        label="On what basis",
        max_length=1000,
        help_text="What was looked at and what it showed. A certificate alone is a basis only where you "
        "know the supplier: say so.",
    )
    paper = forms.ChoiceField(label="Rests on", required=False)
    upload = PaperField(label="Or a new certificate", required=False)
    certificate_lot = NameField(
        label="Lot on the certificate",
        required=False,
        max_length=60,
        help_text="As printed there; it is compared with the supplier's lot number.",
    )
    although_other_lot = forms.BooleanField(
        label="Release although the certificate names another lot", required=False
    )

    def __init__(self, *args: Any, lot: Lot, papers: Sequence[Document] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        became: Any = self.fields["became"]
        asked = self.data.get("became") if self.is_bound else None
        became.choices = [(one, self.WORDS[one]) for one in self.WORDS if one != lot.status or one == asked]
        became.error_messages["required"] = "Choose what becomes of it."
        self.by_key = {str(paper.uuid): paper for paper in papers}
        paper: Any = self.fields["paper"]
        paper.choices = [("", "No paper"), *((key, str(one)) for key, one in self.by_key.items())]
        if not papers:
            del self.fields["paper"]
        if not (self.is_bound and self.data.get("certificate_lot")):
            self.fields["although_other_lot"].widget = forms.HiddenInput()

    def shows(self, last: LotDecision | None) -> None:
        """Carry the last decision along from here on: the page that this form comes back on shows it."""
        data = cast(Any, self.data).copy()
        data["after"] = "" if last is None else str(last.uuid)
        self.data = data

    @property
    def document(self) -> Document | None:
        """The paper that was chosen, of those that are kept."""
        return self.by_key.get(self.cleaned_data.get("paper") or "")


class RetestForm(EntryForm):
    """A test that moves the date."""

    became = DayField(label="Good until", month_end=True)
    basis = WordsField(label="What was tested", max_length=1000, help_text="And what it showed.")


class HoldForm(MakerForm):
    """A stop."""

    cause = WordsField(label="Cause", max_length=1000, help_text="Whoever ends the hold has to know.")


class CloseHoldForm(MakerForm):
    """The end of a stop."""

    why = WordsField(
        label="Why it can end", max_length=1000, help_text="What was looked at, and what was found."
    )


class PaperForm(MakerForm):
    """A paper to keep with a lot."""

    kind = forms.ChoiceField(label="What it is", choices=Document.Kind.choices)
    upload = PaperField(label="File")


class CorrectForm(MakerForm):
    """A wrong ledger line taken back, with the right amount in its place."""

    amount = StockAmountField(
        label="It should have been", required=False, help_text="Empty: only take it back."
    )
    why = NameField(label="What was wrong", max_length=400, help_text="Both lines stay in the ledger.")

    def __init__(self, *args: Any, entry: LotEntry, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if entry.kind == LotEntry.Kind.COUNTED:
            del self.fields["amount"]
            return
        self.fields["amount"] = amount = StockAmountField(
            label="It should have been",
            required=False,
            units=units_of(entry.lot),
            help_text="Empty: only take it back.",
        )
        if self.maker is not None:
            amount.locale = self.maker.locale
