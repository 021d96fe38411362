"""The forms of a paper of an ingredient."""

from __future__ import annotations

from typing import Any

from django import forms

from formulas.models import Ingredient, Source
from makers.forms.base import MakerForm
from makers.forms.fields import DayField, PaperField
from makers.models import Document


class IngredientPaperForm(MakerForm):
    """A paper to keep, and whose article it is about."""

    kind = forms.ChoiceField(
        label="What it is", choices=Document.Kind.choices, initial=Document.Kind.SPECIFICATION
    )
    source = forms.ModelChoiceField(
        label="Of", queryset=Source.objects.none(), required=False, empty_label="Every source"
    )
    upload = PaperField(label="File")
    issued_on = DayField(
        label="Dated", required=False, help_text="The day that it bears itself, so that an old one is seen."
    )

    def __init__(self, *args: Any, ingredient: Ingredient, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["source"]
        field.queryset = Source.objects.filter(ingredient=ingredient).select_related("supplier")


class PaperDateForm(MakerForm):
    """The day that a kept paper bears."""

    issued_on = DayField(label="Dated", missing="Which day does it bear?")
