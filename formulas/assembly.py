"""From records to what the rules ask: lines, compositions, nested formulas, use levels, heat limits.

The number of queries depends on how deep in-house ingredients are nested, never on how many lines there are.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, cast

from formulas.models import (
    Composition,
    Constituent,
    FormulaVersion,
    Ingredient,
    Line,
    Product,
    Step,
    UseLevel,
)
from formulas.rules import composition as composition_rules
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, LineKind, ResolvedFormula, resolve
from formulas.rules.review import (
    PARTS,
    FormulaForReview,
    HeatFact,
    IngredientFacts,
    ScaleFacts,
    StepFacts,
)
from formulas.rules.totals import NestedFormula, Totals, substance_totals
from formulas.rules.uselevels import UseLevel as UseLevelRule
from formulas.rules.uselevels import told_by_market
from formulas.rules.vocabulary import MEMORY
from makers.models import Maker, Scale


def line_key(line: Line) -> str:
    """The key under which the rules know a stored line."""
    return f"line-{line.pk}"


def as_rule_line(line: Line) -> FormulaLine:
    """A stored line as the rules take it; the ingredient must be loaded."""
    return FormulaLine(
        key=line_key(line),
        ingredient=str(line.ingredient_id),
        name=line.ingredient.name,
        percent=line.percent,
        kind=cast(LineKind, line.kind),
        adjust_low=line.adjust_low,
        adjust_high=line.adjust_high,
        purpose=line.purpose,
        ph_low=line.ph_low,
        ph_high=line.ph_high,
        strained=line.strained,
        leaves=(line.leaves.key, line.leaves.inci_name)
        if line.strained and line.leaves is not None
        else None,
    )


def as_rule_composition(record: Composition, name: str) -> composition_rules.Composition:
    """A stored composition as the rules take it; constituents and substances must be loaded."""
    return composition_rules.Composition(
        ingredient=str(record.ingredient_id),
        name=name,
        constituents=tuple(as_rule_constituent(part) for part in record.constituents.all()),
        basis=record.basis,
        source=record.origin,
        within_stated=record.allergens_stated,
    )


def as_rule_constituent(part: Constituent) -> composition_rules.Constituent:
    """A stored constituent as the rules take it."""
    return composition_rules.Constituent(
        substance=part.substance.key,
        name=part.substance.inci_name,
        kind=cast(composition_rules.ConstituentKind, part.kind),
        low=part.low,
        typical=part.typical,
        high=part.high,
        rank=part.rank,
        incidental=part.incidental,
    )


def in_force(compositions: Iterable[Composition], source_id: int | None = None) -> Composition | None:
    """Which of an ingredient's compositions counts: of the source asked for, else of the preferred source,
    else the newest that is bound to no source, else the newest."""
    found = sorted(compositions, key=lambda one: one.number, reverse=True)
    if source_id is not None:
        own = [one for one in found if one.source_id == source_id]
        if own:
            return own[0]
    preferred = [one for one in found if one.source is not None and one.source.preferred]
    general = [one for one in found if one.source_id is None]
    return next(iter([*preferred, *general, *found]), None)


@dataclass(frozen=True, slots=True)
class Supposed:
    """What is only typed yet, taken as if it were on record, to see what it would change.

    composition: not stored, its constituents in memory. ingredient: the record with other facts. levels: the use
    levels of the ingredient of that key, all of them, in place of those on record.
    """

    composition: Composition | None = None
    ingredient: Ingredient | None = None
    levels: tuple[str, tuple[UseLevelRule, ...]] | None = None

    def joined(self, row: Ingredient, records: list[Composition]) -> list[Composition]:
        """The compositions of an ingredient with the supposed one among them."""
        more = self.composition
        return [*records, more] if more is not None and more.ingredient_id == row.pk else records


NOTHING_SUPPOSED = Supposed()


@dataclass(slots=True)
class Paper:
    """Everything that the rules need about a set of ingredients, down through in-house ones."""

    ingredients: dict[int, Ingredient] = field(default_factory=dict)
    records: dict[str, Composition] = field(default_factory=dict)
    compositions: dict[str, composition_rules.Composition] = field(default_factory=dict)
    nested: dict[str, NestedFormula] = field(default_factory=dict)
    nested_versions: dict[str, FormulaVersion] = field(default_factory=dict)
    differing: list[str] = field(default_factory=list)
    reasons: dict[tuple[str, str], str] = field(default_factory=dict)

    def totals(self, resolved: ResolvedFormula) -> Totals:
        """The substances of a formula. Raises FormulaCycle when one contains itself."""
        return substance_totals(resolved.lines, self.compositions, self.nested)

    def only(self, ingredient_ids: Collection[int]) -> Paper:
        """The part of it that these ingredients need, down through in-house ones."""
        wanted, kept = set(ingredient_ids), set()
        while wanted:
            kept |= wanted
            made = [self.nested[str(key)] for key in wanted if str(key) in self.nested]
            wanted = {int(line.ingredient) for one in made for line in one.formula.lines} - kept
        keys = {str(key) for key in kept}
        names = {self.ingredients[key].name for key in kept & self.ingredients.keys()}
        return Paper(
            ingredients={key: row for key, row in self.ingredients.items() if key in kept},
            records={key: row for key, row in self.records.items() if key in keys},
            compositions={key: one for key, one in self.compositions.items() if key in keys},
            nested={key: one for key, one in self.nested.items() if key in keys},
            nested_versions={key: one for key, one in self.nested_versions.items() if key in keys},
            differing=[name for name in self.differing if name in names],
            reasons={pair: why for pair, why in self.reasons.items() if pair[0] in keys},
        )


def gather(
    maker: Maker,
    ingredient_ids: Collection[int],
    *,
    pinned: dict[int, Composition] | None = None,
    supposed: Supposed = NOTHING_SUPPOSED,
) -> Paper:
    """Load what is on record about these ingredients. ``pinned``: compositions that lots bind, by ingredient."""
    paper = Paper()
    wanted = set(ingredient_ids)
    while wanted:
        rows = Ingredient.objects.for_maker(maker).filter(pk__in=wanted).select_related("made_from")
        found = {row.pk: row for row in rows}
        if supposed.ingredient is not None and supposed.ingredient.pk in found:
            found[supposed.ingredient.pk] = supposed.ingredient
        paper.ingredients |= found
        bought = [row for row in found.values() if row.made_from_id is None]
        load_compositions(paper, bought, pinned or {}, supposed)
        made = [row for row in found.values() if row.made_from_id is not None]
        wanted = load_nested(paper, made) - paper.ingredients.keys() if made else set()
    return paper


def load_compositions(
    paper: Paper, rows: list[Ingredient], pinned: dict[int, Composition], supposed: Supposed
) -> None:
    """Fill in the compositions of bought ingredients."""
    by_ingredient: dict[int, list[Composition]] = {}
    records = (
        Composition.objects.filter(ingredient__in=[row.pk for row in rows])
        .select_related("source")
        .prefetch_related("constituents__substance")
    )
    for record in records:
        by_ingredient.setdefault(record.ingredient_id, []).append(record)
    for row in rows:
        all_of_it = supposed.joined(row, by_ingredient.get(row.pk, []))
        pin = pinned.get(row.pk)
        chosen = in_force(all_of_it) if pin is None else next((one for one in all_of_it if one == pin), pin)
        if chosen is None:
            continue
        key = str(row.pk)
        paper.records[key] = chosen
        paper.compositions[key] = as_rule_composition(chosen, row.name)
        for part in chosen.constituents.all():
            if part.incidental:
                paper.reasons[(key, part.substance.key)] = part.incidental_reason
        newest = {}
        for record in sorted(all_of_it, key=lambda one: one.number):
            newest[record.source_id] = as_rule_composition(record, row.name).constituents
        if len({frozenset(parts) for parts in newest.values()}) > 1:
            paper.differing.append(row.name)


def load_nested(paper: Paper, made: list[Ingredient]) -> set[int]:
    """Fill in the formulas of in-house ingredients; returns the ingredients that these take."""
    formulas = {row.made_from_id for row in made}
    versions: dict[int, FormulaVersion] = {}
    rows = (
        FormulaVersion.objects.filter(formula__in=formulas)
        .exclude(state=FormulaVersion.State.WITHDRAWN)
        .select_related("formula")
        .prefetch_related("lines__ingredient", "lines__phase", "lines__leaves")
        .order_by("number")
    )
    for version in rows:
        known = versions.get(version.formula_id)
        if known is None or version.state == FormulaVersion.State.APPROVED or known.state == version.state:
            versions[version.formula_id] = version
    inner: set[int] = set()
    for row in made:
        chosen = versions.get(row.made_from_id or 0)
        if chosen is None:
            continue
        lines = list(chosen.lines.all())
        paper.nested_versions[str(row.pk)] = chosen
        paper.nested[str(row.pk)] = NestedFormula(
            key=str(row.pk),
            name=row.name,
            formula=resolve(as_rule_line(line) for line in lines),
        )
        inner |= {line.ingredient_id for line in lines}
    return inner


def use_of(version: FormulaVersion) -> ProductUse:
    """How the product of a version is used."""
    return ProductUse(kind=version.formula.kind, body_area=version.formula.body_area)


def hottest_by_phase(steps: Iterable[Step | dict[str, Any]]) -> dict[str, Decimal]:
    """The hottest temperature of the steps of each phase, by its letter; phases without one are left out."""
    found: dict[str, Decimal] = {}
    for step in steps:
        if isinstance(step, Step):
            letter = step.phase.letter if step.phase else ""
            temperatures = [step.max_c, step.target_c, step.min_c]
        else:
            letter = step.get("phase") or ""
            temperatures = [step.get("max_c"), step.get("target_c"), step.get("min_c")]
        known = [one for one in temperatures if one is not None]
        if letter and known:
            # A gate "at most" bounds what the addition meets; without one the target does.
            ceiling = temperatures[0] if temperatures[0] is not None else max(known)
            found[letter] = max(found.get(letter, ceiling), ceiling)
    return found


def levels_of(maker: Maker, ingredient_ids: Collection[int]) -> dict[str, list[UseLevelRule]]:
    """Use levels by ingredient key."""
    found: dict[str, list[UseLevelRule]] = {}
    for level in UseLevel.objects.for_maker(maker).filter(ingredient__in=ingredient_ids):
        rule = UseLevelRule(
            level.low, level.high, level.kind, level.source, level.basis, level.category, level.market
        )
        found.setdefault(str(level.ingredient_id), []).append(rule)
    return found


@dataclass(frozen=True, slots=True)
class Known:
    """What is on record about many formulas' ingredients, loaded once for reviews that are made together.

    markets: where the products in use of each formula are sold, by the formula's key; one that says no market is
    sold wherever the maker sells.
    """

    paper: Paper
    levels: dict[str, list[UseLevelRule]]
    markets: dict[int, frozenset[str]] = field(default_factory=dict)


def known_of(
    maker: Maker, ingredient_ids: Collection[int], *, supposed: Supposed = NOTHING_SUPPOSED
) -> Known:
    """Load it, with what is supposed in place of what is on record."""
    paper = gather(maker, ingredient_ids, supposed=supposed)
    levels = levels_of(maker, set(paper.ingredients))
    if supposed.levels is not None:
        key, rules = supposed.levels
        levels[key] = list(rules)
    return Known(paper, levels, markets_of(maker))


def markets_of(maker: Maker) -> dict[int, frozenset[str]]:
    """The markets of the products in use, by the key of their formula; a formula without a product isn't there."""
    found: dict[int, frozenset[str]] = {}
    products = Product.objects.for_maker(maker).filter(active=True)
    for formula, markets in products.values_list("formula_id", "markets"):
        found[formula] = found.get(formula, frozenset()) | frozenset(markets or maker.markets)
    return found


