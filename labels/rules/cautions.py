"""Sentences of caution that a label must carry, word for word, and whether it does."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from formulas.rules.composition import substance_key
from formulas.rules.limits import LabelWarning
from labels.rules.facts import Fact, is_memory
from labels.rules.tables import us_warnings

FOAMING_BATH = "foaming bath"
SUNTAN = "suntan without sunscreen"
AEROSOL = "aerosol"
PROPELLANT = "aerosol with hydrocarbon propellant"
PRODUCT_GROUPS = ("", FOAMING_BATH, SUNTAN, AEROSOL, PROPELLANT)
"""Kinds of product for which the law fixes a sentence; "" is none of these."""

_CONDITION = re.compile(r"(?P<text>.*\S)\s*\((?P<condition>[^()]*)\)$", re.DOTALL)
_ONLY_FOR = re.compile(r"(?P<condition>toothpaste):\s*(?P<text>.+)$")


@dataclass(frozen=True, slots=True)
class Caution:
    """One sentence to be printed as it stands.

    condition: when it is needed, where the rule leaves that to judgement; "" = always. why: what calls for
    it, substances or the kind of product.
    """

    key: str
    text: str
    condition: str
    why: tuple[str, ...]
    source: str
    basis: str


def eu_cautions(warnings: Iterable[LabelWarning]) -> tuple[Caution, ...]:
    """Cautions from the warnings that limits ask for, each sentence once, Art. 19(1)(d)."""
    found: dict[str, Caution] = {}
    for warning in warnings:
        text, condition = _parts(warning.text)
        key = "caution:" + substance_key(f"{text} {condition}")[:100]
        known = found.get(key)
        if known is None:
            found[key] = Caution(key, text, condition, (warning.name,), warning.source, warning.basis)
        elif warning.name not in known.why:
            found[key] = replace(known, why=(*known.why, warning.name))
    return tuple(sorted(found.values(), key=lambda caution: caution.key))


def us_cautions(groups: Collection[str]) -> tuple[Caution, ...]:
    """Cautions of 21 CFR 740 for the product's groups. Raises ValueError for a group that isn't held."""
    unknown = sorted(set(groups) - set(PRODUCT_GROUPS))
    if unknown:
        raise ValueError(f"{unknown[0]!r} is none of {', '.join(PRODUCT_GROUPS[1:])}")
    wanted = set(groups) | ({AEROSOL} if PROPELLANT in groups else set())
    return tuple(
        Caution(f"caution:{row.key}", row.text, "", (row.trigger,), row.source, row.basis)
        for row in us_warnings()
        if row.trigger in wanted
    )


def caution_facts(cautions: Iterable[Caution]) -> tuple[Fact, ...]:
    """Sentences whose words are known from memory alone, to be compared with the rule."""
    return tuple(
        Fact(caution.key[:160], f"The words of the rule are: {caution.text}", caution.source)
        for caution in cautions
        if is_memory(caution.basis.split(";")[0])
    )


def says(label_text: str, sentence: str) -> bool:
    """The label carries the sentence; case, spaces, kinds of dash and a last full stop don't count."""
    return _plain(sentence) in _plain(label_text)


def _parts(text: str) -> tuple[str, str]:
    """The sentence and the condition that the table writes behind or before it."""
    match = _CONDITION.match(text) or _ONLY_FOR.match(text)
    return (match["text"].strip(), match["condition"].strip()) if match else (text.strip(), "")


def _plain(text: str) -> str:
    dashes = re.sub(r"\s*[\u2010-\u2015-]\s*", "-", text.casefold().replace("\u2019", "'"))
    return re.sub(r"\s+", " ", dashes).strip().rstrip(".")
