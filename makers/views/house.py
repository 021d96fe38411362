"""Today, search, settings, the journal, documents."""

from __future__ import annotations

import csv
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Prefetch, Q, QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_GET, require_http_methods

from makers.actions import OWNERS, sentence
from makers.actions.house import (
    add_member,
    add_scale,
    change_maker,
    change_member,
    check_scale,
    set_responsible,
)
from makers.forms.house import (
    MemberChangeForm,
    MemberForm,
    ResponsibleForm,
    ScaleCheckForm,
    ScaleForm,
    SettingsForm,
)
from makers.forms.refusals import show_refusal
from makers.forms.seen import changed_by, nobody
from makers.http import MakerRequest, address, moved_on
from makers.models import Code, Document, JournalEntry, Maker, Membership, ResponsibleParty, Scale, ScaleCheck
from makers.pictures import LONGER_SIDE, MEDIA_TYPE, redrawn
from makers.registries import Found, code_kinds, first_steps, search_sources, today_items
from makers.rules.spreadsheet import safe_cell
from makers.views.forms import carried_out

JOURNAL_PAGE = 50
SEARCH_EACH = 20


@require_GET
def today(request: MakerRequest) -> HttpResponse:
    """What needs a hand, and what was written last."""
    day = request.by.today()
    items = [item for source in today_items for item in source.items(request.maker, day)]
    items.sort(key=lambda item: item.order)
    steps = [
        {"text": step.text, "url": address(request.maker, step.view), "done": step.done(request.maker)}
        for step in first_steps
    ]
    context = {
        "now": [item for item in items if item.now],
        "soon": [item for item in items if not item.now],
        "count": len(items),
        "first_steps": steps if not all(step["done"] for step in steps) else [],
        "entries": journal_rows(request.maker, JournalEntry.objects.for_maker(request.maker)[:8]),
        "journal_url": address(request.maker, "house:journal"),
    }
    return render(request, "makers/today.html", context)


def journal_rows(maker: Maker, entries: Any) -> list[dict[str, Any]]:
    """Entries as the journal part takes them, with the address of what they speak of where a code leads there."""
    entries = list(entries)
    subjects = {entry.subject for entry in entries if entry.subject}
    codes = {code.subject: code for code in Code.objects.filter(maker=maker, subject__in=subjects)}
    rows = []
    for entry in entries:
        code = codes.get(entry.subject)
        url = code_kinds[code.kind].url(maker, code) if code and code.kind in code_kinds else ""
        who = entry.user_label + (" (demo clock)" if entry.clock == "demo" else "")
        rows.append(
            {
                "at": entry.at,
                "who": who,
                "text": sentence(entry),
                "url": url,
                "number": entry.number,
                "why": entry.why,
            }
        )
    return rows


@require_GET
def search(request: MakerRequest) -> HttpResponse:
    """Resolve a code or a scan; otherwise find names."""
    asked = request.GET.get("q", "").replace("\x00", "").strip()[:100]
    found: list[Found] = []
    if asked:
        code = Code.objects.called(request.maker, asked)
        if code is not None and code.kind in code_kinds:
            return redirect(code_kinds[code.kind].url(request.maker, code))
        for near in (
            Code.objects.for_maker(request.maker).filter(text__icontains=asked).order_by("-id")[:SEARCH_EACH]
        ):
            if near.kind in code_kinds:
                kind = code_kinds[near.kind]
                found.append(Found(near.text, kind.url(request.maker, near), kind.title, near.text))
        for source in search_sources:
            found += source.find(request.maker, asked, SEARCH_EACH)
    return render(request, "makers/search.html", {"q": asked, "found": found})


def filtered_journal(request: MakerRequest) -> QuerySet[JournalEntry]:
    """The entries that the filter in the address leaves."""
    entries = JournalEntry.objects.for_maker(request.maker).order_by("-number")
    words = request.GET.get("q", "").replace("\x00", "").strip()[:100]
    if words:
        entries = entries.filter(
            Q(subject_label__icontains=words)
            | Q(user_label__icontains=words)
            | Q(action__icontains=words)
            | Q(why__icontains=words)
        )
    return entries


@require_GET
def journal(request: MakerRequest) -> HttpResponse:
    """The whole journal, newest first, keyset-paged by number."""
    entries = filtered_journal(request)
    words = request.GET.get("q", "").strip()[:100]
    if request.GET.get("as") == "csv":
        return journal_csv(entries)
    before = request.GET.get("before", "")
    if before.isascii() and before.isdigit() and len(before) < 19:
        entries = entries.filter(number__lt=int(before))
    page = list(entries[: JOURNAL_PAGE + 1])
    more = len(page) > JOURNAL_PAGE
    page = page[:JOURNAL_PAGE]
    head = JournalEntry.objects.for_maker(request.maker).first()
    context = {
        "entries": journal_rows(request.maker, page),
        "q": words,
        "next_before": page[-1].number if more else None,
        "is_first": not before,
        "head": head,
    }
    return render(request, "makers/journal.html", context)


def journal_csv(entries: QuerySet[JournalEntry]) -> HttpResponse:
    """The journal as CSV, oldest first."""
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="journal.csv"'
    writer = csv.writer(response)
    writer.writerow(["number", "at", "who", "action", "what", "about", "why", "clock", "digest"])
    for entry in entries.order_by("number").iterator(chunk_size=500):
        row = [entry.number, entry.at.isoformat(), entry.user_label, entry.action, sentence(entry)]
        row += [entry.subject_label, entry.why, entry.clock, entry.digest]
        writer.writerow([safe_cell(cell) for cell in row])
    return response


