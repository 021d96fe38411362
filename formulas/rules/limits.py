"""Restricted substances: the finished product against the EU annexes, summed through blends."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from formulas.rules.catalogue import substance_by_key
from formulas.rules.findings import Finding, Severity
from formulas.rules.headroom import in_full, most_that_passes
from formulas.rules.interval import Interval, add
from formulas.rules.limit_rows import LimitRow, LimitTable, eu_limits
from formulas.rules.number import ZERO, figure
from formulas.rules.totals import Contribution, Totals

EU_TABLES = "Reg (EC) 1223/2009 Annexes II to V, as held here"
PRESERVING = ("preserv", "conserv", "konserv", "antimicrob", "biocid")
"""Stems by which a use that a maker wrote counts as preserving."""


@dataclass(frozen=True, slots=True)
class ProductUse:
    """How the finished product is used.

    kind: leave-on or rinse-off. body_area: one of vocabulary.BODY_AREAS. product_type: one of
    vocabulary.PRODUCT_TYPES, "" for none of these.
    """

    kind: str
    body_area: str = "unknown"
    product_type: str = ""


@dataclass(frozen=True, slots=True)
class LimitFigure:
    """One limit beside what the product holds.

    amount: % of the product, as ``expressed_as``, None when it can't be computed. limit: the most allowed, %;
    None when not allowed at all or when the row is words only. loosest: the most allowed if the body area
    turned out otherwise; equals limit when the area is known.
    """

    group: str
    names: tuple[str, ...]
    expressed_as: str
    amount: Interval | None
    limit: Decimal | None
    loosest: Decimal | None
    row: LimitRow
    contributions: tuple[tuple[Contribution, Decimal], ...]
    is_estimated: bool

    @property
    def subject(self) -> str:
        """The names, as a list to read."""
        return " + ".join(self.names)


@dataclass(frozen=True, slots=True)
class LabelWarning:
    """Words that a limit row asks for on the label, given what is in the product."""

    substance: str
    name: str
    text: str
    source: str
    basis: str


def preserves(purpose: str) -> bool:
    """What a maker wrote that something does means that it preserves."""
    return any(stem in purpose.casefold() for stem in PRESERVING)


def limit_figures(
    totals: Totals, use: ProductUse, *, on: date | None = None, table: LimitTable | None = None
) -> tuple[LimitFigure, ...]:
    """Every limit that concerns a substance of the product, with the amount it is compared to.

    on: day of placing on the market; rows in force later are left out. None takes all rows as in force.
    """
    table = table or eu_limits()
    groups: dict[str, list[tuple[LimitRow, Contribution]]] = {}
    for contribution in _contributions(totals):
        for row in _first_of_each_group(table.by_substance.get(contribution.substance, ())):
            if _concerns(row, contribution):
                groups.setdefault(row.group, []).append((row, contribution))
                if row.mixture:
                    groups.setdefault(row.mixture, []).append((row, contribution))
    figures = []
    for group, parts in groups.items():
        rows = table.mixtures.get(group) or _rows_of_group(table, group, parts)
        figures += _figures_of_group(group, rows, parts, use, on)
    return tuple(sorted(figures, key=lambda found: (found.group, found.names)))


def check_limits(
    totals: Totals, use: ProductUse, *, on: date | None = None, table: LimitTable | None = None
) -> tuple[Finding, ...]:
    """What the EU annexes say to this product: stop over a limit or prohibited, caution where an interval
    straddles it or a row is words only, unknown where a share is missing, a note of what is not covered.

    "Exceeds" is strict and on unrounded figures; exactly at the limit passes.
    """
    table = table or eu_limits()
    found = [unknown_share(totals)] if totals.unknown else []
    for item in limit_figures(totals, use, on=on, table=table):
        found += _judge(item, use)
    found += later_rows(totals, use, on, table)
    found += [
        Finding(
            "limits.warning",
            "note",
            warning.name,
            f"With {warning.name} the label carries: “{warning.text}”.",
            source=warning.source,
            basis=warning.basis,
        )
        for warning in label_warnings(totals, use, on=on, table=table)
    ]
    found += not_covered_note(totals, table)
    return each_said_once(found)


def each_said_once(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings without those that another row says in the same words."""
    first: dict[tuple[str, str], Finding] = {}
    for one in found:
        first.setdefault((one.rule, one.message), one)
    return tuple(first.values())


