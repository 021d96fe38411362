"""The figures of fill control in batches/data, one typed loader each, read once."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Literal

from makers.rules.tables import read_rows

DATA = Path(__file__).resolve().parent.parent / "data"


@dataclass(frozen=True, slots=True)
class ErrorBand:
    """Tolerable negative error for a nominal quantity from ``over`` to ``up_to`` g or ml (None: no end).

    market: "" for EU and GB alike. Where two bands meet they give one figure.
    """

    market: str
    over: Decimal
    up_to: Decimal | None
    kind: Literal["percent", "absolute"]
    value: Decimal
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class ReferenceTest:
    """The reference test of a batch of so many packs.

    sample: packs weighed first, ``accept`` and ``reject`` numbers of short ones; between them the sample is
    enlarged to ``second_sample`` and ``second_accept`` holds. The average passes from nominal - factor x s,
    s over ``average_sample`` packs.
    """

    destructive: bool
    batch_from: int
    batch_up_to: int | None
    sample: int
    accept: int
    reject: int
    second_sample: int | None
    second_accept: int | None
    average_sample: int
    average_factor: Decimal
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class VariationBand:
    """Maximum allowable variation, by labelled weight over ``from_*`` up to and with ``up_to_*``.

    The gram and pound edges differ a little, so both are kept. One of percent (of the label) and grams is
    set.
    """

    from_g: Decimal | None
    up_to_g: Decimal | None
    from_lb: Decimal | None
    up_to_lb: Decimal | None
    percent: Decimal | None
    grams: Decimal | None
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class SamplingPlan:
    """An inspector's sample from a lot of so many packs; factor: times s is the credit to the mean."""

    lot_from: int
    lot_up_to: int | None
    sample: int
    factor: Decimal | None
    allowed_short: int
    source: str
    basis: str


@cache
def error_bands() -> tuple[ErrorBand, ...]:
    """Tolerable negative errors, smallest quantities first; rows with market "GB" hold there alone."""
    return read_rows(DATA / "eu_tolerable_error.csv", ErrorBand)


@cache
def reference_tests() -> tuple[ReferenceTest, ...]:
    """The reference tests of the EU and GB for batches of 100 packs and more."""
    return read_rows(DATA / "eu_reference_tests.csv", ReferenceTest)


@cache
def variation_bands() -> tuple[VariationBand, ...]:
    """Maximum allowable variations of the United States, smallest first."""
    return read_rows(DATA / "us_maximum_variation.csv", VariationBand)


@cache
def sampling_plans() -> tuple[SamplingPlan, ...]:
    """Inspectors' samples of the United States, smallest lots first."""
    return read_rows(DATA / "us_sampling_plan.csv", SamplingPlan)
