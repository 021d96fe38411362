"""The picture of a trace (layered drawing: common practice; no other source)."""

from __future__ import annotations

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.picture import (
    CODE_LETTER,
    HELD_WORDS,
    WORDS_LETTER,
    Edge,
    Node,
    Picture,
    crossings,
    draw,
    ordered,
    settled,
)

Box = tuple[int, int, int, int]


def label_box(picture: Picture, key: str) -> Box:
    """Left, top, right, bottom of a node's two lines."""
    (one,) = [one for one in picture.nodes if one.node.key == key]
    return one.x, one.y - 16, one.x + one.width, one.y + 17


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share more than an edge."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def assert_nothing_overlaps(picture: Picture) -> None:
    """Labels and words, each against each."""
    boxes = [label_box(picture, one.node.key) for one in picture.nodes]
    boxes += [
        (one.x - len(one.edge.words) * WORDS_LETTER, one.y - 11, one.x, one.y + 3)
        for one in picture.edges
        if one.edge.words
    ]
    for place, one in enumerate(boxes):
        assert 0 <= one[0] <= one[2] <= picture.width
        assert 0 <= one[1] <= one[3] <= picture.height
        assert not any(overlap(one, other) for other in boxes[:place])


def fixture() -> tuple[list[Node], list[Edge]]:
    """The worked example: two batches, rework, two packs, three recipients."""
    nodes = [
        Node("L1", "lot", "Oil", "26-L001", on_path=False),
        Node("L2", "lot", "Wax", "26-L002", held=True),
        Node("L3", "lot", "Wax", "26-L003", on_path=False),
        Node("B1", "batch", "Balm", "26-0001"),
        Node("R1", "lot", "Rework, 26-0001", "26-L004"),
        Node("B2", "batch", "Balm", "26-0002"),
        Node("P1", "pack", "190 of Balm", "26-P001"),
        Node("P2", "pack", "154 of Balm", "26-P002"),
        *(Node(name, "holder", f"Recipient {name}", name) for name in ("C1", "C2", "C3")),
    ]
    edges = [
        Edge("L1", "B1", "7 000 g", on_path=False),
        Edge("L2", "B1", "3 000 g"),
        Edge("B1", "R1", "200 g"),
        Edge("L1", "B2", "5 600 g", on_path=False),
        Edge("L3", "B2", "2 200 g", on_path=False),
        Edge("R1", "B2", "200 g"),
        Edge("B1", "P1", "190"),
        Edge("B2", "P2", "154"),
        Edge("P1", "C1", "60"),
        Edge("P1", "C2", "95"),
        Edge("P2", "C2", "80"),
        Edge("P1", "C3", "20"),
        Edge("P2", "C3", "40"),
    ]
    return nodes, edges


def test_columns_run_from_lots_to_people() -> None:
    """Bought, batch, made here, batch, packs, holders; each with its head."""
    picture = draw(*fixture())

    columns = {one.node.key: one.column for one in picture.nodes}
    assert [columns[key] for key in ("L1", "B1", "R1", "B2", "P1", "P2", "C2")] == [0, 1, 2, 3, 4, 4, 5]
    assert [head.words for head in picture.heads] == [
        "Lots bought", "Batches", "Lots made here", "Batches", "Packs", "Who has it",
    ]  # fmt: skip
    assert_nothing_overlaps(picture)


def test_the_path_is_drawn_last() -> None:
    """On top of what is off it."""
    drawn = [one.edge.on_path for one in draw(*fixture()).edges]

    assert drawn == sorted(drawn)


def test_the_order_of_arrival_does_not_matter() -> None:
    """The same records give the same picture."""
    nodes, edges = fixture()
    first = draw(nodes, edges)
    rng = random.Random(7)
    for _ in range(5):
        rng.shuffle(nodes)
        rng.shuffle(edges)
        assert draw(nodes, edges) == first


def test_an_edge_over_several_columns_keeps_clear_of_labels() -> None:
    """L1 goes to B2 past B1 and R1: level parts of its path lie beside their labels."""
    picture = draw(*fixture())
    (long,) = [one for one in picture.edges if (one.edge.start, one.edge.end) == ("L1", "B2")]

    for key in ("B1", "R1"):
        left, top, right, bottom = label_box(picture, key)
        level = level_at(long.path, left)
        assert level_at(long.path, right) == level
        assert not top < level < bottom


def level_at(path: str, x: int) -> int:
    """The height of a path at x, in a level part."""
    here_x, here_y = (int(part) for part in re.findall(r"M(\d+),(\d+)", path)[0])
    for kind, rest in re.findall(r"([HC])([\d,. ]+)", path):
        if kind == "H":
            if here_x <= x <= int(rest):
                return here_y
            here_x = int(rest)
        else:
            here_x, here_y = (int(part) for part in rest.split()[-1].split(","))
    raise AssertionError(f"{x} is in no level part of {path}")


