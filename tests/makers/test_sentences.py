"""No form answers in the words of the framework: every field of every form has sentences of ours."""

from __future__ import annotations

import pkgutil
from collections.abc import Iterator
from copy import deepcopy
from importlib import import_module
from typing import Any

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile

from makers.forms.base import MakerForm, MakerFormMixin
from makers.forms.house import SignInForm
from makers.forms.sentences import of_the_framework
from tests.framework import framework_words

PACKAGES = ("makers.forms", "formulas.forms", "batches.forms", "labels.forms")


def every_form() -> Iterator[type[forms.BaseForm]]:
    """Every class of a form that this product has."""
    for package in PACKAGES:
        found = import_module(package)
        names = (
            [one.name for one in pkgutil.iter_modules(found.__path__)] if hasattr(found, "__path__") else []
        )
        for module in [found, *(import_module(f"{package}.{name}") for name in names)]:
            for one in vars(module).values():
                if (
                    isinstance(one, type)
                    and issubclass(one, forms.BaseForm)
                    and one.__module__ == module.__name__
                ):
                    yield one


FIELDS = [
    pytest.param(field, id=f"{one.__module__}.{one.__name__}.{name}")
    for one in every_form()
    if issubclass(one, MakerFormMixin)
    for name, field in getattr(one, "base_fields", {}).items()
]


def test_there_are_forms_to_walk() -> None:
    """Of every world, all made from the forms of the house but for the sign-in."""
    found = set(every_form())

    assert {one.__module__.partition(".")[0] for one in found} == {"makers", "formulas", "batches", "labels"}
    assert len(FIELDS) > 200
    plain = {
        one for one in found if not issubclass(one, MakerFormMixin) and getattr(one, "base_fields", None)
    }
    assert plain == {SignInForm}


def bound(field: forms.Field, value: Any) -> forms.BaseForm:
    """A form of this one field, sent with a value."""
    kind: Any = type("Walked", (MakerForm,), {"one": deepcopy(field)})
    is_file = isinstance(field, forms.FileField)
    form: forms.BaseForm = kind(
        {}
        if is_file or value is None
        else {"one": value, "one_0": value, "one_1": value, "one_amount": value},
        {"one": value} if is_file and value is not None else {},
        maker=None,
    )
    return form


@pytest.mark.parametrize("field", FIELDS)
def test_every_field_has_sentences_of_ours(field: forms.Field) -> None:
    """Left empty, too long, no number, not on the list, a file that is none: and none is the framework's."""
    form = bound(field, None)
    form.is_valid()
    kind: Any = type(field)
    own = of_the_framework(kind)
    kept = form.fields["one"].error_messages
    assert [code for code, message in kept.items() if message is own.get(code)] == []
    said = [text for texts in form.errors.values() for text in texts]
    values: list[Any] = ["x" * 5000, "1e999", "-99999999999999", "\u202e", "no such choice"]
    if isinstance(field, forms.FileField):
        values = [SimpleUploadedFile("n" * 300 + ".pdf", b""), SimpleUploadedFile("a.pdf", b"no file at all")]
    if not hasattr(field, "queryset"):
        said += [text for value in values for texts in bound(field, value).errors.values() for text in texts]

    assert framework_words(" ".join(map(str, said))) == []


def test_a_field_that_a_form_adds_of_its_own_speaks_too() -> None:
    """After the form was made, and with a sentence of its own where it has one."""
    form = MakerForm({"phase": "ABCD", "what": "9"}, maker=None)
    form.fields["phase"] = forms.CharField(max_length=3)
    form.fields["what"] = forms.ChoiceField(label="Line", choices=[("1", "one")])
    form.fields["other"] = forms.CharField(error_messages={"required": "Say which other one."})

    assert form.errors == {
        "phase": ["4 characters; 3 fit here. Shorten it."],
        "what": ["That is not on the list any more. Choose again."],
        "other": ["Say which other one."],
    }
