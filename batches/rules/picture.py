"""The picture of a trace: nodes in columns from left to right, edges as curves, whatever the number of nodes.

Lots stand in even columns, batches in odd ones, as far right as the longest way to them; packs and their
holders come last. An edge over several columns runs in a lane of its own between the labels, shared by all
edges of its start. Columns are ordered so that few edges cross, then moved so that edges run level. Edges
that meet at a node each arrive at their own height, so their words never overlap. Plain integers; the same
for the same records, in whatever order they come.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

ROW = 52
"""Least height of a node with its two lines of label; even, so that halves are whole."""
LANE = 16
"""Height of a lane between labels."""
PORT = 18
"""Height between edges that arrive at one node: a line of words."""
TOP = 44
FOOT = 8
BEND = 48
"""Width in which an edge changes its height."""
AIR = 8
"""Between a label and an edge."""
NAME_LETTER, CODE_LETTER, WORDS_LETTER = 8, 8, 7
"""Widths of a letter, on the safe side for 14 and 12 px."""
MOST_LETTERS = 19
HELD_WORDS = " (hold)"
SWEEPS = 8
MOST_OFF_PATH = 6

HEADS = {
    "bought": "Lots bought",
    "lot": "Lots made here",
    "batch": "Batches",
    "pack": "Packs",
    "holder": "Who has it",
}

Spot = tuple[str, int]
"""A node in its column, or the lane of a node's edges through a later column."""


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
    """A node with the place of its label's left middle; the label's lines stand around ``y``."""

    node: Node
    x: int
    y: int
    column: int

    @property
    def title(self) -> str:
        """The title, cut where it would run into the next column."""
        text = self.node.title
        return text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 1].rstrip() + "…"

    @property
    def width(self) -> int:
        """Room that the label takes."""
        code = len(self.node.code) + (len(HELD_WORDS) if self.node.held else 0)
        return max(len(self.title) * NAME_LETTER, code * CODE_LETTER)


@dataclass(frozen=True, slots=True)
class PlacedEdge:
    """An edge as an SVG path, with the right end of its words' line."""

    edge: Edge
    path: str
    x: int
    y: int

    @property
    def css(self) -> str:
        """Class of the path."""
        return "on-path" if self.edge.on_path else "off-path"


@dataclass(frozen=True, slots=True)
class Head:
    """What stands in a column."""

    x: int
    words: str


@dataclass(frozen=True, slots=True)
class Picture:
    """All places; edges off the path first, so that the path lies on top. left_out: lots not drawn.

    Refuses to exist when two nodes share a place.
    """

    width: int
    height: int
    heads: tuple[Head, ...]
    nodes: tuple[PlacedNode, ...]
    edges: tuple[PlacedEdge, ...]
    left_out: int

    def __post_init__(self) -> None:
        places = {(node.x, node.y) for node in self.nodes}
        if len(places) != len(self.nodes):
            raise ValueError("two nodes stand on one place")


def draw(nodes: Iterable[Node], edges: Iterable[Edge], *, most_off_path: int = MOST_OFF_PATH) -> Picture:
    """Place nodes and edges. Off-path lots beyond ``most_off_path`` are left out and counted.

    Edges to or from a node that is not drawn are left out too. Raises ValueError when the edges run in a
    circle.
    """
    kept, left_out = leave_out(sorted(nodes, key=lambda node: node.key), most_off_path)
    known = {node.key: node for node in kept}
    ways = sorted(
        (edge for edge in edges if edge.start in known and edge.end in known),
        key=lambda edge: (edge.on_path, edge.start, edge.end, edge.words),
    )
    columns = column_of(known, ways)
    routes = [route_of(edge, columns) for edge in ways]
    hops = sorted({hop for route in routes for hop in pairwise(route)})
    spots = {(key, column) for key, column in columns.items()} | {spot for route in routes for spot in route}
    rows = ordered(spots, hops, known, columns)
    heights = heights_of(rows, ways, columns)
    ys = levels_of(rows, hops, heights)
    return _on_paper(known, ways, routes, columns, ys, heights, left_out)


def leave_out(nodes: Sequence[Node], most: int) -> tuple[list[Node], int]:
    """Keep everything but the off-path lots after the first ``most``, and the number of those."""
    off = [node.key for node in nodes if not node.on_path and node.kind == "lot"]
    dropped = set(off[most:])
    return [node for node in nodes if node.key not in dropped], len(dropped)


