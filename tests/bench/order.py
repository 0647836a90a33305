"""The sewing order against outside judges: OR-tools (Apache-2.0) as exact solver and as router.

    python tests/bench/order.py files twemoji --count 300     colour changes, trims and precedence on real files
    python tests/bench/order.py random                        layered graphs of 200 units and 8 colours
    python tests/bench/order.py moves flags --seconds 30      needle-up distance inside colour stops
    python tests/bench/order.py sequences                     published and generated sequential-ordering instances
    python tests/bench/order.py growth                        CPU for up to 2,000 parts

Prints figures and asserts nothing.
"""

from __future__ import annotations

import argparse
import itertools
import random
import signal
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from ortools.constraint_solver import pywrapcp, routing_enums_pb2
from ortools.sat.python import cp_model

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import corpus
from sequences import BR17, ESC07, matrix

from pipeline.geometry.polygon import NOTHING, multipolygon
from pipeline.model import Part, Region, Surface
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.roles.assign import assign
from pipeline.sequence.colours import colour_order
from pipeline.sequence.precedence import followed, overlaps
from pipeline.settings import Settings
from pipeline.split.parts import split
from pipeline.steps.arrange import _beside, _patches, arrange
from pipeline.steps.gates import gates
from pipeline.steps.prices import chosen_exits, field_of
from pipeline.steps.tour import Problem, best_tour
from pipeline.steps.units import units
from pipeline.steps.visits import ordered
from pipeline.stitch.settings import StitchSettings
from pipeline.stitch.sew import sew
from pipeline.tie.join import join

SETTINGS = Settings()
SECONDS_A_FILE = 40


def quiet(finding) -> None:
    """Findings do not matter here."""


def sample(name: str, count: int) -> list[Path]:
    """A seeded sample of a set."""
    files = corpus(name)
    return random.Random(20261125).sample(files, min(count, len(files)))


def parts_of(path: Path) -> tuple[tuple[Part, ...], tuple[Surface, ...]]:
    """A file's parts at 80 mm."""
    drawing = read_drawing(path, SETTINGS.read, quiet, 80.0)
    surfaces = assign(stack(drawing, SETTINGS.regions, quiet), SETTINGS.roles, SETTINGS.craft, quiet)
    return split(surfaces, SETTINGS.split, SETTINGS.craft, quiet), surfaces


def units_of(parts, surfaces):
    """Units and what directly overlaps what."""
    colours = {s.region.id: s.region.colour for s in surfaces}
    found = units(parts, colours, {s.region.id: s.region.z for s in surfaces})
    return found, overlaps([u.area for u in found], [u.z for u in found], SETTINGS.steps.overlap_mm2)


def fewer_possible(colours: list[str], direct: np.ndarray, stops: int, seconds: float) -> str:
    """CP-SAT's verdict on an order of ``stops`` colour stops: INFEASIBLE, FEASIBLE, OPTIMAL or UNKNOWN.

    Each unit gets a stop, each stop one colour, and a unit's stop lies after (in its own colour: not before) the
    stops of those beneath.
    """
    model = cp_model.CpModel()
    hues = sorted(set(colours))
    own = {h: [model.new_bool_var(f"{h}{t}") for t in range(stops)] for h in hues}
    for t in range(stops):
        model.add_exactly_one(own[h][t] for h in hues)
    stop = [model.new_int_var(0, stops - 1, f"u{k}") for k in range(len(colours))]
    for k, hue in enumerate(colours):
        model.add_element(stop[k], own[hue], 1)
    for high, low in np.argwhere(direct).tolist():
        model.add(stop[high] >= stop[low] + (colours[high] != colours[low]))
    for t in range(stops - 1):
        for h in hues:
            model.add_bool_or(own[h][t].negated(), own[h][t + 1].negated())
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    return solver.status_name(solver.solve(model))


def broken(order, surfaces) -> int:
    """Pairs of parts that overlap by more than the setting and are sewn against the stack, from their polygons."""
    heights = {s.region.id: s.region.z for s in surfaces}
    areas = np.array([step.part.area for step in order], dtype=object)
    z = np.array([heights[step.part.region] for step in order])
    first, second = shapely.STRtree(areas).query(areas, predicate="intersects")
    wrong = (first < second) & (z[first] > z[second])
    shared = shapely.area(shapely.intersection(areas[first[wrong]], areas[second[wrong]]))
    return int((shared > SETTINGS.steps.overlap_mm2).sum())


