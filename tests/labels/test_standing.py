"""How labels stand in lists: after any change as reckoned anew, and reckoned once for each state of the records."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

import pytest
from django.test import Client

from formulas.actions.formulas import next_version, save_version
from formulas.actions.ingredients import change_ingredient
from formulas.actions.products import change_product
from formulas.models import FormulaVersion, Ingredient, Substance
from labels import assembly, standing
from labels.actions import approve_label, change_label, draft_label, name_substance
from labels.assembly import assemble
from labels.models import Label
from labels.standing import Outcome, Outcomes, Standing, standings
from makers.actions import By
from makers.actions.house import change_maker, set_responsible
from makers.http import address
from makers.models import Maker
from tests.labels.factories_labels import (
    approved,
    balm_materials,
    compose,
    confirm_everything,
    make_product,
    make_version,
    material,
)


@dataclass(frozen=True)
class Stage:
    """An approved label for the EU and a draft for the US, of a balm with an in-house infusion in it."""

    by: By
    things: dict[str, Ingredient]
    inner: FormulaVersion
    eu: Label
    us: Label


@pytest.fixture
def stage(by: By) -> Stage:
    """The two labels."""
    things = balm_materials(by.maker)
    herb = material(by.maker, "Marigold", ("Calendula Officinalis Flower Extract", "100"))
    inner = make_version(by, "Infusion", [(things["oil"], "90", ""), (herb, "10", "")])
    things |= {"herb": herb, "infusion": material(by.maker, "Infused oil", made_from=inner.formula)}
    lines = [(things["infusion"], "50", ""), (things["shea"], "28", ""), (things["wax"], "22", "")]
    product = make_product(by, make_version(by, "Saltwort balm", lines))
    eu = draft_label(by, product=product, market="EU")
    confirm_everything(by, eu)
    approve_label(by, label=eu)
    us = draft_label(by, product=product, market="US")
    return Stage(by, things, inner, eu, us)


def seen(stage: Stage) -> list[Standing]:
    """The labels as a request loads them."""
    maker = Maker.objects.get(pk=stage.by.maker.pk)
    rows = Label.objects.for_maker(stage.by.maker).select_related("product__formula", "maker")
    return standings(maker, list(rows.order_by("market")))


def said(rows: list[Standing]) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    """What the list says of them."""
    return [(row.state, row.stale, row.waits) for row in rows]


def another_infusion(stage: Stage) -> None:
    """The inner formula gets another approved version."""
    version = next_version(stage.by, formula=stage.inner.formula)
    lines = [
        {"ingredient": stage.things["oil"], "percent": Decimal(20)},
        {"ingredient": stage.things["herb"], "percent": Decimal(80)},
    ]
    phases = [{"letter": "A", "name": "", "lines": lines}]
    approved(stage.by, save_version(stage.by, version=version, phases=phases, edit=None))


def rename_in_reference(stage: Stage) -> None:
    """A release brings another name of a substance."""
    Substance.objects.filter(key="cera-alba").update(inci_name="Cera Flava")


CHANGES: dict[str, Callable[[Stage], object]] = {
    "texts of the approved label": lambda on: change_label(on.by, label=on.eu, extra="Not for children."),
    "texts of the draft": lambda on: change_label(on.by, label=on.us, origin="Made in Ireland"),
    "name of the product": lambda on: change_product(on.by, product=on.eu.product, name="Samphire balm"),
    "life of the product": lambda on: change_product(on.by, product=on.eu.product, life_months=31),
    "address of the maker": lambda on: change_maker(on.by, address="9 Tidegate Row\nEelmere"),
    "country of the maker": lambda on: change_maker(on.by, country="GB"),
    "responsible person": lambda on: set_responsible(on.by, market="EU", name="Cordgrass Ltd", address="Eelmere"),
    "composition": lambda on: compose(on.things["wax"], ("Cera Alba", "60"), ("Tocopherol", "40")),
    "composition inside the infusion": lambda on: compose(on.things["herb"], ("Rosa Canina Fruit Oil", "100")),
    "formula of the infusion": another_infusion,
    "ingredient becomes perfume": lambda on: change_ingredient(
        on.by, ingredient=on.things["wax"], is_perfume=True
    ),
    "own name of a substance": lambda on: name_substance(
        on.by, substance=Substance.objects.get(key="cera-alba"), market="EU", name="Bees Wax", source="a book"
    ),
    "reference data": rename_in_reference,
    "facts confirmed": lambda on: confirm_everything(on.by, on.us),
}  # fmt: skip


@pytest.mark.parametrize("change", CHANGES)
def test_after_a_change_the_list_says_what_is_reckoned_anew(stage: Stage, change: str) -> None:
    """Nothing that was kept is told once the records say something else."""
    before = said(seen(stage))
    CHANGES[change](stage)

    after = said(seen(stage))
    standing.outcomes.kept.clear()

    assert after == said(seen(stage))
    assert after != before


def test_the_list_says_what_the_labels_page_says(stage: Stage) -> None:
    """The points of the whole paper, counted the same."""
    change_maker(stage.by, address="9 Tidegate Row\nEelmere")
    papers = assemble(stage.by.maker, [stage.us])

    eu, us = seen(stage)

    assert us.waits == papers[stage.us.pk].waits
    assert len(us.waits) > 1
    assert (eu.state, eu.stale) == ("stale", ("maker",))


def test_an_unchanged_label_is_reckoned_once(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked at again, nothing is reckoned; after a change of one label's texts, that one alone."""
    reckoned: list[str] = []

    def counted(*args: object, **kwargs: object) -> object:
        reckoned.append(str(args[1]))
        return assembly.paper_on(*args, **kwargs)  # type: ignore[arg-type]  # handed on as they came

    monkeypatch.setattr(standing, "paper_on", counted)
    standing.outcomes.kept.clear()

    seen(stage)
    assert len(reckoned) == 2
    seen(stage)
    assert len(reckoned) == 2
    change_label(stage.by, label=stage.us, extra="Keep cool.")
    seen(stage)

    assert reckoned[2:] == [str(stage.us)]


def test_a_fact_is_confirmed_without_reckoning_anew(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    """What waits is compared with what was confirmed each time."""
    waiting = seen(stage)[1].waits
    confirm_everything(stage.by, stage.us)
    monkeypatch.setattr(standing, "paper_on", lambda *_: pytest.fail("reckoned again"))

    left = seen(stage)[1].waits

    assert any("to be confirmed" in point for point in waiting)
    assert left == tuple(point for point in waiting if "to be confirmed" not in point)


def test_today_and_the_products_panel_say_the_same_as_the_list(stage: Stage, at_home: Client) -> None:
    """Stale is stale wherever the label is named."""
    product = stage.eu.product
    compose(stage.things["wax"], ("Cera Alba", "60"), ("Tocopherol", "40"))

    pages = [
        at_home.get(address(stage.by.maker, "labels:labels")),
        at_home.get(address(stage.by.maker, "formulas:product", code=product.code)),
        at_home.get(address(stage.by.maker, "house:today")),
    ]

    assert [b"</svg>Stale</span>" in page.content for page in pages] == [True, True, True]


def test_what_was_not_asked_for_longest_goes_first() -> None:
    """As many are kept as there is room for."""
    kept = Outcomes(most=2)
    one = Outcome({}, (), ())
    kept.put("a", one)
    kept.put("b", None)
    kept.get("a")

    kept.put("c", None)

    assert kept.get("a") == (True, one)
    assert kept.get("b") == (False, None)
    assert kept.get("c") == (True, None)
