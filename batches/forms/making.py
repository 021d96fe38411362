"""Forms of planning, the bench and the release."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q

from batches.models import Batch, BatchLine, BatchStep, Check, Lot, Output, Reading
from batches.trial_lots import without_trials
from formulas.models import FormulaVersion, Ingredient, Product
from makers.forms.base import EntryForm, MakerForm
from makers.forms.fields import (
    CountField,
    DayField,
    DecimalTextField,
    GramsTextField,
    NameField,
    PercentTextField,
    WordsField,
)
from makers.models import Scale

Purpose = Batch.Purpose


class KeyedForm(EntryForm):
    """A form whose repetition has the effect of one; what waited on a device says since when."""

    occurred_at = forms.DateTimeField(widget=forms.HiddenInput, required=False)


class PlanForm(KeyedForm):
    """What to make, and how much."""

    purpose = forms.ChoiceField(label="For", choices=Purpose.choices)
    version = forms.ModelChoiceField(
        label="Formula", queryset=FormulaVersion.objects.none(), empty_label="Choose a formula"
    )
    product = forms.ModelChoiceField(
        label="Product", queryset=Product.objects.none(), required=False, empty_label="None"
    )
    makes = forms.ModelChoiceField(
        label="Makes the ingredient", queryset=Ingredient.objects.none(), required=False, empty_label="None"
    )
    units = CountField(label="Packs", required=False, least=1, most=100_000)
    fill_g = GramsTextField(
        label="Fill each with", required=False, above=0, least=None, help_text="Empty: as the product says."
    )
    samples_g = GramsTextField(label="Samples of the bulk", required=False)
    loss_percent = PercentTextField(
        label="Loss", required=False, most=99, help_text="Of what goes in: what stays in pot and spoon."
    )
    total_g = GramsTextField(
        label="Or in all", required=False, above=0, least=None, help_text="Instead of packs: a round mass."
    )
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
        fields["makes"].queryset = Ingredient.objects.filter(
            maker=self.maker, made_from__isnull=False, active=True
        )
        fields["scale"].queryset = Scale.objects.filter(maker=self.maker, active=True)

    @property
    def plan(self) -> dict[str, Any]:
        """The figures as plan_batch takes them."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "occurred_at"}
        for name in ("samples_g", "loss_percent"):
            data[name] = data.get(name) or Decimal(0)
        return data


def line_label(line: BatchLine) -> str:
    """A line in a list of choices."""
    what = line.ingredient if line.ingredient is not None else f"rework {line.rework_lot}"
    return f"{line.position}. {what}"


class WeighForm(KeyedForm):
    """Grams of a lot into a line: net, or gross and tare."""

    NO_GRAMS = "Write the net grams here, or the weight with and without the container."
    NO_LOT = "Which lot is it from? Scan it, or type its code."

    line = forms.ModelChoiceField(queryset=BatchLine.objects.none(), widget=forms.HiddenInput)
    lot = NameField(label="Lot", max_length=60, required=False)
    scan = NameField(label="Scan or type a lot", max_length=60, required=False)
    grams = GramsTextField(label="Net grams", above=0, least=None, required=False)
    scale = forms.ModelChoiceField(
        label="Scale", queryset=Scale.objects.none(), required=False, empty_label=None
    )
    gross = GramsTextField(label="With the container", required=False, above=0, least=None)
    tare = GramsTextField(label="The container alone", required=False)
    why = NameField(label="Why another lot, or why off", max_length=400, required=False)
    more_follows = forms.BooleanField(label="This lot ran out: the rest comes from another", required=False)

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        field: Any = self.fields["line"]
        field.queryset = BatchLine.objects.filter(batch=batch)
        scales: Any = self.fields["scale"]
        scales.queryset = Scale.objects.filter(Q(active=True) | Q(pk=batch.scale_id), maker=self.maker)
        scales.error_messages["invalid_choice"] = "That scale is not one of the workshop's. Choose another."
        self.fields["grams"].widget.attrs.update({"class": "", "enterkeyhint": "done"})

    def clean(self) -> dict[str, Any]:
        """The lot that was scanned, else the one that was chosen; net grams from gross and tare."""
        data = super().clean() or self.cleaned_data
        self.find_lot(data)
        typed = [name for name in ("grams", "gross", "tare") if name in self.errors]
        gross, tare = data.get("gross"), data.get("tare")
        if typed or data.get("grams") is not None:
            return data
        if gross is None or tare is None:
            self.add_error("grams", self.NO_GRAMS)
        elif gross <= tare:
            self.add_error("gross", "The full container is not heavier than the empty one. Look at both.")
        else:
            data["grams"] = gross - tare
        return data

    def find_lot(self, data: dict[str, Any]) -> None:
        """Replace the code by the lot of that code."""
        field = "scan" if data.get("scan") else "lot"
        code = str(data.get(field) or "").strip()
        data["lot"] = None
        if not code:
            self.add_error("scan", self.NO_LOT)
            return
        found = Lot.objects.filter(maker=self.maker, code__iexact=code).first()
        if found is None:
            self.add_error("scan", f"No lot is called “{code}”. Read the code on the container again.")
        data["lot"] = found


