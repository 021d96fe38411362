"""What is done to a batch from its page: each act is a form on the record that comes back there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods, require_POST

from batches.actions.making import (
    START_CHECKS,
    add_rework_line,
    add_substitute_line,
    amend_batch,
    check,
    correct_output,
    deviate,
    fill,
    finish_batch,
    give_up_batch,
    judge_deviation,
    note_batch,
    open_points,
    read,
    release_batch,
    start_batch,
    take_back,
    yield_output,
)
from batches.actions.stock import open_hold
from batches.actions.trials import note_trial
from batches.forms.making import (
    AmendForm,
    BackForm,
    CheckForm,
    DeviationForm,
    FillForm,
    FinishForm,
    JudgeForm,
    NoteForm,
    OutputForm,
    ReadForm,
    ReleaseForm,
    ReworkForm,
    StartForm,
    SubstituteForm,
    WhyForm,
)
from batches.forms.stock import HoldForm
from batches.forms.trials import TrialNoteForm
from batches.models import Batch, Deviation, Output, Weighing
from batches.views.making import fetch_batch, show_batch
from batches.views.selling import form_page
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on

Act = Callable[[MakerRequest, Batch, Any], Any]


def make_forms(request: MakerRequest, batch: Batch, name: str, data: Any = None, files: Any = None) -> Any:
    """The form of one act. data, files: what was sent."""
    maker, prefix = request.maker, name
    today = request.by.today()
    builders: dict[str, Callable[[], Any]] = {
        "start": lambda: StartForm(data, maker=maker, prefix=prefix, questions=START_CHECKS),
        "give-up": lambda: WhyForm(data, maker=maker, prefix=prefix),
        "rework": lambda: ReworkForm(data, maker=maker, prefix=prefix, batch=batch),
        "substitute": lambda: SubstituteForm(data, maker=maker, prefix=prefix, batch=batch),
        "read": lambda: ReadForm(data, maker=maker, prefix=prefix, batch=batch),
        "check": lambda: CheckForm(data, maker=maker, prefix=prefix),
        "finish": lambda: FinishForm(data, maker=maker, prefix=prefix, initial={"made_on": today}),
        "fill": lambda: FillForm(data, maker=maker, prefix=prefix, batch=batch),
        "output": lambda: OutputForm(data, maker=maker, prefix=prefix, batch=batch),
        "deviate": lambda: DeviationForm(data, maker=maker, prefix=prefix, batch=batch),
        "release": lambda: ReleaseForm(data, maker=maker, prefix=prefix),
        "amend": lambda: AmendForm(data, maker=maker, prefix=prefix),
        "hold": lambda: HoldForm(data, maker=maker, prefix=prefix),
        "note": lambda: NoteForm(data, maker=maker, prefix=prefix),
        "trial": lambda: TrialNoteForm(data, files, maker=maker, prefix=prefix, initial={"seen_on": today}),
    }
    if name not in builders:
        raise Http404
    return builders[name]()


FITS = {
    "planned": ("start", "give-up", "rework", "substitute", "hold", "note"),
    "making": (
        "rework",
        "substitute",
        "read",
        "check",
        "finish",
        "fill",
        "output",
        "deviate",
        "hold",
        "note",
        "trial",
    ),
    "made": ("read", "check", "fill", "output", "deviate", "release", "hold", "note", "trial"),
    "released": ("amend", "hold", "note", "trial"),
    "rejected": ("amend", "hold", "note", "trial"),
}
"""Which acts fit a batch in a state."""


def act_forms(request: MakerRequest, batch: Batch) -> dict[str, Any]:
    """Empty forms for the acts that fit the batch's state, by name with underscores."""
    fitting = [name for name in FITS[batch.state] if name != "trial" or is_begun_trial(batch)]
    return {name.replace("-", "_"): make_forms(request, batch, name) for name in fitting}


def is_begun_trial(batch: Batch) -> bool:
    """Whether there is a trial to look at."""
    return batch.purpose == Batch.Purpose.TRIAL and batch.started_at is not None


def reasons_typed(request: MakerRequest, batch: Batch) -> dict[str, str]:
    """Reasons typed beside the open points."""
    return {
        point.name: request.POST.get(f"point-{index}", "") for index, point in enumerate(open_points(batch))
    }


def kept(form: Any, *names: str) -> dict[str, Any]:
    """What a form gives an action: all of it, without what is for the device's queue alone."""
    return {name: value for name, value in form.cleaned_data.items() if name not in {"occurred_at", *names}}


def do_check(request: MakerRequest, batch: Batch, form: Any) -> Any:
    """Write down what was looked at."""
    data = form.cleaned_data
    return check(request.by, batch=batch, **{**data, "passed": data["passed"] == "yes"})


