"""What weighed containers and packs say of a batch's fills: each market's verdict, and what a release asks about."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import cast

from django.db.models import Model

from batches.models import Batch, Fill, Output
from batches.rules.fills import FillCheck, FillVerdict, average_system, us_release
from batches.rules.pack_fill import BY_VOLUME, less_than_labelled, nominal_g
from formulas.models import Product
from formulas.rules.number import figure
from makers.registries import OpenPoint
from makers.rules.display import in_a_row

AVERAGED = ("EU", "GB")
"""Markets whose packs are judged by the average system."""


def verdicts_of(product: Product, fills: Sequence[Decimal], *, batch_units: int) -> tuple[FillVerdict, ...]:
    """What each market of a product says of weighed containers; unknown where the label goes by volume.

    fills: net grams, in order of weighing. batch_units: packs of the batch.
    """
    nominal = nominal_g(product.net_amount, product.net_unit)
    markets = [one for one in (*AVERAGED, "US") if one in product.markets]
    if nominal is None:
        text = f"The label says {figure(product.net_amount)} {product.net_unit}: {BY_VOLUME}."
        return tuple(
            FillVerdict(one, (FillCheck("fills.volume", None, text, "", "arithmetic"),)) for one in markets
        )
    return tuple(
        us_release(nominal, fills)
        if one == "US"
        else average_system(nominal, fills, batch_units=batch_units, market=one)
        for one in markets
    )


def packs_of(batch: Batch, product: Product, fills: Sequence[Fill], outputs: Sequence[Output]) -> int:
    """Packs of a product in a batch: those that were filled, else those planned, never fewer than were weighed."""
    packed = sum(one.units or 0 for one in outputs if one.product_id == product.pk)
    return max(packed or (batch.units or 0), len(fills))


def stops_of(verdicts: Sequence[FillVerdict]) -> list[str]:
    """What fails, in words; one sentence that several markets share stands once."""
    markets: dict[str, list[str]] = {}
    for verdict in verdicts:
        for check in verdict.checks:
            if check.passed is False:
                markets.setdefault(check.text, []).append(verdict.market)
    return [f"{in_a_row(names)}: {text}" for text, names in markets.items()]


def fill_points(record: Model) -> Sequence[OpenPoint]:
    """Products of a batch for sale that hold less than they may, by their packs or by weighed containers.

    One point for each product, which needs a reason. Two queries, whatever was filled.
    """
    batch = cast(Batch, record)
    if batch.purpose != Batch.Purpose.SALE:
        return []
    fills = list(batch.fills.select_related("product").order_by("pk"))
    outputs = list(
        batch.outputs.filter(kind=Output.Kind.PACKS).select_related("product", "pack").order_by("pk")
    )
    products = {one.product_id: one.product for one in (*outputs, *fills) if one.product is not None}
    points = []
    for key, product in products.items():
        mine = [one for one in fills if one.product_id == key]
        said = [short for one in outputs if one.product_id == key and (short := short_pack(one))]
        if mine:
            units = packs_of(batch, product, mine, outputs)
            said += stops_of(verdicts_of(product, [one.net_g for one in mine], batch_units=units))
        if said:
            points.append(OpenPoint(f"fills-{product.code}", f"{product}: {' '.join(said)}", blocks=False))
    return points


def short_pack(output: Output) -> str:
    """What is said of packs that hold less than their label, after their code; "" where they hold enough."""
    if output.product is None or not output.units or output.units < 1:
        return ""
    said = short_of(output.product, output.units, output.grams)
    return f"{output.pack}, {said}" if said else ""


def short_of(product: Product, units: int, grams: Decimal) -> str:
    """What is said of so many packs of a product that hold less than their label; "" where they hold enough."""
    return less_than_labelled(
        units=units,
        grams=grams,
        net_amount=product.net_amount,
        net_unit=product.net_unit,
        fill_g=product.fill_g,
    )
