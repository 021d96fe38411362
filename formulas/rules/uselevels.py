"""Use levels: how much of an ingredient goes into this kind of product, by those who know it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from formulas.rules.findings import Finding, Severity
from formulas.rules.interval import Interval, add
from formulas.rules.number import ZERO, figure
from formulas.rules.percent import ResolvedLine
from formulas.rules.straining import Way, what_is_left
from formulas.rules.totals import NestedFormula
from formulas.rules.vocabulary import CONFIRMED, MARKET_NAMES, MEMORY, SUPPLIER

BATH = "bath"
"""A form of product, and the kind of a level that holds for it: it goes into a tub of water before the skin."""


@dataclass(frozen=True, slots=True)
class UseLevel:
    """A range for one ingredient, % of the product. kind: "any", "leave-on", "rinse-off" or "bath".

    category: of a perfume certificate, "5A" say; "" for a range that holds in every category. market: the one
    that it holds for, "" for every market. sold_there: the product is sold in that market, as far as known.
    """

    low: Decimal | None
    high: Decimal | None
    kind: str = "any"
    source: str = ""
    basis: str = MEMORY
    category: str = ""
    market: str = ""
    sold_there: bool = True

    @property
    def where(self) -> str:
        """What it holds for, to be put behind its figure: " in leave-on products in Australia"; "" for everything."""
        words = {"any": "", BATH: " in bath goods"}.get(self.kind, f" in {self.kind} products")
        if self.category:
            words += f" in product category {self.category}"
        return f"{words} in {MARKET_NAMES.get(self.market, self.market)}" if self.market else words


@dataclass(frozen=True, slots=True)
class _Use:
    """What one line of the formula brings of one ingredient, % of the product; through: the premixes passed.

    strained: it is taken out again, and percent is what may have dissolved.
    """

    line: str
    name: str
    percent: Interval
    through: tuple[str, ...] = ()
    strained: bool = False


@dataclass(frozen=True, slots=True)
class _Product:
    """What is judged: its kind, its category of perfume certificates and its form, "" where they aren't said."""

    kind: str
    category: str
    form: str


def check_use_levels(
    lines: Sequence[ResolvedLine],
    levels: Mapping[str, Sequence[UseLevel]],
    kind: str,
    nested: Mapping[str, NestedFormula] | None = None,
    category: str = "",
    form: str = "",
) -> tuple[Finding, ...]:
    """Each ingredient's percent, summed over its lines and through premixes, against its levels for the kind.

    levels, nested: by ingredient key; an ingredient in ``nested`` counts itself and what it is made from.
    An inner formula that makes less than 100 is taken as it stands. Over a level from a supplier's document
    or confirmed by the maker stops; over one that was read elsewhere or comes from memory is a caution.
    Below a level is a note. At a level passes. A level of the product's own ``category`` of perfume
    certificates wins over the general ones, and so does one for bath goods where the ``form`` is bath; a level
    of another form says nothing. Certificates of which none is for the category, or the category isn't said,
    are told with their figures: unknown, a note where the strictest is kept. Over a level of a market where the
    product isn't sold is a note.
    """
    by_ingredient: dict[str, list[_Use]] = {}
    for part in what_is_left(lines) or ():
        if part.way is not None:
            _gather(by_ingredient, part.line, part.line.key, part.way, nested or {}, ())
    found: list[Finding] = []
    product = _Product(kind, category, form)
    for ingredient, own in by_ingredient.items():
        if ingredient in levels:
            found += _judge(own, levels[ingredient], product)
    return tuple(found)


def levels_that_count(
    levels: Sequence[UseLevel], kind: str, category: str = "", form: str = ""
) -> tuple[UseLevel, ...]:
    """Those for the kind of product in the markets where it is sold: in each of them those of its category of
    perfume certificates if there are any, then of bath goods where it is one, else general."""
    sold = [level for level in levels if level.sold_there]
    product = _Product(kind, category, form)
    counts: set[UseLevel] = set()
    for market in {"", *(level.market for level in sold)}:
        counts.update(_closest([level for level in sold if level.market in {"", market}], product))
    return tuple(level for level in sold if level in counts)


