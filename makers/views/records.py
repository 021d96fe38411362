"""Export and backup: what there is, taking it out, and whether it is as it was written."""

from __future__ import annotations

import tempfile
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import connection
from django.http import FileResponse, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_POST

from makers.actions import OWNERS
from makers.actions.checking import faults_of
from makers.actions.exporting import export_records
from makers.actions.record_tables import counts
from makers.http import MakerRequest, address, moved_on
from makers.models import JournalEntry, JournalHead
from makers.registries import record_checks

MOST_FAULTS = 20


def page(request: MakerRequest, **more: Any) -> HttpResponse:
    """The page, with the result of a check where one was asked for."""
    tables = counts(request.maker)
    last = JournalEntry.objects.for_maker(request.maker).filter(action="records.exported").first()
    context = {
        "tables": tables,
        "rows": sum(count for _, count in tables),
        "is_owner": request.by.role in OWNERS,
        "last": last,
        "head": JournalHead.objects.filter(maker=request.maker).first(),
        "embedded": connection.vendor == "sqlite",
        "checks": [check.name for check in record_checks],
        **more,
    }
    return render(request, "makers/export.html", context)


@require_GET
def export(request: MakerRequest) -> HttpResponse:
    """What an export holds, and how to back up."""
    return page(request)


@require_POST
def export_zip(request: MakerRequest) -> HttpResponse | FileResponse:
    """All records as one zip; owners only, and written down in the journal."""
    request.by.must_be(OWNERS)
    file = tempfile.TemporaryFile()  # noqa: SIM115  (the response closes it when it was sent)
    try:
        export_records(request.by, file)
    except ValidationError as refusal:
        file.close()
        for text in refusal.messages:
            messages.error(request, text)
        return moved_on(address(request.maker, "house:export"), request)
    except BaseException:
        file.close()
        raise
    file.seek(0)
    name = f"{request.maker.slug}-{request.by.today():%Y-%m-%d}.zip"
    response = FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
    response["Cache-Control"] = "no-store"
    return response


@require_GET
def check(request: MakerRequest) -> HttpResponse:
    """Verify chains, balances and papers now; reads only."""
    faults = list(faults_of(request.maker))
    return page(request, checked=True, faults=faults[:MOST_FAULTS], fault_count=len(faults))