def files(args) -> None:
    """Real files: colour changes against CP-SAT, trims and changes against z-order, precedence."""
    total = dict.fromkeys(
        (
            "files",
            "optimal",
            "missed",
            "undecided",
            "unproved",
            "broken",
            "changes",
            "z changes",
            "trims",
            "z trims",
            "inside",
        ),
        0,
    )
    cpu, failed = [], 0
    for path in sample(args.set, args.count):
        signal.signal(signal.SIGALRM, _late)
        signal.alarm(SECONDS_A_FILE)
        try:
            row = _file(path, args.seconds, args.stitch)
        except Exception as error:
            failed += 1
            print(f"  {path.name}: {type(error).__name__}: {error}"[:160])
            continue
        finally:
            signal.alarm(0)
        cpu.append(row.pop("cpu"))
        for key, value in row.items():
            total[key] += value
        if row["missed"] or row["undecided"]:
            print(f"  {path.name}: {row}")
        if total["files"] % 50 == 0:
            print(f"  so far {total}", flush=True)
    print(args.set, total, f"failed {failed}, CPU of steps median {np.median(cpu):.3f} s, worst {max(cpu):.2f} s")
    for key in ("changes", "trims"):
        print(f"{key}: {total[key]} against {total['z ' + key]} in z-order "
              f"({1 - total[key] / max(1, total['z ' + key]):.1%} fewer)")  # fmt: skip


def _late(number, frame) -> None:
    raise TimeoutError(f"not done in {SECONDS_A_FILE} s")


def _file(path: Path, seconds: float, stitched: bool) -> dict[str, float]:
    parts, surfaces = parts_of(path)
    notes = []
    began = time.process_time()
    order = arrange(parts, surfaces, SETTINGS.steps, SETTINGS.craft, notes.append)
    cpu = time.process_time() - began
    found, direct = units_of(parts, surfaces)
    hues = [unit.colour for unit in found]
    changes = sum(a.colour != b.colour for a, b in itertools.pairwise(order))
    verdict = "INFEASIBLE"
    if changes + 1 > len(set(hues)):
        verdict = fewer_possible(hues, direct, changes, seconds)
    zed = sum(a != b for a, b in itertools.pairwise(hues))
    trims = z_trims = inside = 0
    if stitched:
        kinds = StitchSettings(SETTINGS.tatami, SETTINGS.satin, SETTINGS.run)
        sewing = join(sew(order, kinds, SETTINGS.craft, quiet), SETTINGS.tie, SETTINGS.craft)
        trims = sum(item.approach == "trim" for item in sewing.passes)
        z_trims = len(parts) - 1 - zed
        unit_of = {part.id: number for number, unit in enumerate(found) for part in unit.parts}
        inside = sum(
            after.approach == "trim" and unit_of[after.part] == unit_of[before.part]
            for before, after in itertools.pairwise(sewing.passes)
        )
    return {
        "files": 1,
        "optimal": verdict == "INFEASIBLE",
        "missed": verdict in ("FEASIBLE", "OPTIMAL"),
        "undecided": verdict == "UNKNOWN",
        "unproved": any(note.code == "colour-order-unproved" for note in notes),
        "broken": broken(order, surfaces),
        "changes": changes,
        "z changes": zed,
        "trims": trims,
        "z trims": z_trims,
        "inside": inside,
        "cpu": cpu,
    }


def layered(seed: int, count: int = 200, colours: int = 8, layers: int = 20) -> tuple[list[str], np.ndarray]:
    """A random graph of ``count`` units in ``layers``, each waiting for some of the layer below."""
    generator = np.random.default_rng(seed)
    layer = np.sort(generator.integers(0, layers, count))
    direct = (layer[:, None] == layer[None, :] + 1) & (generator.random((count, count)) < 0.15)
    return [f"#{k}" for k in generator.integers(0, colours, count)], direct


def random_graphs(args) -> None:
    """Layered graphs: our stops, the bound we prove, and the best known (a search 50 times wider, and CP-SAT)."""
    ratios = []
    for seed in range(args.count):
        colours, direct = layered(seed)
        before = followed(direct)
        began = time.process_time()
        ours = colour_order(colours, before, SETTINGS.steps.search_width)
        cpu = time.process_time() - began
        best = min(len(ours.stops), len(colour_order(colours, before, 20000).stops))
        verdict = "INFEASIBLE" if ours.proved else fewer_possible(colours, direct, best - 1, args.seconds)
        best -= verdict in ("FEASIBLE", "OPTIMAL")
        ratios.append((len(ours.stops) - 1) / (best - 1))
        print(f"seed {seed}: {len(ours.stops) - 1} changes, at least {ours.lowest - 1}, best known {best - 1}"
              f" (CP-SAT on fewer: {verdict}), {cpu:.2f} s CPU")  # fmt: skip
    print(f"against the best known: mean {np.mean(ratios):.3f}, worst {max(ratios):.3f}")