def label_warnings(
    totals: Totals, use: ProductUse, *, on: date | None = None, table: LimitTable | None = None
) -> tuple[LabelWarning, ...]:
    """The warnings of all rows that apply, each text once per substance."""
    warnings = [
        LabelWarning(part.substance, part.name, row.warning, row.citation, row.basis)
        for item in limit_figures(totals, use, on=on, table=table)
        for row, part in ((item.row, part) for part, _ in item.contributions)
        if row.warning and row.status != "not allowed"
    ]
    return tuple(dict.fromkeys(warnings))


def not_covered(totals: Totals, *, table: LimitTable | None = None) -> tuple[str, ...]:
    """Names of the substances without a row in the table, in order. A perfume allergen that is known has its
    entry in Annex III: the question of perfume names it."""
    table = table or eu_limits()
    known = substance_by_key()
    return tuple(
        sorted(
            name
            for key, name in totals.names.items()
            if key not in table.by_substance and not (key in known and known[key].allergen_label)
        )
    )


def not_covered_note(totals: Totals, table: LimitTable) -> list[Finding]:
    """One note that names them all."""
    uncovered = not_covered(totals, table=table)
    if not uncovered:
        return []
    count = len(uncovered)
    message = f"{count} substance{'s' * (count > 1)} not covered by our table: {', '.join(uncovered)}."
    cure = "Have them checked against the annexes; not covered doesn't mean free."
    return [Finding("limits.not_covered", "note", "restricted substances", message, EU_TABLES, cure)]


def _contributions(totals: Totals) -> Iterable[Contribution]:
    for total in (*totals.declared, *totals.within):
        yield from total.contributions


def _concerns(row: LimitRow, contribution: Contribution) -> bool:
    """A preservative row with a counterpart for other uses leaves what clearly is such a use to it."""
    if not (row.is_preservative and row.other_use_entry):
        return True
    is_other_use = bool(contribution.purpose) and not preserves(contribution.purpose)
    return contribution.kind == "declared" and not is_other_use


def _first_of_each_group(rows: Sequence[LimitRow]) -> Iterable[LimitRow]:
    return {row.group: row for row in reversed(rows)}.values()


def _rows_of_group(
    table: LimitTable, group: str, parts: Sequence[tuple[LimitRow, Contribution]]
) -> tuple[LimitRow, ...]:
    """The rows of the group for the substances that are present."""
    keys = dict.fromkeys(part.substance for _, part in parts)
    return tuple(row for key in keys for row in table.by_substance[key] if row.group == group)


def _figures_of_group(
    group: str,
    rows: Sequence[LimitRow],
    parts: Sequence[tuple[LimitRow, Contribution]],
    use: ProductUse,
    on: date | None,
) -> list[LimitFigure]:
    in_force = [row for row in rows if _in_force(row, on)]
    if not in_force:
        return []
    fitting = _fitting(in_force, use)
    if not fitting:
        row = in_force[0]
        return [_figure(group, _as_words(row), None, None, parts)]
    limited = [row for row in fitting if row.status == "limited" and row.max_percent is not None]
    figures = [
        _figure(
            group,
            row,
            None,
            None,
            [pair for pair in parts if not row.inci or pair[1].substance == row.substance],
        )
        for row in fitting
        if row not in limited
    ]
    if limited:
        strictest = min(limited, key=lambda row: row.max_percent or ZERO)
        loosest = max(row.max_percent or ZERO for row in limited)
        figures.append(_figure(group, strictest, strictest.max_percent, loosest, parts))
    return [item for item in figures if item.contributions]


def _as_words(row: LimitRow) -> LimitRow:
    """The row as something to read: it names other products than this one."""
    named = row.scope or "other products"
    words = f"what it names are other products ({named})"
    return _replace_status(row, words)