class ReadForm(KeyedForm):
    """A measured value with its conditions."""

    kind = forms.ChoiceField(label="What", choices=Reading.Kind.choices)
    value = DecimalTextField(label="Value", least=-1000, most=10_000_000, places=4)
    unit = NameField(label="Unit", max_length=12, required=False, help_text="Empty: °C, or none for pH.")
    step = forms.ModelChoiceField(
        label="At step",
        queryset=BatchStep.objects.none(),
        required=False,
        empty_label="No step in particular",
    )
    conditions = NameField(
        label="Conditions",
        max_length=200,
        required=False,
        help_text="pH: sample temperature, dilution, meter or strip.",
    )

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["step"].queryset = BatchStep.objects.filter(batch=batch)
        fields["step"].label_from_instance = lambda step: f"{step.position}. {step.text[:60]}"


class TemperatureForm(KeyedForm):
    """The pot's temperature, and the room's where it is known."""

    value = DecimalTextField(label="Pot now, °C", least=-40, most=300, places=1)
    room = DecimalTextField(label="Room, °C", least=-40, most=60, places=1, required=False)


class BackForm(KeyedForm):
    """Why a weighing is taken back."""

    why = WordsField(label="What was wrong")


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
    why = NameField(label="If more came out than went in: why", max_length=400, required=False)


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

    kind = forms.ChoiceField(label="As")
    grams = GramsTextField(label="Grams", above=0, least=None)
    good_until = DayField(
        label="Good until", required=False, help_text="For a lot or rework; empty: as long as the batch."
    )
    code = NameField(
        label="Lot code", max_length=20, required=False, help_text="For a lot or rework; empty: the next one."
    )
    where = NameField(
        label="Kept where", max_length=120, required=False, help_text="For a sample that is kept."
    )
    keep_until = DayField(label="Kept until", required=False)
    note = NameField(label="Note", max_length=400, required=False)

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        early = batch.state == Batch.State.MAKING
        fit = [one for one in Output.Kind.choices if fits_output(batch, one[0], early=early)]
        fields["kind"].choices = fit
        if early:
            for name in ("good_until", "code", "where", "keep_until"):
                del fields[name]


def fits_output(batch: Batch, kind: Any, *, early: bool) -> bool:
    """Whether an output of this kind can be written by hand in a batch; early: before the bulk is weighed."""
    if early or kind == Output.Kind.PACKS:
        return bool(kind == Output.Kind.WASTE)
    return bool(kind != Output.Kind.LOT or batch.purpose == Purpose.STOCK)


class DeviationForm(MakerForm):
    """Something went otherwise."""

    text = WordsField(label="What went otherwise")
    line = forms.ModelChoiceField(
        label="About the line",
        queryset=BatchLine.objects.none(),
        required=False,
        empty_label="No line in particular",
        help_text="A line that stays out needs its reason here.",
    )

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["line"].queryset = BatchLine.objects.filter(batch=batch).select_related(
            "ingredient", "rework_lot"
        )
        fields["line"].label_from_instance = line_label


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

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["lot"]
        rework = Lot.objects.filter(maker=self.maker, rework_of__isnull=False, on_hand__gt=0)
        field.queryset = without_trials(rework, batch.maker, [batch.pk])
        if batch.purpose != Purpose.TRIAL:
            field.help_text = "What a trial left goes into another trial only, so it isn't on this list."
        field.label_from_instance = lambda lot: f"{lot.code}, {lot.rework_of}, {lot.on_hand.normalize():f} g"


class SubstituteForm(MakerForm):
    """Another ingredient in place of a line's."""

    line = forms.ModelChoiceField(
        label="In place of", queryset=BatchLine.objects.none(), empty_label="Choose a line"
    )
    ingredient = forms.ModelChoiceField(
        label="Take", queryset=Ingredient.objects.none(), empty_label="Choose an ingredient"
    )
    why = WordsField(label="Why")

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["line"].queryset = BatchLine.objects.filter(
            batch=batch, ingredient__isnull=False
        ).select_related("ingredient")
        fields["line"].label_from_instance = line_label
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
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class CheckForm(MakerForm):
    """Something looked at, or a step done."""

    kind = forms.ChoiceField(
        label="As", choices=[one for one in Check.Kind.choices if one[0] != Check.Kind.START]
    )
    question = NameField(label="What was looked at", max_length=200)
    passed = forms.ChoiceField(
        label="It is so", choices=[("yes", "Yes"), ("no", "No")], widget=forms.RadioSelect, initial="yes"
    )
    note = NameField(label="What was seen", max_length=400, required=False)


class NoteForm(MakerForm):
    """A remark."""

    text = WordsField(label="Remark")
