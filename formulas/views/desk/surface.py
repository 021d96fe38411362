"""What the desk shows of its lines: percent, grams, cost and findings, by phase and in all."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from babel.numbers import get_currency_precision, get_currency_symbol

from formulas.actions.formulas import Reviewed
from formulas.assembly import as_rule_line
from formulas.costs import PricePerGram, price_per_gram
from formulas.forms.formulas import LineForm
from formulas.models import FormulaVersion, Ingredient, Line
from formulas.rules.findings import Finding
from formulas.rules.percent import FormulaLine, grams
from formulas.views.desk.rows import letter_of
from formulas.views.versions import stored_lines
from makers.forms.locale import current_mark
from makers.models import Maker, Scale
from makers.rules import display

NO_SCALE_STEP = Decimal("0.0001")
"""Grams to which a batch is shared out where no scale is chosen."""


@dataclass(slots=True)
class DeskLine:
    """A line as the desk shows it. line, ingredient: None while nobody knows what the name typed means."""

    phase: str
    name: str
    kind: str
    form: LineForm | None
    line: FormulaLine | None = None
    ingredient: Ingredient | None = None
    number: int = 0
    purpose: str = ""
    strained: bool = False
    percent: Decimal | None = None
    grams: Decimal | None = None
    grams_high: Decimal | None = None
    cost: Fraction | None = None
    cost_text: str = ""
    price: PricePerGram | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def key(self) -> str:
        """Under which the page knows the row."""
        return self.form.prefix or "" if self.form is not None else f"row-{self.number}"

    @property
    def index(self) -> str:
        """The number that its fields carry."""
        return self.key.rpartition("-")[2]

    @property
    def stops(self) -> bool:
        """Something stops here."""
        return any(one.severity == "stop" for one in self.findings)

    @property
    def lacks_share(self) -> bool:
        """Nobody knows yet how much of the 100 it takes, nor so what is left for the line "to 100"."""
        if self.kind == Line.Kind.ADJUST:
            return False
        return self.line is None or (self.kind == Line.Kind.PERCENT and self.line.percent is None)


def stored_desk_lines(version: FormulaVersion, forms: list[LineForm]) -> list[DeskLine]:
    """Stored lines, each with its form where there is one."""
    return [
        desk_line(line, line.phase.letter, forms[index] if index < len(forms) else None, as_rule_line(line))
        for index, line in enumerate(stored_lines(version))
    ]


def typed_lines(version: FormulaVersion, forms: list[LineForm]) -> list[DeskLine]:
    """The lines as they were typed; a name that nobody knows keeps its row."""
    lines: list[DeskLine] = []
    for form in forms:
        data = getattr(form, "cleaned_data", {})
        kind = data.get("kind") or Line.Kind.PERCENT
        if data.get("ingredient") is None:
            if form.is_bound and not form.is_empty:
                typed = {name: str(form[name].value() or "") for name in ("phase", "ingredient", "purpose")}
                name = typed["ingredient"] or "Which ingredient?"
                lines.append(DeskLine(letter_of(typed), name, kind, form, purpose=typed["purpose"]))
            continue
        record = Line(version=version, kind=kind, **{key: data.get(key) for key in TYPED if key in data})
        record.purpose = data.get("purpose") or ""
        record.percent = record.percent if kind == Line.Kind.PERCENT else None
        line = replace(as_rule_line(record), key=f"typed-{form.prefix}")
        lines.append(desk_line(record, data.get("phase") or "A", form, line))
    return lines


TYPED = ("ingredient", "percent", "adjust_low", "adjust_high", "ph_low", "ph_high", "strained", "leaves")


def desk_line(line: Line, phase: str, form: LineForm | None, rule_line: FormulaLine) -> DeskLine:
    """A line whose ingredient is known."""
    return DeskLine(
        phase,
        line.ingredient.name,
        str(line.kind),
        form,
        rule_line,
        line.ingredient,
        purpose=line.purpose,
        strained=bool(line.strained),
    )


@dataclass(slots=True)
class Cost:
    """What lines cost together. amount: of those with a price; lacking: why the others have none."""

    amount: Fraction = Fraction(0)
    lacking: list[PricePerGram] = field(default_factory=list)

    def take(self, line: DeskLine) -> None:
        """Add a line; what is added as needed stands outside the batch, as its grams do."""
        if line.kind == Line.Kind.ADJUST or line.grams is None:
            return
        if line.cost is None:
            if line.price is not None:
                self.lacking.append(line.price)
        else:
            self.amount += line.cost


@dataclass(slots=True)
class Phase:
    """A phase with its sums. percent: None while that of one of its lines is not known."""

    letter: str
    name: str
    lines: list[DeskLine] = field(default_factory=list)
    percent: Decimal | None = Decimal(0)
    grams: Decimal = Decimal(0)
    cost: Cost = field(default_factory=Cost)
    cost_text: str = ""

    def take(self, line: DeskLine, *, unknown: bool) -> None:
        """Add a line. unknown: of what is left to 100."""
        self.lines.append(line)
        if line.lacks_share or (unknown and line.kind == Line.Kind.TO_100):
            self.percent = None
        elif self.percent is not None:
            self.percent += line.percent or Decimal(0)
        if line.grams is not None and line.kind != Line.Kind.ADJUST:
            self.grams += line.grams
        self.cost.take(line)


@dataclass(slots=True)
class Surface:
    """The lines of a version at one mass, on one scale, at the prices of one day."""

    phases: list[Phase]
    cost: Cost
    mass: Decimal | None
    currency: str

    @property
    def lines(self) -> Iterable[DeskLine]:
        """Every line, in the order shown."""
        return (line for phase in self.phases for line in phase.lines)

    @property
    def lacks_share(self) -> bool:
        """A line's share is not known, so neither is the total."""
        return any(line.lacks_share for line in self.lines)

    @property
    def grams(self) -> Decimal:
        """What the lines weigh together: the batch, in whole steps of the scale."""
        return sum((phase.grams for phase in self.phases), Decimal(0))

    @property
    def cost_text(self) -> str:
        """What the lines with a price cost together."""
        return self.money(self.cost.amount) if self.has_cost else ""

    @property
    def symbol(self) -> str:
        """The currency's sign."""
        return str(get_currency_symbol(self.currency, locale="en"))

    @property
    def has_cost(self) -> bool:
        """There is something to show in the column of cost."""
        return any(line.cost is not None for line in self.lines)

    def money(self, amount: Fraction | None) -> str:
        """An amount for a column: the decimals of the currency; what is less than one of them says so."""
        if amount is None:
            return ""
        places = get_currency_precision(self.currency)
        least = Decimal(1).scaleb(-places)
        if 0 < amount < Fraction(least) / 2:
            return f"< {display.number(least, places, mark=current_mark())}"
        rounded = Decimal(round(amount * 10**places)).scaleb(-places)
        return display.number(rounded, places, mark=current_mark())


