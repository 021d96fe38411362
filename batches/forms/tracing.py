"""Forms of complaints and recalls."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.actions.tracing import FACTS
from batches.models import Batch, Complaint, ComplaintStep
from formulas.models import Product
from makers.forms.base import MakerForm
from makers.forms.fields import CountField, DayField, NameField, WordsField
from makers.forms.seen import SeenForm
from makers.models import Market

ANSWER_CHOICES = (("not asked", "Not asked"), ("yes", "Yes"), ("no", "No"))


class ComplaintForm(MakerForm):
    """A complaint as it comes in."""

    kind = forms.ChoiceField(label="What about", choices=Complaint.Kind.choices)
    words = WordsField(label="In the person's words")
    code_given = NameField(
        label="Code on the pack",
        max_length=60,
        required=False,
        help_text="As read to you. Leave it empty when there is none.",
    )
    batch_known = forms.ChoiceField(
        label="The batch is",
        required=False,
        choices=[("", "Found by the code"), *Complaint.BatchKnown.choices],
    )
    batch = forms.ModelChoiceField(
        label="Batch, if supposed", queryset=Batch.objects.none(), required=False, empty_label="None"
    )
    product = forms.ModelChoiceField(
        label="Product", queryset=Product.objects.none(), required=False, empty_label="Not known"
    )
    market = forms.ChoiceField(
        label="Bought in", choices=[("", "Not known"), *Market.choices], required=False
    )
    received_on = DayField(label="It came on")
    channel = NameField(
        label="By", max_length=40, required=False, help_text="Telephone, e-mail, at the stall…"
    )
    name = NameField(label="Name", max_length=160, required=False, help_text="Kept apart, and can be erased.")
    email = forms.EmailField(label="E-mail", required=False)
    phone = NameField(label="Telephone", max_length=40, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["batch"].queryset = Batch.objects.filter(maker=self.maker).order_by("-pk")
        fields["product"].queryset = Product.objects.filter(maker=self.maker)


class FactsForm(SeenForm, MakerForm):
    """The facts by which a reaction is judged, one by one; "not asked" is not "no"."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, label in FACTS:
            self.fields[name] = forms.ChoiceField(
                label=label, choices=ANSWER_CHOICES, required=False, initial="not asked"
            )
        self.carry_marks()

    @property
    def facts(self) -> dict[str, str]:
        """Facts by name."""
        return {name: self.cleaned_data.get(name) or "not asked" for name, _ in FACTS}


class StepForm(MakerForm):
    """What was found, answered or decided."""

    kind = forms.ChoiceField(label="What", choices=ComplaintStep.Kind.choices)
    text = WordsField(label="Write it down")


class RecallForm(MakerForm):
    """What sets a recall off."""

    reason = WordsField(label="What sets it off")
    kind = forms.ChoiceField(
        label="This is",
        choices=[("rehearsal", "A rehearsal: nobody is told"), ("real", "A recall")],
        widget=forms.RadioSelect,
        initial="rehearsal",
    )


class RecallEndForm(MakerForm):
    """What a recall or rehearsal showed."""

    found_units = CountField(label="Packs found or reached")
    conclusion = WordsField(label="What it showed")