def certificates_of(
    levels: Iterable[UseLevel], kind: str, form: str = "", *, but: str = ""
) -> dict[str, Decimal]:
    """The most by product category of a perfume certificate, for this kind of product, the strictest first.

    but: the product's own category, which is left out.
    """
    most: dict[str, Decimal] = {}
    for level in levels:
        name = level.category.upper()
        fits = level.sold_there and _fits(level, _Product(kind, but, form))
        if fits and name and name != but.upper() and level.high is not None:
            most[name] = min(level.high, most.get(name, level.high))
    return dict(sorted(most.items(), key=lambda each: (each[1], each[0])))


def told_by_market(
    levels: Mapping[str, Sequence[UseLevel]], markets: Collection[str]
) -> Mapping[str, Sequence[UseLevel]]:
    """The levels by ingredient key, those of a market that isn't among ``markets`` marked as not sold there.

    Where no market is known the product may be sold in any.
    """
    if not markets or not any(level.market for each in levels.values() for level in each):
        return levels
    return {
        key: [replace(level, sold_there=not level.market or level.market in markets) for level in each]
        for key, each in levels.items()
    }


def _closest(levels: Sequence[UseLevel], product: _Product) -> list[UseLevel]:
    """Those of its category, else of its form, else of its kind."""
    fitting = [level for level in levels if _fits(level, product)]
    own = [level for level in fitting if product.category and _is_of(level, product.category)]
    bath = [level for level in fitting if level.kind == BATH and not level.category]
    return own or bath or [level for level in fitting if not level.category]


def _fits(level: UseLevel, product: _Product) -> bool:
    return level.kind in {"any", product.kind} or (level.kind == BATH == product.form)


def _is_of(level: UseLevel, category: str) -> bool:
    return level.category.upper() == category.upper()


def _gather(
    found: dict[str, list[_Use]],
    line: ResolvedLine,
    top: str,
    way: Way,
    nested: Mapping[str, NestedFormula],
    path: tuple[tuple[str, str], ...],
    strained: bool = False,
) -> None:
    """Follow a line down. The path holds key and name; a formula that contains itself is told by the totals."""
    if any(key == line.ingredient for key, _ in path):
        return
    through = tuple(name for _, name in path)
    found.setdefault(line.ingredient, []).append(
        _Use(top, line.name, way.whole, through, strained or line.strained)
    )
    inner = nested.get(line.ingredient)
    for part in (what_is_left(inner.formula.lines) or ()) if inner is not None else ():
        if part.way is not None:
            deeper, taken = (*path, (line.ingredient, line.name)), strained or line.strained
            _gather(found, part.line, top, way.then(part.way), nested, deeper, taken)


def _judge(uses: Sequence[_Use], levels: Sequence[UseLevel], product: _Product) -> list[Finding]:
    """What all levels of one ingredient say."""
    percent = add(use.percent for use in uses)
    counting = levels_that_count(levels, product.kind, product.category, product.form)
    found = [said for level in counting if (said := _compare(uses, percent, level)) is not None]
    if not _is_settled(counting, product):
        found += _undecided(uses, percent, levels, product)
    elsewhere = [replace(level, sold_there=True) for level in levels if not level.sold_there]
    for level in levels_that_count(elsewhere, product.kind, product.category, product.form):
        if level.high is not None and percent.high is not None and percent.high > level.high:
            message = (
                f"{_stands(uses, percent)}; {figure(level.high)} % is the most{level.where}{_says(level)},"
            )
            cure = f"Lower it to {figure(level.high)} % before it is sold there."
            message += " where it isn’t sold."
            found.append(_finding("elsewhere", "note", uses, message, level.source, cure, level.basis))
    return found


def _is_settled(counting: Sequence[UseLevel], product: _Product) -> bool:
    """The category is said, and a most of it stands on record, or a supplier's or the maker's for every category."""
    firm = [level for level in counting if level.category or level.basis in {SUPPLIER, CONFIRMED}]
    return bool(product.category) and any(level.high is not None for level in firm)


