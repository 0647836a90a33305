"""Order and routing against figures reckoned without the room's own prices."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from crafts import CRAFT, craft
from shapely.affinity import rotate
from shapely.geometry import MultiPolygon, Point, Polygon, box

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Column, Part, Region, Step, Surface, points
from pipeline.recipes import FABRICS
from pipeline.steps.arrange import arrange
from pipeline.steps.gates import Gates
from pipeline.steps.prices import Field, field_of, price_of
from pipeline.steps.settings import StepSettings
from pipeline.steps.visits import ordered

NOTHING = MultiPolygon()
CHANGE_S, TRIM_S, UP_MM_S = 12.0, 6.0, 160.0
"""A colour change, a cut, and the way of an empty needle in a second (common practice, no source)."""


def surface(z: int, colour: str, area: Polygon) -> Surface:
    whole = multipolygon(area)
    return Surface(Region(f"r{z}", f"s{z}", None, z, colour, whole, whole), "base", (), whole, whole, 0.2, 45.0, "")


def part(z: int, k: int, area: Polygon) -> Part:
    return Part(f"r{z}.{k}", f"r{z}", "tatami", area, (1.0, 5.0, 9.0), NOTHING, 0.2, "", angle_deg=45.0)


def arranged(shapes: list[tuple[str, Polygon]], settings: StepSettings | None = None) -> tuple[Step, ...]:
    surfaces = tuple(surface(z, colour, area) for z, (colour, area) in enumerate(shapes))
    parts = tuple(part(z, 1, area) for z, (_, area) in enumerate(shapes))
    return arrange(parts, surfaces, settings or StepSettings(), CRAFT, lambda finding: None)


def ways(steps: tuple[Step, ...]) -> np.ndarray:
    """The way with the needle up between each step and the next, mm."""
    return np.array([np.hypot(*np.subtract(b.start, a.end)) for a, b in itertools.pairwise(steps)])


def dot(x: float, y: float) -> Polygon:
    return box(x - 0.75, y - 0.75, x + 0.75, y + 0.75)


@pytest.mark.parametrize("count", [5, 8, 12, 25, 45, 155])
def test_dots_on_an_open_arc_are_sewn_along_it(count: int) -> None:
    """The shortest path over points on an arc is the arc, whatever order they were drawn in."""
    turn = np.linspace(0.2, np.pi, count)
    reach = max(20.0, 4.0 * count / np.pi)
    spots = reach * np.column_stack([np.cos(turn), -np.sin(turn)])
    shuffled = np.random.default_rng(count).permutation(count)
    steps = arranged([("#a", dot(*spots[k])) for k in shuffled])
    order = [int(shuffled[int(step.part.region[1:])]) for step in steps]
    assert order in (list(range(count)), list(range(count))[::-1])


@pytest.mark.parametrize("seed", range(6))
def test_scattered_dots_of_one_colour_are_sewn_on_nearly_the_shortest_path(seed: int) -> None:
    """Against every order there is, from edge to edge (brute force)."""
    spots = np.random.default_rng(seed).uniform(0, 90, (7, 2))
    areas = [dot(*spot) for spot in spots]
    gap = np.array([[one.distance(other) for other in areas] for one in areas])
    orders = np.array(list(itertools.permutations(range(len(spots)))))
    shortest = gap[orders[:, :-1], orders[:, 1:]].sum(axis=1).min()
    steps = arranged([("#a", area) for area in areas])
    taken = [int(step.part.region[1:]) for step in steps]
    assert gap[taken[:-1], taken[1:]].sum() <= 1.03 * shortest + 2.0
    assert ways(steps).sum() <= shortest + 3.0 * len(spots)


@pytest.mark.parametrize("seed", range(2))
def test_many_scattered_dots_stay_near_the_known_constant(seed: int) -> None:
    """A shortest tour of n random points in area A tends to 0.7124 √(n A) (Johnson, McGeoch & Rothberg 1996)."""
    count = (50, 160)[seed]
    spots = np.random.default_rng(seed).uniform(0, 400, (count, 2))
    steps = arranged([("#a", dot(*spot)) for spot in spots])
    centres = np.array([step.part.area.centroid.coords[0] for step in steps])
    assert np.hypot(*np.diff(centres, axis=0).T).sum() <= 1.08 * 0.7124 * np.sqrt(count * 400.0**2) * (
        1 + 0.33 / 10
    )


@pytest.mark.parametrize("seed", range(8))
def test_no_sewable_order_of_a_few_coloured_boxes_is_much_cheaper(seed: int) -> None:
    """Every order that the stack allows, priced in seconds from edge to edge, against ours."""
    random = np.random.default_rng(seed + 40)
    areas = [box(x, y, x + w, y + w) for x, y, w in np.column_stack([random.uniform(0, 60, (6, 2)), [9.0] * 6])]
    colours = [f"#{k}" for k in random.integers(0, 3, 6)]
    below = [(k, j) for j in range(6) for k in range(j) if areas[k].intersection(areas[j]).area > 0.02]
    gap = np.array([[one.distance(other) for other in areas] for one in areas])

    def price(order: tuple[int, ...]) -> float:
        pairs = list(itertools.pairwise(order))
        same = [(a, b) for a, b in pairs if colours[a] == colours[b]]
        cuts = sum(gap[a, b] > 2.0 for a, b in same)
        return (len(pairs) - len(same)) * CHANGE_S + cuts * TRIM_S + sum(gap[a, b] for a, b in same) / UP_MM_S

    allowed = [
        order
        for order in itertools.permutations(range(6))
        if all(order.index(low) < order.index(high) for low, high in below)
    ]
    best = min(map(price, allowed))
    steps = arranged(list(zip(colours, areas, strict=True)))
    taken = tuple(int(step.part.region[1:]) for step in steps)
    assert taken in allowed
    assert price(taken) <= best + 1.0


def test_travel_beneath_what_follows_is_cheaper_than_a_shorter_way_in_the_open() -> None:
    """Three panels of one colour, two of them on the ground of a field sewn later: those two follow each other."""
    field = box(0, 0, 60, 12)
    shapes = [("#a", box(2, 2, 8, 8)), ("#a", box(2, 15, 8, 21)), ("#a", box(50, 2, 56, 8)), ("#b", field)]
    order = [step.part.region for step in arranged(shapes)]
    assert order.index("r3") == 3
    assert abs(order.index("r0") - order.index("r2")) == 1


def test_a_chain_of_overlaps_keeps_its_order_through_others() -> None:
    """What lies two storeys lower is sewn before, though the two never touch."""
    steps = arranged([("#a", box(0, 0, 10, 10)), ("#b", box(8, 0, 18, 10)), ("#a", box(16, 0, 26, 10))])
    assert [step.part.region for step in steps] == ["r0", "r1", "r2"]


@pytest.mark.parametrize(("overlap", "changes"), [(0.05, 2), (0.001, 1)])
def test_order_binds_from_the_least_overlap(overlap: float, changes: int) -> None:
    """Two pairs that overlap the other way round: two colours, but three stops, unless that is rounding."""
    low, far = box(0, 0, 10, 1), box(40, 0, 50, 1)
    high, other = box(10 - overlap, 0, 20, 1), box(50 - overlap, 0, 60, 1)
    steps = arranged([("#a", low), ("#b", high), ("#b", far), ("#a", other)])
    assert sum(one.colour != two.colour for one, two in itertools.pairwise(steps)) == changes


def limbed(seed: int) -> tuple[tuple[Part, ...], tuple[Surface, ...]]:
    """A wide body with limbs on it, some of them with a limb of their own, turned at random."""
    random = np.random.default_rng(seed)
    body = Point(0, 0).buffer(12.0, quad_segs=16)
    limbs, more = [], []
    for k in range(int(random.integers(3, 7))):
        angle = 360.0 * k / 7 + float(random.uniform(0, 20))
        limbs.append(rotate(box(11.4, -1.5, 24.0, 1.5), angle, origin=(0, 0)))
        if k % 2:
            more.append(rotate(box(22.5, 1.0, 24.0, 9.0), angle, origin=(0, 0)))
    areas = [*limbs[:2], body, *limbs[2:], *more]
    order = random.permutation(len(areas))
    parts = []
    for k, which in enumerate(order):
        area = areas[which]
        if area is body:
            parts.append(part(0, k, area))
            continue
        a, b, c, d = np.array(area.exterior.coords)[:4]
        long = np.hypot(*(b - a)) > np.hypot(*(c - b))
        rails = (points([a, b]), points([d, c])) if long else (points([b, c]), points([a, d]))
        column = Column(*rails)
        parts.append(Part(f"r0.{k}", "r0", "satin", area, (3, 3, 3), NOTHING, 0.2, "", column=column))
    return tuple(parts), (surface(0, "#a", shapely.union_all(areas)),)


@pytest.mark.parametrize("seed", range(8))
def test_limbs_come_before_what_they_hang_on_and_the_body_last(seed: int) -> None:
    parts, surfaces = limbed(seed)
    steps = arrange(parts, surfaces, StepSettings(), CRAFT, lambda finding: None)
    assert sorted(step.part.id for step in steps) == sorted(item.id for item in parts)
    assert steps[-1].part.kind == "tatami"
    place = {step.part.id: k for k, step in enumerate(steps)}
    body = steps[-1].part.area
    assert ways(steps)[-1] <= 0.6, "the body begins where its last limb ended"
    for step in steps[:-1]:
        hosts = [o.part for o in steps if o is not step and o.part.area.intersection(step.part.area).area > 0.01]
        assert hosts
        if not step.part.area.intersects(body):
            assert all(place[step.part.id] < place[host.id] for host in hosts)
        later = shapely.union_all([other.part.area for other in steps[place[step.part.id] + 1 :]])
        assert later.distance(Point(step.end)) <= 0.05, "a limb is left where what follows covers it"
        assert step.part.area.buffer(0.01).covers(Point(step.start))


@pytest.mark.parametrize("wider", [0, 1])
def test_of_two_satins_the_larger_is_the_root_and_a_tatami_before_any(wider: int) -> None:
    areas = [box(0, 0, 20, 3), box(9, 2.5, 12, 40)][:: 1 if wider else -1]
    rails = [([b[0], b[1]], [b[2], b[3]]) for b in (area.bounds for area in areas)]
    parts = tuple(
        Part(f"r0.{k}", "r0", "satin", area, (3, 3, 3), NOTHING, 0.2, "", column=Column(points(a), points(b)))
        for k, (area, (a, b)) in enumerate(
            (area, ([low, (high[0], low[1])], [(low[0], high[1]), high]))
            for area, (low, high) in zip(areas, rails, strict=True)
        )
    )
    whole = (surface(0, "#a", shapely.union_all(areas)),)
    steps = arrange(parts, whole, StepSettings(), CRAFT, lambda finding: None)
    assert steps[-1].part.area.area == max(area.area for area in areas)
    blob = part(0, 9, box(18, 0, 23, 5))
    whole = (surface(0, "#a", shapely.union_all([*areas, blob.area])),)
    steps = arrange((*parts, blob), whole, StepSettings(), CRAFT, lambda finding: None)
    assert steps[-1].part.id == "r0.9"


def test_pieces_of_one_region_that_do_not_touch_are_units_of_their_own() -> None:
    """A body 1.5 mm away waits for nothing: its neighbour isn't a limb of it."""
    near, far = part(0, 1, box(0, 0, 10, 10)), part(0, 2, box(11.5, 0, 14, 2.5))
    whole = (surface(0, "#a", shapely.union_all([near.area, far.area])),)
    steps = arrange((near, far), whole, StepSettings(), CRAFT, lambda finding: None)
    for step in steps:
        assert step.part.area.boundary.distance(Point(step.end)) < 1e-6
    assert ways(steps)[0] == pytest.approx(1.5, abs=1.0)


