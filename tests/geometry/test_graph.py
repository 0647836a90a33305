"""Graphs in the plane, against networkx."""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest

from pipeline.errors import BrokenPromiseError
from pipeline.geometry.graph import components, nodes_of, shortest, traced, without_parallels


def test_places_are_one_by_distance_wherever_they_lie() -> None:
    """A micrometre apart across any border of any grid: one; ten apart: two."""
    rng = np.random.default_rng(1)
    spots = rng.integers(-9999, 9999, (300, 2)) * 5e-4
    turn = rng.uniform(0, 2 * np.pi, 300)
    aside = np.column_stack([np.cos(turn), np.sin(turn)])
    number = nodes_of(np.vstack([spots, spots + 1e-6 * aside, spots + 1e-5 * aside]), 2e-6)
    np.testing.assert_array_equal(number[:300], number[300:600])
    assert not np.isin(number[600:], number[:300]).any()
    assert number[0] == 0


@pytest.mark.parametrize("seed", range(8))
def test_ways_and_components_as_networkx_finds_them(seed: int) -> None:
    rng = np.random.default_rng(seed)
    tails, heads = rng.integers(0, 40, (2, 55))
    lengths = rng.uniform(1, 9, 55)
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(40))
    graph.add_weighted_edges_from(zip(tails.tolist(), heads.tolist(), lengths.tolist(), strict=True))
    best = without_parallels(tails, heads, lengths)
    far, before = shortest(40, tails[best], heads[best], lengths[best], np.array([3, 17]))
    group = components(40, tails, heads)
    for row, source in enumerate((3, 17)):
        told = nx.single_source_dijkstra_path_length(graph, source)
        for node in range(40):
            assert (group[node] == group[source]) == (node in told)
            assert far[row, node] == pytest.approx(told.get(node, np.inf))
            if node in told:
                way = traced(before[row], node)
                assert (way[0], way[-1]) == (source, node)
                steps = [min(e["weight"] for e in graph[a][b].values()) for a, b in pairwise(way)]
                assert sum(steps) == pytest.approx(told[node])


def test_a_way_in_a_circle_is_refused() -> None:
    with pytest.raises(BrokenPromiseError):
        traced([1, 2, 0], 0)