ACTS: dict[str, tuple[Act, str]] = {
    "start": (lambda r, b, f: start_batch(r.by, batch=b, checks=f.answers), "Started."),
    "give-up": (
        lambda r, b, f: give_up_batch(r.by, batch=b, **kept(f)),
        "Given up. Its code is not used again.",
    ),
    "rework": (
        lambda r, b, f: add_rework_line(r.by, batch=b, **kept(f)),
        "The rework stands among the lines.",
    ),
    "substitute": (
        lambda r, b, f: add_substitute_line(r.by, batch=b, **kept(f)),
        "The substitute stands among the lines.",
    ),
    "read": (lambda r, b, f: read(r.by, batch=b, **kept(f)), "The reading is written down."),
    "check": (do_check, "What was looked at is written down."),
    "finish": (lambda r, b, f: finish_batch(r.by, batch=b, **kept(f)), "The batch is made."),
    "fill": (lambda r, b, f: fill(r.by, batch=b, **kept(f)), "The fill is written down."),
    "output": (lambda r, b, f: yield_output(r.by, batch=b, **kept(f)), "Written down."),
    "deviate": (lambda r, b, f: deviate(r.by, batch=b, **kept(f)), "The deviation is written down."),
    "release": (
        lambda r, b, f: release_batch(r.by, batch=b, accepted=reasons_typed(r, b), **kept(f)),
        "The decision is signed and written down.",
    ),
    "amend": (
        lambda r, b, f: amend_batch(r.by, batch=b, **kept(f)),
        "The batch is open again; its release is void until it is given anew.",
    ),
    "hold": (
        lambda r, b, f: open_hold(r.by, batch=b, cause=f.cleaned_data["cause"]),
        "It is on hold. None of its packs leaves the house until the hold ends.",
    ),
    "note": (lambda r, b, f: note_batch(r.by, batch=b, **kept(f)), "The remark is written down."),
    "trial": (
        lambda r, b, f: note_trial(r.by, batch=b, **kept(f)),
        "What it showed is written down, here and beside its version.",
    ),
}


@require_POST
def batch_act(request: MakerRequest, code: str, act: str) -> HttpResponse:
    """One act on a batch; the record comes back with sentences where it can't be done."""
    batch = fetch_batch(request, code)
    if act not in ACTS:
        raise Http404
    form = make_forms(request, batch, act, request.POST, request.FILES)
    action, words = ACTS[act]
    if form.is_valid():
        try:
            action(request, batch, form)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, words)
            page = "batches:bench" if act == "start" else "batches:batch"
            return moved_on(address(request.maker, page, code=batch.code), request)
    return show_batch(request, fetch_batch(request, code), {act.replace("-", "_"): form})


@require_http_methods(["GET", "POST"])
def weighing_back(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Take a weighing back."""
    batch = fetch_batch(request, code)
    row = get_object_or_404(
        Weighing.objects.for_maker(request.maker)
        .filter(batch=batch)
        .select_related("lot", "line__ingredient"),
        uuid=uuid,
    )
    return form_page(
        request,
        BackForm(request.POST or None, maker=request.maker),
        lambda data: take_back(request.by, weighing=row, why=data["why"], entry_key=data["entry_key"]),
        title=f"Take back {row.grams.normalize():f} g of {row.lot}",
        act_word="Take it back",
        back=(f"Batch {batch}", address(request.maker, "batches:batch", code=code)),
        done=f"Taken back. The {row.grams.normalize():f} g are in lot {row.lot} again; weigh what is right.",
        text="Both entries stay visible in the record.",
    )


@require_http_methods(["GET", "POST"])
def output_back(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Take an output back."""
    batch = fetch_batch(request, code)
    row = get_object_or_404(Output.objects.for_maker(request.maker).filter(batch=batch), uuid=uuid)
    return form_page(
        request,
        WhyForm(request.POST or None, maker=request.maker),
        lambda data: correct_output(request.by, output=row, **data),
        title=f"Take back {row.grams.normalize():f} g, {row.get_kind_display().lower()}",
        act_word="Take it back",
        back=(f"Batch {batch}", address(request.maker, "batches:batch", code=code)),
        done="Taken back. Both entries stay visible.",
    )


@require_http_methods(["GET", "POST"])
def deviation_judge(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Judge a deviation."""
    batch = fetch_batch(request, code)
    row = get_object_or_404(Deviation.objects.for_maker(request.maker).filter(batch=batch), uuid=uuid)
    return form_page(
        request,
        JudgeForm(request.POST or None, maker=request.maker),
        lambda data: judge_deviation(
            request.by, deviation=row, accepted=data["accepted"] == "yes", text=data["text"]
        ),
        title="Judge a deviation",
        act_word="Write down the judgement",
        back=(f"Batch {batch}", address(request.maker, "batches:batch", code=code)),
        done="Judged.",
        text=row.text,
    )