def routed(problem: Problem, seconds: float, start: list[int]) -> tuple[list[int], float]:
    """OR-tools' best path through one node of every group, from its own start and improved from ours."""
    count = len(problem.group)
    scale = 1000.0
    whole = np.zeros((count + 1, count + 1))
    whole[1:, 1:] = problem.cost
    whole[0, 1:] = problem.first
    whole[1:, 0] = problem.last
    rounded = np.rint(whole * scale).astype(np.int64).tolist()
    manager = pywrapcp.RoutingIndexManager(count + 1, 1, 0)
    model = pywrapcp.RoutingModel(manager)
    transit = model.RegisterTransitMatrix(rounded)
    model.SetArcCostEvaluatorOfAllVehicles(transit)
    for group in range(len(problem.before)):
        nodes = [manager.NodeToIndex(int(k) + 1) for k in np.flatnonzero(problem.group == group)]
        model.AddDisjunction(nodes, 10**9, 1)
    search = pywrapcp.DefaultRoutingSearchParameters()
    search.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PATH_CHEAPEST_ARC
    search.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    search.time_limit.FromMilliseconds(int(1000 * seconds / 2))
    plans = [model.SolveWithParameters(search)]
    search.time_limit.FromMilliseconds(int(1000 * seconds / 2))
    hint = model.ReadAssignmentFromRoutes([[manager.NodeToIndex(k + 1) for k in start]], True)
    plans.append(model.SolveFromAssignmentWithParameters(hint, search))
    plan = min((p for p in plans if p is not None), key=lambda p: p.ObjectiveValue())
    found, index = [], model.Start(0)
    while not model.IsEnd(index):
        index = plan.Value(model.NextVar(index))
        if not model.IsEnd(index):
            found.append(manager.IndexToNode(index) - 1)
    return found, priced(problem, found)


def priced(problem: Problem, nodes: list[int]) -> float:
    """The cost of a path."""
    way = sum(problem.cost[a, b] for a, b in itertools.pairwise(nodes))
    return float(problem.first[nodes[0]] + way + problem.last[nodes[-1]])


def needle_up(field, problem: Problem, exits: np.ndarray, nodes: list[int]) -> float:
    """The way with the needle up along a path: distances between units on different grounds."""
    total = 0.0
    for a, b in itertools.pairwise(nodes):
        one, other = (field.owner[exits[k]] for k in (a, b))
        if field.patch[one] != field.patch[other]:
            extra = field.gates[other].extra[:, exits[b] - field.first[other]] * field.settings.travel_share
            distance = np.hypot(*(field.gates[other].enter - field.leave[exits[a]]).T)
            total += distance[int(np.argmin(field.priced(distance, np.zeros(len(distance), bool)) + extra))]
    return float(total)


def moves(args) -> None:
    """Colour stops of real files without precedence inside: cost and needle-up distance against the router."""
    ratios, lifted, done = [], [], 0
    for path in sample(args.set, 4000):
        if done >= args.count:
            break
        try:
            parts, surfaces = parts_of(path)
        except Exception as error:
            print(f"  {path.name}: {error}"[:160])
            continue
        found, direct = units_of(parts, surfaces)
        before = followed(direct)
        stops = colour_order([u.colour for u in found], before, SETTINGS.steps.search_width).stops
        for stop, patch in zip(stops, _patches(stops, direct), strict=True):
            inner = before[np.ix_(stop, stop)]
            if len(stop) < args.least or inner.any() or len(stop) > 80 or done >= args.count:
                continue
            done += 1
            beside = _beside(found, np.array(stop), SETTINGS.steps.hop_mm)
            every = [gates(found[u], spots) for u, spots in zip(stop, beside, strict=True)]
            field = field_of(every, patch, inner, SETTINGS.steps)
            began = time.process_time()
            order = ordered(field)
            cpu = time.process_time() - began
            problem, exits = field.problem(np.arange(len(stop)), None, None)
            place = {int(node): k for k, node in enumerate(exits)}
            own = [place[int(node)] for node in chosen_exits(field, order)]
            theirs, cost = routed(problem, args.seconds, own)
            ratios.append(priced(problem, own) / max(cost, 1e-9))
            up = needle_up(field, problem, exits, own), needle_up(field, problem, exits, theirs)
            if up[1] > 0:
                lifted.append(up[0] / up[1])
            print(f"  {path.name}: {len(stop)} units, {cpu:.2f} s; cost {priced(problem, own):.1f} "
                  f"against {cost:.1f}; needle up {up[0]:.1f} against {up[1]:.1f} mm", flush=True)  # fmt: skip
    print(f"{args.set}: {len(ratios)} stops; cost against the router's: median {np.median(ratios):.3f}, "
          f"worst {max(ratios):.3f}; needle up: median {np.median(lifted or [1.0]):.3f}, "
          f"worst {max(lifted, default=1.0):.3f}")  # fmt: skip


