"""Forms of prices, exchange rates, cost and margins."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from formulas.models import Article, Ingredient, Source
from formulas.rules.currencies import is_currency
from makers.forms.base import EntryForm, MakerForm
from makers.forms.fields import (
    CountField,
    DayField,
    DecimalTextField,
    GramsTextField,
    NameField,
    PercentTextField,
)
from makers.forms.lists import FilterForm
from makers.forms.seen import SeenForm


class CurrencyField(NameField):
    """Three letters of a currency, in capitals; one that is not known is refused."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"label": "Currency", "max_length": 3, **kwargs})
        self.widget.attrs.update({"class": "short", "autocomplete": "off", "spellcheck": "false"})

    def to_python(self, value: Any) -> str:
        """The letters. Raises ValidationError when no currency has them."""
        code = super().to_python(value).upper()
        if code and not is_currency(code):
            raise ValidationError(
                f"“{value}” is no currency. Write its three letters, EUR say.", code="currency"
            )
        return code


class PriceForm(EntryForm):
    """What a source costs from a day on."""

    source = forms.ModelChoiceField(label="Source", queryset=Source.objects.none(), empty_label=None)
    on = DayField(label="From")
    amount = DecimalTextField(label="Price of a pack", least=0, most=1_000_000, places=4)
    currency = CurrencyField(required=False)
    pack_g = GramsTextField(label="A pack holds", above=0, least=None)

    def __init__(self, *args: Any, ingredient: Ingredient, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["source"]
        field.queryset = Source.objects.filter(ingredient=ingredient).select_related("supplier")
        field.missing = "Add a source first: who sells it."


class ArticlePriceForm(EntryForm):
    """What an article costs from a day on."""

    on = DayField(label="From")
    amount = DecimalTextField(label="Price", least=0, most=1_000_000, places=4)
    currency = CurrencyField(required=False)
    pieces = CountField(label="For", least=1, most=10_000_000, unit="pieces")


class RateForm(EntryForm):
    """What a foreign currency is worth."""

    currency = CurrencyField(label="Foreign currency")
    on = DayField(label="From")
    rate = DecimalTextField(label="1 of it is worth", above=0, most=1_000_000, places=6)
    source = NameField(
        label="Where you looked it up",
        max_length=160,
        required=False,
        help_text="The bank's statement, the customs list, with its date.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.maker is not None:
            field: Any = self.fields["rate"]
            field.unit = self.maker.currency


class RateChangeForm(SeenForm, RateForm):
    """A rate that was written down wrong; its currency and day stay."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("currency", "on", "entry_key"):
            del self.fields[name]


class RateFilter(FilterForm):
    """Which rates are shown."""

    q = NameField(label="Currency", required=False, max_length=100)


class BasisForm(SeenForm, MakerForm):
    """What an hour costs and what is added on top."""

    labour_per_hour = DecimalTextField(
        label="An hour of work costs", required=False, least=0, most=100_000, places=4
    )
    overhead_percent = DecimalTextField(
        label="Overhead",
        required=False,
        least=0,
        most=1000,
        places=8,
        unit="%",
        help_text="Rent, power, insurance, stalls: percent of materials, packaging and work together.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.maker is not None:
            field: Any = self.fields["labour_per_hour"]
            field.unit = self.maker.currency


class ProductCostForm(SeenForm, MakerForm):
    """How a product is made as far as its cost goes, and what is wanted of its price."""

    batch_units = CountField(
        label="A usual batch gives", required=False, least=1, most=1_000_000, unit="units"
    )
    batch_minutes = DecimalTextField(
        label="It takes",
        required=False,
        least=0,
        most=100_000,
        places=6,
        unit="minutes",
        help_text="Weighing, making, filling, labelling, cleaning; 0 where no work is to be counted.",
    )
    loss_percent = PercentTextField(
        label="Lost in making",
        required=False,
        help_text="Percent of what goes in: what stays in pots and pipes. 0 where nothing is lost.",
    )
    price = DecimalTextField(label="Price of a unit now", required=False, least=0, most=1_000_000, places=4)
    wanted_margin = PercentTextField(
        label="Wanted margin",
        required=False,
        unit="% of the price",
        help_text="What is to be left of the price: 50 % margin is twice the cost.",
    )
    wanted_markup = DecimalTextField(
        label="Wanted markup",
        required=False,
        least=0,
        most=10_000,
        places=8,
        unit="% on the cost",
        help_text="What is to be added to the cost: 100 % markup is twice the cost.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.maker is not None:
            field: Any = self.fields["price"]
            field.unit = self.maker.currency

    def clean(self) -> dict[str, Any]:
        """A loss and a margin are less than everything."""
        data = super().clean() or self.cleaned_data
        if data.get("loss_percent") == 100:
            self.add_error("loss_percent", "100 % lost leaves nothing to fill. Write less than 100.")
        if data.get("wanted_margin") == 100:
            self.add_error("wanted_margin", "No price leaves 100 % after a cost. Write less than 100.")
        return data


class DayForm(MakerForm):
    """As of which day to reckon."""

    on = DayField(label="Prices in force on", required=False)


class TryForm(MakerForm):
    """A margin and a markup to try, without writing them down."""

    margin = DecimalTextField(label="Margin", required=False, least=0, places=8, unit="% of the price")
    markup = DecimalTextField(
        label="Markup", required=False, least=0, most=10_000, places=8, unit="% on the cost"
    )

    def clean_margin(self) -> Any:
        """Less than the whole price."""
        margin = self.cleaned_data["margin"]
        if margin is not None and margin >= 100:
            raise ValidationError("No price leaves 100 % after a cost. Write less than 100.")
        return margin


class WhatIfForm(MakerForm):
    """What would become dearer, and by how much."""

    what = forms.ChoiceField(label="If this costs more")
    percent = DecimalTextField(
        label="By",
        places=8,
        above=-100,
        most=10_000,
        unit="%",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        bought = Ingredient.objects.filter(maker=self.maker, made_from=None, active=True)
        articles = Article.objects.filter(maker=self.maker, active=True)
        field: Any = self.fields["what"]
        field.choices = [
            ("", "Choose one"),
            ("Ingredients", [(f"i{pk}", name) for pk, name in bought.values_list("pk", "name")]),
            ("Articles", [(f"a{pk}", name) for pk, name in articles.values_list("pk", "name")]),
        ]

    @property
    def raised(self) -> tuple[str, int]:
        """What was chosen: "i" for an ingredient or "a" for an article, and its key."""
        what = str(self.cleaned_data["what"])
        return what[0], int(what[1:])