def test_caps_are_sewn_from_the_middle_outwards_and_bottom_up() -> None:
    cap = next(fabric for fabric in FABRICS if fabric.centre_out)
    places = [(0, 0), (30, 0), (60, 0), (0, 25), (30, 25), (60, 25)]
    areas = [box(x, y, x + 4, y + 4) for x, y in places]
    surfaces = tuple(surface(z, "#a", area) for z, area in enumerate(areas))
    parts = tuple(part(z, 1, area) for z, area in enumerate(areas))
    steps = arrange(parts, surfaces, StepSettings(), craft(cap), lambda finding: None)
    order = [places[int(step.part.region[1:])] for step in steps]
    assert order[0] == (30, 25)
    for column in (0, 30, 60):
        assert order.index((column, 25)) < order.index((column, 0))


def test_pieces_in_a_row_are_sewn_along_it_though_the_middle_one_is_the_largest() -> None:
    """They don't touch, so none is a limb of another, even 1.5 mm away."""
    areas = [box(0, 0, 6, 6), box(7.5, 0, 27.5, 6), box(29, 0, 35, 6)]
    parts = tuple(part(0, k, area) for k, area in enumerate(areas))
    whole = (surface(0, "#a", shapely.union_all(areas)),)
    steps = arrange(parts, whole, StepSettings(), CRAFT, lambda finding: None)
    assert [step.part.id for step in steps] in (["r0.0", "r0.1", "r0.2"], ["r0.2", "r0.1", "r0.0"])


