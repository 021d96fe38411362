"""Walks over the links of lots, batches and packs.

The expected figures of the worked example are computed by hand in full beside each test (own numbers; the
definitions of yield and reconciliation follow 21 CFR 210.3(b) and 211.184).
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.trace import (
    BatchReached,
    Links,
    LotBehind,
    Made,
    Moved,
    Packed,
    Weighed,
    backward,
    forward,
    grams_of,
    grams_outside,
    holdings,
    share_of,
    spread,
    unit_account,
    ways,
    would_loop,
)
from tests.batches.rules.fixture import KINDS, LINKS

D = Decimal


def test_a_complaint_on_b2_leads_to_all_three_lots() -> None:
    """L1 and L3 directly; L1 and L2 through the rework of B1."""
    behind = backward(LINKS, "B2")

    assert behind.bought(LINKS) == ("L1", "L2", "L3")
    assert behind.batches == ("B1",)
    assert LotBehind("L1", direct=True, through=("B1",)) in behind.lots
    assert LotBehind("L2", direct=False, through=("B1",)) in behind.lots
    assert LotBehind("L3", direct=True, through=()) in behind.lots
    assert ways(LINKS, lot="L2", batch="B2") == (("L2", "B1", "R1", "B2"),)
    assert ways(LINKS, lot="L1", batch="B2") == (("L1", "B2"), ("L1", "B1", "R1", "B2"))


def test_a_recall_of_l2_recovers_295_units_not_175() -> None:
    """180 + 120 went out, 5 came back. Direct links alone find B1 and its 175."""
    reached = forward(LINKS, ["L2"])

    account = unit_account(LINKS, reached.packs, KINDS)
    direct = unit_account(LINKS, ["P1"], KINDS)

    assert reached.batches == (BatchReached("B1", True, ()), BatchReached("B2", False, ("R1",)))
    assert account.out == 295
    assert account.by_holder == (("C1", 60), ("C2", 175), ("C3", 60))
    assert (account.in_house, account.to_judge, account.kept, account.destroyed) == (35, 5, 6, 3)
    assert (account.filled, account.missing) == (344, 0)
    assert direct.out == 175


def test_a_recall_of_l3_leaves_c1_alone() -> None:
    """B2 only: C2 80, C3 40, 30 on the shelf, 3 retained."""
    reached = forward(LINKS, ["L3"])

    account = unit_account(LINKS, reached.packs, KINDS)

    assert reached.batch_keys == ("B2",)
    assert account.by_holder == (("C2", 80), ("C3", 40))
    assert (account.in_house, account.kept) == (30, 3)


def test_a_lot_that_reaches_a_batch_twice_lists_it_once() -> None:
    """L1 is in B2 directly and through rework: the same 295 units."""
    reached = forward(LINKS, ["L1"])

    assert reached.batches == (BatchReached("B1", True, ()), BatchReached("B2", True, ("R1",)))
    assert unit_account(LINKS, reached.packs, KINDS).out == 295


def test_share_of_l2_in_b2_is_three_quarters_of_a_percent() -> None:
    """200 x 3,000 / 10,000 = 60 g in 8,000 g."""
    assert grams_of(LINKS, lots=["L2"], batch="B2") == 60
    assert share_of(LINKS, lots=["L2"], batch="B2") == Fraction(75, 10_000)


def test_all_of_l2_is_found_again() -> None:
    """By its share of 30 %, B1's 10,000 g carry 3,000 g of it, the 60 g of rework again in B2."""
    first = spread(
        {"units": D(9540), "samples": D(50), "loss": D(10), "waste": D(170), "open": D(30), "rework": D(200)},
        share_of(LINKS, lots=["L2"], batch="B1"),
    )
    second = spread(
        {"units": D(7740), "samples": D(40), "loss": D(80), "waste": D(120), "open": D(20)},
        share_of(LINKS, lots=["L2"], batch="B2"),
    )

    assert [first[name] for name in ("units", "samples", "loss", "waste", "open", "rework")] == [
        2862, 15, 3, 51, 9, 60,
    ]  # fmt: skip
    assert sum(first.values()) == 3000
    assert second == {
        "units": D("58.05"),
        "samples": D("0.3"),
        "loss": D("0.6"),
        "waste": D("0.9"),
        "open": D("0.15"),
    }
    assert sum(second.values()) == 60


def test_grams_of_l2_with_customers() -> None:
    """175 x 9,540/190 x 0.30 + 120 x 7,740/154 x 0.0075 = 2,636.0526 + 45.2338 = 2,681.29 g."""
    found = grams_outside(LINKS, lots=["L2"], kinds=KINDS)

    assert found is not None
    assert found.quantize(D("0.01")) == D("2681.29")


def test_grams_outside_are_unknown_where_a_pack_was_not_weighed() -> None:
    """Unknown is never zero."""
    links = Links(
        weighed=(Weighed("L", "B", D(1)),), packed=(Packed("B", "P", 2),), moved=(Moved("P", "", "shop", 2),)
    )

    assert grams_outside(links, lots=["L"], kinds={}) is None


def test_two_receipts_of_one_supplier_lot_are_traced_together() -> None:
    """The same supplier lot delivered twice: both lots, one answer."""
    links = Links(weighed=(Weighed("L1", "B1", D(1)), Weighed("L2", "B2", D(1))))

    assert forward(links, ["L1", "L2"]).batch_keys == ("B1", "B2")


