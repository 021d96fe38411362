"""The house's verbs, and what every action uses."""

from makers.actions.by import OWNERS, WRITERS, By, Refused, happened
from makers.actions.codes import give_code
from makers.actions.journal import entries_about, recording, sentence

__all__ = [
    "OWNERS",
    "WRITERS",
    "By",
    "Refused",
    "entries_about",
    "give_code",
    "happened",
    "recording",
    "sentence",
]