@require_GET
def document(request: MakerRequest, uuid: UUID) -> FileResponse:
    """A kept paper, always as a download under a name of ours."""
    paper = get_object_or_404(Document.objects.for_maker(request.maker), uuid=uuid)
    try:
        file = paper.file.open("rb")
    except FileNotFoundError as error:
        raise Http404 from error
    response = FileResponse(file, as_attachment=True, filename=paper.name, content_type=paper.content_type)
    fence(response)
    return response


def fence(response: HttpResponseBase) -> None:
    """Something that came from outside, or was drawn from it: no browser may guess what it is, or run it."""
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "sandbox; default-src 'none'"


@require_GET
def picture(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """A kept photo as a small picture drawn anew; 404 for a paper that is none or can't be read."""
    paper = get_object_or_404(Document.objects.for_maker(request.maker), uuid=uuid)
    tag = f'"{paper.sha256}-{LONGER_SIDE}"'
    answer = get_conditional_response(request, etag=tag) or HttpResponse(
        drawn(paper), content_type=MEDIA_TYPE
    )
    answer["ETag"] = tag
    answer["Cache-Control"] = "private, no-cache"
    fence(answer)
    return answer


def drawn(paper: Document) -> bytes:
    """The small picture of a paper. Raises Http404."""
    try:
        with paper.file.open("rb") as file:
            found = redrawn(file)
    except FileNotFoundError as error:
        raise Http404 from error
    if found is None:
        raise Http404
    return found


@require_http_methods(["GET", "POST"])
def settings(request: MakerRequest) -> HttpResponse:
    """The workshop's settings: read by every member, changed by owners."""
    maker = Maker.objects.get(pk=request.maker.pk)
    form = SettingsForm(
        request.POST or None, instance=maker, maker=request.maker, who=changed_by(request, maker)
    )
    if request.method == "POST":
        request.by.must_be(OWNERS)
        if form.is_valid():
            try:
                change_maker(request.by, **form.changes)
            except ValidationError as refusal:
                show_refusal(form, refusal)
            else:
                messages.success(request, "The settings are written down.")
                return moved_on(address(request.maker, "house:settings"), request)
    context = {
        "form": form,
        "scales": Scale.objects.for_maker(request.maker).prefetch_related(
            Prefetch("checks", ScaleCheck.objects.order_by("-pk"))
        ),
        "members": Membership.objects.for_maker(request.maker).select_related("user").order_by("user__name"),
        "parties": ResponsibleParty.objects.for_maker(request.maker).order_by("market"),
        "is_owner": request.by.role in OWNERS,
    }
    return render(request, "makers/settings.html", context)


def one_form(
    request: MakerRequest, form: Any, act: Any, *, title: str, act_word: str, done: str
) -> HttpResponse:
    """A page of one form: act on good input, come back with sentences otherwise."""
    gone = carried_out(request, form, act, then=address(request.maker, "house:settings"), said=done)
    return gone or render(
        request, "makers/one_form.html", {"form": form, "title": title, "act_word": act_word}
    )


@require_http_methods(["GET", "POST"])
def scale_add(request: MakerRequest) -> HttpResponse:
    """Add a scale."""
    form = ScaleForm(request.POST or None, instance=Scale(maker=request.maker), maker=request.maker)
    return one_form(
        request,
        form,
        lambda data: add_scale(request.by, **data),
        title="Add a scale",
        act_word="Add this scale",
        done="The scale is on the list.",
    )


@require_http_methods(["GET", "POST"])
def scale_check(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """Write down a check with a test weight."""
    scale = get_object_or_404(Scale.objects.for_maker(request.maker), uuid=uuid)
    return one_form(
        request,
        ScaleCheckForm(request.POST or None, maker=request.maker),
        lambda data: check_scale(request.by, scale=scale, **data),
        title=f"Check {scale}",
        act_word="Write it down",
        done=f"The check of {scale} is written down.",
    )


@require_http_methods(["GET", "POST"])
def member_add(request: MakerRequest) -> HttpResponse:
    """Add a member; owners only."""
    request.by.must_be(OWNERS)
    return one_form(
        request,
        MemberForm(request.POST or None, maker=request.maker),
        lambda data: add_member(request.by, **data),
        title="Add a member",
        act_word="Add this member",
        done="The member is on the list.",
    )


@require_http_methods(["GET", "POST"])
def member_change(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """Change a role or end a membership; owners only."""
    request.by.must_be(OWNERS)
    membership = get_object_or_404(
        Membership.objects.for_maker(request.maker).select_related("user"), uuid=uuid
    )
    initial = {"role": membership.role, "active": membership.active}
    return one_form(
        request,
        MemberChangeForm(request.POST or None, initial=initial, maker=request.maker),
        lambda data: change_member(request.by, membership=membership, **data),
        title=str(membership.user),
        act_word="Write it down",
        done="The change is written down.",
    )


@require_http_methods(["GET", "POST"])
def responsible(request: MakerRequest) -> HttpResponse:
    """Who answers in a market, with who does now; owners only."""
    request.by.must_be(OWNERS)
    market = (request.POST.get("market") or request.GET.get("market", ""))[:2]
    row = ResponsibleParty.objects.for_maker(request.maker).filter(market=market).first()
    now = {name: getattr(row, name) for name in ("name", "address", "contact")} if row else {}
    who = changed_by(request, row) if row else nobody
    return one_form(
        request,
        ResponsibleForm(
            request.POST or None, initial={"market": market, **now}, maker=request.maker, who=who
        ),
        lambda data: set_responsible(request.by, **data),
        title="Who answers in a market",
        act_word="Write it down",
        done="Written down.",
    )


def not_here(request: HttpRequest) -> HttpResponse:
    """Anything else below a maker."""
    raise Http404