def test_a_weighing_taken_back_leaves_no_link() -> None:
    """A lot whose weighings come to 0 is not in the batch."""
    links = Links(weighed=(Weighed("L1", "B1", D(0)), Weighed("L2", "B1", D(5))))

    assert forward(links, ["L1"]).batches == ()
    assert links.lots_in("B1") == ("L2",)


def test_rework_into_its_own_batch_would_loop() -> None:
    """A batch may never be its own ancestor; the way is given to show."""
    assert would_loop(LINKS, lot="R1", batch="B1") == ("B1", "R1")
    assert would_loop(LINKS, lot="R1", batch="B2") == ()
    assert would_loop(LINKS, lot="L1", batch="B1") == ()


def test_rework_of_rework_would_loop_too() -> None:
    """B1 made R1, which went into B2, which made R2: R2 may not go into B1."""
    links = Links(weighed=(Weighed("R1", "B2", D(1)),), made=(Made("B1", "R1", D(1)), Made("B2", "R2", D(1))))

    assert would_loop(links, lot="R2", batch="B1") == ("B1", "R1", "B2", "R2")


def test_walks_end_on_links_in_a_circle_and_shares_refuse_them() -> None:
    """Records that are wrong still give a trace; a share of them has no meaning."""
    links = Links(
        weighed=(Weighed("R1", "B2", D(1)), Weighed("R2", "B1", D(1)), Weighed("L", "B1", D(1))),
        made=(Made("B1", "R1", D(1)), Made("B2", "R2", D(1))),
    )

    assert forward(links, ["L"]).batch_keys == ("B1", "B2")
    assert backward(links, "B2").lot_keys == ("L", "R1", "R2")
    with pytest.raises(ValueError, match="its own ancestor"):
        share_of(links, lots=["L"], batch="B2")


def test_three_thousand_batches_deep_is_no_depth() -> None:
    """Rework of rework of rework: no recursion limit."""
    weighed = [Weighed("R0", "B1", D(1))]
    made = [Made("B0", "R0", D(1))]
    for number in range(1, 3000):
        made.append(Made(f"B{number}", f"R{number}", D(1)))
        weighed.append(Weighed(f"R{number}", f"B{number + 1}", D(1)))
    links = Links(weighed=(Weighed("L", "B0", D(1)), *weighed), made=tuple(made))

    assert len(forward(links, ["L"]).batches) == 3001
    assert share_of(links, lots=["L"], batch="B3000") == 1
    assert len(would_loop(links, lot="R2999", batch="B0")) == 6000


def test_a_lot_of_two_batches_is_refused() -> None:
    """One lot, one origin."""
    with pytest.raises(ValueError, match="both B1 and B2"):
        Links(made=(Made("B1", "R", D(1)), Made("B2", "R", D(1))))


def test_a_holder_gives_no_more_than_it_has() -> None:
    """Moves out of nothing are refused."""
    with pytest.raises(ValueError, match="gave 2 more"):
        holdings([Moved("P", "", "workshop", 3), Moved("P", "workshop", "shop", 5)])


@st.composite
def chains(draw: st.DrawFn) -> Links:
    """Batches in order of making; each takes raw lots and lots that earlier ones made."""
    count = draw(st.integers(1, 7))
    weighed, made = [], []
    for number in range(count):
        earlier = [f"R{one}" for one in range(number)]
        for lot in draw(st.sets(st.sampled_from(["L0", "L1", "L2", *earlier]), min_size=1)):
            weighed.append(Weighed(lot, f"B{number}", D(draw(st.integers(1, 900)))))
        made.append(Made(f"B{number}", f"R{number}", D(draw(st.integers(1, 900)))))
    return Links(tuple(weighed), tuple(made))


def graph_of(links: Links) -> nx.DiGraph:
    """The same links for an independent library."""
    graph = nx.DiGraph()
    graph.add_nodes_from(["L0", "L1", "L2"])
    graph.add_edges_from((use.lot, use.batch) for use in links.weighed)
    graph.add_edges_from((link.batch, link.lot) for link in links.made)
    return graph


@given(links=chains())
def test_both_ways_agree_with_an_independent_graph(links: Links) -> None:
    """networkx's descendants and ancestors as the outside check."""
    graph = graph_of(links)

    for lot in ("L0", "L1", "L2"):
        expected = {node for node in nx.descendants(graph, lot) if node.startswith("B")}
        assert set(forward(links, [lot]).batch_keys) == expected
    for link in links.made:
        expected = {node for node in nx.ancestors(graph, link.batch) if not node.startswith("B")}
        assert set(backward(links, link.batch).lot_keys) == expected


@given(links=chains())
def test_the_shares_of_all_bought_lots_make_the_whole_batch(links: Links) -> None:
    """Nothing in a batch comes from nowhere."""
    for link in links.made:
        shares = [share_of(links, lots=[lot], batch=link.batch) for lot in ("L0", "L1", "L2")]
        assert sum(shares) == 1
        assert share_of(links, lots=["L0", "L1", "L2"], batch=link.batch) == 1


@given(links=chains(), lot=st.integers(0, 6), batch=st.integers(0, 6))
def test_a_loop_is_announced_exactly_when_there_would_be_one(links: Links, lot: int, batch: int) -> None:
    """Adding the link makes a cycle if and only if the way is not empty."""
    lot_key, batch_key = f"R{lot}", f"B{batch}"
    graph = graph_of(links)
    graph.add_edge(lot_key, batch_key)

    assert bool(would_loop(links, lot=lot_key, batch=batch_key)) != nx.is_directed_acyclic_graph(graph)