def test_in_the_artworks_order_the_lower_region_is_always_sewn_first() -> None:
    shapes = [(f"#{k % 2}", box(12 * k, 0, 12 * k + 9, 9)) for k in (3, 0, 4, 1, 2)]
    steps = arranged(shapes, StepSettings(keep_artwork_order=True))
    assert [step.part.region for step in steps] == ["r0", "r1", "r2", "r3", "r4"]


@pytest.mark.parametrize("seed", range(4))
def test_teeth_of_a_comb_are_sewn_one_beside_the_other(seed: int) -> None:
    """The way beneath the back is that along it, not to and fro."""
    places = np.random.default_rng(seed).permutation(np.arange(5, 96, 15))
    teeth = [box(x, 11, x + 3, 30) for x in places]
    back = part(0, 99, box(0, 0, 103, 12))
    parts = [back]
    for k, tooth in enumerate(teeth):
        left, low, right, high = tooth.bounds
        column = Column(points([(left, low), (left, high)]), points([(right, low), (right, high)]))
        parts.append(Part(f"r0.{k}", "r0", "satin", tooth, (3, 3, 3), NOTHING, 0.2, "", column=column))
    whole = (surface(0, "#a", shapely.union_all([item.area for item in parts])),)
    steps = arrange(tuple(parts), whole, StepSettings(), CRAFT, lambda finding: None)
    along = np.array([step.part.area.centroid.x for step in steps[:-1]])
    assert steps[-1].part.id == "r0.99"
    assert np.abs(np.diff(along)).sum() <= 1.75 * np.ptp(along)


