"""Which ingredient a recipe's name means. Sure only where the whole name agrees; otherwise it offers a few."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache

from formulas.rules.catalogue import CatalogueMaterial, catalogue_compositions
from formulas.rules.tables import read_table

OFFERED = 5
CLOSE = 720
"""Likeness of two names, thousandths (difflib's ratio), from which one is offered for the other."""

CALLED_SO = 1001
"""Above any likeness: the trade calls it so."""

HARMLESS = frozenset(
    "a an the of organic pure natural fresh good quality cosmetic grade raw melted softened grated chopped ground "
    "powdered nf usp bp ph eur".split()
) - {"ground", "powdered"}
"""Words that do not change which material it is."""

REMARKS = frozenset(
    "unrefined refined virgin extra deodorised deodorized cold pressed white yellow golden gold gelb weiß blanc bianco "
    "anhydrous non nano rspo pellet pastille wafer flake fine coarse dried dry warm hot boiled distilled deionised "
    "deionized optional sifted shredded crushed whole bio fair trade fairtrade local unsalted filtered room "
    "temperature food".split()
)
"""Words of a remark behind a name that leave the material, and how much of it goes in, what they are."""

GENERIC = frozenset(
    "oil butter wax powder acid extract clay water alcohol sodium essential milk seed starch gum sweet cold pressed "
    "solution blend oxide flour".split()
)
"""Words that many materials share: by themselves they make no two of them alike."""
ALIKE = 850
"""Likeness, thousandths, from which a name that shares only such words is offered: a slip of spelling."""

SHORT = {
    "vit": "vitamin", "eo": "essential oil", "ewax": "emulsifying wax", "e-wax": "emulsifying wax", "evo": "olive",
    "evoo": "olive oil", "coco": "coconut", "rsb": "refined shea butter", "aqua": "water", "bicarb": "baking soda",
    "h2o": "water", "glycerine": "glycerin", "glycerol": "glycerin", "colour": "color", "oats": "oat",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Known:
    """A material that a line may mean. key: of the maker's ingredient or of the catalogue.

    other_names mean it and nothing else; may_be_called may mean it, and are offered only. is_own: the maker has it.
    """

    key: str
    name: str
    other_names: tuple[str, ...] = ()
    may_be_called: tuple[str, ...] = ()
    is_own: bool = False


@dataclass(frozen=True, slots=True)
class Match:
    """What a name means. sure: the one whose name agrees whole; offers: others that come near, nearest first."""

    sure: Known | None = None
    offers: tuple[Known, ...] = ()


def words_of(name: str) -> tuple[str, ...]:
    """The words that count, without accents, case, plural and what doesn't change the material."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    plain = "".join(mark for mark in plain if not unicodedata.combining(mark))
    found: list[str] = []
    for word in re.findall(r"[\w%-]+", plain):
        for part in SHORT.get(word.strip("-"), word.strip("-")).split():
            if part and part not in HARMLESS:
                found.append(_singular(part))
    return tuple(found)


def _singular(word: str) -> str:
    if len(word) > 3 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


class Names:
    """Everything that can be meant. The maker's own come before the catalogue when both have the name."""

    def __init__(self, known: Iterable[Known]) -> None:
        self.known = tuple(known)
        self.words: list[tuple[tuple[str, ...], Known]] = [
            (words, one)
            for one in self.known
            for name in (one.name, *one.other_names)
            if (words := words_of(name))
        ]
        self.exact: dict[frozenset[str], list[Known]] = {}
        for words, one in self.words:
            found = self.exact.setdefault(frozenset(words), [])
            if one not in found:
                found.append(one)
        self.called: dict[frozenset[str], list[Known]] = {}
        for one in self.known:
            for name in one.may_be_called:
                self.called.setdefault(frozenset(words_of(name)), []).append(one)

    def match(self, name: str) -> Match:
        """Find what the name means. "Shea butter, melted" is tried whole, then up to its comma or bracket.

        It is sure only where every word is accounted for: what stands behind a comma or in brackets is a remark that
        changes nothing, or another name of the same. An ingredient of the maker's that may be meant as well comes
        before one of the catalogue.
        """
        start = re.split(r"[,(\[;:]", name, maxsplit=1)[0]
        for tried in dict.fromkeys((name, start)):
            found = self.exact.get(frozenset(words_of(tried)), [])
            if found and words_of(tried):
                same = [one for one in found[1:] if one.name.casefold() != found[0].name.casefold()]
                own = [one for one in found if words_of(one.name) == words_of(tried)]
                sure = found[0] if not same or own[:1] == found[:1] else None
                if tried != name and not (sure and self._says_no_more(name[len(start) :], sure)):
                    sure = None
                mine = [] if found[0].is_own else self._own_that_may_be(words_of(tried))
                if mine:
                    return Match(None, tuple(dict.fromkeys([*mine, *found]))[:OFFERED])
                return Match(sure, tuple(same if sure else found)[:OFFERED])
        return Match(None, self.near(name))

    def _says_no_more(self, rest: str, sure: Known) -> bool:
        """Whether the words behind a name are remarks of its kind, or stand in another name of the material."""
        known = {word for name in (sure.name, *sure.other_names) for word in words_of(name)}
        said = [part for word in words_of(rest) for part in word.split("-")]
        return all(part in REMARKS or part in known for part in said)

    def _own_that_may_be(self, asked: tuple[str, ...]) -> list[Known]:
        """The maker's ingredients whose names say all that was asked and more: "sea salt, fine" for "salt"."""
        found = [one for words, one in self.words if one.is_own and set(asked) <= set(words)]
        return list(dict.fromkeys(found))

    def near(self, name: str) -> tuple[Known, ...]:
        """Those whose names come near, nearest first; none for a name that is like nothing."""
        asked = words_of(re.split(r"[,(\[;:]", name, maxsplit=1)[0]) or words_of(name)
        if not asked:
            return ()
        text = " ".join(asked)
        best: dict[str, tuple[int, Known]] = {}
        for tried in (name, re.split(r"[,(\[;:]", name, maxsplit=1)[0]):
            best |= {one.key: (CALLED_SO, one) for one in self.called.get(frozenset(words_of(tried)), [])}
        for words, one in self.words:
            score = _likeness(asked, text, words)
            if score >= CLOSE and score > best.get(one.key, (0, one))[0]:
                best[one.key] = (score, one)
        ranked = sorted(best.values(), key=lambda pair: (-pair[0], len(pair[1].name), pair[1].name))
        once = {one.name.casefold(): one for _, one in reversed(ranked)}
        return tuple(one for _, one in ranked if once[one.name.casefold()] is one)[:OFFERED]


def _likeness(asked: tuple[str, ...], text: str, words: tuple[str, ...]) -> int:
    """Thousandths: 1,000 for the same words; 800 and more where all of one stand in the other."""
    one, other = set(asked), set(words)
    if one & other <= GENERIC and not one <= GENERIC:
        score = int(SequenceMatcher(None, text, " ".join(words), autojunk=False).ratio() * 1000)
        return score if score >= ALIKE or not one & other else 0
    if one <= other or other <= one:
        return 800 + 200 * len(one & other) // len(one | other)
    if 3 * len(one & other) >= len(one | other):
        return CLOSE + 80 * len(one & other) // len(one | other)
    return int(SequenceMatcher(None, text, " ".join(words), autojunk=False).ratio() * 1000)


@cache
def common_names() -> Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """By key of the catalogue the names that mean its material, and those that may mean it."""
    found: dict[str, tuple[list[str], list[str]]] = {}
    for row in read_table("common_names.csv"):
        means, may_mean = found.setdefault(row["material"], ([], []))
        (means if row["sure"] == "yes" else may_mean).append(row["name"])
    return {key: (tuple(means), tuple(may_mean)) for key, (means, may_mean) in found.items()}


def in_catalogue(key: str, material: CatalogueMaterial) -> Known:
    """A material of the catalogue, with the INCI name of one that is one substance and what the trade calls it."""
    means, may_mean = common_names().get(material.key, ((), ()))
    composition = catalogue_compositions().get(material.key)
    if composition is not None and len(composition.constituents) == 1:
        means = (composition.constituents[0].name, *means)
    return Known(key, material.name, means, may_mean)