def column_of(nodes: Mapping[str, Node], edges: Sequence[Edge]) -> dict[str, int]:
    """The column of each node: right of all before it, lots in even, batches in odd ones; packs, holders
    last.

    Raises ValueError when the edges run in a circle.
    """
    after: dict[str, list[str]] = defaultdict(list)
    waiting_for = dict.fromkeys(nodes, 0)
    for edge in edges:
        after[edge.start].append(edge.end)
        waiting_for[edge.end] += 1
    found = {key: 1 if node.kind == "batch" else 0 for key, node in nodes.items()}
    ready = [key for key, count in waiting_for.items() if not count]
    done = 0
    while ready:
        key = ready.pop()
        done += 1
        for later in after[key]:
            least = found[key] + 1
            if (least % 2 == 1) != (nodes[later].kind == "batch"):
                least += 1
            found[later] = max(found[later], least)
            waiting_for[later] -= 1
            if not waiting_for[later]:
                ready.append(later)
    if done != len(nodes):
        raise ValueError("the ways run in a circle")
    made = [found[key] for key, node in nodes.items() if node.kind not in ("pack", "holder")]
    last = max(made, default=-1)
    for key, node in nodes.items():
        if node.kind in ("pack", "holder"):
            found[key] = last + (1 if node.kind == "pack" else 2)
    return found


def route_of(edge: Edge, columns: Mapping[str, int]) -> list[Spot]:
    """The spots that an edge runs through: its start, a lane in each column between, its end."""
    first, last = columns[edge.start], columns[edge.end]
    return [(edge.start, column) for column in range(first, last)] + [(edge.end, last)]


def ordered(
    spots: Iterable[Spot],
    hops: Sequence[tuple[Spot, Spot]],
    nodes: Mapping[str, Node],
    columns: Mapping[str, int],
) -> dict[int, list[Spot]]:
    """Spots by column, from top to bottom, with few crossings: the best of some sweeps by mean neighbours."""
    rows: dict[int, list[Spot]] = defaultdict(list)
    for spot in sorted(spots, key=lambda one: (not nodes[one[0]].on_path, one[1] != columns[one[0]], one)):
        rows[spot[1]].append(spot)
    before, after = neighbours(hops)
    best, fewest = {column: list(row) for column, row in rows.items()}, crossings(rows, hops)
    for sweep in range(SWEEPS):
        backwards = bool(sweep % 2)
        towards = after if backwards else before
        for column in sorted(rows, reverse=backwards):
            place = {spot: index for row in rows.values() for index, spot in enumerate(row)}
            rows[column] = _by_mean(rows[column], towards, place)
        count = crossings(rows, hops)
        if count < fewest:
            best, fewest = {column: list(row) for column, row in rows.items()}, count
    return best


def neighbours(hops: Iterable[tuple[Spot, Spot]]) -> tuple[dict[Spot, list[Spot]], dict[Spot, list[Spot]]]:
    """Spots to the left and to the right of each."""
    before: dict[Spot, list[Spot]] = defaultdict(list)
    after: dict[Spot, list[Spot]] = defaultdict(list)
    for start, end in hops:
        before[end].append(start)
        after[start].append(end)
    return before, after


def crossings(rows: Mapping[int, Sequence[Spot]], hops: Iterable[tuple[Spot, Spot]]) -> int:
    """How many pairs of hops between two columns cross."""
    place = {spot: index for row in rows.values() for index, spot in enumerate(row)}
    between: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for start, end in hops:
        between[start[1]].append((place[start], place[end]))
    count = 0
    for pairs in between.values():
        ends: list[int] = []
        for _, end_place in sorted(pairs):
            count += len(ends) - bisect_right(ends, end_place)
            insort(ends, end_place)
    return count


def heights_of(
    rows: Mapping[int, Sequence[Spot]], edges: Sequence[Edge], columns: Mapping[str, int]
) -> dict[Spot, int]:
    """The room of each spot: a node grows with the edges that arrive at it."""
    arriving: dict[str, int] = defaultdict(int)
    for edge in edges:
        arriving[edge.end] += 1
    return {
        spot: max(ROW, (arriving[spot[0]] + 1) * PORT) if columns[spot[0]] == spot[1] else LANE
        for row in rows.values()
        for spot in row
    }


