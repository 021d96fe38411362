"""What a trial showed: put right on a page of its own. Writing it down is an act on the batch."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from batches.actions.trials import correct_trial_note
from batches.forms.trials import TrialCorrectionForm
from batches.trials import notes_of
from batches.views.making import fetch_batch
from batches.views.selling import form_page
from makers.http import MakerRequest, address

CARRIED = ("seen_on", "at_c", "firmness", "look", "feel", "text")


@require_http_methods(["GET", "POST"])
def trial_correct(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Put a note right by a further one."""
    batch = fetch_batch(request, code)
    note = get_object_or_404(notes_of(request.maker).filter(batch=batch), uuid=uuid)
    form = TrialCorrectionForm(
        request.POST or None,
        request.FILES or None,
        initial={name: getattr(note, name) for name in CARRIED},
        maker=request.maker,
    )
    photo = f" Its photo, {note.photo}, goes on unless you choose another." if note.photo else ""
    return form_page(
        request,
        form,
        lambda data: correct_trial_note(request.by, note=note, **data),
        title="Put a note right",
        act_word="Write it down",
        back=(f"Batch {batch}", f"{address(request.maker, 'batches:batch', code=code)}#trial"),
        done="The note is put right. The first one stays to be read.",
        text=f"Change what was wrong. The note as it stood stays below the new one.{photo}",
    )
