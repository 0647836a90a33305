"""Matchings against networkx's, which are exact."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from pipeline.geometry.matching import perfect_matching


def costs(count: int, seed: int) -> np.ndarray:
    """Distances of random places, of places on a lattice (many ties), or symmetric numbers with ties."""
    rng = np.random.default_rng(seed)
    if seed % 3 == 2:
        cost = np.round(rng.uniform(0, 9, (count, count)), seed % 4)
        cost = cost + cost.T
        np.fill_diagonal(cost, 0.0)
        return cost
    spots = rng.uniform(0, 50, (count, 2)) if seed % 3 else rng.integers(0, 5, (count, 2)).astype(float)
    return np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))


def least(cost: np.ndarray) -> float:
    graph = nx.Graph()
    for a in range(len(cost)):
        for b in range(a):
            graph.add_edge(a, b, weight=cost[a, b])
    return float(sum(cost[a, b] for a, b in nx.min_weight_matching(graph)))


@pytest.mark.parametrize("count", [2, 4, 6, 10, 16, 30])
def test_as_short_as_networkx_says(count: int) -> None:
    for seed in range(24):
        cost = costs(count, 100 * count + seed)
        pairs = perfect_matching(cost)
        assert sorted(node for pair in pairs for node in pair) == list(range(count))
        assert sum(cost[a, b] for a, b in pairs) == pytest.approx(least(cost), abs=1e-5)


def test_nothing_to_match() -> None:
    assert perfect_matching(np.zeros((0, 0))) == []


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    """Not by compiled code either: a batch writes its results to standard output."""
    for seed in range(6):
        perfect_matching(costs(60, seed))
    assert capfd.readouterr() == ("", "")