def levels_of(
    rows: Mapping[int, Sequence[Spot]], hops: Sequence[tuple[Spot, Spot]], heights: Mapping[Spot, int]
) -> dict[Spot, int]:
    """The height of each spot's middle: near to its neighbours, in order, apart; the topmost at ``TOP``."""
    ys: dict[Spot, int] = {}
    for row in rows.values():
        top = 0
        for spot in row:
            ys[spot] = top + heights[spot] // 2
            top += heights[spot]
    before, after = neighbours(hops)
    for sweep in range(SWEEPS):
        backwards = bool(sweep % 2)
        towards = after if backwards else before
        for column in sorted(rows, reverse=backwards):
            row = rows[column]
            wanted = [_mean([ys[one] for one in towards.get(spot, [])], ys[spot]) for spot in row]
            for spot, y in zip(row, settled(wanted, [heights[spot] for spot in row]), strict=True):
                ys[spot] = y
    rise = TOP - min((y - heights[spot] // 2 for spot, y in ys.items()), default=0)
    return {spot: y + rise for spot, y in ys.items()}


def settled(wanted: Sequence[int], heights: Sequence[int]) -> list[int]:
    """Middles in the same order, as near to ``wanted`` as the heights between them allow (least squares).

    Neighbours that want to overlap form a block around their mean: the pool-adjacent-violators method.
    """
    offsets, below = [], 0
    for place, height in enumerate(heights):
        below += (heights[place - 1] + height) // 2 if place else 0
        offsets.append(below)
    blocks: list[tuple[int, int]] = []
    for want, offset in zip(wanted, offsets, strict=True):
        total, count = want - offset, 1
        while blocks and blocks[-1][0] * count > total * blocks[-1][1]:
            total, count = total + blocks[-1][0], count + blocks[-1][1]
            blocks.pop()
        blocks.append((total, count))
    starts = [total // count for total, count in blocks for _ in range(count)]
    return [start + offset for start, offset in zip(starts, offsets, strict=True)]


def _by_mean(
    row: Sequence[Spot], towards: Mapping[Spot, Sequence[Spot]], place: Mapping[Spot, int]
) -> list[Spot]:
    """The row sorted by the mean place of the neighbours; a spot without any keeps its own place."""

    def mean(spot: Spot) -> int:
        near = [place[one] for one in towards.get(spot, ())] or [place[spot]]
        return sum(near) * 1000 // len(near)

    return sorted(row, key=lambda spot: (mean(spot), place[spot]))


def _mean(values: Sequence[int], otherwise: int) -> int:
    return sum(values) // len(values) if values else otherwise


def _on_paper(
    nodes: Mapping[str, Node],
    edges: Sequence[Edge],
    routes: Sequence[Sequence[Spot]],
    columns: Mapping[str, int],
    ys: Mapping[Spot, int],
    heights: Mapping[Spot, int],
    left_out: int,
) -> Picture:
    """Give columns their places and draw every edge along its route."""
    flat = {key: PlacedNode(node, 0, ys[(key, columns[key])], columns[key]) for key, node in nodes.items()}
    count = max(columns.values(), default=-1) + 1
    labels = [max((one.width for one in flat.values() if one.column == c), default=0) for c in range(count)]
    words = [0] * count
    for edge in edges:
        column = columns[edge.end]
        words[column] = max(words[column], len(edge.words) * WORDS_LETTER)
    xs, x = [], 0
    for column in range(count):
        x += words[column] + BEND + 3 * AIR if column else 0
        xs.append(x)
        x += labels[column]
    placed = {key: PlacedNode(one.node, xs[one.column], one.y, one.column) for key, one in flat.items()}
    rights = [left + label + AIR for left, label in zip(xs, labels, strict=True)]
    arrivals = _arrivals(edges, routes, ys)
    drawn = []
    for edge, route, y in zip(edges, routes, arrivals, strict=True):
        end_x = placed[edge.end].x - AIR
        path = _path(placed[edge.start], route, ys, y, rights, end_x)
        drawn.append(PlacedEdge(edge, path, end_x, y - 5))
    bottom = max((y + heights[spot] // 2 for spot, y in ys.items()), default=TOP)
    return Picture(
        width=x,
        height=bottom + FOOT,
        heads=_heads(nodes, columns, xs),
        nodes=tuple(placed[key] for key in sorted(placed)),
        edges=tuple(drawn),
        left_out=left_out,
    )


def _arrivals(edges: Sequence[Edge], routes: Sequence[Sequence[Spot]], ys: Mapping[Spot, int]) -> list[int]:
    """The height at which each edge arrives: those of one node spread around its middle, in order."""
    at_node: dict[Spot, list[int]] = defaultdict(list)
    for place, route in enumerate(routes):
        at_node[route[-1]].append(place)
    found = [0] * len(edges)
    for spot, places in at_node.items():
        places.sort(key=lambda place: (ys[routes[place][-2]], edges[place].start, edges[place].words))
        top = ys[spot] - (len(places) - 1) * PORT // 2
        for index, place in enumerate(places):
            found[place] = top + index * PORT
    return found


def _path(
    start: PlacedNode,
    route: Sequence[Spot],
    ys: Mapping[Spot, int],
    arrival: int,
    rights: Sequence[int],
    end_x: int,
) -> str:
    """Level through each column, bent between them."""
    y = ys[route[0]]
    steps = [f"M{start.x + start.width + AIR},{y}"]
    for here, there in pairwise(route):
        next_y = arrival if there == route[-1] else ys[there]
        left = rights[here[1]]
        middle, right = left + BEND // 2, left + BEND
        steps.append(f"H{left}C{middle},{y} {middle},{next_y} {right},{next_y}")
        y = next_y
    return "".join([*steps, f"H{end_x}"])


def _heads(nodes: Mapping[str, Node], columns: Mapping[str, int], xs: Sequence[int]) -> tuple[Head, ...]:
    """A word over each column that has nodes."""
    kinds: dict[int, str] = {}
    for key, node in nodes.items():
        kinds[columns[key]] = "bought" if node.kind == "lot" and columns[key] == 0 else node.kind
    return tuple(Head(xs[column], HEADS[kind]) for column, kind in sorted(kinds.items()))
