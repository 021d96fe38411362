"""Forms of what a trial showed."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.models import TrialNote
from makers.forms.base import EntryForm
from makers.forms.fields import DayField, DecimalTextField, PaperField, WordsField, kind_of
from makers.rules.files import PDF

SHORT = 500


class PhotoField(PaperField):
    """A photo alone."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget.attrs["accept"] = "image/jpeg,image/png,image/webp"

    def clean(self, data: Any, initial: Any = None) -> Any:
        """As a paper, but no PDF."""
        found = super().clean(data, initial)
        if found and kind_of(found) == PDF:
            raise forms.ValidationError("That is a PDF. Choose a photo: JPEG, PNG or WebP.", code="kind")
        return found


class TrialNoteForm(EntryForm):
    """How a trial looks, feels and holds."""

    seen_on = DayField(label="Seen on", missing="On which day was it seen?")
    at_c = DecimalTextField(
        label="Temperature where it stood", unit="°C", required=False, places=1, least=-40, most=100
    )
    firmness = forms.ChoiceField(
        label="Firmness", required=False, choices=[("", "Not looked at"), *TrialNote.Firmness.choices]
    )
    look = WordsField(label="Look", required=False, max_length=SHORT, widget=forms.Textarea({"rows": 2}))
    feel = WordsField(label="Feel", required=False, max_length=SHORT, widget=forms.Textarea({"rows": 2}))
    text = WordsField(label="What else, and what to try next", required=False)
    upload = PhotoField(label="Photo", required=False)


class TrialCorrectionForm(TrialNoteForm):
    """A note put right by a further one."""

    why = WordsField(
        label="What was wrong with it",
        missing="Say what was wrong with it.",
        max_length=SHORT,
        widget=forms.Textarea({"rows": 2}),
    )
