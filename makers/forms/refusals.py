"""Showing an action's refusal beside the field it speaks of."""

from __future__ import annotations

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

TAKEN = "_taken"
"""How the code of a constraint ends that speaks of one field: "name_taken" stands beside the name."""


def spoken_of(name: str, error: ValidationError) -> str:
    """The field that a sentence speaks of: the one it came with, or the one that its constraint names."""
    code = getattr(error, "code", None) or ""
    return code.removesuffix(TAKEN) if name == NON_FIELD_ERRORS and code.endswith(TAKEN) else name


def show_refusal(form: forms.BaseForm, refusal: ValidationError, names: dict[str, str] | None = None) -> None:
    """Put an action's sentences on the form: beside their field where the form has it, at its head otherwise.

    names: the action's field name to the form's, where they differ. What a record says of an empty field is
    said in the form's own words.
    """
    if not hasattr(refusal, "error_dict"):
        form.add_error(None, refusal)
        return
    for name, errors in refusal.error_dict.items():
        for error in errors:
            meant = spoken_of(name, error)
            target = (names or {}).get(meant, meant)
            known = target in form.fields and meant != NON_FIELD_ERRORS
            is_empty = known and getattr(error, "code", "") in ("blank", "null")
            form.add_error(
                target if known else None,
                str(form.fields[target].error_messages["required"]) if is_empty else error,
            )
