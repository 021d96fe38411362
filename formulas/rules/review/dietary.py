"""What comes from nuts, sesame, soya, wheat, milk, bees or wool: whom to tell, how, and what else would do?"""

from __future__ import annotations

from collections.abc import Sequence

from formulas.rules.dietary import DietarySource, is_conditional, sources_in, sources_of
from formulas.rules.findings import Finding, Severity
from formulas.rules.interval import add
from formulas.rules.review.asked import Asked
from formulas.rules.review.base import in_words, share_of, substances_of, total
from formulas.rules.review.parts import Part, joined, keys_of, named, parts_of, unmeasured
from formulas.rules.vocabulary import MEMORY

PRECAUTION = "a maker's precaution: cosmetics law in the EU, GB and US has no general food allergen statement"
LISTS = "lists: EU Reg. 1169/2011 Annex II; US FDA, food allergens, January 2025"
GROUND = frozenset({"powder", "granules"})
NUTS = frozenset({"tree nut", "peanut"})


def check_dietary(asked: Asked) -> Sequence[Finding]:
    """One finding for each source, down through premixes; a record that says "if" is asked of the supplier."""
    rows: dict[DietarySource, list[Part]] = {}
    perhaps: dict[DietarySource, list[Part]] = {}
    odd: list[Part] = []
    every = (*parts_of(asked), *unmeasured(asked))
    for part in sorted(every, key=lambda each: (-total([each]), each.name, each.line)):
        text = part.facts.dietary_source.strip()
        sure = dict.fromkeys(sources_of(substances_of(asked, part)))
        written = sources_in(text)
        if is_conditional(text):
            for row in written:
                if row not in sure:
                    perhaps.setdefault(row, []).append(part)
        else:
            sure |= dict.fromkeys(written)
            if text and not sure and not text.lower().startswith(("none", "no ")):
                odd.append(part)
        for row in sure:
            rows.setdefault(row, []).append(part)
    return (
        *(_certain(asked, row, parts) for row, parts in rows.items()),
        *(_perhaps(asked, row, parts) for row, parts in perhaps.items()),
        *(_unlisted(part) for part in odd),
    )


def has_sources(asked: Asked) -> bool:
    """Something in it has a source that matters to some."""
    return bool(check_dietary(asked))


def _certain(asked: Asked, row: DietarySource, parts: Sequence[Part]) -> Finding:
    """Listed as a food allergen is a caution, what matters otherwise a note."""
    ground = row.group in NUTS and any(part.facts.form in GROUND for part in parts)
    message = f"{_where(asked, parts)} {_come(parts)} from {row.name}, {row.lists}."
    if ground:
        message = f"{message[:-1]}; ground nuts stay on the skin as grains and call for an allergy note."
    if row.note:
        message = f"{message} {row.note}"
    severity: Severity = "caution" if row.is_listed else "note"
    rule = "dietary.ground_nuts" if ground else f"dietary.{row.key}"
    return _finding(rule, severity, row, message, _cure(row), parts)


def _perhaps(asked: Asked, row: DietarySource, parts: Sequence[Part]) -> Finding:
    message = f"{_where(asked, parts)} may come from {row.name}, {row.lists}."
    if row.note:
        message = f"{message} {row.note}"
    cure = f"Ask the supplier, and write the answer on the ingredient. If so: {_cure(row)}"
    return _finding(f"dietary.{row.key}_if", "note", row, message, cure, parts)


def _unlisted(part: Part) -> Finding:
    text = part.facts.dietary_source.strip()
    message = f"{part.name} ({share_of([part])}): on record as from “{text}”, which our table doesn't know."
    cure = "Decide whom to tell; the lists of food allergens of your markets say which have to be told of in food."
    basis = part.facts.bases.get("dietary_source", MEMORY)
    return Finding("dietary.other", "note", part.name, message, PRECAUTION, cure, basis, (part.line,))


def _cure(row: DietarySource) -> str:
    return f"Tell {row.concerns}: “{row.caution}” Instead: {row.instead}."


def _come(parts: Sequence[Part]) -> str:
    return "comes" if len({part.name for part in parts}) == 1 else "come"


def _shares(parts: Sequence[Part]) -> str:
    by_name: dict[str, list[Part]] = {}
    for part in parts:
        by_name.setdefault(part.name, []).append(part)
    return joined(f"{name} ({_amount(of_it)})" for name, of_it in by_name.items())


def _amount(parts: Sequence[Part]) -> str:
    if all(part.strained for part in parts):
        return f"strained out, {in_words(add(part.percent for part in parts))} left of it"
    return share_of(parts)


def _where(asked: Asked, parts: Sequence[Part]) -> str:
    """Names and percents, with the in-house ingredient that brings them."""
    by_line = {line.key: line for line in asked.resolved.lines}
    through = [part for part in parts if by_line[part.line].ingredient != part.ingredient]
    outer = sorted({by_line[part.line].name for part in through})
    return f"{_shares(parts)}{f', through {joined(outer)},' if outer else ''}"


def _finding(
    rule: str, severity: Severity, row: DietarySource, message: str, cure: str, parts: Sequence[Part]
) -> Finding:
    source = f"{PRECAUTION}; {LISTS}"
    return Finding(rule, severity, named(parts), message, source, cure, row.basis, keys_of(parts))
