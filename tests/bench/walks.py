"""Walks over runs against the postman bound: ``python tests/bench/walks.py``.

The bound is all lines once and a shortest matching of the nodes of wrong parity (Edmonds & Johnson 1973), by
networkx, whose matching is exact. Seeded trees, nets with few and with many odd nodes, runs of 200 twemoji files.
"""

from __future__ import annotations

import itertools
import random
import sys
import time
from pathlib import Path

import networkx as nx
import numpy as np
from shapely.geometry import LineString

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import corpus
from narrow_judge import SETTINGS, surfaces_of

from pipeline.model import Line, Spot, points
from pipeline.split.parts import split
from pipeline.stitch.postman import walk

Net = tuple[Line, ...]


def main() -> None:
    """Print the ratio of every family."""
    print(f"{'lines':40} {'walks':>5} {'mean':>8} {'worst':>8} {'ms':>6} {'odd nodes':>9}")
    _row("trees of 40 lines", [tree(seed) for seed in range(100)])
    for size, count in ((4, 40), (7, 20), (12, 5), (20, 3)):
        _row(f"nets of {size} × {size} nodes", [net(size, seed) for seed in range(count)])
    _row("runs of 200 twemoji files", runs())


def tree(seed: int) -> Net:
    """Forty lines, each from a random place where others meet."""
    rng = np.random.default_rng(seed)
    spots = [np.zeros(2)]
    lines = []
    for _ in range(40):
        base = spots[int(rng.integers(len(spots)))]
        spots.append(base + rng.uniform(-6, 6, 2))
        lines.append(Line(points([base, spots[-1]])))
    return tuple(lines)


def net(size: int, seed: int) -> Net:
    """A lattice with its nodes moved, and some of its edges left out as long as it hangs together."""
    rng = np.random.default_rng(seed)
    graph = nx.grid_2d_graph(size, size)
    for edge in sorted(graph.edges):
        if rng.random() < 0.3:
            graph.remove_edge(*edge)
            if not nx.is_connected(graph):
                graph.add_edge(*edge)
    spot = {node: 3.0 * np.array(node) + rng.uniform(-1, 1, 2) for node in sorted(graph)}
    return tuple(Line(points([spot[a], spot[b]])) for a, b in sorted(graph.edges))


def runs() -> list[Net]:
    """The lines of every run and triple run of seeded artwork."""
    found = []
    for path in random.Random(20).sample(corpus("twemoji"), 200):
        parts = split(surfaces_of(path), SETTINGS.split, SETTINGS.craft, _unheard)
        found += [part.lines for part in parts if part.lines and not all(line.closed for line in part.lines)]
    return found


def bound(lines: Net, start: Spot, end: Spot) -> tuple[float, int]:
    """The shortest walk possible, and how many nodes have the wrong parity."""
    graph = nx.MultiGraph()
    for line in lines:
        chain = np.vstack([line.points, line.points[:1]]) if line.closed else line.points
        graph.add_edge(_node(chain[0]), _node(chain[-1]), weight=LineString(chain).length)
    odd = sorted(v for v in graph if (graph.degree(v) + (v == _node(start)) + (v == _node(end))) % 2)
    complete = nx.Graph()
    for a, b in itertools.combinations(odd, 2):
        complete.add_edge(a, b)
    for a in odd:
        far = nx.single_source_dijkstra_path_length(graph, a)
        for b in complete[a] if len(odd) > 1 else ():
            complete[a][b]["weight"] = far[b]
    doubled = sum(complete[a][b]["weight"] for a, b in nx.min_weight_matching(complete))
    return graph.size(weight="weight") + doubled, len(odd)


def _row(name: str, nets: list[Net]) -> None:
    ratios, spent, most = [], 0.0, 0
    for lines in nets:
        start, end = tuple(lines[0].points[0]), tuple(lines[-1].points[-1])
        began = time.process_time()
        legs = walk(lines, start, end, 0.0)
        spent += time.process_time() - began
        least, odd = bound(lines, start, end)
        ratios.append(sum(LineString(leg.points).length for leg in legs) / least)
        most = max(most, odd)
    mean, worst = np.mean(ratios), np.max(ratios)
    print(f"{name:40} {len(nets):5d} {mean:8.5f} {worst:8.5f} {1000 * spent / len(nets):6.1f} {most:9d}")


def _node(spot: object) -> tuple[float, ...]:
    return tuple(np.round(np.asarray(spot, dtype=np.float64), 5).tolist())


def _unheard(finding: object) -> None:
    """Findings are counted elsewhere."""


if __name__ == "__main__":
    main()