def _compare(uses: Sequence[_Use], percent: Interval, level: UseLevel) -> Finding | None:
    low, high = percent.low or ZERO, percent.high
    if level.high is not None and high is not None and high > level.high:
        most = figure(level.high)
        message = f"{_stands(uses, percent)}; {most} % is the most{level.where}{_says(level)}."
        firm = level.basis in {SUPPLIER, CONFIRMED} and low > level.high
        severity: Severity = "stop" if firm else "caution"
        rule = "high" if low > level.high else "straddles"
        cure = f"Lower it to {most} %."
        if any(use.strained for use in uses) and low <= level.high:
            cure = f"How much of it dissolves isn't known; put in less if {most} % is to hold even when all of it does."
        return _finding(rule, severity, uses, message, level.source, cure, level.basis)
    if level.low is not None and high is not None and high < level.low:
        least = figure(level.low)
        message = (
            f"{_stands(uses, Interval.point(high))}; {least} % is the usual least{level.where}{_says(level)}."
        )
        cure = f"Raise it to {least} %, or leave it if it does its work."
        return _finding("low", "note", uses, message, level.source, cure, level.basis)
    return None


def _undecided(
    uses: Sequence[_Use], percent: Interval, levels: Sequence[UseLevel], product: _Product
) -> list[Finding]:
    """Certificates on record, and none of them is known to be for this product."""
    most = certificates_of(levels, product.kind, product.form)
    if not most or percent.high is None:
        return []
    strictest, loosest = next(iter(most.values())), list(most.values())[-1]
    allowed = [f"{figure(each)} % in product category {name}" for name, each in most.items()]
    joined = " and ".join([", ".join(allowed[:-1]), allowed[-1]] if len(allowed) > 1 else allowed)
    many = len(allowed) > 1
    names = f"the certificate{'s' * many} on record allow{'s' * (not many)} {joined}"
    category = (
        f"category {product.category.upper()} has none" if product.category else "the formula names none"
    )
    message = f"{_stands(uses, percent)}; {names}, and {category}."
    cure = "Write the product category on the formula: its certificate decides."
    if product.category:
        cure = f"Enter what the supplier’s certificate allows in product category {product.category.upper()}."
    severity: Severity = "note" if percent.high <= strictest else "unknown"
    if (percent.low or ZERO) > loosest:
        message = f"{message[:-1]}; it is over {'the most generous of them' if many else 'that'}."
        cure = f"{cure[:-1]}; {figure(loosest)} % is the most that any on record allows."
    source = "; ".join(dict.fromkeys(level.source for level in levels if level.category and level.source))
    bases = {level.basis for level in levels if level.category}
    basis = bases.pop() if len(bases) == 1 else ""
    return [_finding("category", severity, uses, message, source, cure, basis)]


def _stands(uses: Sequence[_Use], percent: Interval) -> str:
    """Name and percent, and the premixes that bring some of it."""
    by_way = tuple(dict.fromkeys(use.through[-1] for use in uses if use.through))
    way = f", with what {' and '.join(by_way)} brings" if by_way else ""
    low, high = percent.low or ZERO, percent.high or ZERO
    span = figure(high, up=True) if low == high else f"{figure(low, up=False)} to {figure(high, up=True)}"
    out = " (strained out, as far as it dissolves)" if all(use.strained for use in uses) else ""
    return f"{uses[0].name} stands at {span} %{out}{way}"


def _finding(
    rule: str, severity: Severity, uses: Sequence[_Use], message: str, source: str, cure: str, basis: str
) -> Finding:
    keys = tuple(dict.fromkeys(use.line for use in uses))
    return Finding(f"uselevels.{rule}", severity, uses[0].name, message, source, cure, basis, keys)


def _says(level: UseLevel) -> str:
    if level.basis == SUPPLIER:
        return " by the supplier's document"
    if level.basis == CONFIRMED:
        return ", as you confirmed"
    return " by common practice (from memory)" if level.basis == MEMORY else " in the source named"