def _replace_status(row: LimitRow, words: str) -> LimitRow:
    return replace(row, status="text only", max_percent=None, conditions=words, warning="")


def _fitting(rows: Sequence[LimitRow], use: ProductUse) -> list[LimitRow]:
    """The rows for this product: of those that fit, only the closest. An unknown body area fits every row."""
    fits = []
    for row in rows:
        kind = row.kind in {"any", use.kind}
        area = not row.areas or use.body_area in row.areas or use.body_area == "unknown"
        product_type = not row.product_types or use.product_type in row.product_types
        if kind and area and product_type:
            fits.append(_barred_by_area(row, use))
    closest: list[LimitRow] = []
    for row in fits:
        rivals = [other for other in fits if other.substance == row.substance and other.group == row.group]
        if _closeness(row, use) == max(_closeness(other, use) for other in rivals):
            closest.append(row)
    return closest


def _closeness(row: LimitRow, use: ProductUse) -> tuple[bool, bool, bool]:
    by_area = bool(row.areas) and use.body_area != "unknown"
    return bool(row.product_types), by_area, row.kind != "any" and use.body_area != "unknown"


def _barred_by_area(row: LimitRow, use: ProductUse) -> LimitRow:
    barred = {use.body_area, f"{use.kind} {use.body_area}"} & row.not_areas
    if not barred or row.status not in {"limited", "listed"}:
        return row
    return replace(row, status="not allowed", max_percent=None)


def _figure(
    group: str,
    row: LimitRow,
    limit: Decimal | None,
    loosest: Decimal | None,
    parts: Sequence[tuple[LimitRow, Contribution]],
) -> LimitFigure:
    ratios = [(part, own.molar_ratio) for own, part in parts]
    known = tuple((part, ratio) for part, ratio in ratios if ratio is not None)
    amount = add(part.amount.times(ratio) for part, ratio in known) if len(known) == len(ratios) else None
    return LimitFigure(
        group=group,
        names=tuple(dict.fromkeys(part.name for part, _ in ratios)),
        expressed_as=row.expressed_as,
        amount=amount,
        limit=limit,
        loosest=loosest,
        row=row,
        contributions=tuple((part, ratio if ratio is not None else ZERO) for part, ratio in ratios),
        is_estimated=any(part.estimated for part, _ in ratios),
    )


def _judge(item: LimitFigure, use: ProductUse) -> list[Finding]:
    row = item.row
    if row.status == "not allowed":
        return [prohibited(item, use)]
    if row.status == "listed":
        return _conditions(item, use) if row.not_areas and use.body_area == "unknown" else []
    if row.status in {"text only", "raw material", "advice"} or item.limit is None:
        return [words_to_read(item)]
    compared = _compare(item, item.limit, use)
    found = [compared] if compared is not None else []
    return [*found, *_conditions(item, use)]


def _conditions(item: LimitFigure, use: ProductUse) -> list[Finding]:
    """What a row says besides its figure. Where it names places and the product's isn't said, that is a caution."""
    row = item.row
    if not row.conditions:
        return []
    message = f"Annex {row.entry} sets conditions for {_counted(item)}: {row.conditions}."
    severity: Severity = "note"
    cure = "Hold the product and its label against these words; the figure alone doesn’t decide."
    if row.not_areas and use.body_area == "unknown":
        severity, cure = "caution", f"Say on the formula where it is used. {cure}"
    return [finding_of(item, "limits.conditions", severity, message, cure)]


def _counted(item: LimitFigure) -> str:
    """The substance with its share, where that is known: "0.4 % Triclosan"."""
    high = item.amount.high if item.amount is not None else None
    return item.subject if high is None else f"{figure(high)} % {item.subject}{as_expressed(item)}"


