"""Which substance a written name means: by INCI or label name, CAS number, other languages, spelling.

Sure only where everything that was written points at one substance; otherwise a few are offered. An INCI name means
its own substance, also where others go by it on labels.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache

from formulas.rules.composition import substance_key

OFFERED = 4
CLOSE = 4 / 5
SHORTEST = 3

BRACKETS = re.compile(r"\s*[(\[][^()\[\]]*[)\]]")
INSIDE = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
CAS = re.compile(r"(?<!\d)(\d{2,7})-(\d{2})-(\d)(?!\d)")
MARKS = re.compile(r"[*†‡§°¹²³⁰-⁹®™]+|\s+\.$|\.$")
COLOUR = re.compile(r"(?i)\bc\.?\s?i\.?\s*(\d{5})\b")

OTHER_WORDS = {
    "water": "aqua", "eau": "aqua", "purified-water": "aqua", "deionized-water": "aqua", "distilled-water": "aqua",
    "fragrance": "parfum", "perfume": "parfum", "fragrance-parfum": "parfum", "beeswax": "cera-alba",
    "glycerine": "glycerin", "glycerol": "glycerin", "vitamin-e": "tocopherol",
}  # fmt: skip
"""Label words of other places and everyday words for an INCI name, by key. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Known:
    """A substance that a name may mean. key: as ``substance_key``. names: every other name it goes by."""

    key: str
    name: str
    cas: str = ""
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Meant:
    """What a name means. sure: the one that everything points at. says: why it isn't sure, or how it was found."""

    sure: Known | None = None
    offers: tuple[Known, ...] = ()
    says: str = ""


