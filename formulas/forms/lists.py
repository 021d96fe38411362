"""The filters over the lists of formulas, products and articles."""

from __future__ import annotations

from django import forms

from formulas.models import Article, FormulaVersion, ProductForm
from makers.forms.fields import NameField
from makers.forms.lists import FilterForm
from makers.models import Market

EVERY = ("", "All")
MOST_WORDS = 100


def words(label: str) -> NameField:
    """The field of words."""
    return NameField(label=label, required=False, max_length=MOST_WORDS)


class FormulaFilter(FilterForm):
    """What the list of formulas shows."""

    q = words("Name or code")
    form = forms.ChoiceField(label="Made as", required=False, choices=[EVERY, *ProductForm.choices])
    state = forms.ChoiceField(
        label="Newest version", required=False, choices=[EVERY, *FormulaVersion.State.choices]
    )


class ProductFilter(FilterForm):
    """What the list of products shows."""

    q = words("Name, code or formula")
    market = forms.ChoiceField(label="Sold to", required=False, choices=[EVERY, *Market.choices])


class ArticleFilter(FilterForm):
    """What the list of articles shows."""

    q = words("Name or code")
    kind = forms.ChoiceField(label="Kind", required=False, choices=[EVERY, *Article.Kind.choices])
