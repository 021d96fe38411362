"""A finding: one sentence for the maker with its figure, where the rule comes from and what cures it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["stop", "unknown", "caution", "note"]

SEVERITIES: tuple[Severity, ...] = ("stop", "unknown", "caution", "note")
"""In the order in which a review shows them."""

ARITHMETIC = "arithmetic"
"""The source of a finding that no law decides."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check has to say.

    rule: stable key, "formula.sum" say. subject: what it is about, as the maker names it. source: act,
    table or document; "arithmetic" where none. basis: how the fact behind it is known. lines: keys of the
    formula lines concerned, for a page to mark.
    """

    rule: str
    severity: Severity
    subject: str
    message: str
    source: str = ARITHMETIC
    cure: str = ""
    basis: str = ""
    lines: tuple[str, ...] = ()


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Stops first, then unknowns, cautions, notes; otherwise as they came, each once."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: SEVERITIES.index(finding.severity)))
