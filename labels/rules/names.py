"""What a substance is called in a market."""

from __future__ import annotations

import re
from dataclasses import dataclass

from formulas.rules.catalogue import colourants
from formulas.rules.vocabulary import MEMORY
from labels.rules.amounts import DeclaredAmount
from labels.rules.facts import Fact, is_memory
from labels.rules.tables import UsName, eu_not_colourants, us_names

PARFUM, AROMA = "Parfum", "Aroma"
FRAGRANCE, FLAVOR = "Fragrance", "Flavor"

US_NAMES_SOURCE = "21 CFR 701.3(c), (e)"
US_COLOUR_SOURCE = "FD&C Act 601(e), 721; 21 CFR 73, 74"

LATIN_ONLY = "a plant's Latin name alone is refused in the US; its English common name stands in brackets"

_CI = re.compile(r"CI\s*(\d{5})(:\d)?$", re.IGNORECASE)
_PLANT_PRODUCTS = ("oil", "extract", "butter", "powder", "wax", "cera", "juice", "water", "flour", "starch")
_PLANT_WORDS = frozenset((*_PLANT_PRODUCTS, "absolute", "resin", "hydrosol", "seed", "leaf"))
_NOT_PLANTS = ("hydrogenated", "hydrolyzed", "peg", "sodium", "potassium", "polyglyceryl")


@dataclass(frozen=True, slots=True)
class PrintedName:
    """A name for one market.

    fact: what the maker is asked to confirm where it is known from memory alone. problem: why the name
    can't be printed as it is, "" if it can; barred: no cure but another material. note: worth knowing.
    """

    text: str
    source: str
    fact: Fact | None = None
    problem: str = ""
    barred: bool = False
    note: str = ""


def is_eu_colourant(amount: DeclaredAmount) -> bool:
    """Used as a colour and not one of the materials (mica, tin oxide) that Annex IV doesn't hold."""
    names = eu_not_colourants()
    plain = {name.casefold() for name in names.values()}
    name = _ci(amount.eu_name) or amount.eu_name
    return amount.is_colourant and name not in names and name.casefold() not in plain


def eu_name(amount: DeclaredAmount) -> PrintedName:
    """The name in the EU and Great Britain: CI number for colours, Parfum or Aroma for what scents.

    Annex IV names without a number (Caramel, Beetroot Red) stay words. A colour of neither kind is
    reported as a problem.
    """
    act = "Reg (EC) 1223/2009 Art. 19(1)(g)"
    if amount.is_perfume:
        return PrintedName(PARFUM, act)
    if amount.is_flavour:
        return PrintedName(AROMA, act)
    name = amount.eu_name.strip()
    number = _ci(name)
    if number in eu_not_colourants():
        name = eu_not_colourants()[number]
    elif is_eu_colourant(amount):
        return _eu_colour(amount, number or _number_of(name) or name)
    elif number:
        row = us_entry(number)
        name = row.name if row is not None and row.name and _number_of(row.name) else number
    if not name:
        return PrintedName("", act, problem="it has no INCI name yet")
    fact = None
    if is_memory(amount.basis):
        text = f"{name} is the INCI name of what is in the product."
        fact = Fact(f"eu-name:{amount.substance}"[:160], text, "CosIng, the EU glossary (Art. 33)")
    return PrintedName(name + (" (nano)" if amount.nano else ""), act, fact)


def _eu_colour(amount: DeclaredAmount, name: str) -> PrintedName:
    source = "Reg (EC) 1223/2009 Art. 19(1)(g), Annex IV"
    printed = name + (" (nano)" if amount.nano else "")
    known = {row.name.casefold() for row in colourants()}
    if name.casefold() in known:
        return PrintedName(printed, source)
    base = name.split(":")[0]
    if _ci(name) and base.casefold() in known:
        return PrintedName(printed, source, note=f"{base} is held by its main number")
    return PrintedName(printed, source, problem="it isn't in our copy of Annex IV, the colours the EU allows")


def us_entry(name: str) -> UsName | None:
    """The row for an EU label name; a CI number is found however it is spaced."""
    return us_names().get(_ci(name) or name.strip())