def lay_out(
    maker: Maker,
    version: FormulaVersion,
    lines: list[DeskLine],
    reviewed: Reviewed,
    *,
    mass: Decimal | None,
    scale: Scale | None,
    on: date,
) -> Surface:
    """Fill in the lines and group them. ``lines`` stand by phase."""
    unknown = any(line.lacks_share for line in lines)
    fill_in(lines, reviewed, mass, scale, unknown=unknown)
    prices = price_per_gram(maker, {line.ingredient.pk for line in lines if line.ingredient}, on)
    for line in lines:
        if line.ingredient is not None:
            line.price = prices.get(line.ingredient.pk)
        if line.kind == Line.Kind.ADJUST or line.grams is None or line.price is None:
            continue
        if line.price.exact is not None:
            line.cost = Fraction(line.grams) * line.price.exact
    names = {phase.letter: phase.name for phase in version.phases.all()}
    groups: OrderedDict[str, Phase] = OrderedDict()
    total = Cost()
    for line in lines:
        phase = groups.setdefault(line.phase, Phase(line.phase, names.get(line.phase, "")))
        phase.take(line, unknown=unknown)
        total.take(line)
    surface = Surface(list(groups.values()), total, mass, maker.currency)
    for phase in surface.phases:
        if phase.grams and (phase.cost.amount or not phase.cost.lacking):
            phase.cost_text = surface.money(phase.cost.amount)
    for line in lines:
        line.cost_text = surface.money(line.cost)
    return surface


def fill_in(
    lines: list[DeskLine], reviewed: Reviewed, mass: Decimal | None, scale: Scale | None, *, unknown: bool
) -> None:
    """Percent, grams and findings of each line. unknown: of the total, what is left to 100 and what all weigh."""
    resolved = {line.key: line for line in reviewed.resolved.lines}
    weights = {}
    if mass and reviewed.resolved.is_complete and not unknown:
        plan = grams(reviewed.resolved, mass, scale.readability_g if scale else NO_SCALE_STEP)
        weights = {line.key: line for line in (*plan.lines, *plan.adjust)}
    for one in lines:
        if one.line is None:
            continue
        if not (unknown and one.kind == Line.Kind.TO_100):
            one.percent = resolved[one.line.key].percent
        if one.line.key in weights:
            one.grams = weights[one.line.key].low_g
            one.grams_high = weights[one.line.key].high_g
        one.findings = tuple(
            finding
            for finding in reviewed.findings
            if one.line.key in finding.lines and finding.severity != "note"
        )


def materials(surface: Surface) -> dict[str, Any]:
    """What the batch's materials cost, in all and for a kilogram, as the page says it; empty where nothing is known."""
    cost, mass = surface.cost, surface.mass
    if not surface.has_cost or not mass:
        return {}
    whole = not cost.lacking
    return {
        "whole": whole,
        "total": display.with_unit(surface.money(cost.amount), surface.symbol),
        "per_kg": display.with_unit(
            surface.money(cost.amount * 1000 / Fraction(surface.grams or mass)), surface.symbol
        ),
        "lacking": list({one.why: one for one in cost.lacking}.values()),
    }
