"""What a review knows of a formula, and what one question of it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from formulas.rules.composition import Composition
from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, ResolvedFormula, resolve
from formulas.rules.totals import NestedFormula, Totals, substance_totals
from formulas.rules.uselevels import UseLevel
from formulas.rules.vocabulary import MEMORY

UNKNOWN = "unknown"
PARTS = frozenset({"premix", "infusion"})
"""Forms that go into products and are none themselves, unless they are sold as well."""


@dataclass(frozen=True, slots=True)
class HeatFact:
    """An ingredient that bears no more heat than ``add_below_c``, which is included."""

    add_below_c: Decimal
    source: str = ""
    basis: str = MEMORY


@dataclass(frozen=True, slots=True)
class IngredientFacts:
    """What is on record about an ingredient beyond its composition; None and "unknown" mean not known.

    roles, form, soluble_in: words of the closed lists. Densities in g/ml, temperatures in degrees Celsius.
    substance: key of the one substance it is, where its composition says a single one; "" otherwise.
    hlb: of an emulsifier; hlb_required: of an oil-phase material. dietary_source: "almond" say, "" for none
    on record. sources, bases: by field name, where the figure is from and how it is known.
    """

    name: str
    roles: frozenset[str] = frozenset()
    form: str = UNKNOWN
    soluble_in: str = UNKNOWN
    solubility_note: str = ""
    density_g_ml: Decimal | None = None
    density_kind: str = ""
    melting_low_c: Decimal | None = None
    melting_high_c: Decimal | None = None
    ph_low: Decimal | None = None
    ph_high: Decimal | None = None
    dietary_source: str = ""
    hlb: Decimal | None = None
    hlb_required: Decimal | None = None
    substance: str = ""
    sources: Mapping[str, str] = field(default_factory=dict, hash=False)
    bases: Mapping[str, str] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class StepFacts:
    """One step in its order. Temperatures in degrees Celsius; phase: its letter, "" for none."""

    number: int
    text: str
    phase: str = ""
    target_c: Decimal | None = None
    min_c: Decimal | None = None
    max_c: Decimal | None = None
    minutes: int | None = None

    @property
    def ceiling_c(self) -> Decimal | None:
        """The hottest that the step allows: its upper bound, else the target; None where it names neither."""
        if self.max_c is not None or self.target_c is None:
            return self.max_c
        return self.target_c if self.min_c is None else max(self.target_c, self.min_c)

    @property
    def meant_c(self) -> Decimal | None:
        """The heat it is meant to have: its target, else the most it allows, else the least."""
        known = (one for one in (self.target_c, self.ceiling_c, self.min_c) if one is not None)
        return next(known, None)

    @property
    def is_open(self) -> bool:
        """It names a least heat and neither a target nor a most."""
        return self.min_c is not None and self.ceiling_c is None


@dataclass(frozen=True, slots=True)
class ScaleFacts:
    """The scale a batch is weighed on, all in grams. repeatability_g: standard deviation, None if unknown."""

    name: str
    readability_g: Decimal
    capacity_g: Decimal | None = None
    repeatability_g: Decimal | None = None


@dataclass(frozen=True, slots=True)
class FormulaForReview:
    """Everything the review needs to know.

    compositions, nested, use_levels, heat, facts: by ingredient key, in-house ingredients and what they are
    made from included. step_c: by line key, the hottest temperature (degrees Celsius) of the step it goes in
    at, the least where that step names nothing else; a line without a step or temperature is left out.
    phase_of: phase letter by line key. scented: keys of ingredients that are perfume or essential oil, so that
    missing allergens count. form: what it is made as. sold: a product is made by it, whatever its form, so that
    it is judged as one.
    ph_low, ph_high: the pH it is made to. perfume_category: the product category of perfume certificates.
    mass_g, scale: the batch looked at, if one is.
    """

    lines: tuple[FormulaLine, ...]
    use: ProductUse
    compositions: Mapping[str, Composition] = field(default_factory=dict)
    nested: Mapping[str, NestedFormula] = field(default_factory=dict)
    use_levels: Mapping[str, Sequence[UseLevel]] = field(default_factory=dict)
    heat: Mapping[str, HeatFact] = field(default_factory=dict)
    facts: Mapping[str, IngredientFacts] = field(default_factory=dict)
    step_c: Mapping[str, Decimal] = field(default_factory=dict)
    phase_of: Mapping[str, str] = field(default_factory=dict)
    steps: tuple[StepFacts, ...] = ()
    scented: frozenset[str] = frozenset()
    form: str = "other"
    sold: bool = False
    used_in_water: bool = False
    ph_low: Decimal | None = None
    ph_high: Decimal | None = None
    perfume_category: str = ""
    mass_g: Decimal | None = None
    scale: ScaleFacts | None = None
    on: date | None = None

    @property
    def is_part(self) -> bool:
        """It goes into products and is none: what is of the finished product is judged where it goes in."""
        return self.form in PARTS and not self.sold


@dataclass(frozen=True, slots=True)
class Asked:
    """A formula with its percents resolved and its substances summed: what each question looks at."""

    formula: FormulaForReview
    resolved: ResolvedFormula
    totals: Totals

    def facts_of(self, ingredient: str, name: str = "") -> IngredientFacts:
        """What is on record about an ingredient; everything unknown where nothing is."""
        return self.formula.facts.get(ingredient) or IngredientFacts(name or ingredient)


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the review. title: as the review lists it when nothing speaks against it.

    applies: whether the formula gives it anything to look at; a question that doesn't isn't listed as passed.
    """

    key: str
    title: str
    check: Callable[[Asked], Sequence[Finding]]
    applies: Callable[[Asked], bool] = lambda _: True


def prepare(formula: FormulaForReview) -> Asked:
    """Resolve and sum once for all questions. Raises FormulaCycle when a formula contains itself."""
    resolved = resolve(formula.lines)
    return Asked(formula, resolved, substance_totals(resolved.lines, formula.compositions, formula.nested))
