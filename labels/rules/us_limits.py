"""What the United States bar or bound: the few substances of 21 CFR 250 and 700, and where a colour may go.

Rows that were not read in a source are a caution at most: a fact from memory stops nothing by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from formulas.rules.composition import substance_key
from formulas.rules.findings import Finding, Severity
from formulas.rules.headroom import in_full, most_that_passes
from formulas.rules.interval import Interval
from formulas.rules.number import HUNDRED, ONE, exact_product, figure
from formulas.rules.totals import Totals
from formulas.rules.vocabulary import MEMORY
from labels.rules.amounts import DeclaredAmount
from labels.rules.names import us_entry
from labels.rules.tables import DATA, UsName
from makers.rules.tables import read_rows

EYES, LIPS, UNKNOWN = "eyes", "lips", "unknown"
COLOUR_PLACES = "21 CFR 73 and 74, where a colour may be used"


@dataclass(frozen=True, slots=True)
class UsRow:
    """One substance. status: prohibited, limited, asked (a figure of the supplier's) or claim.

    max_percent: of the product; ratio: of the substance to what the limit is expressed in. area: "eyes" where it
    is allowed there alone, "not lips" where it isn't there, "" for everywhere.
    """

    inci_name: str
    status: str
    max_percent: Decimal | None
    ratio: Decimal | None
    area: str
    words: str
    citation: str
    source: str
    basis: str


@cache
def us_restricted() -> Mapping[str, UsRow]:
    """The rows of data/us_restricted.csv by substance key."""
    return {substance_key(row.inci_name): row for row in read_rows(DATA / "us_restricted.csv", UsRow)}


def check_us_limits(totals: Totals, body_area: str, part: str = "") -> tuple[Finding, ...]:
    """Every substance of the product that the table holds. body_area: eyes, lips, face and so on, or unknown.

    part: "premix" or "infusion" for what goes into products and is none: what is prohibited everywhere stops
    there too, and of a limit it is said how much of it a product may hold.
    """
    found = []
    for key, name in sorted(totals.names.items(), key=lambda pair: pair[1]):
        row, percent = us_restricted().get(key), totals.amount_of(key)
        if row is not None and percent is not None:
            found += _judge(row, name, percent, body_area, part)
    return tuple(found)


def _judge(row: UsRow, name: str, percent: Interval, body_area: str, part: str) -> list[Finding]:
    if row.status in {"asked", "claim"}:
        severity: Severity = "caution" if row.status == "asked" else "note"
        amount = "" if percent.high is None else f"{figure(percent.high, up=True)} % "
        cure = (
            "Ask the supplier for the figure."
            if row.status == "asked"
            else "Claim no protection from the sun."
        )
        message = f"{amount}{name}, sold in the US: {row.words}."
        return [_finding(row, f"us.{row.status}", severity, message, cure)]
    words = f" ({row.words})" if row.words else ""
    bars = row.status == "prohibited" or (row.area == EYES and body_area not in {EYES, UNKNOWN})
    if bars or (row.area == "not lips" and body_area == LIPS):
        if part and row.status != "prohibited":
            where = "around the eyes alone" if row.area == EYES else "anywhere but on the lips"
            message = f"{name} is allowed {where} in the US: this {part} can go into no other product{words}."
            cure = "Keep it to such products, or take something else."
            return [_finding(row, "us.part_barred", "caution", message, cure)]
        where = " there" if row.status != "prohibited" else ""
        message = f"{name} is prohibited{where} in cosmetics of the US{words}."
        return [_finding(row, "us.prohibited", _stops(row), message, "Leave it out, or sell it elsewhere.")]
    if row.max_percent is None:
        return []
    low, high = (
        None if end is None else exact_product(end, row.ratio or ONE) for end in (percent.low, percent.high)
    )
    if part:
        return _room(row, name, high, row.max_percent, part)
    if high is not None and high <= row.max_percent:
        message = f"{name} is within the {figure(row.max_percent)} % of the US{words}."
        return [_finding(row, "us.within", "note", message)]
    over = low is not None and low > row.max_percent
    ends = "an unknown share" if high is None else f"{figure(high, up=True)} %"
    up_to = "up to " * (high is not None and low != high)
    message = f"{name} comes to {up_to}{ends}; {figure(row.max_percent)} % is the most in the US{words}."
    cure = "Lower it, or ask for its figure."
    return [_finding(row, "us.over", _stops(row) if over else "caution", message, cure)]


def _room(row: UsRow, name: str, high: Decimal | None, limit: Decimal, part: str) -> list[Finding]:
    """How much of a premix or infusion a product of the US may hold until the limit is reached."""
    words = f" ({row.words})" if row.words else ""
    if high is None:
        message = (
            f"How much {name} there is in this {part} isn't known; {figure(limit)} % is the most in the US"
        )
        return [_finding(row, "us.part", "caution", f"{message}{words}.", "Ask the supplier for its share.")]
    if high <= limit:
        return []
    most = in_full(most_that_passes(limit, high, HUNDRED))
    message = (
        f"{name} comes to {figure(high, up=True)} % of this {part}; {figure(limit)} % is the most in the US:"
    )
    message += f" a product may hold {most} % of this {part} at most{words}."
    return [_finding(row, "us.part", "note", message, "Less, where the product has it from elsewhere too.")]


def check_us_colours(
    amounts: Iterable[DeclaredAmount], body_area: str, part: str = ""
) -> tuple[Finding, ...]:
    """Each colour against the places where the US allow it: the eye area, the lips and mouth, the outside.

    part: "premix" or "infusion", for which no place stops: the product that it goes into is asked.
    """
    found = []
    for amount in amounts:
        row = us_entry(amount.eu_name) if amount.is_colourant else None
        if row is None or not row.is_colour or row.permitted == "no":
            continue
        barred = _barred(row, body_area)
        if barred:
            said = f"{row.name} is not a colour for {barred} in the US."
            remembered = row.is_from_memory or "use columns from memory" in row.note
            severity: Severity = "caution" if remembered or part or body_area == UNKNOWN else "stop"
            cure = "Say where the product is used, or take another colour."
            basis = MEMORY if remembered else row.basis
            found.append(Finding("us.colour", severity, row.name, said, COLOUR_PLACES, cure, basis))
    return tuple(dict.fromkeys(found))


def _barred(row: UsName, body_area: str) -> str:
    """The places among those of the product where a colour isn't allowed, in words."""
    places = {EYES: (("the eye area", row.eye_area),), LIPS: (("the lips", row.lips),)}
    both = (*places[EYES], *places[LIPS])
    asked = both if body_area == UNKNOWN else places.get(body_area, ())
    return " or ".join(words for words, answer in asked if answer == "no")


def _stops(row: UsRow) -> Severity:
    return "caution" if row.basis == MEMORY else "stop"


def _finding(row: UsRow, rule: str, severity: Severity, message: str, cure: str = "") -> Finding:
    return Finding(rule, severity, row.inci_name, message, f"{row.citation}; {row.source}", cure, row.basis)