def _compare(item: LimitFigure, limit: Decimal, use: ProductUse) -> Finding | None:
    amount = item.amount
    if amount is None or amount.high is None:
        low = amount.low if amount is not None else None
        if low is not None and low > limit:
            return _over(item, limit, use)
        message = f"How much {item.subject} there is isn't known; {most_allowed(item, limit, use)}."
        cure = f"Ask the supplier for its share.{other_use(item)}"
        return finding_of(item, "limits.unknown", "unknown", message, cure)
    low = amount.low if amount.low is not None else ZERO
    if low > limit:
        return _over(item, limit, use)
    if amount.high > limit:
        message = f"{item.subject} lies between {figure(low, up=False)} and {figure(amount.high, up=True)} %"
        message += f" of the product{as_expressed(item)}; {most_allowed(item, limit, use)}."
        return finding_of(item, "limits.straddles", "caution", message, _cure(item, limit))
    if item.is_estimated:
        message = f"{item.subject} comes to {figure(amount.high, up=True)} %{as_expressed(item)}"
        message += f" by a typical figure; {most_allowed(item, limit, use)}."
        return finding_of(item, "limits.estimated", "note", message, "Ask the supplier for the upper end.")
    return None


def _over(item: LimitFigure, limit: Decimal, use: ProductUse) -> Finding:
    amount = item.amount or Interval(None, None)
    low, high = amount.low or ZERO, amount.high
    if high is None:
        span = f"at least {figure(low, up=True)}"
    elif low == high:
        span = figure(high)
        if Decimal(span) <= limit:
            span = f"just over {figure(limit)}"
    else:
        span = f"{figure(low, up=False)} to {figure(high, up=True)}"
        if figure(low, up=False) == figure(limit):
            span = f"over {figure(limit)}, up to {figure(high, up=True)}"
    estimated = " by a typical figure" if item.is_estimated else ""
    message = f"{item.subject} comes to {span} % of the product{as_expressed(item)}{estimated}; "
    message += f"{most_allowed(item, limit, use)}."
    sure = item.loosest is None or low > item.loosest
    return finding_of(item, "limits.over", "stop" if sure else "caution", message, _cure(item, limit))


def most_allowed(item: LimitFigure, limit: Decimal, use: ProductUse) -> str:
    """The limit with what it holds for: "1 % is the most allowed in leave-on products".

    Of several that may hold, because the body area isn't said, the strictest with the loosest beside it.
    """
    where = f" in {use.kind} products" if item.row.kind != "any" else ""
    if item.loosest is not None and item.limit is not None and item.loosest > item.limit:
        where = f" in the strictest case ({figure(item.loosest)} % in others; the body area isn't said)"
    return f"{figure(limit)} % is the most allowed{_as_preservative(item.row)}{where}"


def _as_preservative(row: LimitRow) -> str:
    return " as a preservative" if row.is_preservative and row.other_use_entry else ""


def other_use(item: LimitFigure) -> str:
    """A preservative that has an entry for other uses: what decides between the two, as a sentence more."""
    if not _as_preservative(item.row):
        return ""
    inner = [part.path[-2].name for part, _ in item.contributions if len(part.path) > 1]
    where = f"its line in {inner[0]}" if inner else "its line"
    words = f" Where it does something else, write that in “What it does here” on {where}:"
    return f"{words} then Annex {item.row.other_use_entry} holds."


def as_expressed(item: LimitFigure) -> str:
    """ " as acid", where the limit is in something else than the substance."""
    return "" if item.expressed_as in {"substance", "mixture"} else f" as {item.expressed_as}"


def _cure(item: LimitFigure, limit: Decimal) -> str:
    """The most of the one line that brings it; several lines are only named."""
    lines = dict.fromkeys(part.line for part, _ in item.contributions)
    names = list(dict.fromkeys(part.line_name for part, _ in item.contributions))
    share = item.amount.high if item.amount else None
    percent = item.contributions[0][0].line_percent.high
    if len(lines) > 1 or share is None or percent is None:
        return f"Lower {' or '.join(names)}.{other_use(item)}"
    most = most_that_passes(limit, share, percent)
    words = f"{in_full(most)} % of {names[0]} is the most that passes{_as_preservative(item.row)}."
    return f"{words}{other_use(item)}"


