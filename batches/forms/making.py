"""Forms of planning, the bench and the release."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django import forms

from batches.models import Batch, BatchLine, Lot, Output, Reading
from formulas.models import FormulaVersion, Ingredient, Product
from makers.forms.base import MakerForm
from makers.forms.fields import CountField, DayField, DecimalTextField, GramsTextField, NameField, PercentTextField, WordsField
from makers.models import Scale

Purpose = Batch.Purpose


class PlanForm(MakerForm):
    """What to make, and how much."""

    purpose = forms.ChoiceField(label="For", choices=Purpose.choices)
    version = forms.ModelChoiceField(label="Formula", queryset=FormulaVersion.objects.none(), empty_label="Choose a formula")
    product = forms.ModelChoiceField(
        label="Product", queryset=Product.objects.none(), required=False, empty_label="None"
    )
    makes = forms.ModelChoiceField(
        label="Makes the ingredient", queryset=Ingredient.objects.none(), required=False, empty_label="None"
    )
    units = CountField(label="Packs", required=False, least=1, most=100_000)
    fill_g = GramsTextField(label="Fill each with", required=False, above=0, least=None, help_text="Empty: as the product says.")
    samples_g = GramsTextField(label="Samples of the bulk", required=False)
    loss_percent = PercentTextField(label="Loss", required=False, most=99, help_text="Of what goes in: what stays in pot and spoon.")
    total_g = GramsTextField(label="Or in all", required=False, above=0, least=None, help_text="Instead of packs: a round mass.")
    scale = forms.ModelChoiceField(label="Scale", queryset=Scale.objects.none(), empty_label=None)
    planned_for = DayField(label="Planned for", required=False)
    code = NameField(label="Batch code", max_length=20, required=False, help_text="Empty: the next one.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["version"].queryset = (
            FormulaVersion.objects.filter(maker=self.maker)
            .exclude(state=FormulaVersion.State.WITHDRAWN)
            .select_related("formula")
            .order_by("formula__name", "-number")
        )
        fields["version"].label_from_instance = lambda row: f"{row} ({row.get_state_display().lower()})"
        fields["product"].queryset = Product.objects.filter(maker=self.maker, active=True)
        fields["makes"].queryset = Ingredient.objects.filter(maker=self.maker, made_from__isnull=False, active=True)
        fields["scale"].queryset = Scale.objects.filter(maker=self.maker, active=True)

    @property
    def plan(self) -> dict[str, Any]:
        """The figures as plan_batch takes them."""
        data = dict(self.cleaned_data)
        for name in ("samples_g", "loss_percent"):
            data[name] = data.get(name) or 0
        from decimal import Decimal

        data["samples_g"], data["loss_percent"] = Decimal(data["samples_g"]), Decimal(data["loss_percent"])
        return data


class KeyedForm(MakerForm):
    """A form whose repetition has the effect of one."""

    entry_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        initial = {"entry_key": uuid4(), **(kwargs.pop("initial", None) or {})}
        super().__init__(*args, initial=initial, **kwargs)


class WeighForm(KeyedForm):
    """Grams of a lot into a line."""

    line = forms.ModelChoiceField(queryset=BatchLine.objects.none(), widget=forms.HiddenInput)
    lot = NameField(label="Lot", max_length=60, required=False)
    scan = NameField(label="Scan or type a lot", max_length=60, required=False)
    grams = GramsTextField(label="Net grams", above=0, least=None)
    why = NameField(label="Why", max_length=400, required=False)
    more_follows = forms.BooleanField(label="This lot ran out: the rest comes from another", required=False)

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        field: Any = self.fields["line"]
        field.queryset = BatchLine.objects.filter(batch=batch)
        self.fields["grams"].widget.attrs.update({"class": "", "enterkeyhint": "done"})

    def clean(self) -> dict[str, Any]:
        """The lot that was scanned, else the one that was chosen."""
        data = super().clean() or self.cleaned_data
        code = data.get("scan") or data.get("lot")
        field = "scan" if data.get("scan") else "lot"
        if not code:
            self.add_error("scan", "Which lot is it from? Scan it, or type its code.")
            return data
        found = Lot.objects.filter(maker=self.maker, code__iexact=str(code)).first()
        if found is None:
            self.add_error(field, f"No lot is called “{code}”. Read the code on the container again.")
        else:
            data["lot"] = found
        return data


class ReadForm(KeyedForm):
    """A measured value with its conditions."""

    kind = forms.ChoiceField(label="What", choices=Reading.Kind.choices)
    value = DecimalTextField(label="Value", least=-1000, most=10_000_000, places=4)
    conditions = NameField(label="Conditions", max_length=200, required=False, help_text="pH: sample temperature, dilution, meter.")


class TemperatureForm(KeyedForm):
    """The pot's temperature."""

    value = DecimalTextField(label="Pot now, °C", least=-40, most=300, places=1)


