"""The picture of a trace: nodes in columns from left to right, edges as curves, whatever the number of nodes.

Columns follow the longest way from a bought lot, so every edge leads to the right. Within a column nodes stand
in the order that keeps edges short (the mean height of their neighbours), each on its own row. Plain integers;
the template turns them into SVG attributes.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

COLUMN = 200
ROW = 52
TOP = 34
LABEL = 128
SWEEPS = 4
MOST_OFF_PATH = 6


@dataclass(frozen=True, slots=True)
class Node:
    """Something a trace shows. kind: lot, batch, pack or holder. on_path: the trace runs through it."""

    key: str
    kind: str
    title: str
    code: str
    on_path: bool = True
    url: str = ""
    held: bool = False


@dataclass(frozen=True, slots=True)
class Edge:
    """A way from one node to another with its quantity in words."""

    start: str
    end: str
    words: str
    on_path: bool = True


@dataclass(frozen=True, slots=True)
class PlacedNode:
    """A node with the place of its left middle."""

    node: Node
    x: int
    y: int


@dataclass(frozen=True, slots=True)
class PlacedEdge:
    """An edge as an SVG path, with where its words stand: at its start or at its end, where fewer edges meet."""

    edge: Edge
    path: str
    x: int
    y: int
    at_start: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """All places. Refuses to exist when two nodes share one."""

    width: int
    height: int
    nodes: tuple[PlacedNode, ...]
    edges: tuple[PlacedEdge, ...]
    left_out: int

    def __post_init__(self) -> None:
        places = {(node.x, node.y) for node in self.nodes}
        if len(places) != len(self.nodes):
            raise ValueError("two nodes stand on one place")


def draw(nodes: Iterable[Node], edges: Iterable[Edge], *, most_off_path: int = MOST_OFF_PATH) -> Picture:
    """Place nodes and edges. Off-path lots beyond ``most_off_path`` are left out and counted.

    The result depends on keys and edges alone, not on their order of arrival.
    """
    kept, left_out = leave_out(sorted(nodes, key=lambda node: node.key), most_off_path)
    known = {node.key: node for node in kept}
    ways = sorted(
        (edge for edge in edges if edge.start in known and edge.end in known),
        key=lambda edge: (edge.start, edge.end),
    )
    columns = column_of(known, ways)
    rows = order(known, ways, columns)
    width = (max(columns.values(), default=0) + 1) * COLUMN
    tallest = max((len(keys) for keys in rows.values()), default=1)
    arriving = Counter(edge.end for edge in ways)
    leaving = Counter(edge.start for edge in ways)
    placed = {}
    for column, keys in rows.items():
        gap = tallest * ROW // max(len(keys), 1)
        for index, key in enumerate(keys):
            placed[key] = PlacedNode(known[key], column * COLUMN, TOP + index * gap + gap // 2)
    return Picture(
        width=width,
        height=TOP + tallest * ROW + ROW // 2,
        nodes=tuple(placed[key] for key in sorted(placed)),
        edges=tuple(
            curve(edge, placed[edge.start], placed[edge.end], at_start=arriving[edge.end] > leaving[edge.start])
            for edge in ways
        ),
        left_out=left_out,
    )


def leave_out(nodes: Sequence[Node], most: int) -> tuple[list[Node], int]:
    """Keep all on-path nodes and the first off-path ones."""
    off = [node for node in nodes if not node.on_path]
    dropped = {node.key for node in off[most:]}
    return [node for node in nodes if node.key not in dropped], len(dropped)


def column_of(nodes: dict[str, Node], edges: Sequence[Edge]) -> dict[str, int]:
    """The column of each node: one more than the furthest of those before it; packs and holders stand last.

    Raises ValueError when the edges run in a circle.
    """
    before: dict[str, list[str]] = defaultdict(list)
    for edge in edges:
        before[edge.end].append(edge.start)
    found: dict[str, int] = {}
    under_way: set[str] = set()

    def depth(key: str) -> int:
        if key in found:
            return found[key]
        if key in under_way:
            raise ValueError("the ways run in a circle")
        under_way.add(key)
        found[key] = max((depth(other) + 1 for other in before[key]), default=0)
        under_way.discard(key)
        return found[key]

    for key in nodes:
        depth(key)
    last = max((found[key] for key, node in nodes.items() if node.kind not in ("pack", "holder")), default=-1)
    for kind, column in (("pack", last + 1), ("holder", last + 2)):
        for key, node in nodes.items():
            if node.kind == kind:
                found[key] = column
    return found


def order(nodes: dict[str, Node], edges: Sequence[Edge], columns: dict[str, int]) -> dict[int, list[str]]:
    """Keys by column, swept to and fro by the mean row of their neighbours."""
    rows: dict[int, list[str]] = defaultdict(list)
    for key in sorted(nodes, key=lambda one: (not nodes[one].on_path, one)):
        rows[columns[key]].append(key)
    neighbours: dict[str, list[str]] = defaultdict(list)
    for edge in edges:
        neighbours[edge.start].append(edge.end)
        neighbours[edge.end].append(edge.start)
    for sweep in range(SWEEPS):
        for column in sorted(rows, reverse=bool(sweep % 2)):
            place = {
                key: Decimal(index) / max(len(keys), 1) for keys in rows.values() for index, key in enumerate(keys)
            }
            rows[column].sort(key=lambda key: (mean([place[one] for one in neighbours[key]], place[key]), key))  # noqa: B023 - used at once
    return rows


def mean(values: Sequence[Decimal], otherwise: Decimal) -> Decimal:
    """The mean, or what stands in for it."""
    return sum(values, Decimal(0)) / len(values) if values else otherwise


def curve(edge: Edge, start: PlacedNode, end: PlacedNode, *, at_start: bool) -> PlacedEdge:
    """A smooth way from the right of one label to the left of the next."""
    x1, y1, x2, y2 = start.x + LABEL, start.y, end.x - 8, end.y
    middle = (x1 + x2) // 2
    return PlacedEdge(
        edge,
        f"M{x1} {y1} C{middle} {y1} {middle} {y2} {x2} {y2}",
        x1 if at_start else x2,
        (y1 if at_start else y2) - 6,
        at_start,
    )
