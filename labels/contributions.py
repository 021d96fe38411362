"""What the labels world contributes to the registries of the house."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date
from typing import Any, cast

from django.db.models import Q

from batches.models import Batch
from formulas.models import FormulaVersion, Ingredient, Product
from labels import demo
from labels.actions.labels import issue_digest
from labels.actions.printing import open_with_a_sheet
from labels.assembly import market_word
from labels.models import AppliedLabel, Label, LabelIssue
from labels.naming import MOST_NAMING, naming, would_change
from labels.preview import preview, us_findings
from labels.rules.declaration import MARKETS
from labels.standing import standings
from labels.weighed import label_url, products_of, release_points
from makers.models import Maker
from makers.registries import (
    ChangeEffect,
    ExportTable,
    Fault,
    FirstStep,
    Found,
    JournalKind,
    NavigationPlace,
    OpeningHook,
    OpenPoint,
    RecordCheck,
    RecordPanel,
    ReleaseCheck,
    ReviewCheck,
    SearchSource,
    TodayItem,
    TodaySource,
    change_effects,
    export_tables,
    first_steps,
    journal_kinds,
    navigation,
    opening_hooks,
    record_checks,
    record_panels,
    release_checks,
    review_checks,
    search_sources,
    today_items,
)

JOURNAL = (
    JournalKind("label.drafted", "started the label of {subject}"),
    JournalKind("label.changed", "changed the label of {subject}: {fields}"),
    JournalKind("label.facts_confirmed", "confirmed {count} facts on the label of {subject}"),
    JournalKind("label.caution_judged", "found on the label of {subject} not to apply: {caution}"),
    JournalKind("label.approved", "approved the label of {subject}, issue {issue}"),
    JournalKind("label.withdrawn", "withdrew the label of {subject}"),
    JournalKind("label.applied", "put issue {issue} of the {market} label on {subject}"),
    JournalKind("labels.printed", "printed {printed} labels of {subject}, issue {issue}: {used} used"),
    JournalKind("sheet.added", "added the sheet {subject}"),
    JournalKind("sheet.changed", "changed the sheet {subject}"),
    JournalKind("substance.named", "prints {subject} as {name} in {market}"),
)


EXPORTED = (
    ("sheet_layouts", "labels.SheetLayout"),
    ("labels", "labels.Label"),
    ("label_confirmations", "labels.FactConfirmation"),
    ("label_issues", "labels.LabelIssue"),
    ("labels_applied", "labels.AppliedLabel"),
    ("print_runs", "labels.PrintRun"),
)
"""Models in the order in which they can be loaded again, after everything they point to."""


def today(maker: Maker, on: date) -> Sequence[TodayItem]:
    """Approved labels that would say something else today, and drafts."""
    rows = Label.objects.for_maker(maker).exclude(state=Label.State.WITHDRAWN)
    found = standings(maker, list(rows.select_related("product__formula", "maker")), with_waits=False)
    stale, drafts = [], []
    for one in found:
        where, url = (
            f"{one.label.product}: the label for {market_word(one.label.market)}",
            label_url(one.label),
        )
        if one.stale:
            text = f"{where} is stale, its {', '.join(one.stale)} changed."
            stale.append(TodayItem("stale", "Stale", text, url, act="Look at it", act_url=url, now=True))
        if one.label.state == Label.State.DRAFT:
            drafts.append(TodayItem("draft", "Draft", f"{where} waits for approval.", url, order=70))
    return [*stale, *drafts]


def find(maker: Maker, words: str, most: int) -> Sequence[Found]:
    """Labels by the product's name or what is printed on them."""
    rows = Label.objects.for_maker(maker).filter(
        Q(product__name__icontains=words) | Q(identity__icontains=words)
    )
    return [
        Found(f"{label.product}, {label.get_market_display()}", label_url(label), "Label", label.product.code)
        for label in rows.select_related("product", "maker")[:most]
    ]


def digests_hold(maker: Maker) -> Sequence[Fault]:
    """Every issue still says what was approved, and its file is the one that was kept."""
    faults = []
    rows = (
        LabelIssue.objects.for_maker(maker).select_related("label__product", "version", "pdf").order_by("pk")
    )
    for issue in rows.iterator(chunk_size=200):
        where = f"label of {issue.label}, issue {issue.number}"
        if issue_digest(issue) != issue.digest:
            faults.append(Fault(where, "It says something else than what its digest was made over."))
            continue
        if issue.pdf is None:
            continue
        try:
            with issue.pdf.file.open("rb") as file:
                same = hashlib.file_digest(file, "sha256").hexdigest() == issue.pdf.sha256
        except FileNotFoundError:
            faults.append(Fault(where, "Its file is gone."))
            continue
        if not same:
            faults.append(Fault(where, "Its file isn't the one that was kept."))
    return faults