def heat_of(ingredients: Iterable[Ingredient]) -> dict[str, HeatFact]:
    """Heat limits by ingredient key, with what each rests on."""
    found = {}
    for row in ingredients:
        if row.add_below_c is not None:
            fact = row.facts.get("add_below_c", {})
            found[str(row.pk)] = HeatFact(row.add_below_c, fact.get("source", ""), fact.get("basis", MEMORY))
    return found


FACT_FIELDS = (
    "form", "soluble_in", "solubility_note", "density_g_ml", "density_kind", "melting_low_c", "melting_high_c",
    "ph_low", "ph_high", "dietary_source", "hlb", "hlb_required",
)  # fmt: skip


def facts_of(row: Ingredient, composition: composition_rules.Composition | None) -> IngredientFacts:
    """What is on record about an ingredient, as the rules take it."""
    declared = [] if composition is None else [p for p in composition.constituents if p.kind == "declared"]
    return IngredientFacts(
        name=row.name,
        roles=frozenset(row.roles),
        substance=declared[0].substance if len(declared) == 1 else "",
        sources={field: fact.get("source", "") for field, fact in row.facts.items()},
        bases={field: fact.get("basis", MEMORY) for field, fact in row.facts.items()},
        **{field: getattr(row, field) for field in FACT_FIELDS},
    )


