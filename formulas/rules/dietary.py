"""Where materials come from that matters to some buyers: nuts, sesame, soya, wheat, milk, bees, wool.

Cosmetics law in the EU, Great Britain and the US has no general statement of food allergens: telling is a maker's
precaution. The food lists of the US and the EU differ; each row says on which it stands. Table:
data/dietary_sources.csv.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache

from formulas.rules.tables import DATA
from makers.rules.tables import read_rows

TREE_NUT = "tree-nut"
"""The row that stands for a nut of which no more is known."""
NO_TREE_NUT = frozenset({"shea", "coconut"})
"""Called nuts, and tree nuts on no list."""


@dataclass(frozen=True, slots=True)
class DietarySource:
    """One source. group: "tree nut" for all of these. words: how it is written on an ingredient's record.

    substances: keys that come from it; one that ends in a hyphen stands for all that begin so. us_list, eu_list: it is
    on that market's list of food allergens. concerns: whom to tell. caution: words for them. instead: what else does.
    """

    key: str
    name: str
    group: str
    words: frozenset[str]
    substances: frozenset[str]
    us_list: bool
    eu_list: bool
    concerns: str
    caution: str
    instead: str
    note: str
    source: str
    basis: str

    @property
    def lists(self) -> str:
        """On which list of food allergens it stands, in words."""
        if self.us_list and self.eu_list:
            return "on the food allergen lists of the EU and the US"
        if self.eu_list:
            return "on the food allergen list of the EU, not of the US"
        if self.us_list:
            return "on the food allergen list of the US, not of the EU"
        return "on no food allergen list of the EU or the US"

    @property
    def is_listed(self) -> bool:
        """On the list of a market at least."""
        return self.us_list or self.eu_list

    def has(self, substance: str) -> bool:
        """The substance comes from it."""
        return any(
            substance.startswith(one) if one.endswith("-") else substance == one for one in self.substances
        )


@cache
def dietary_sources() -> tuple[DietarySource, ...]:
    """All rows, in the order of the table."""
    return read_rows(DATA / "dietary_sources.csv", DietarySource)


@lru_cache(maxsize=1024)
def sources_in(text: str) -> tuple[DietarySource, ...]:
    """The sources that the words of an ingredient's record name; a nut that is named makes "tree nut" go.

    A remark that starts with "none", or stands after "not" in brackets or behind a semicolon, names nothing.
    """
    named = re.sub(r"\bnot\b[^);]*", " ", text.lower())
    if named.strip().startswith(("none", "no ")):
        return ()
    found = [row for row in dietary_sources() if any(_says(named, word) for word in row.words)]
    if any(row.key in NO_TREE_NUT or (row.group == "tree nut" and row.key != TREE_NUT) for row in found):
        found = [row for row in found if row.key != TREE_NUT]
    return tuple(found)


def sources_of(substances: Iterable[str]) -> tuple[DietarySource, ...]:
    """The sources of these substances, by key."""
    found = {row.key for substance in substances for row in _of_one(substance)}
    return tuple(row for row in dietary_sources() if row.key in found)


@lru_cache(maxsize=4096)
def _of_one(substance: str) -> tuple[DietarySource, ...]:
    """Kept, because every edit asks again of the same substances."""
    return tuple(row for row in dietary_sources() if row.has(substance))


def is_conditional(text: str) -> bool:
    """The record says that it depends: "soy if soya-derived"."""
    return bool(re.search(r"\b(if|may|perhaps|possibly)\b|\?", text.lower()))


def _says(text: str, word: str) -> bool:
    return bool(re.search(rf"\b{re.escape(word)}\b", text))