def us_name(amount: DeclaredAmount) -> PrintedName:
    """The name in the US: Fragrance, Flavor, the colour's US name, else the substance's own US name.

    The reference table goes before the record's name for colours, and after it for everything else. Where
    neither holds one, a chemical name is taken to be the same in both markets, to be confirmed; a name that
    looks like a plant's is a problem until its US form is given.
    """
    if amount.is_perfume:
        return PrintedName(FRAGRANCE, "21 CFR 701.3(a)")
    if amount.is_flavour:
        return PrintedName(FLAVOR, "21 CFR 701.3(a)")
    row = us_entry(amount.eu_name)
    if amount.is_colourant:
        return _us_colour(amount, row)
    if row is not None and not row.is_colour and amount.us_name.strip() in ("", row.name):
        return PrintedName(row.name, US_NAMES_SOURCE, _us_fact(amount, row.name, row.is_from_memory))
    if amount.us_name.strip():
        name = amount.us_name.strip()
        from_memory = is_memory(amount.us_name_basis) or not amount.us_name_basis
        note = LATIN_ONLY if from_memory and looks_botanical(name) else ""
        return PrintedName(name, US_NAMES_SOURCE, _us_fact(amount, name, from_memory), note=note)
    if row is not None and row.name:
        return PrintedName(row.name, US_NAMES_SOURCE, _us_fact(amount, row.name, from_memory=True))
    name = amount.eu_name.strip()
    if not name or looks_botanical(name) or _ci(name):
        why = "no US name is on record; a plant is printed as Latin (Common) Part"
        return PrintedName(name, US_NAMES_SOURCE, problem=why)
    return PrintedName(name, US_NAMES_SOURCE, _us_fact(amount, name, from_memory=True))


def looks_botanical(name: str) -> bool:
    """Three words or more, the last a part or product of a plant, and no common name in brackets."""
    words = name.replace("/", " ").split()
    return (
        len(words) >= 3
        and words[-1].casefold() in _PLANT_WORDS
        and "(" not in name
        and not words[0].casefold().startswith(_NOT_PLANTS)
    )


def _us_colour(amount: DeclaredAmount, row: UsName | None) -> PrintedName:
    own = amount.us_name.strip()
    if row is None and (_ci(amount.eu_name) or not own):
        by_name = next((known for known in us_names().values() if known.name == amount.eu_name), None)
        if by_name is None or not by_name.is_colour:
            why = "no US colour additive is on record for it"
            return PrintedName(own or amount.eu_name, US_COLOUR_SOURCE, problem=why)
        row = by_name
    if row is None:
        return PrintedName(own, US_COLOUR_SOURCE, _us_fact(amount, own, from_memory=True))
    if not row.name or row.permitted in ("no", "only for a non-colour function"):
        return PrintedName(
            own or row.name or amount.eu_name,
            US_COLOUR_SOURCE,
            problem=f"it isn't a colour for US cosmetics ({row.note or row.permitted})",
            barred=True,
        )
    section = f"21 CFR {row.section}" if row.section else US_COLOUR_SOURCE
    limited = row.permitted == "limited" or "LIMIT" in row.note or row.batch_certified
    return PrintedName(
        row.name,
        section,
        _us_fact(amount, row.name, row.is_from_memory),
        note=row.note if limited else "",
    )


def _us_fact(amount: DeclaredAmount, name: str, from_memory: bool) -> Fact | None:
    if not from_memory:
        return None
    text = f"{amount.eu_name} is printed as {name} in the US."
    return Fact(f"us-name:{amount.substance}"[:160], text, US_NAMES_SOURCE)


def composition_facts(amounts: tuple[DeclaredAmount, ...]) -> tuple[Fact, ...]:
    """One fact for each ingredient whose composition is known from memory alone."""
    found: dict[str, Fact] = {}
    for amount in amounts:
        for part in amount.contributions:
            if part.basis == MEMORY:
                text = f"What {part.ingredient} is made of is as the record says."
                key = f"composition:{part.ingredient}"[:160]
                found[key] = Fact(key, text, "the supplier's composition sheet")
    return tuple(found[key] for key in sorted(found))


def _number_of(name: str) -> str:
    """The one CI number that a colour's plain name stands for, "" for none or several."""
    numbers = {row.eu_name for row in us_names().values() if row.name == name and _ci(row.eu_name)}
    return numbers.pop() if len(numbers) == 1 else ""


def _ci(name: str) -> str:
    """A Colour Index number in its usual form, "" for any other name."""
    match = _CI.match(name.strip())
    return f"CI {match[1]}{match[2] or ''}" if match else ""