def test_lots_off_the_path_are_left_out_and_counted() -> None:
    """17 grey lots, 6 drawn, 11 left out with their edges; the path stays whole."""
    nodes = [Node(f"L{n:02}", "lot", "Oil", f"26-L{n:03}", on_path=False) for n in range(17)]
    nodes += [Node("X", "lot", "Wax", "26-L099"), Node("B", "batch", "Balm", "26-0001")]
    edges = [Edge(node.key, "B", "1 g", on_path=node.on_path) for node in nodes if node.kind == "lot"]

    picture = draw(nodes, edges)

    assert picture.left_out == 11
    assert len(picture.edges) == 7
    assert "X" in {one.node.key for one in picture.nodes}
    assert draw(nodes, edges, most_off_path=100).left_out == 0


def test_a_long_title_is_cut_and_a_hold_takes_room() -> None:
    """Nothing runs into the next column."""
    picture = draw([Node("L", "lot", "Sweet almond oil, refined", "26-L0001-2026", held=True)], [])

    assert picture.nodes[0].title == "Sweet almond oil,…"
    assert picture.nodes[0].width == (len("26-L0001-2026") + len(HELD_WORDS)) * CODE_LETTER


def test_ways_in_a_circle_are_refused() -> None:
    """A batch is never its own ancestor."""
    nodes = [Node("B", "batch", "Balm", "1"), Node("R", "lot", "Rework", "2")]

    with pytest.raises(ValueError, match="circle"):
        draw(nodes, [Edge("B", "R", ""), Edge("R", "B", "")])


def test_nothing_makes_an_empty_picture() -> None:
    """No records, no raise."""
    assert draw([], []).nodes == ()


def test_crossings_are_counted_and_taken_out() -> None:
    """Two pairs laid crosswise: one crossing, none after ordering."""
    nodes = {key: Node(key, "lot" if key in "ab" else "batch", key, key) for key in "abcd"}
    columns = {"a": 0, "b": 0, "c": 1, "d": 1}
    hops = [(("a", 0), ("d", 1)), (("b", 0), ("c", 1))]
    spots = list(columns.items())

    assert crossings({0: [("a", 0), ("b", 0)], 1: [("c", 1), ("d", 1)]}, hops) == 1
    assert crossings(ordered(spots, hops, nodes, columns), hops) == 0


def test_settling_keeps_order_and_distance() -> None:
    """Two that want one place stand around it."""
    assert settled([100, 100], [52, 52]) == [74, 126]
    assert settled([0, 500], [52, 52]) == [0, 500]


@given(st.lists(st.tuples(st.integers(-999, 999), st.sampled_from([16, 52, 96])), max_size=30))
def test_settled_middles_are_apart(rows: list[tuple[int, int]]) -> None:
    """Whatever is wanted, neighbours don't overlap."""
    heights = [height for _, height in rows]

    found = settled([wanted for wanted, _ in rows], heights)

    for place in range(1, len(found)):
        assert found[place] - found[place - 1] >= (heights[place - 1] + heights[place]) // 2


@st.composite
def traces(draw_: st.DrawFn) -> tuple[list[Node], list[Edge]]:
    """Up to 14 batches that take raw and made lots, with packs and holders: 60 nodes and more."""
    lots = [Node(f"L{n}", "lot", f"Ingredient {n}", f"26-L{n:03}", draw_(st.booleans())) for n in range(12)]
    nodes, edges, usable = list(lots), [], [lot.key for lot in lots]
    for number in range(draw_(st.integers(1, 14))):
        batch = f"B{number}"
        nodes.append(Node(batch, "batch", "Balm", f"26-{number:04}"))
        for lot in sorted(draw_(st.sets(st.sampled_from(usable), min_size=1, max_size=8))):
            edges.append(Edge(lot, batch, f"{draw_(st.integers(1, 99_999))} g", draw_(st.booleans())))
        if draw_(st.booleans()):
            nodes.append(Node(f"R{number}", "lot", "Rework", f"26-R{number:03}"))
            edges.append(Edge(batch, f"R{number}", ""))
            usable.append(f"R{number}")
        nodes.append(Node(f"P{number}", "pack", "96 of Balm", f"26-P{number:03}"))
        edges.append(Edge(batch, f"P{number}", "96"))
        for holder in draw_(st.sets(st.integers(0, 20), max_size=4)):
            if f"C{holder}" not in {node.key for node in nodes}:
                nodes.append(Node(f"C{holder}", "holder", f"Recipient {holder}", f"C-{holder}"))
            edges.append(Edge(f"P{number}", f"C{holder}", "12"))
    return nodes, edges


@given(traces())
def test_no_labels_overlap_whatever_the_trace(trace: tuple[list[Node], list[Edge]]) -> None:
    """All nodes and words apart, on the paper, every edge to the right."""
    nodes, edges = trace

    picture = draw(nodes, edges, most_off_path=100)

    assert_nothing_overlaps(picture)
    columns = {one.node.key: one.column for one in picture.nodes}
    assert all(columns[edge.start] < columns[edge.end] for edge in edges)
    assert len(picture.edges) == len(edges)
