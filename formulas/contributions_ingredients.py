"""What ingredients and suppliers contribute to the house."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Q

from formulas.models import Constituent, Ingredient, Substance, Supplier
from makers.http import address
from makers.models import Code, Maker
from makers.registries import (
    CodeKind,
    ExportTable,
    FirstStep,
    Found,
    JournalKind,
    NavigationPlace,
    SearchSource,
    code_kinds,
    export_tables,
    first_steps,
    journal_kinds,
    navigation,
    search_sources,
)

WITHIN = (
    "formulas:ingredient", "formulas:ingredient-add", "formulas:ingredient-change", "formulas:confirm",
    "formulas:catalogue", "formulas:catalogue-material", "formulas:suppliers", "formulas:supplier",
    "formulas:supplier-add", "formulas:source-add", "formulas:prices", "formulas:price-add", "formulas:composition-add",
    "formulas:composition-sheet", "formulas:composition-confirm", "formulas:use-level-add",
    "formulas:use-level-confirm", "formulas:use-level-remove", "formulas:substance-add",
    "formulas:substances", "formulas:substance", "formulas:ingredient-paper-add", "formulas:ingredient-papers",
    "formulas:ingredient-paper-date", "formulas:supplier-papers",
    "batches:lots", "batches:lot", "batches:delivery", "batches:receive",
)  # fmt: skip
"""Pages that stand under Ingredients."""

EXPORTED = (
    ("substances", 100, "formulas.Substance"),
    ("substance names", 101, "formulas.SubstanceName"),
    ("suppliers", 110, "formulas.Supplier"),
    ("ingredients", 150, "formulas.Ingredient"),
    ("sources", 160, "formulas.Source"),
    ("prices", 161, "formulas.Price"),
    ("use levels", 162, "formulas.UseLevel"),
    ("compositions", 170, "formulas.Composition"),
    ("constituents", 171, "formulas.Constituent"),
    ("dated papers", 172, "formulas.DatedPaper"),
)
"""Formulas (140 to 149) come before the ingredients that are made from them."""


def ingredient_url(maker: Maker, code: Code) -> str:
    """An ingredient's page."""
    return address(maker, "formulas:ingredient", code=code.text)


def find(maker: Maker, words: str, most: int) -> Sequence[Found]:
    """Ingredients, suppliers and substances in use by any part of a name, ingredients by INCI name too."""
    named = Q(name__icontains=words) | Q(common_name__icontains=words)
    inside = Q(compositions__constituents__substance__inci_name__icontains=words)
    rows = Ingredient.objects.for_maker(maker).filter(named | inside).distinct()
    hits = [
        Found(row.name, address(maker, "formulas:ingredient", code=row.code), "Ingredient", row.code)
        for row in rows[:most]
    ]
    hits += [
        Found(row.name, address(maker, "formulas:supplier", uuid=row.uuid), "Supplier")
        for row in Supplier.objects.for_maker(maker).filter(name__icontains=words)[:most]
    ]
    called = Q(inci_name__icontains=words) | Q(us_name__icontains=words) | Q(cas__icontains=words)
    used = Constituent.objects.for_maker(maker).values("substance")
    hits += [
        Found(f"What contains {row}", address(maker, "formulas:substance", substance=row.key), "Substance")
        for row in Substance.objects.known_to(maker).filter(called, pk__in=used)[:most]
    ]
    return hits


def register() -> None:
    """Add every contribution; called once on start."""
    navigation.add(
        NavigationPlace(
            "ingredients",
            20,
            "Ingredients",
            "formulas:ingredients",
            WITHIN,
        )
    )
    code_kinds.add(CodeKind("ingredient", 10, "Ingredient", "I-{number:03}", ingredient_url))
    search_sources.add(SearchSource("ingredients", 10, find))
    first_steps.add(
        FirstStep(
            "ingredients",
            10,
            "Copy your first ingredients from the catalogue",
            "formulas:catalogue",
            lambda maker: Ingredient.objects.for_maker(maker).exists(),
        )
    )
    for name, order, model in EXPORTED:
        export_tables.add(ExportTable(name, order, model))
    for kind in (
        JournalKind("ingredient.added", "added the ingredient {subject}"),
        JournalKind("ingredient.copied", "copied {subject} from the catalogue"),
        JournalKind("ingredient.changed", "changed {subject}: {fields}"),
        JournalKind("ingredient.confirmed", "confirmed {field} of {subject} against {basis}"),
        JournalKind("supplier.added", "added the supplier {subject}"),
        JournalKind("supplier.changed", "changed the supplier {subject}: {fields}"),
        JournalKind("source.added", "added a source of {subject}: {supplier} {article}"),
        JournalKind("source.preferred", "prefers {supplier} for {subject}"),
        JournalKind("price.added", "wrote a price of {subject}: {amount} {currency} for {pack} g"),
        JournalKind("uselevel.added", "wrote a use level of {subject}"),
        JournalKind("uselevel.removed", "took off a use level of {subject}"),
        JournalKind("uselevel.confirmed", "confirmed a use level of {subject} against {basis}"),
        JournalKind("substance.added", "added the substance {subject}"),
        JournalKind("paper.dated", "wrote down that {subject} is dated {on}"),
        JournalKind("composition.added", "wrote composition {number} of {subject}, for {supplier}"),
        JournalKind("composition.confirmed", "confirmed composition {number} of {subject} against {basis}"),
    ):
        journal_kinds.add(kind)
