"""The forms that every screen starts from: they know the maker and say in sentences what needs a hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, cast
from uuid import uuid4

from django import forms
from django.db import models
from django.forms.formsets import BaseFormSet
from django.forms.models import ModelFormMetaclass
from django.forms.renderers import TemplatesSetting

from makers.forms.fields import (
    CountField,
    DayField,
    DecimalTextField,
    GramsTextField,
    NameField,
    PaperField,
    PercentTextField,
    WordsField,
)
from makers.forms.sentences import speak
from makers.models import Maker
from makers.models.fields import ExactDecimalField, GramsField, PercentField
from makers.rules.display import in_a_row, plural


class HouseRenderer(TemplatesSetting):
    """Renders forms, fields and form sets with ``templates/parts``."""

    form_template_name = "parts/form.html"
    formset_template_name = "parts/formset.html"
    field_template_name = "parts/field.html"


def _lower_first(label: str) -> str:
    """ "Net quantity" as it stands inside a sentence; "INCI name" and "E-mail" stay."""
    return label if label[:2].isupper() or label[1:2] == "-" else label[:1].lower() + label[1:]


NO_NOUNS = frozenset(
    "1 a as at because by carries checked counted decimals dissolves fill for found from good how if in "
    "it its known made on packed password pot printed received rows shows sold take takes the this to "
    "used what where who why write you your".split()
)
"""First words of labels that are no name of a thing: "the why" and "the it carries up to" are no English."""


def missing_sentence(field: forms.Field, label: str) -> str:
    """What stands beside a required field that was left empty.

    A label that names a thing goes into the sentence; any other one is quoted.
    """
    if sentence := getattr(field, "missing", ""):
        return str(sentence)
    if isinstance(field, forms.FileField):
        return "Choose a file."
    if isinstance(field, forms.BooleanField):
        return "Tick this to go on."
    name = _lower_first(label) or "answer"
    if name.split()[0].strip(",").lower() in NO_NOUNS:
        act = "Choose one." if isinstance(field, forms.ChoiceField) else "Write it here."
        return f"“{label}” is empty. {act}"
    return f"Choose the {name}." if isinstance(field, forms.ChoiceField) else f"Write the {name} here."


def formfield_for(db_field: models.Field[Any, Any], **kwargs: Any) -> Any:  # noqa: C901 - one line a kind of column
    """The form field of a model's column: exact numbers, days and names get ours, the rest Django's.

    A column's ``help_text``, label and ``null`` stay as the model has them.
    """
    if db_field.choices or kwargs.get("form_class"):
        return db_field.formfield(**kwargs)
    plain = {
        "required": not db_field.blank,
        "label": str(db_field.verbose_name)[:1].upper() + str(db_field.verbose_name)[1:],
        "help_text": db_field.help_text,
        **kwargs,
    }
    if db_field.has_default() and not callable(db_field.default):
        plain.setdefault("initial", db_field.default)
    if isinstance(db_field, PercentField):
        return PercentTextField(places=db_field.places, **plain)
    if isinstance(db_field, GramsField):
        return GramsTextField(places=db_field.places, **plain)
    if isinstance(db_field, ExactDecimalField):
        return DecimalTextField(places=db_field.places, **plain)
    if type(db_field) is models.DateField:
        return DayField(**plain)
    if isinstance(db_field, (models.PositiveIntegerField, models.PositiveSmallIntegerField)):
        most = 32_767 if isinstance(db_field, models.PositiveSmallIntegerField) else 1_000_000
        return CountField(most=most, **plain)
    if type(db_field) is models.CharField:
        return NameField(max_length=db_field.max_length, **plain)
    if type(db_field) is models.TextField:
        return WordsField(**plain)
    if isinstance(db_field, models.URLField):
        return db_field.formfield(assume_scheme="https", **kwargs)
    return db_field.formfield(**kwargs)


MOST_NAMED, MOST_ROWS_NAMED = 4, 8
"""How many fields, and how many rows, are named rather than counted at the head of a form that came back."""


class MakerFormMixin:
    """What plain and model forms share. ``missing`` maps a field's name to the sentence for an empty one.

    below: the forms of the rows on the same page, which the head speaks for; row_word: what one is called.
    """

    default_renderer: ClassVar[Any] = HouseRenderer
    use_required_attribute = False
    missing: ClassVar[Mapping[str, str]] = {}
    below: Sequence[forms.BaseForm] = ()
    row_word = "line"

    def __init__(self, *args: Any, maker: Maker | None, **kwargs: Any) -> None:
        self.maker = maker
        kwargs.setdefault("use_required_attribute", False)
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.settle_fields()

    def settle_fields(self) -> None:
        """Give each field the maker's locale and our sentences, once; again for what a form adds of its own."""
        fields = cast(dict[str, forms.Field], cast(Any, self).fields)
        for name, field in fields.items():
            if getattr(field, "is_settled", False):
                continue
            label = str(field.label) if field.label is not None else name.replace("_", " ").capitalize()
            speak(field, self.missing.get(name) or missing_sentence(field, label))
            if self.maker is not None and hasattr(field, "locale"):
                cast(Any, field).locale = self.maker.locale
            cast(Any, field).is_settled = True

    def full_clean(self) -> None:
        """Clean, and put the keyboard into the first field that needs a hand."""
        self.settle_fields()
        super().full_clean()  # type: ignore[misc]  # provided by the form beside this mixin
        form = cast(forms.BaseForm, self)
        for name in form.fields:
            if name in (cast(Any, form)._errors or {}):
                form.fields[name].widget.attrs["autofocus"] = True
                return

    @property
    def encodes_files(self) -> bool:
        """True when the form tag needs ``enctype="multipart/form-data"``."""
        return bool(cast(forms.BaseForm, self).is_multipart())

    @property
    def tally(self) -> str:
        """What to say at the head of a form that came back: how many fields need a hand and which."""
        form = cast(forms.BaseForm, self)
        labels = wrong_labels(form)
        rows = {number: wrong_labels(row, whole=True) for number, row in enumerate(self.below, 1)}
        words = needing(labels, {number: found for number, found in rows.items() if found}, self.row_word)
        return f"Nothing is written down yet: {words} a hand. What you typed is still here." if words else ""