@pytest.mark.parametrize("gap", [0.5, 1.2])
def test_pieces_that_a_hop_joins_follow_each_other_before_a_farther_one(gap: float) -> None:
    """A hop needs no cut: two pairs far apart, each sewn together, though their drawn order mixes them."""
    shapes = [("#a", box(x, y, x + 5, y + 5)) for x, y in ((0, 0), (0, 60), (5 + gap, 0), (5 + gap, 60))]
    order = [step.part.region for step in arranged(shapes)]
    assert {tuple(sorted(order[:2])), tuple(sorted(order[2:]))} == {("r0", "r2"), ("r1", "r3")}
    steps = arranged(shapes)
    near = sorted(ways(steps))[:2]
    assert max(near) <= gap + 0.05


@pytest.mark.parametrize("teeth", [4, 5])
def test_finished_cover_of_another_colour_brings_nothing_nearer(teeth: int) -> None:
    """Every other dot of a row lies on a comb of another colour, and hides nothing: all are sewn along the row."""
    places = 10.0 * np.arange(2 * teeth - 1)
    comb = shapely.union_all([box(-4, 10, 20 * teeth, 16), *(box(x - 2, -2, x + 2, 12) for x in places[::2])])
    steps = arranged([("#b", comb), *(("#a", dot(x, 0)) for x in places)])
    order = [int(step.part.region[1:]) for step in steps]
    along = list(range(1, len(places) + 1))
    assert order in ([0, *along], [0, *along[::-1]])