@dataclass(slots=True)
class Substances:
    """Everything that can be meant, by key of each name and by CAS number."""

    known: tuple[Known, ...]
    by_name: dict[str, dict[str, Known]] = field(default_factory=dict)
    by_cas: dict[str, dict[str, Known]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for one in self.known:
            for name in (one.name, *one.names):
                self.by_name.setdefault(substance_key(name), {})[one.key] = one
            for number in cas_numbers(one.cas):
                self.by_cas.setdefault(number, {})[one.key] = one

    def find(self, name: str, cas: str = "") -> Meant:
        """The substance that a name, a CAS number, or both together mean."""
        named = self._named(name) if name.strip() else Meant()
        numbers = cas_numbers(cas)
        if not numbers:
            wrong = f" “{cas.strip()}” is no CAS number." if cas.strip() and re.search(r"\d", cas) else ""
            return Meant(named.sure, named.offers, (named.says + wrong).strip())
        bad = [number for number in numbers if not has_check_digit(number)]
        if bad:
            says = f"{bad[0]} is no CAS number: its last digit doesn't fit the others."
            return Meant(named.sure, named.offers, f"{named.says} {says}".strip())
        numbered = {key: one for number in numbers for key, one in self.by_cas.get(number, {}).items()}
        return _together(named, numbered, name, ", ".join(numbers))

    def _named(self, name: str) -> Meant:
        """The substance of a name alone."""
        for tried in spellings(name):
            found = self._exact(tried)
            first = [one for one in found.values() if substance_key(one.name) == substance_key(tried)]
            only = first if len(first) == 1 else list(found.values())
            if len(only) == 1:
                return self._unless_the_bracket_says_more(name, tried, only[0])
            if found:
                return Meant(None, tuple(found.values())[:OFFERED], "More than one goes by this name.")
        parts = [part for part in re.split(r"\s*/\s*", name) if part.strip()]
        if len(parts) > 1:
            each = [self._named(part) for part in parts]
            sure = {one.sure.key: one.sure for one in each if one.sure}
            if len(sure) == 1 and all(one.sure for one in each):
                return Meant(next(iter(sure.values())))
            if sure:
                return Meant(None, tuple(sure.values())[:OFFERED], "Only a part of this name is known.")
        return Meant(None, self._near(name))

    def _exact(self, text: str) -> dict[str, Known]:
        key = substance_key(text)
        return self.by_name.get(key) or self.by_name.get(OTHER_WORDS.get(key, ""), {})

    def _unless_the_bracket_says_more(self, name: str, tried: str, found: Known) -> Meant:
        """ "Glycerin (Aqua)" names two; "Aqua (Water)" one."""
        if substance_key(tried) == substance_key(name):
            return Meant(found)
        for inside in INSIDE.findall(name):
            other = self._exact(inside)
            if other and found.key not in other:
                narrowed = [one for key, one in other.items() if key in self._exact(tried)]
                if len(narrowed) == 1:
                    return Meant(narrowed[0])
                both = (found, *other.values())
                return Meant(None, both[:OFFERED], "Two substances stand in this name.")
        return Meant(found)

    def _near(self, name: str) -> tuple[Known, ...]:
        """Those whose names come near, nearest first."""
        key = substance_key(plain(name))
        if len(key) < SHORTEST:
            return ()
        found: dict[str, Known] = {}
        for near in get_close_matches(key, self.by_name, n=OFFERED, cutoff=CLOSE):
            found |= self.by_name[near]
        if len(key) > SHORTEST:
            for other, ones in self.by_name.items():
                if len(found) >= OFFERED:
                    break
                if other.startswith(f"{key}-") or (len(other) > SHORTEST and key.startswith(f"{other}-")):
                    found |= ones
        return tuple(found.values())[:OFFERED]

    def search(self, words: str, most: int) -> list[Known]:
        """Everything that these words may mean: exactly, with them in a name, by CAS number, then by spelling."""
        meant = self.find(words, words if CAS.search(words) else "")
        hits = {one.key: one for one in ((meant.sure,) if meant.sure else ())}
        key = substance_key(words)
        if len(key) >= SHORTEST - 1 and not key.startswith("u-"):
            inside = {
                one.key: one for name, ones in self.by_name.items() if key in name for one in ones.values()
            }
            hits |= {
                one.key: one for one in sorted(inside.values(), key=lambda one: (len(one.name), one.name))
            }
        hits |= {one.key: one for one in meant.offers}
        return list(hits.values())[:most]


def _together(named: Meant, numbered: dict[str, Known], name: str, cas: str) -> Meant:
    """What a name and a CAS number say together."""
    if not numbered:
        return named
    offers = tuple({one.key: one for one in (*numbered.values(), *named.offers)}.values())[:OFFERED]
    if named.sure:
        if named.sure.key in numbered:
            return Meant(named.sure)
        called = [one for one in numbered.values() if substance_key(name) in map(substance_key, one.names)]
        if len(called) == 1 and len(numbered) == 1:
            return Meant(called[0], (), f"By its CAS number {cas}; it goes by this name too.")
        if not named.sure.cas:
            return Meant(named.sure, offers, f"Its CAS number {cas} stands for {_names(numbered)} here.")
        says = f"The name says {named.sure.name}, the CAS number {cas} says {_names(numbered)}."
        return Meant(None, (named.sure, *offers)[:OFFERED], says)
    if len(numbered) == 1 and not name.strip():
        return Meant(next(iter(numbered.values())), (), f"By its CAS number {cas}.")
    both = [one for one in named.offers if one.key in numbered]
    if len(both) == 1 and len(numbered) == 1:
        return Meant(both[0], (), f"By its CAS number {cas}; the name comes near.")
    return Meant(None, offers, f"The CAS number {cas} stands for {_names(numbered)}.")


def _names(ones: dict[str, Known]) -> str:
    return " or ".join(one.name for one in list(ones.values())[:OFFERED])


def plain(name: str) -> str:
    """A name without footnote marks, leading list marks and doubled spaces."""
    return " ".join(MARKS.sub(" ", name).strip(" ,;:-•+").split())


@cache
def spellings(name: str) -> tuple[str, ...]:
    """A name as it stands, and without what lists put around names. The first that is known counts."""
    bare = plain(name)
    without = plain(BRACKETS.sub(" ", bare))
    colour = COLOUR.search(bare)
    found = [name, bare, without]
    if colour:
        found.append(f"CI {colour.group(1)}")
    if not without:
        found += INSIDE.findall(bare)
    return tuple(dict.fromkeys(one for one in found if one.strip()))


def cas_numbers(text: str) -> list[str]:
    """Every CAS number in a text, leading zeros of spreadsheets taken off."""
    return [f"{int(first)}-{second}-{last}" for first, second, last in CAS.findall(text)]


def has_check_digit(number: str) -> bool:
    """Whether the last digit is the weighted sum of the others modulo 10 (CAS, check digit verification)."""
    digits = number.replace("-", "")
    weighted = sum(int(digit) * weight for weight, digit in enumerate(reversed(digits[:-1]), start=1))
    return weighted % 10 == int(digits[-1])


def as_known(rows: Iterable[tuple[str, str, str, Iterable[str]]]) -> Substances:
    """From (key, INCI name, CAS, other names)."""
    return Substances(
        tuple(Known(key, name, cas, tuple(n for n in names if n)) for key, name, cas, names in rows)
    )
