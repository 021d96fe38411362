"""Facts that a label rests on and that nobody has read in a source yet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact known from memory alone, for the maker to confirm.

    key: stable, at most 160 characters; what a confirmation is kept under. text: a sentence to agree to;
    another text under the same key is another fact. source: where it can be checked.
    """

    key: str
    text: str
    source: str = ""


def each_once(facts: Iterable[Fact]) -> tuple[Fact, ...]:
    """The facts by key, the first of each."""
    found: dict[str, Fact] = {}
    for fact in facts:
        found.setdefault(fact.key, fact)
    return tuple(found.values())


def unconfirmed(facts: Iterable[Fact], confirmed: Iterable[tuple[str, str]]) -> tuple[Fact, ...]:
    """The facts that no (key, text) pair of ``confirmed`` answers; a changed text asks again."""
    known = set(confirmed)
    return tuple(fact for fact in facts if (fact.key, fact.text) not in known)


def is_memory(basis: str) -> bool:
    """The basis says that (part of) the fact was not seen anywhere."""
    return "memory" in basis
