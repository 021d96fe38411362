"""What formulas, articles and products contribute to the house."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

from django.db.models import Model, Q

from formulas.actions.formulas import Seen, differing_suppliers
from formulas.models import Article, Formula, FormulaVersion, Product
from formulas.rules.findings import Finding
from formulas.rules.review import QUESTIONS, Question
from formulas.rules.review.questions import passes
from makers.http import address
from makers.models import Code, Maker
from makers.registries import (
    CodeKind,
    FirstStep,
    Found,
    JournalKind,
    NavigationPlace,
    ReviewCheck,
    SearchSource,
    code_kinds,
    first_steps,
    journal_kinds,
    navigation,
    review_checks,
    search_sources,
)


def formula_url(maker: Maker, code: Code) -> str:
    """A formula's page."""
    return address(maker, "formulas:detail", code=code.text)


def article_url(maker: Maker, code: Code) -> str:
    """An article's page."""
    return address(maker, "formulas:article", code=code.text)


def product_url(maker: Maker, code: Code) -> str:
    """A product's page."""
    return address(maker, "formulas:product", code=code.text)


def find(maker: Maker, words: str, most: int) -> Sequence[Found]:
    """Formulas, products and articles by any part of a name."""
    hits = []
    for model, kind, view in (
        (Formula, "Formula", "formulas:detail"),
        (Product, "Product", "formulas:product"),
        (Article, "Article", "formulas:article"),
    ):
        for row in model.objects.for_maker(maker).filter(Q(name__icontains=words))[:most]:
            hits.append(Found(row.name, address(maker, view, code=row.code), kind, row.code))
    return hits


def as_check(question: Question) -> Callable[[Model, Seen], Sequence[Finding]]:
    """A question of the rules as the registry takes it."""

    def findings(version: Model, seen: Seen) -> Sequence[Finding]:
        return question.check(seen.asked)

    return findings


def as_passes(question: Question) -> Callable[[Seen, Sequence[Finding]], bool]:
    """Whether a question of the rules has passed with these findings, as the registry asks it."""
    return lambda seen, found: passes(question, seen.asked, found)


def register_review() -> None:
    """Every question of the rules, each under its own name, and what the records alone tell."""
    for place, question in enumerate(QUESTIONS, start=1):
        review_checks.add(
            ReviewCheck(question.key, 10 * place, as_check(question), question.title, as_passes(question))
        )
    review_checks.add(
        ReviewCheck(
            "suppliers differ",
            800,
            lambda version, seen: differing_suppliers(cast(FormulaVersion, version), seen),
        )
    )


def register() -> None:
    """Add every contribution; called once on start."""
    navigation.add(
        NavigationPlace(
            "formulas",
            30,
            "Formulas",
            "formulas:list",
            (
                "formulas:detail", "formulas:start", "formulas:read", "formulas:change", "formulas:edit",
                "formulas:steps", "formulas:approve",
                "formulas:version", "formulas:compare", "formulas:products", "formulas:product",
                "formulas:product-add", "formulas:product-change", "formulas:articles", "formulas:article",
                "formulas:article-add", "formulas:costs", "formulas:what-if", "formulas:cost-basis", "formulas:rates",
                "formulas:rate-add", "formulas:rate-change", "formulas:product-cost", "formulas:product-cost-change",
                "formulas:article-prices", "formulas:article-price-add",
            ),
        )
    )  # fmt: skip
    code_kinds.add(CodeKind("formula", 20, "Formula", "F-{number:03}", formula_url))
    code_kinds.add(CodeKind("article", 30, "Article", "A-{number:03}", article_url))
    code_kinds.add(CodeKind("product", 40, "Product", "P-{number:03}", product_url))
    search_sources.add(SearchSource("formulas", 20, find))
    register_review()
    first_steps.add(
        FirstStep(
            "formula",
            20,
            "Write a formula in percent",
            "formulas:list",
            lambda maker: Formula.objects.for_maker(maker).exists(),
        )
    )
    for kind in (
        JournalKind("formula.started", "started the formula {subject}"),
        JournalKind("formula.changed", "changed {subject}: {fields}"),
        JournalKind("version.started", "started {subject}"),
        JournalKind("version.saved", "wrote {subject}, {lines} lines"),
        JournalKind("version.exchanged", "took {into} for {out} in {subject}"),
        JournalKind("version.undone", "went back to save {save} in {subject}, {lines} lines"),
        JournalKind("version.redone", "went forth to save {save} in {subject}, {lines} lines"),
        JournalKind("version.approved", "approved {subject}"),
        JournalKind("version.withdrawn", "withdrew {subject}"),
        JournalKind("article.added", "added the article {subject}"),
        JournalKind("article.changed", "changed the article {subject}: {fields}"),
        JournalKind("product.added", "added the product {subject}, {net}"),
        JournalKind("product.changed", "changed the product {subject}: {fields}"),
    ):
        journal_kinds.add(kind)
