"""The filters over the lists of lots, batches, packs and all that follows them."""

from __future__ import annotations

from django import forms

from batches.models import Batch, Complaint, Place, Recipient
from makers.forms.fields import NameField
from makers.forms.lists import FilterForm
from makers.models import Market

EVERY = ("", "All")
MOST_WORDS = 100


def words(label: str) -> NameField:
    """The field of words; a form says what they are looked for in."""
    return NameField(label=label, required=False, max_length=MOST_WORDS)


def choice(label: str, choices: list[tuple[str, str]], start: str | None = None) -> forms.ChoiceField:
    """One of some choices, none of which has to be made."""
    return forms.ChoiceField(label=label, required=False, choices=choices, initial=start)


class LotFilter(FilterForm):
    """What the list of lots shows. ingredient: the code of the one whose lots are asked for."""

    q = words("Code, material or supplier")
    state = choice(
        "Look for",
        [
            ("stock", "On the shelf"),
            ("quarantine", "In quarantine"),
            ("hold", "On hold"),
            ("expiring", "Expiring in 60 days"),
            ("expired", "Past their date"),
            ("rejected", "Rejected"),
            ("used", "Used up"),
            ("all", "Everything"),
        ],
        start="stock",
    )
    ingredient = NameField(widget=forms.HiddenInput, required=False, max_length=MOST_WORDS)


class DeliveryFilter(FilterForm):
    """What the list of deliveries shows."""

    q = words("Code, supplier or their reference")


class BatchFilter(FilterForm):
    """What the list of batches shows."""

    q = words("Code or formula")
    state = choice("State", [EVERY, *Batch.State.choices, ("hold", "On hold")])
    purpose = choice("For", [EVERY, *Batch.Purpose.choices])


class PackFilter(FilterForm):
    """What the list of packs shows."""

    q = words("Code, product or batch")
    state = choice("State", [EVERY, ("sale", "Released"), ("hold", "On hold"), ("waiting", "Not released")])
    here = forms.BooleanField(label="Only what is in the house", required=False)


class PlaceFilter(FilterForm):
    """What the list of places shows."""

    q = words("Name or code")
    kind = choice("Kind", [EVERY, *Place.Kind.choices])
    here = forms.BooleanField(label="Only where packs are", required=False)


class RecipientFilter(FilterForm):
    """What the list of recipients shows."""

    q = words("Name, e-mail or code")
    kind = choice("Kind", [EVERY, *Recipient.Kind.choices])
    market = choice("Market", [EVERY, ("none", "Not said"), *Market.choices])


class DispatchFilter(FilterForm):
    """What the list of dispatches shows."""

    q = words("Code, recipient or reference")
    market = choice("Market", [EVERY, ("none", "Not said"), *Market.choices])


class ComplaintFilter(FilterForm):
    """What the list of complaints shows."""

    q = words("Code, words, product or batch")
    kind = choice("About", [EVERY, *Complaint.Kind.choices])
    state = choice("State", [EVERY, *Complaint.State.choices])


class RecallFilter(FilterForm):
    """What the list of recalls shows."""

    q = words("Code, reason, lot or batch")
    kind = choice("Kind", [EVERY, ("recall", "Recalls"), ("rehearsal", "Rehearsals")])
    state = choice("State", [EVERY, ("running", "Still running"), ("ended", "Ended")])
