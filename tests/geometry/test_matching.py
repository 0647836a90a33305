"""Matchings against networkx's, which are exact."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from pipeline.geometry.matching import UNIT, _scattered, perfect_matching


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


def test_of_equally_cheap_matchings_the_one_found_does_not_depend_on_the_solver() -> None:
    """On a lattice many are equally cheap; networkx, told the same shares by which ties are settled, agrees."""
    cost = costs(20, 3)
    one, other = np.triu_indices(20, 1)
    graph = nx.Graph()
    for a, b, share in zip(one.tolist(), other.tolist(), _scattered(one * 20 + other).tolist(), strict=True):
        graph.add_edge(a, b, weight=(int(np.rint(cost[a, b] / UNIT)) * 10 << 32) + share)
    found = nx.min_weight_matching(graph)
    assert perfect_matching(cost) == sorted((min(pair), max(pair)) for pair in found)


def test_many_are_matched_about_as_cheaply() -> None:
    cost = costs(220, 1)
    assert sum(cost[a, b] for a, b in perfect_matching(cost)) <= 1.005 * least(cost)


def test_many_in_far_groups_of_odd_size_are_all_matched() -> None:
    """The nearest of a row are all in its own group, which cannot be matched within itself."""
    rng = np.random.default_rng(4)
    spots = rng.uniform(0, 5, (210, 2)) + np.repeat(
        [[0, 0], [500, 0], [0, 500], [500, 500]], [51, 53, 53, 53], axis=0
    )
    pairs = perfect_matching(np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1)))
    assert sorted(node for pair in pairs for node in pair) == list(range(210))


def test_nothing_to_match() -> None:
    assert perfect_matching(np.zeros((0, 0))) == []


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    """Not by compiled code either: a batch writes its results to standard output."""
    for seed in range(6):
        perfect_matching(costs(60, seed))
    assert capfd.readouterr() == ("", "")