class WhyForm(MakerForm):
    """A reason."""

    why = WordsField(label="Why")


class StartForm(MakerForm):
    """The checks before a start."""

    def __init__(self, *args: Any, questions: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.questions = questions
        for index, question in enumerate(questions):
            self.fields[f"ok_{index}"] = forms.BooleanField(label=question, required=False)
        self.fields["note"] = WordsField(label="If one is not so: why you start all the same", required=False)

    @property
    def answers(self) -> list[tuple[str, bool, str]]:
        """(question, ticked, note)."""
        data = self.cleaned_data
        note = data.get("note") or ""
        return [
            (question, bool(data.get(f"ok_{index}")), "" if data.get(f"ok_{index}") else note)
            for index, question in enumerate(self.questions)
        ]


class FinishForm(MakerForm):
    """The bulk obtained."""

    bulk_g = GramsTextField(label="Bulk obtained", above=0, least=None)
    made_on = DayField(label="Made on")


class FillForm(KeyedForm):
    """The net weight of one container."""

    product = forms.ModelChoiceField(label="Product", queryset=Product.objects.none(), empty_label=None)
    net_g = GramsTextField(label="Net weight", above=0, least=None)

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["product"]
        field.queryset = Product.objects.filter(maker=self.maker, formula=batch.formula)


class OutputForm(KeyedForm):
    """What came of it besides packs."""

    kind = forms.ChoiceField(
        label="As", choices=[one for one in Output.Kind.choices if one[0] != Output.Kind.PACKS]
    )
    grams = GramsTextField(label="Grams", above=0, least=None)
    good_until = DayField(label="Good until", required=False, help_text="For a lot or rework; empty: as long as the batch.")
    note = NameField(label="Note", max_length=400, required=False)


class DeviationForm(MakerForm):
    """Something went otherwise."""

    text = WordsField(label="What went otherwise")


class JudgeForm(MakerForm):
    """What a deviation means."""

    accepted = forms.ChoiceField(
        label="The batch can stand it", choices=[("yes", "Yes"), ("no", "No")], widget=forms.RadioSelect
    )
    text = WordsField(label="Because")


class ReworkForm(MakerForm):
    """Rework to take in."""

    lot = forms.ModelChoiceField(label="Rework", queryset=Lot.objects.none(), empty_label="Choose a lot")
    grams = GramsTextField(label="Grams", above=0, least=None)
    why = WordsField(label="Why it may go in")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["lot"]
        field.queryset = Lot.objects.filter(maker=self.maker, rework_of__isnull=False, on_hand__gt=0)
        field.label_from_instance = lambda lot: f"{lot.code}, {lot.rework_of}, {lot.on_hand.normalize():f} g"


class SubstituteForm(MakerForm):
    """Another ingredient in place of a line's."""

    line = forms.ModelChoiceField(label="In place of", queryset=BatchLine.objects.none(), empty_label="Choose a line")
    ingredient = forms.ModelChoiceField(label="Take", queryset=Ingredient.objects.none(), empty_label="Choose an ingredient")
    why = WordsField(label="Why")

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["line"].queryset = BatchLine.objects.filter(batch=batch, ingredient__isnull=False).select_related("ingredient")
        fields["line"].label_from_instance = lambda line: str(line.ingredient)
        fields["ingredient"].queryset = Ingredient.objects.filter(maker=self.maker, active=True)


class ReleaseForm(MakerForm):
    """The signed decision."""

    decision = forms.ChoiceField(
        label="Decision",
        choices=[("released", "Release it"), ("rejected", "Reject it")],
        widget=forms.RadioSelect,
    )
    reasons = WordsField(label="Remarks, or why it is rejected", required=False)
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="It signs the decision.",
    )


class AmendForm(MakerForm):
    """A signed change after the release."""

    what = WordsField(label="What is to change")
    why = WordsField(label="Why")
    password = forms.CharField(
        label="Your password", strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )


class NoteForm(MakerForm):
    """A remark."""

    text = WordsField(label="Remark")