def prohibited(item: LimitFigure, use: ProductUse) -> Finding:
    """What isn't allowed at all, or not in this kind of product."""
    row = item.row
    where = "" if row.kind == "any" else f" in {use.kind} products"
    if row.not_areas and {use.body_area, f"{use.kind} {use.body_area}"} & row.not_areas:
        where = f" in {use.kind} products for this body area ({use.body_area})"
    words = f"; {row.conditions}" if row.conditions else ""
    message = f"{_counted(item)}: not allowed{_as_preservative(row)}{where}{words}."
    lines = " and ".join(dict.fromkeys(part.line_name for part, _ in item.contributions))
    return finding_of(
        item, "limits.prohibited", "stop", message, f"Take out {lines}, or exchange it.{other_use(item)}"
    )


def words_to_read(item: LimitFigure) -> Finding:
    """A row that no figure decides."""
    row = item.row
    if row.status == "raw material":
        message = f"Annex {row.entry} asks of the raw material {item.subject}: {row.conditions}."
        return finding_of(item, "limits.raw_material", "note", message, "Check it on the lot.")
    if row.status == "advice":
        message = f"No limit is in force for {_counted(item)}; {row.conditions}."
        return finding_of(item, "limits.advice", "note", message, "The safety assessor decides.")
    message = f"Annex {row.entry} has words for {_counted(item)}, no figure that decides: "
    message += f"{row.conditions or 'see the entry'}."
    return finding_of(item, "limits.read", "caution", message, "Read the entry and decide.")


def finding_of(item: LimitFigure, rule: str, severity: Severity, message: str, cure: str = "") -> Finding:
    """A finding about a limit, with its citation, how both sides are known, and the lines that bring it."""
    bases = dict.fromkeys(part.basis for part, _ in item.contributions)
    return Finding(
        rule=rule,
        severity=severity,
        subject=item.subject,
        message=message,
        source=item.row.citation,
        cure=cure,
        basis=", ".join([f"limit {item.row.basis}", *(f"composition {basis}" for basis in bases)]),
        lines=tuple(dict.fromkeys(part.line for part, _ in item.contributions)),
    )


def unknown_share(totals: Totals, whole: str = "the product") -> Finding:
    """One finding for everything that could hide a restricted substance. whole: what the percents are of."""
    parts = []
    for share in totals.unknown:
        high = share.percent.high
        size = f"{figure(high)} % of {whole}" if high is not None else "an unknown share"
        names = dict.fromkeys([share.line_name, *(step.said for step in share.path)])
        parts.append(f"{size} from {' → '.join(names)}")
    message = f"No limit can be checked for {'; '.join(parts)}."
    return Finding(
        "limits.missing",
        "unknown",
        "restricted substances",
        message,
        source=EU_TABLES,
        cure="Enter the composition from the supplier's sheet.",
        lines=tuple(dict.fromkeys(share.line for share in totals.unknown)),
    )


def _in_force(row: LimitRow, on: date | None) -> bool:
    return on is None or row.placing_from is None or row.placing_from <= on


def later_rows(totals: Totals, use: ProductUse, on: date | None, table: LimitTable) -> list[Finding]:
    """Rows that hold for this product from a later day; one word where only other kinds of product are known."""
    found = []
    for key, name in totals.names.items():
        later = [row for row in table.by_substance.get(key, ()) if not _in_force(row, on)]
        fitting = _fitting(later, use)
        if later and not fitting:
            row = later[0]
            message = (
                f"{name}: from {row.placing_from}, Annex {row.entry} limits it by kind of product; "
                "our table has no figure for this kind."
            )
            cure = "Look it up in the act before that day."
            found.append(Finding("limits.later", "note", name, message, row.citation, cure, row.basis))
        for row in fitting:
            limit = f"{figure(row.max_percent)} %" if row.max_percent is not None else row.conditions
            if row.status == "not allowed":
                limit = "not allowed"
            message = f"{name}: from {row.placing_from}, Annex {row.entry} ({row.scope or 'all'}): {limit}."
            found.append(Finding("limits.later", "note", name, message, row.citation, basis=row.basis))
    return found