def sequences(args) -> None:
    """Sequential-ordering instances."""
    print("ESC07 (TSPLIB, optimum 2125):", _sequence(*matrix(ESC07)))
    print("br17 (TSPLIB, asymmetric tour, optimum 39):", _sequence(*matrix(BR17, back=True)))
    gaps = []
    for seed in range(args.count):
        generator = np.random.default_rng(seed)
        size = 25
        spots = generator.uniform(0, 1000, (size, 2))
        cost = np.rint(
            np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1)) + generator.uniform(0, 300, (size, size))
        )
        before = followed(np.tril(generator.random((size, size)) < 0.08, -1))
        before[1:, 0] = True
        before[-1, :-1] = True
        ours = _sequence(cost, before)
        best, status = _sequence_by_solver(cost, before, args.seconds)
        gaps.append(ours / best)
        print(f"generated {seed}: {ours:.0f} against {best:.0f} ({status})")
    print(f"generated: mean {np.mean(gaps):.4f}, worst {max(gaps):.4f}")


def _sequence(cost: np.ndarray, before: np.ndarray) -> float:
    free = np.where(before.any(axis=1), 1e9, 0.0)
    problem = Problem(np.arange(len(cost)), free, np.zeros(len(cost)), cost, before)
    tour, _ = best_tour(problem, 2000)
    return priced(problem, tour.tolist())


def _sequence_by_solver(cost: np.ndarray, before: np.ndarray, seconds: float) -> tuple[float, str]:
    size = len(cost)
    model = cp_model.CpModel()
    place = [model.new_int_var(0, size - 1, f"p{k}") for k in range(size)]
    arcs, price = [(size - 1, 0, True)], []
    for a, b in itertools.permutations(range(size), 2):
        if a == size - 1 or b == 0 or before[a, b]:
            continue
        used = model.new_bool_var(f"{a}-{b}")
        arcs.append((a, b, used))
        price.append(int(cost[a, b]) * used)
        model.add(place[b] == place[a] + 1).only_enforce_if(used)
    model.add_circuit(arcs)
    for high, low in np.argwhere(before).tolist():
        model.add(place[high] > place[low])
    model.minimize(sum(price))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.status_name(solver.solve(model))
    return solver.objective_value, status


def strewn(count: int, colours: int, seed: int) -> tuple[tuple[Part, ...], tuple[Surface, ...]]:
    """Small tatami squares strewn so that each overlaps about one other."""
    generator = np.random.default_rng(seed)
    reach = 6.0 * np.sqrt(count)
    surfaces, parts = [], []
    for z, (x, y) in enumerate(generator.uniform(0, reach, (count, 2))):
        area = shapely.box(x, y, x + 4, y + 4)
        whole = multipolygon(area)
        region = Region(f"r{z + 1}", f"s{z}", None, z, f"#{generator.integers(colours):06x}", whole, whole)
        surfaces.append(Surface(region, "base", (), whole, whole, 0.2, 45.0, "made"))
        parts.append(
            Part(f"r{z + 1}.1", f"r{z + 1}", "tatami", area, (1, 4, 4), NOTHING, 0.2, "made", angle_deg=45.0)
        )
    return tuple(parts), tuple(surfaces)


def growth(args) -> None:
    """CPU of the whole steps room by the number of parts."""
    for colours in (1, 12):
        for count in (250, 500, 1000, 2000):
            parts, surfaces = strewn(count, colours, 1)
            began = time.process_time()
            order = arrange(parts, surfaces, SETTINGS.steps, SETTINGS.craft, quiet)
            cpu = time.process_time() - began
            changes = sum(a.colour != b.colour for a, b in itertools.pairwise(order))
            wrong = broken(order, surfaces)
            print(f"{colours} colours, {count} parts: {cpu:.2f} s CPU, {changes} changes, {wrong} broken")


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    kinds = {"files": files, "random": random_graphs, "moves": moves, "sequences": sequences, "growth": growth}
    parser.add_argument("what", choices=list(kinds))
    parser.add_argument("set", nargs="?", default="twemoji", choices=["twemoji", "flags", "openclipart"])
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=30.0, help="of the judge, for each problem")
    parser.add_argument("--least", type=int, default=4, help="units in a colour stop worth judging")
    parser.add_argument("--stitch", action="store_true", help="count trims too, which needs stitches")
    args = parser.parse_args()
    kinds[args.what](args)


if __name__ == "__main__":
    main()
