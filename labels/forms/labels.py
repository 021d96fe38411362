"""Forms of labels, sheets and print runs."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.models import Batch
from formulas.models import Basis, Product
from labels.models import Label, SheetLayout
from labels.rules.cautions import PRODUCT_GROUPS
from labels.rules.declaration import MARKETS
from makers.forms.base import MakerForm
from makers.forms.fields import CountField, DayField, DecimalTextField, NameField, WordsField
from makers.forms.lists import FilterForm
from makers.forms.seen import SeenForm
from makers.models import Market

MARKET_CHOICES = [choice for choice in Market.choices if choice[0] in MARKETS]
LANGUAGES = [
    ("en", "English"),
    ("de", "German"),
    ("fr", "French"),
    ("nl", "Dutch"),
    ("es", "Spanish"),
    ("it", "Italian"),
    ("pl", "Polish"),
    ("sv", "Swedish"),
    ("da", "Danish"),
    ("pt", "Portuguese"),
    ("ga", "Irish"),
]
GROUP_CHOICES = [(group, group.capitalize()) for group in PRODUCT_GROUPS if group]


class LabelFilter(FilterForm):
    """What the list of labels shows."""

    q = NameField(label="Product", required=False, max_length=100)
    market = forms.ChoiceField(label="Market", required=False, choices=[("", "All"), *Market.choices])
    state = forms.ChoiceField(label="State", required=False, choices=[("", "All"), *Label.State.choices])


class SheetFilter(FilterForm):
    """What the list of sheets shows."""

    q = NameField(label="Name", required=False, max_length=100)


class LabelAddForm(MakerForm):
    """Which product for which market."""

    product = forms.ModelChoiceField(
        label="Product", queryset=Product.objects.none(), empty_label="Choose one"
    )
    market = forms.ChoiceField(label="For", choices=MARKET_CHOICES)
    language = forms.ChoiceField(
        label="Language", choices=LANGUAGES, initial="en", help_text="The state of sale sets it."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        products = Product.objects.filter(maker=self.maker, active=True)
        field = self.fields["product"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = products


class LabelTextsForm(MakerForm):
    """What the maker writes on a label."""

    edit = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    identity = NameField(
        label="What it is", max_length=120, required=False, help_text="Body balm, hand cream."
    )
    directions = WordsField(label="Directions", required=False)
    cautions = WordsField(
        label="Cautions", required=False, help_text="Word for word where the law gives the words."
    )
    origin = NameField(
        label="Country of origin",
        max_length=80,
        required=False,
        help_text="“Made in Ireland”, when imported.",
    )
    extra = WordsField(label="More text", required=False)
    width_mm = DecimalTextField(label="Width", least=10, most=500, places=1, unit="mm")
    height_mm = DecimalTextField(label="Height", least=10, most=500, places=1, unit="mm")
    placed_from = DayField(
        label="First placed on the market",
        required=False,
        help_text="Decides which allergen list applies; empty takes the longer one.",
    )
    opened = forms.ChoiceField(
        label="Once opened", required=False, choices=Label._meta.get_field("opened").choices or []
    )
    product_groups = forms.MultipleChoiceField(
        label="Kind with a fixed warning",
        required=False,
        choices=GROUP_CHOICES,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, market: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("placed_from", "opened") if market == "US" else ("product_groups",):
            del self.fields[name]

    @property
    def texts(self) -> dict[str, Any]:
        """The fields as the action takes them."""
        return {key: value for key, value in self.cleaned_data.items() if key != "edit"}


class ConfirmForm(MakerForm):
    """Facts ticked off against one basis."""

    facts = forms.MultipleChoiceField(
        label="Checked",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Tick what you looked up.",
    )
    basis = NameField(
        label="Checked against",
        max_length=300,
        required=False,
        help_text="The supplier's sheet, a database, a page of law.",
    )

    def __init__(self, *args: Any, choices: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["facts"]
        if isinstance(field, forms.MultipleChoiceField):
            field.choices = choices


class NameForm(MakerForm):
    """What is printed for a substance in a market."""

    name = NameField(label="Name on the label", max_length=200)
    basis = forms.ChoiceField(
        label="Known from",
        choices=[choice for choice in Basis.choices if choice[0] != Basis.MEMORY],
        initial=Basis.CONFIRMED,
    )
    source = NameField(label="Where it was looked up", max_length=300, required=False)


class WhyForm(MakerForm):
    """A reason."""

    why = NameField(label="Why", max_length=300, required=False)


class SheetForm(MakerForm):
    """What to print on which sheet."""

    layout = forms.ModelChoiceField(label="Sheet", queryset=SheetLayout.objects.none(), empty_label=None)
    batch = forms.ModelChoiceField(
        label="For batch",
        queryset=Batch.objects.none(),
        required=False,
        empty_label="Without batch code and date",
    )
    start = CountField(
        label="First label at place",
        least=1,
        most=1000,
        help_text="Counted along the rows; a sheet begun earlier starts further on.",
    )
    copies = CountField(label="Labels", least=1, most=2000)

    def __init__(self, *args: Any, label: Label, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        layouts = SheetLayout.objects.filter(maker=self.maker)
        batches = Batch.objects.filter(
            maker=self.maker, formula=label.product.formula_id, purpose=Batch.Purpose.SALE
        )
        for name, rows in (("layout", layouts), ("batch", batches)):
            field = self.fields[name]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = rows
                field.to_field_name = "uuid" if name == "layout" else "code"

    def clean(self) -> dict[str, Any]:
        """The start lies on the sheet."""
        data = super().clean() or self.cleaned_data
        layout, start = data.get("layout"), data.get("start")
        if layout is not None and start is not None and start > layout.columns * layout.rows:
            self.add_error("start", f"The sheet has {layout.columns * layout.rows} places.")
        return data


class RunForm(MakerForm):
    """What a print run came to."""

    printed = CountField(label="Printed", least=1, most=100_000)
    spoiled = CountField(label="Spoiled", required=False)
    left = CountField(label="Left over", required=False)
    run_batch = forms.ModelChoiceField(
        label="Used for batch", queryset=Batch.objects.none(), required=False, empty_label="No batch"
    )
    entry_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, label: Label, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["run_batch"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = Batch.objects.filter(maker=self.maker, formula=label.product.formula_id)
            field.to_field_name = "code"


class SheetLayoutForm(MakerForm):
    """A sheet's measures."""

    name = NameField(label="Name", max_length=80)
    page_width_mm = DecimalTextField(label="Page width", above=0, most=2000, places=2, unit="mm")
    page_height_mm = DecimalTextField(label="Page height", above=0, most=2000, places=2, unit="mm")
    columns = CountField(label="Labels across", least=1, most=50)
    rows = CountField(label="Labels down", least=1, most=100)
    label_width_mm = DecimalTextField(label="Label width", above=0, most=2000, places=2, unit="mm")
    label_height_mm = DecimalTextField(label="Label height", above=0, most=2000, places=2, unit="mm")
    left_mm = DecimalTextField(label="Left edge", least=0, most=2000, places=2, unit="mm")
    top_mm = DecimalTextField(label="Upper edge", least=0, most=2000, places=2, unit="mm")
    gap_across_mm = DecimalTextField(label="Gap across", least=0, most=2000, places=2, unit="mm")
    gap_down_mm = DecimalTextField(label="Gap down", least=0, most=2000, places=2, unit="mm")


class SheetChangeForm(SeenForm, SheetLayoutForm):
    """A sheet's measures, put right."""