def rows_for(maker: Maker, products: Sequence[Product]) -> list[dict[str, Any]]:
    """Labels of some products as panels show them, markets without one too."""
    labels = list(
        Label.objects.for_maker(maker)
        .filter(product__in=products)
        .select_related("product__formula", "maker")
    )
    rows: list[dict[str, Any]] = [
        {
            "label": one.label,
            "issue": one.issue,
            "url": label_url(one.label),
            "market": market_word(one.label.market),
            "state": one.state,
        }
        for one in standings(maker, labels, with_waits=False)
    ]
    for product in products:
        have = {label.market for label in labels if label.product_id == product.pk}
        rows += [
            {
                "product": product,
                "market": market_word(market),
                "state": "missing",
                "add": market in MARKETS,
                "code": market,
            }
            for market in product.markets
            if market not in have
        ]
    return rows


def product_panel(maker: Maker, record: Any) -> tuple[str, dict[str, Any]] | None:
    """The labels of a product."""
    product = cast(Product, record)
    return "labels/panel_product.html", {"rows": rows_for(maker, [product]), "product": product}


def batch_panel(maker: Maker, record: Any) -> tuple[str, dict[str, Any]] | None:
    """The labels for a batch's packs, and which went on."""
    batch = cast(Batch, record)
    if batch.purpose != Batch.Purpose.SALE:
        return None
    rows = rows_for(maker, products_of(batch))
    applied = list(
        AppliedLabel.objects.for_maker(maker).filter(pack__batch=batch).select_related("pack", "issue__label")
    )
    there = {(one.pack_id, one.issue_id) for one in applied}
    to_apply = [
        {"pack": pack, "issue": row["issue"], "label": row["label"]}
        for pack in batch.packs.all()
        for row in rows
        if row.get("issue") and row["label"].product_id == pack.product_id
        if (pack.pk, row["issue"].pk) not in there
    ]
    context = {"rows": rows, "batch": batch, "applied": applied, "to_apply": to_apply}
    return "labels/panel_batch.html", context


def ingredient_panel(maker: Maker, record: Any) -> tuple[str, dict[str, Any]] | None:
    """The labels that name an ingredient, as it goes in today or as they were approved."""
    rows = naming(maker, cast(Ingredient, record))
    return "labels/panel_ingredient.html", {"rows": rows[:MOST_NAMING], "more": len(rows) - MOST_NAMING}


def change_effect(maker: Maker, supposed: Any, found: Any) -> tuple[str, dict[str, Any]] | None:
    """The labels that would print something else."""
    rows = would_change(maker, supposed, found)
    return ("labels/_would_change.html", {"rows": rows}) if rows else None


def points(record: Any) -> Sequence[OpenPoint]:
    """Whether the label still holds for a batch."""
    return release_points(cast(Batch, record))


def findings(record: Any, seen: Any) -> Sequence[Any]:
    """The preview of a formula's lists."""
    return preview(cast(FormulaVersion, record), seen)


def us_findings_of(record: Any, seen: Any) -> Sequence[Any]:
    """What the US bar or bound in a formula."""
    return us_findings(cast(FormulaVersion, record), seen)


def has_label(maker: Maker) -> bool:
    """Whether a first label was drafted."""
    return bool(Label.objects.for_maker(maker).exists())


def register() -> None:
    """Add every contribution of this world; called once on start."""
    for kind in JOURNAL:
        journal_kinds.add(kind)
    navigation.add(NavigationPlace("labels", 50, "Labels", "labels:labels", ("labels",)))
    search_sources.add(SearchSource("labels", 50, find))
    today_items.add(TodaySource("labels", 60, today))
    record_checks.add(RecordCheck("label issues", 50, digests_hold))
    record_panels.add(RecordPanel("labels", 50, "formulas.product", product_panel))
    record_panels.add(RecordPanel("batch labels", 50, "batches.batch", batch_panel))
    record_panels.add(RecordPanel("labels that name it", 40, "formulas.ingredient", ingredient_panel))
    change_effects.add(ChangeEffect("labels", 50, change_effect))
    review_checks.add(ReviewCheck("us limits", 650, us_findings_of))
    review_checks.add(ReviewCheck("label preview", 900, findings))
    release_checks.add(ReleaseCheck("label still holds", 50, points))
    for order, (name, model) in enumerate(EXPORTED, start=500):
        export_tables.add(ExportTable(name, order, model))
    opening_hooks.add(OpeningHook("label sheet", 50, open_with_a_sheet))
    first_steps.add(FirstStep("label", 60, "Draft a label", "labels:add", has_label))
    demo.register()
