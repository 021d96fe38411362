"""What stands beside a field that can't be taken: sentences of ours in the place of the framework's own.

A sentence that a form or a field gave of itself stays.
"""

from __future__ import annotations

from copy import copy
from functools import cache
from typing import Any

from django import forms
from django.core import validators

EMAIL_SENTENCE = "An e-mail has a name, an @ and a place, like nessa@example.org."
CHOOSE_AGAIN = "That is not on the list any more. Choose again."
NOT_READ = "This can't be read as it stands. Write it anew."
NOT_ARRIVED = "The file didn't arrive. Choose it again."

BY_CODE = {
    "invalid_choice": CHOOSE_AGAIN,
    "invalid_pk_value": CHOOSE_AGAIN,
    "invalid_list": "Choose from the list.",
    "incomplete": "A part of this is empty. Fill it in, or empty all of it.",
    "missing": NOT_ARRIVED,
    "empty": "This file is empty. Choose another.",
    "max_length": "The name of this file has %(length)d characters; %(max)d fit. Give it a shorter one.",
    "contradiction": "Choose a file or take the one there away, not both.",
    "invalid_image": "This file is no picture that can be shown. Choose another.",
}
"""By the code of a message."""

INVALID: tuple[tuple[type[forms.Field], str], ...] = (
    (forms.FileField, NOT_ARRIVED),
    (forms.DecimalField, "Write a number here, in figures."),
    (forms.FloatField, "Write a number here, in figures."),
    (forms.IntegerField, "Write a whole number here, like 12."),
    (forms.DateTimeField, "Write a day and a time here, like 2026-11-25 14:30."),
    (forms.DateField, "Write a day here, like 2026-11-25."),
    (forms.TimeField, "Write a time here, like 14:30."),
    (forms.EmailField, EMAIL_SENTENCE),
    (forms.URLField, "A web address begins with https:// and names a place, like https://example.org."),
    (forms.UUIDField, "This page is no longer whole. Load it again."),
)
"""For what a kind of field can't read; the first that fits."""

CHECKED: tuple[tuple[type, str], ...] = (
    (validators.MaxLengthValidator, "%(show_value)d characters; %(limit_value)d fit here. Shorten it."),
    (validators.MinLengthValidator, "%(show_value)d characters; it takes %(limit_value)d. Write all of it."),
    (validators.MaxValueValidator, "%(show_value)s is too much: %(limit_value)s is the most."),
    (validators.MinValueValidator, "%(show_value)s is too little: %(limit_value)s is the least."),
    (validators.EmailValidator, EMAIL_SENTENCE),
    (
        validators.URLValidator,
        "A web address begins with https:// and names a place, like https://example.org.",
    ),
    (validators.ProhibitNullCharactersValidator, "A sign here can't be stored. Type it again."),
    (validators.RegexValidator, NOT_READ),
)
"""For what a validator refuses; the first that fits."""


@cache
def of_the_framework(kind: Any) -> dict[str, Any]:
    """The messages that a kind of field (its class) has from the framework, by code."""
    found: dict[str, Any] = {}
    for one in reversed(kind.__mro__):
        if one.__module__.startswith("django."):
            found |= vars(one).get("default_error_messages", {})
    return found


def speak(field: forms.Field, missing: str) -> None:
    """Put our sentences in the place of those of the framework. missing: what to say where nothing stands."""
    kind: Any = type(field)
    own = of_the_framework(kind)
    for code, message in field.error_messages.items():
        if message is own.get(code):
            field.error_messages[code] = missing if code == "required" else sentence_of(field, code)
    field.validators = [checked(one) for one in field.validators]
    if isinstance(field, forms.CharField):
        field.widget.attrs.pop("maxlength", None)  # a browser would cut what is pasted without a word
    for part in getattr(field, "fields", ()):
        speak(part, missing)


def sentence_of(field: forms.Field, code: str) -> str:
    """Our sentence for one of the framework's messages."""
    if code == "invalid":
        return next((sentence for kind, sentence in INVALID if isinstance(field, kind)), NOT_READ)
    return BY_CODE.get(code, NOT_READ)


def checked(validator: Any) -> Any:
    """The validator with our sentence, where it has none of its own."""
    if "message" in vars(validator):
        return validator
    sentence = next((words for kind, words in CHECKED if isinstance(validator, kind)), "")
    if not sentence:
        return validator
    found = copy(validator)
    found.message = sentence
    return found
