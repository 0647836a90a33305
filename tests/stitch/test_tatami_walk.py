"""The walk over all rows against networkx's notion of an Eulerian trail."""

import networkx as nx
import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from pipeline.stitch.rows import lay_rows
from pipeline.stitch.walk import may_join, walked

SHAPES = {
    "square": box(0, 0, 12, 12),
    "ring": Point(8, 8).buffer(8).difference(Point(8, 8).buffer(3)),
    "sieve": box(0, 0, 30, 30).difference(
        unary_union([Point(5 + 6.5 * i, 5 + 6.5 * k).buffer(2) for i in range(4) for k in range(4)])
    ),
    "forks": unary_union([box(0, 0, 20, 4), *[box(5 * i, 3, 5 * i + 2, 15) for i in range(4)], box(0, 14, 20, 18)]),
}


def partners(area: Polygon, first: int) -> tuple:
    rows = lay_rows(area, 17.0, 0.3, 0.3)
    last = next(n for n in range(len(rows.u) - 1, -1, -1) if may_join(rows, first, n))
    return rows, last


@pytest.mark.parametrize("first", [0, 7, 40])
@pytest.mark.parametrize("name", SHAPES)
def test_every_row_is_walked_exactly_once(name: str, first: int) -> None:
    rows, last = partners(SHAPES[name], first)
    walk = walked(rows, first, last)
    assert (walk.nodes[0], walk.nodes[-1]) == (first, last)
    a, b = walk.nodes[:-1], walk.nodes[1:]
    assert np.all((a ^ 1 == b)[walk.is_row])
    pieces = ~walk.is_row
    assert np.all((rows.after[a] == b)[pieces] | (rows.after[b] == a)[pieces])
    assert sorted((a[walk.is_row] >> 1).tolist()) == list(range(len(rows.u) // 2))


@pytest.mark.parametrize("name", SHAPES)
def test_the_walk_is_an_eulerian_trail_of_its_graph(name: str) -> None:
    rows, last = partners(SHAPES[name], 0)
    walk = walked(rows, 0, last)
    graph = nx.MultiGraph()
    graph.add_edges_from(zip(walk.nodes[:-1].tolist(), walk.nodes[1:].tolist(), strict=True))
    assert set(graph) == set(range(len(rows.u)))
    assert nx.has_eulerian_path(graph)
    assert sorted(n for n, degree in graph.degree if degree % 2) == sorted([0, last])
    assert max(dict(graph.degree).values()) <= 4


def test_rings_hold_an_even_number_of_ends_and_hang_together() -> None:
    for area in SHAPES.values():
        rows = lay_rows(area, 17.0, 0.3, 0.3)
        assert np.all(rows.ring_size % 2 == 0)
        graph = nx.Graph()
        nodes = np.arange(len(rows.u))
        graph.add_edges_from(zip(nodes.tolist(), (nodes ^ 1).tolist(), strict=True))
        graph.add_edges_from(zip(nodes.tolist(), rows.after.tolist(), strict=True))
        assert nx.is_connected(graph)


def test_a_neck_thinner_than_the_rows_keeps_both_sides_together() -> None:
    area = unary_union([box(0, 0, 9, 9), box(15, 0, 24, 9), box(8, 4.51, 16, 4.55)])
    rows = lay_rows(area, 0.0, 0.2, 0.3)
    last = next(n for n in range(len(rows.u) - 1, -1, -1) if may_join(rows, 0, n))
    assert walked(rows, 0, last).is_row.sum() == len(rows.u) // 2
