"""Forms of products and articles."""

from __future__ import annotations

from typing import Any

from django import forms

from formulas.models import Article, Product
from makers.forms.base import MakerForm
from makers.forms.fields import CountField, DecimalTextField, GramsTextField, NameField, WordsField
from makers.forms.seen import SeenForm
from makers.models import Market

MOST_PARTS = 6
PARTS = ("part_", "count_")


def heat_field(**words: Any) -> DecimalTextField:
    """Degrees Celsius above which a product is neither sold nor sent."""
    return DecimalTextField(label="Not sold or sent above", least=-20, most=60, places=1, unit="°C", **words)


class ArticleForm(MakerForm):
    """A jar, lid, label stock or box."""

    name = NameField(label="Name", max_length=120)
    kind = forms.ChoiceField(label="Kind", choices=Article.Kind.choices)
    low_stock = CountField(label="Say when fewer than", required=False, unit="pieces")
    note = WordsField(label="Note", required=False)


class ProductForm(MakerForm):
    """A formula in one net quantity and container."""

    name = NameField(label="Name", max_length=120)
    identity = NameField(
        label="What it is",
        max_length=120,
        required=False,
        help_text="As the label says it: body balm, hand cream.",
    )
    net_amount = DecimalTextField(label="Net quantity", above=0, most=100_000, places=3)
    net_unit = forms.ChoiceField(label="In", choices=Product.Unit.choices)
    fill_g = GramsTextField(
        label="Fill each pack with",
        above=0,
        least=None,
        help_text="At least the net weight; a little more is wise.",
    )
    shape = forms.ChoiceField(label="Container", choices=Product.Shape.choices)
    width_mm = DecimalTextField(
        label="Width or diameter", required=False, above=0, most=2000, places=1, unit="mm"
    )
    height_mm = DecimalTextField(label="Height", required=False, above=0, most=2000, places=1, unit="mm")
    depth_mm = DecimalTextField(label="Depth", required=False, above=0, most=2000, places=1, unit="mm")
    life_months = CountField(label="Keeps, unopened", required=False, most=120, unit="months")
    pao_months = CountField(label="Keeps after opening", required=False, most=60, unit="months")
    not_above_c = heat_field(
        required=False, help_text="The day's heat that it bears. The product's page suggests a figure."
    )
    markets = forms.MultipleChoiceField(
        label="Sold to", choices=Market.choices, required=False, widget=forms.CheckboxSelectMultiple
    )
    directions = WordsField(label="Directions", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = list(Article.objects.filter(maker=self.maker))
        parts = (self.initial or {}).get("parts", [])
        choices = [("", "None"), *((one.pk, str(one)) for one in known)]
        in_use = sum(one.active for one in known)
        for index in range(min(MOST_PARTS, max(in_use, len(parts)))):
            article, count = parts[index] if index < len(parts) else (None, 1)
            part_field = forms.ModelChoiceField(
                label=f"Part {index + 1}",
                queryset=Article.objects.filter(maker=self.maker),
                required=False,
                initial=article and article.pk,
            )
            part_field.choices = choices
            self.fields[f"part_{index}"] = part_field
            count_field = CountField(label=f"How many of part {index + 1}", required=False, least=1, most=100)
            count_field.initial = count
            count_field.locale = self.maker.locale if self.maker else ""
            self.fields[f"count_{index}"] = count_field

    @property
    def parts(self) -> list[tuple[Article, int]]:
        """The articles of each pack."""
        data = self.cleaned_data
        return [
            (data[f"part_{index}"], data.get(f"count_{index}") or 1)
            for index in range(MOST_PARTS)
            if data.get(f"part_{index}")
        ]

    def clean(self) -> dict[str, Any]:
        """Each article stands once."""
        data = super().clean() or self.cleaned_data
        chosen = [article for article, _ in self.parts]
        if len(set(chosen)) != len(chosen):
            self.add_error(None, "One article stands twice among the parts. Name it once, with its count.")
        return data

    @property
    def facts(self) -> dict[str, Any]:
        """The fields as the actions take them."""
        return {key: value for key, value in self.cleaned_data.items() if not key.startswith(PARTS)}


class ProductHeatForm(MakerForm):
    """The one figure that a product's page suggests."""

    not_above_c = heat_field()


class ProductChangeForm(SeenForm, ProductForm):
    """A product's changeable facts; the net quantity stays."""

    active = forms.BooleanField(label="In use", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("net_amount", "net_unit"):
            del self.fields[name]

    @property
    def changed(self) -> dict[str, Any]:
        """What is said otherwise than on record, as the action takes it; the parts whole where one was changed."""
        facts = {name: value for name, value in self.changes.items() if not name.startswith(PARTS)}
        return {**facts, "parts": self.parts} if len(facts) < len(self.changes) else facts


class ArticleChangeForm(SeenForm, ArticleForm):
    """An article, and whether it is still in use."""

    active = forms.BooleanField(label="In use", required=False)