def as_rule_step(step: Step | dict[str, Any], number: int) -> StepFacts:
    """A step, stored or just typed, as the rules take it."""
    if isinstance(step, Step):
        letter = step.phase.letter if step.phase else ""
        return StepFacts(number, step.text, letter, step.target_c, step.min_c, step.max_c, step.minutes)
    return StepFacts(
        number,
        step.get("text") or "",
        step.get("phase") or "",
        step.get("target_c"),
        step.get("min_c"),
        step.get("max_c"),
        step.get("minutes"),
    )


def as_rule_scale(scale: Scale) -> ScaleFacts:
    """A scale as the rules take it."""
    return ScaleFacts(scale.name, scale.readability_g, scale.capacity_g, scale.repeatability_g)


def for_review(
    maker: Maker,
    version: FormulaVersion,
    lines: list[FormulaLine],
    phase_of: dict[str, str],
    steps: Iterable[Step | dict[str, Any]],
    *,
    on: date | None,
    mass_g: Decimal | None = None,
    scale: Scale | None = None,
    known: Known | None = None,
) -> tuple[FormulaForReview, Paper]:
    """What the review asks of these lines, stored or just typed. ``phase_of``: letter by line key.

    known: what was loaded for several reviews; otherwise it is loaded here.
    """
    steps = list(steps)
    ids = {int(line.ingredient) for line in lines}
    known = known or known_of(maker, ids)
    paper = known.paper.only(ids)
    hottest = hottest_by_phase(steps)
    formula = version.formula
    asked = FormulaForReview(
        lines=tuple(lines),
        use=use_of(version),
        compositions=paper.compositions,
        nested=paper.nested,
        use_levels=told_by_market(known.levels, known.markets.get(formula.pk) or maker.markets),
        heat=heat_of(paper.ingredients.values()),
        facts={
            str(pk): facts_of(row, paper.compositions.get(str(pk))) for pk, row in paper.ingredients.items()
        },
        step_c={key: hottest[letter] for key, letter in phase_of.items() if letter in hottest},
        phase_of=dict(phase_of),
        steps=tuple(as_rule_step(step, number) for number, step in enumerate(steps, start=1)),
        scented=frozenset(str(row.pk) for row in paper.ingredients.values() if row.is_perfume),
        form=formula.form,
        sold=formula.form in PARTS and formula.pk in known.markets,
        used_in_water=formula.used_in_water,
        ph_low=version.ph_low,
        ph_high=version.ph_high,
        perfume_category=formula.perfume_category,
        mass_g=mass_g,
        scale=as_rule_scale(scale) if scale else None,
        on=on,
    )
    return asked, paper
