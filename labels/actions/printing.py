"""Sheets, print runs, and which issue went on which packs."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from batches.actions.once import once, still_new
from batches.models import Batch, Pack
from labels.layout import plain
from labels.models import AppliedLabel, LabelIssue, PrintRun, SheetLayout
from makers.actions import WRITERS, By, Refused, happened, recording

DEFAULT_SHEET = "A4, 3 × 8 labels of 70 × 37 mm"
BOUND = Decimal("0.01")


def add_sheet_layout(by: By, *, name: str, columns: int, rows: int, **measures: Decimal) -> SheetLayout:
    """Add a sheet. measures: page_ and label_ width_mm, height_mm; left_mm, top_mm; gaps across and down."""
    with recording(by, "sheet.added") as entry:
        sheet = SheetLayout(maker=by.maker, name=name, columns=columns, rows=rows, **measures)
        check_sheet(sheet)
        sheet.full_clean()
        sheet.save()
        entry.about(sheet)
        entry.say(columns=columns, rows=rows, **measures)
    return sheet


def change_sheet_layout(by: By, *, sheet: SheetLayout, **fields: Any) -> SheetLayout:
    """Change a sheet's name or measures."""
    with recording(by, "sheet.changed") as entry:
        sheet = SheetLayout.objects.for_maker(by.maker).select_for_update().get(pk=sheet.pk)
        for key, value in fields.items():
            setattr(sheet, key, value)
        check_sheet(sheet)
        sheet.full_clean()
        sheet.save()
        entry.about(sheet)
        entry.say(**fields)
    return sheet


def check_sheet(sheet: SheetLayout) -> None:
    """Every label lies on the page."""
    across = (sheet.columns, sheet.left_mm, sheet.label_width_mm, sheet.gap_across_mm, sheet.page_width_mm)
    down = (sheet.rows, sheet.top_mm, sheet.label_height_mm, sheet.gap_down_mm, sheet.page_height_mm)
    for word, field, measures in (("across", "label_width_mm", across), ("down", "label_height_mm", down)):
        count, start, size, gap, page = measures
        if count < 1 or size <= 0:
            raise Refused({field: "A sheet has one label at least, and a label has a size."})
        end = start + count * size + (count - 1) * gap
        if start < 0 or gap < 0 or end > page + BOUND:
            text = f"{count} labels {word} end at {plain(end)} mm, the page at {plain(page)} mm."
            raise Refused({field: text})


def open_with_a_sheet(by: By) -> None:
    """The usual sheet, so that a new maker can print at once."""
    if SheetLayout.objects.for_maker(by.maker).filter(name=DEFAULT_SHEET).exists():
        return
    add_sheet_layout(
        by,
        name=DEFAULT_SHEET,
        columns=3,
        rows=8,
        page_width_mm=Decimal(210),
        page_height_mm=Decimal(297),
        label_width_mm=Decimal(70),
        label_height_mm=Decimal(37),
        left_mm=Decimal(0),
        top_mm=Decimal("0.5"),
        gap_across_mm=Decimal(0),
        gap_down_mm=Decimal(0),
    )


def print_run(
    by: By,
    *,
    issue: LabelIssue,
    printed: int,
    spoiled: int = 0,
    left: int = 0,
    batch: Batch | None = None,
    entry_key: UUID | None = None,
    occurred_at: datetime | None = None,
) -> PrintRun:
    """Write down a print run: labels printed, spoiled, left over. The same entry_key gives the same run."""

    def act() -> PrintRun:
        with recording(by, "labels.printed") as entry:
            still_new(PrintRun, by, entry_key)
            if spoiled + left > printed:
                raise Refused(
                    {"spoiled": f"{spoiled} spoiled and {left} left are more than the {printed} printed."}
                )
            if batch is not None and batch.formula_id != issue.label.product.formula_id:
                raise Refused({"batch": f"{batch} is of another formula than this label."})
            run = PrintRun(
                maker=by.maker,
                issue=issue,
                batch=batch,
                printed=printed,
                spoiled=spoiled,
                left=left,
                entry_key=entry_key,
                occurred_at=happened(by, occurred_at),
                entered_at=by.now(),
                user=by.user,
            )
            run.full_clean()
            run.save()
            entry.about(issue.label)
            entry.mention(issue, batch)
            used = printed - spoiled - left
            entry.say(issue=issue.number, printed=printed, spoiled=spoiled, left=left, used=used)
        return run

    return once(PrintRun, by, entry_key, act)


def apply_label(
    by: By,
    *,
    pack: Pack,
    issue: LabelIssue,
    entry_key: UUID | None = None,
    occurred_at: datetime | None = None,
) -> AppliedLabel:
    """Write down which issue went on the units of a pack; said twice, it is written once."""
    known: AppliedLabel | None = (
        AppliedLabel.objects.for_maker(by.maker).filter(pack=pack, issue=issue).first()
    )
    if known is not None:
        by.must_be(WRITERS)
        return known

    def act() -> AppliedLabel:
        with recording(by, "label.applied") as entry:
            still_new(AppliedLabel, by, entry_key)
            if pack.product_id != issue.label.product_id:
                raise Refused(
                    {"issue": f"That label is for {issue.label.product}; {pack} holds {pack.product}."}
                )
            row = AppliedLabel(
                maker=by.maker,
                pack=pack,
                issue=issue,
                entry_key=entry_key,
                occurred_at=happened(by, occurred_at),
                entered_at=by.now(),
                user=by.user,
            )
            row.full_clean()
            row.save()
            entry.about(pack)
            entry.mention(issue.label, issue, pack.batch)
            entry.say(issue=issue.number, market=issue.label.market)
        return row

    return once(AppliedLabel, by, entry_key, act)