def needing(labels: Sequence[str], rows: Mapping[int, Sequence[str]], row_word: str) -> str:
    """ "Name and Amount in line 2 need", "6 fields, 4 of them in lines 1 and 3, need"; "" for nothing."""
    inside = [f"{label} in {row_word} {number}" for number, found in rows.items() for label in found]
    named = [*labels, *inside]
    count = len(named)
    if count <= MOST_NAMED:
        return f"{in_a_row(named)} {'needs' if count == 1 else 'need'}" if named else ""
    if not rows:
        return f"{count} fields need"
    numbers, word = [str(number) for number in rows], plural(len(rows), row_word)
    where = f"{word} {in_a_row(numbers)}" if len(rows) <= MOST_ROWS_NAMED else f"{len(rows)} {word}"
    among = f", {len(inside)} of them in {where}," if labels else f" in {where}"
    return f"{count} fields{among} need"


def wrong_labels(form: forms.BaseForm, *, whole: bool = False) -> list[str]:
    """The labels of the fields that need a hand. whole: what a form says of itself as a whole counts too."""
    labels = [str(form[name].label) for name in form.errors if name in form.fields]
    return labels or (["Something"] if whole and form.errors else [])


class MakerForm(MakerFormMixin, forms.Form):
    """A form of one maker: ``MyForm(request.POST or None, maker=request.maker)``; None before it is there."""


class EntryForm(MakerForm):
    """A form whose repetition has the effect of one: it carries the key of what it writes."""

    entry_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        initial = {"entry_key": uuid4(), **(kwargs.pop("initial", None) or {})}
        super().__init__(*args, initial=initial, **kwargs)


class MakerModelFormMetaclass(ModelFormMetaclass):
    """Lets every model form read numbers, days and names with our fields without saying so."""

    def __new__(mcs, name: str, bases: tuple[type, ...], attrs: dict[str, Any], **kwargs: Any) -> Any:
        meta = attrs.get("Meta")
        if meta is not None and getattr(meta, "formfield_callback", None) is None:
            meta.formfield_callback = staticmethod(formfield_for)
        return super().__new__(mcs, name, bases, attrs, **kwargs)


class MakerModelForm(
    MakerFormMixin,
    forms.ModelForm,  # type: ignore[type-arg]  # the model is the subclass's
    metaclass=MakerModelFormMetaclass,
):
    """A model form of one maker. Choices must still be narrowed to the maker in ``__init__``."""


class MakerFormSet(BaseFormSet):  # type: ignore[type-arg]  # the form is the factory's
    """Rows of ``MakerForm``: ``formset_factory(LineForm, formset=MakerFormSet)``, then ``maker=`` on use."""

    default_error_messages: ClassVar[dict[str, Any]] = {
        "missing_management_form": "This page did not arrive whole. Load it again.",
        "too_many_forms": "%(num)d lines fit here. Take out the others.",
        "too_few_forms": "Fill in %(num)d lines at least.",
    }

    def __init__(self, *args: Any, maker: Maker | None, **kwargs: Any) -> None:
        kwargs["form_kwargs"] = {"maker": maker, **(kwargs.get("form_kwargs") or {})}
        super().__init__(*args, **kwargs)
        self.renderer = HouseRenderer()


__all__ = [
    "EntryForm",
    "HouseRenderer",
    "MakerForm",
    "MakerFormSet",
    "MakerModelForm",
    "PaperField",
    "formfield_for",
    "missing_sentence",
]
