"""What a label must show in a market, and what of it is missing.

A list that helps not to forget: the law of the country and a qualified assessor decide.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from labels.rules.cautions import Caution, says
from labels.rules.durability import Durability
from labels.rules.entries import Declaration
from labels.rules.quantity import NetQuantity
from labels.rules.tables import market_countries

State = Literal["present", "missing", "unknown", "not needed"]

REGULATION = "Reg (EC) 1223/2009"
GB_EASEMENT_TO = date(2027, 12, 31)
"""Last day on which EU particulars may stand in for those of the UK responsible person (computed)."""

_ZIP = re.compile(r"\b[A-Z]{2}\s+\d{5}(-\d{4})?\b")
_US_PHONE = re.compile(r"\+?1?[\s.(-]*[2-9]\d{2}[\s.)-]*\d{3}[\s.-]*\d{4}$")


@dataclass(frozen=True, slots=True)
class LabelTexts:
    """All that a label says, and what is needed to judge it.

    country, made_in: ISO codes of the maker's address and of where the product is made ("" = not said).
    responsible_*: who answers for it in this market where that isn't the maker. label_text: every word of
    the cautions and directions as printed. judged_cautions: keys of conditional cautions that the maker
    found not to apply. with_each_batch: batch code and date are printed on batch by batch, so their place
    counts as present. net_digits_mm: height of the quantity's digits as laid out, None before that.
    """

    product_name: str
    identity: str
    net: NetQuantity
    declaration: Declaration
    durability: Durability
    maker_name: str = ""
    maker_address: str = ""
    country: str = ""
    made_in: str = ""
    responsible_name: str = ""
    responsible_address: str = ""
    origin: str = ""
    email: str = ""
    phone: str = ""
    website: str = ""
    batch_code: str = ""
    with_each_batch: bool = True
    label_text: str = ""
    cautions: tuple[Caution, ...] = ()
    judged_cautions: frozenset[str] = frozenset()
    language: str = "en"
    net_digits_mm: Decimal | None = None
    first_supply: date | None = None


@dataclass(frozen=True, slots=True)
class Requirement:
    """One statement that a label needs. text: what is there or what is said of it; todo: what is missing."""

    key: str
    title: str
    state: State
    text: str
    todo: str
    source: str
    basis: str = "read"

    @property
    def satisfied(self) -> bool:
        """Present, or not needed here."""
        return self.state in ("present", "not needed")


def missing(requirements: Iterable[Requirement]) -> tuple[Requirement, ...]:
    """Those that keep the label from being approved."""
    return tuple(part for part in requirements if not part.satisfied)


def eu_requirements(label: LabelTexts) -> tuple[Requirement, ...]:
    """Art. 19 of Reg (EC) 1223/2009, one by one."""
    return (
        _responsible(label, "EU", "the European Union"),
        _origin(label, "EU", f"{REGULATION} Art. 19(1)(a)", "read"),
        *_european(label),
    )


def gb_requirements(label: LabelTexts) -> tuple[Requirement, ...]:
    """The same statements for Great Britain, with the responsible person in the United Kingdom."""
    return (
        _responsible(label, "GB", "the United Kingdom"),
        _origin(label, "GB", f"{REGULATION} as it stands in Great Britain, Art. 19(1)(a)", "read"),
        *_european(label),
    )


def us_requirements(label: LabelTexts) -> tuple[Requirement, ...]:
    """21 CFR 701 and 740, FD&C Act 609(a)."""
    return (
        _needed(
            "identity",
            "Identity",
            label.identity or label.product_name,
            "Say on the front what it is: body balm, hand cream.",
            "21 CFR 701.11",
        ),
        _needed("quantity", "Net contents", label.net.text, "Enter the net quantity.", label.net.source),
        *_digits(label),
        _us_maker(label),
        _us_contact(label),
        _cautions(label, "21 CFR 740"),
        _ingredients(label, "21 CFR 701.3"),
        _origin(label, "US", "19 USC 1304", "memory"),
        _english(label),
        _not_asked("batch", "Batch", label.batch_code, "Not asked for, but a recall can't do without it."),
        _not_asked("durability", "Date", label.durability.text, "No date is asked for in the US."),
    )


REQUIREMENTS: Mapping[str, Callable[[LabelTexts], tuple[Requirement, ...]]] = MappingProxyType(
    {"EU": eu_requirements, "GB": gb_requirements, "US": us_requirements}
)
"""Required statements by market."""


def _european(label: LabelTexts) -> tuple[Requirement, ...]:
    return (
        _eu_quantity(label),
        *_digits(label),
        _eu_durability(label),
        _cautions(label, f"{REGULATION} Art. 19(1)(d), Annexes III to VI"),
        _eu_batch(label),
        _needed(
            "function",
            "Function",
            label.identity or label.product_name,
            "Say what it is for, unless its looks make that clear.",
            f"{REGULATION} Art. 19(1)(f)",
        ),
        _ingredients(label, f"{REGULATION} Art. 19(1)(g)"),
        _allergens(label),
        _needed(
            "language",
            "Language",
            label.language,
            "Choose the language: the state of sale sets it.",
            f"{REGULATION} Art. 19(5)",
        ),
    )


def _needed(key: str, title: str, text: str, todo: str, source: str, basis: str = "read") -> Requirement:
    """Present when there is any text."""
    here = text.strip()
    state: State = "present" if here else "missing"
    return Requirement(key, title, state, here, "" if here else todo, source, basis)


def _not_asked(key: str, title: str, text: str, why: str) -> Requirement:
    return Requirement(key, title, "not needed", text or why, "", "21 CFR 701", "memory")


def _responsible(label: LabelTexts, market: str, where: str) -> Requirement:
    key, title, source = "responsible", "Responsible person", f"{REGULATION} Art. 4, 19(1)(a)"
    if label.responsible_name.strip() and label.responsible_address.strip():
        text = f"{label.responsible_name}, {_one_line(label.responsible_address)}"
        return Requirement(key, title, "present", text, "", source)
    if label.country in market_countries(market):
        if label.maker_name.strip() and label.maker_address.strip():
            text = f"{label.maker_name}, {_one_line(label.maker_address)}"
            return Requirement(key, title, "present", text, "", source)
        return Requirement(key, title, "missing", "", "Enter your name and address in the settings.", source)
    if market == "GB" and _is_within_easement(label):
        text = f"{label.maker_name}, {_one_line(label.maker_address)}; may stand for the UK particulars "
        text += f"until {GB_EASEMENT_TO.isoformat()}"
        return Requirement(key, title, "present", text, "", "GB guidance, May 2023 (easement)")
    todo = f"You are not in {where}: name who answers for the product there, with an address there."
    return Requirement(key, title, "missing", "", todo, source)


def _is_within_easement(label: LabelTexts) -> bool:
    """A maker in the EU with its particulars on the label, first supplied before the easement ends."""
    return (
        label.country in market_countries("EU")
        and bool(label.maker_name.strip() and label.maker_address.strip())
        and label.first_supply is not None
        and label.first_supply <= GB_EASEMENT_TO
    )


def _origin(label: LabelTexts, market: str, source: str, basis: str) -> Requirement:
    made_in = label.made_in or label.country
    if label.origin.strip():
        return Requirement("origin", "Country of origin", "present", label.origin.strip(), "", source, basis)
    if not made_in:
        todo = "Say in which country it is made."
        return Requirement("origin", "Country of origin", "unknown", "", todo, source, basis)
    if made_in in market_countries(market):
        text = f"made in {made_in}, so not needed"
        return Requirement("origin", "Country of origin", "not needed", text, "", source, basis)
    todo = "It is imported: print the country of origin, “Made in …”."
    return Requirement("origin", "Country of origin", "missing", "", todo, source, basis)


def _eu_quantity(label: LabelTexts) -> Requirement:
    if not label.net.required:
        text = "; ".join(label.net.notes) or "not needed"
        return Requirement("quantity", "Net quantity", "not needed", text, "", label.net.source)
    return _needed("quantity", "Net quantity", label.net.text, "Enter the net quantity.", label.net.source)


def _digits(label: LabelTexts) -> tuple[Requirement, ...]:
    """The height of the digits, once the label is laid out."""
    needed, laid_out = label.net.figure_height_mm, label.net_digits_mm
    if needed is None or laid_out is None:
        return ()
    text = f"digits {laid_out} mm, {needed} mm needed"
    todo = "" if laid_out >= needed else f"Set the quantity larger: its digits are {needed} mm at least."
    state: State = "present" if laid_out >= needed else "missing"
    return (
        Requirement("digits", "Height of the quantity", state, text, todo, label.net.source, label.net.basis),
    )


def _eu_durability(label: LabelTexts) -> Requirement:
    key, title, it = "durability", "Date or open jar", label.durability
    if it.kind == "none":
        return Requirement(key, title, "not needed", it.note, "", it.source)
    if it.kind == "unknown":
        return Requirement(key, title, "unknown", "", it.note, it.source)
    if it.text:
        return Requirement(key, title, "present", it.text, "", it.source)
    if label.with_each_batch:
        return Requirement(key, title, "present", "printed with each batch", "", it.source)
    return Requirement(key, title, "missing", "", it.note or "Print the date.", it.source)


def _cautions(label: LabelTexts, source: str) -> Requirement:
    """Every caution word for word; conditional ones wait until they are printed or judged."""
    if not label.cautions:
        text = "none asked for by what is in it"
        return Requirement("cautions", "Precautions", "not needed", text, "", source)
    absent = [caution for caution in label.cautions if not says(label.label_text, caution.text)]
    hard = [caution for caution in absent if not caution.condition]
    open_ = [caution for caution in absent if caution.condition and caution.key not in label.judged_cautions]
    if hard:
        todo = " ".join(f"Print “{caution.text}” ({', '.join(caution.why)})." for caution in hard)
        return Requirement("cautions", "Precautions", "missing", "", todo, source)
    if open_:
        todo = " ".join(
            f"Is “{caution.text}” needed? Only when: {caution.condition} ({', '.join(caution.why)})."
            for caution in open_
        )
        return Requirement("cautions", "Precautions", "unknown", "", todo, source)
    printed = [caution.text for caution in label.cautions if caution not in absent]
    text = " ".join(printed) or "judged not to apply"
    return Requirement("cautions", "Precautions", "present", text, "", source)


def _eu_batch(label: LabelTexts) -> Requirement:
    source = f"{REGULATION} Art. 19(1)(e)"
    if not label.batch_code.strip() and label.with_each_batch:
        return Requirement("batch", "Batch", "present", "printed with each batch", "", source)
    return _needed("batch", "Batch", label.batch_code, "Print the batch code.", source)


def _ingredients(label: LabelTexts, source: str) -> Requirement:
    key, title, declaration = "ingredients", "Ingredients", label.declaration
    if not declaration.entries:
        return Requirement(key, title, "missing", "", "No list yet: the formula has no known lines.", source)
    count = len(declaration.entries)
    text = f"{count} name{'s' * (count > 1)} under the word {declaration.heading}"
    if declaration.stops:
        return Requirement(key, title, "missing", text, declaration.stops[0].message, source)
    if declaration.unknowns:
        waiting = len(declaration.unknowns)
        todo = f"Waits for {waiting} unknown{'s' * (waiting > 1)}. First: {declaration.unknowns[0].message}"
        return Requirement(key, title, "unknown", text, todo, source)
    return Requirement(key, title, "present", text, "", source)


def _allergens(label: LabelTexts) -> Requirement:
    key, title, source = "allergens", "Perfume allergens", "Reg (EU) 2023/1545"
    unknown = [
        finding for finding in label.declaration.unknowns if finding.rule.startswith("declaration.allergen")
    ]
    if unknown:
        return Requirement(key, title, "unknown", "", unknown[0].message, source)
    notes = [note.message for note in label.declaration.notes if note.rule == "declaration.allergen-list"]
    if not notes:
        return Requirement(key, title, "not needed", "nothing in it is scented", "", source)
    return Requirement(key, title, "present", notes[0], "", source)


def _us_maker(label: LabelTexts) -> Requirement:
    """Name and place of business; a named firm that isn't the maker is qualified."""
    key, title, source = "maker", "Name and place of business", "21 CFR 701.12"
    name, address, qualified = label.maker_name, label.maker_address, ""
    if label.responsible_name.strip():
        name, address, qualified = label.responsible_name, label.responsible_address, "Distributed by "
    if not name.strip() or not address.strip():
        todo = "Enter the firm's name and its street, city, state and ZIP."
        return Requirement(key, title, "missing", "", todo, source)
    text = f"{qualified}{name}, {_one_line(address)}"
    if (label.country == "US" or qualified) and not _ZIP.search(address):
        return Requirement(key, title, "missing", text, "City, state and ZIP may never be left out.", source)
    return Requirement(key, title, "present", text, "", source)


def _us_contact(label: LabelTexts) -> Requirement:
    key, title = "contact", "Contact for reactions"
    source, basis = "FD&C Act 609(a)", "read (secondary); statute from memory"
    for text in (label.email, label.website):
        if text.strip():
            return Requirement(key, title, "present", text.strip(), "", source, basis)
    if _US_PHONE.match(label.phone.strip()):
        return Requirement(key, title, "present", label.phone.strip(), "", source, basis)
    for address in (label.responsible_address, label.maker_address):
        if _ZIP.search(address):
            return Requirement(key, title, "present", _one_line(address), "", source, basis)
    todo = "Give a US address, a US telephone number, an e-mail or a website for reports of reactions."
    return Requirement(key, title, "missing", "", todo, source, basis)


def _english(label: LabelTexts) -> Requirement:
    source, basis = "21 CFR 701.2(b)", "memory"
    if label.language.casefold().startswith("en"):
        return Requirement("language", "Language", "present", "English", "", source, basis)
    todo = "All required text stands in English; another language may stand beside it."
    return Requirement("language", "Language", "missing", label.language, todo, source, basis)


def _one_line(address: str) -> str:
    return ", ".join(part.strip().rstrip(",") for part in address.splitlines() if part.strip())