@pytest.mark.parametrize("seed", [6, 14, 67, 72, 74, 90])
def test_close_dots_are_sewn_with_the_fewest_cuts_there_can_be(seed: int) -> None:
    """Against every order (brute force): a cut takes as long as a way of a metre with the needle up."""
    spots = np.random.default_rng(seed).uniform(0, 9 + seed % 8, (6, 2))
    areas = [dot(*spot) for spot in spots]
    far = np.array([[one.distance(other) > StepSettings().hop_mm for other in areas] for one in areas])
    orders = np.array(list(itertools.permutations(range(6))))
    fewest = far[orders[:, :-1], orders[:, 1:]].sum(axis=1).min()
    taken = [int(step.part.region[1:]) for step in arranged([("#a", area) for area in areas])]
    assert far[taken[:-1], taken[1:]].sum() == fewest


def gated(seed: int) -> Field:
    """Eight units with three places each on three grounds, some of which come before others."""
    random, count = np.random.default_rng(seed), 8
    every = []
    for _ in range(count):
        places = random.uniform(0, 30, 2) + random.uniform(-4, 4, (3, 2))
        every.append(Gates(places, np.zeros(3, dtype=np.int64), places, random.uniform(0, 6, (3, 3)), False))
    before = np.zeros((count, count), dtype=np.bool_)
    for upper in range(count):
        before[upper, :upper] = random.random(upper) < (0.0, 0.1, 0.25)[seed % 3]
    for _ in range(count):
        before |= (before.astype(int) @ before.astype(int)) > 0
    return field_of(every, random.integers(0, 3, count), before, StepSettings())


def cheapest(field: Field) -> float:
    """The least price of all orders, by dynamic programming (M. Held & R. M. Karp, J. SIAM 10, 1962)."""
    settings, count = field.settings, len(field.gates)
    needed = [sum(1 << int(below) for below in np.flatnonzero(row)) for row in field.before]
    least = {
        (1 << u, u): settings.travel_share * g.extra.min(axis=0) for u, g in enumerate(field.gates) if not needed[u]
    }
    for done in range(1, 1 << count):
        for last in range(count):
            if (done, last) not in least:
                continue
            for unit in range(count):
                if done >> unit & 1 or needed[unit] & ~done:
                    continue
                gate = field.gates[unit]
                away = np.hypot(*(field.gates[last].leave[:, None] - gate.enter[None]).transpose(2, 0, 1))
                cut = settings.trim_cost_mm * np.where(away <= settings.hop_mm, 0.25, 1.0)
                same = field.patch[last] == field.patch[unit]
                price = settings.travel_share * away if same else away + cut
                came = (least[done, last][:, None] + price).min(axis=0)
                cost = (came[:, None] + settings.travel_share * gate.extra).min(axis=0)
                key = (done | 1 << unit, unit)
                least[key] = np.minimum(least[key], cost) if key in least else cost
    return float(min(cost.min() for (done, _), cost in least.items() if done == (1 << count) - 1))


@pytest.mark.parametrize("seed", [366, 246, 195])
def test_up_to_eight_units_are_sewn_in_the_very_cheapest_order(seed: int) -> None:
    field = gated(seed)
    assert price_of(field, ordered(field)) == pytest.approx(cheapest(field), abs=1e-6)
