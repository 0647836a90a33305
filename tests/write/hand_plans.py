"""Plans made by hand: no other room takes part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from shapely.geometry import MultiPolygon, Point, Polygon, box

from pipeline.model import (
    Approach,
    Checks,
    Counts,
    Drawing,
    Finding,
    Layer,
    Part,
    Pass,
    Plan,
    Price,
    Region,
    Sewing,
    Shape,
    Spool,
    Surface,
    points,
)

CENTRE = (20.0, 15.0)


def sewn(
    thread: int,
    line: Iterable[Sequence[float]],
    approach: Approach = "sewn",
    layer: Layer = "cover",
    part: str = "r1.1",
) -> Pass:
    """A pass through the given places, moved onto the machine's grid about ``CENTRE``."""
    places = np.array(list(line), dtype=np.float64)
    on_grid = np.rint((places - CENTRE) * 10) / 10 + CENTRE
    return Pass(thread, part.split(".")[0], part, layer, approach, points(on_grid))


def rows(area: Polygon, angle_deg: float, row_mm: float = 0.2, stitch_mm: float = 4.0) -> np.ndarray:
    """Plain rows of stitches over a convex area: enough to look at, not how the house fills areas."""
    turn = np.deg2rad(angle_deg)
    along, across = np.array([np.cos(turn), -np.sin(turn)]), np.array([np.sin(turn), np.cos(turn)])
    corners = np.array(area.exterior.coords)
    found: list[np.ndarray] = []
    low, high = (corners @ across).min(), (corners @ across).max()
    for number, offset in enumerate(np.arange(low + row_mm, high - row_mm / 2, row_mm)):
        middle = across * offset
        cut = area.intersection(
            Polygon(
                [
                    middle - along * 500,
                    middle + along * 500,
                    middle + along * 500 + across * 1e-6,
                    middle - along * 500 + across * 1e-6,
                ]
            )
        )
        if cut.is_empty:
            continue
        reach = (
            np.array(cut.envelope.exterior.coords if cut.geom_type != "Polygon" else cut.exterior.coords) @ along
        )
        start, stop = reach.min(), reach.max()
        grid = (
            np.arange(np.floor(start / stitch_mm), np.ceil(stop / stitch_mm)) * stitch_mm
            + number % 4 * stitch_mm / 4
        )
        inner = grid[(grid > start + 0.5) & (grid < stop - 0.5)]
        stations = np.concatenate([[start], inner, [stop]])
        line = middle + stations[:, None] * along
        found.append(line[:: -1 if number % 2 else 1])
    return np.vstack(found)


def ring(middle: tuple[float, float], inner: float, outer: float, pitch_mm: float = 0.4) -> np.ndarray:
    """A satin ring."""
    count = round(2 * np.pi * outer / pitch_mm) * 2
    turn = np.linspace(0, 2 * np.pi, count + 1)
    radius = np.where(np.arange(count + 1) % 2, inner, outer)
    return np.column_stack([np.cos(turn), np.sin(turn)]) * radius[:, None] + middle


def multi(*areas: Polygon) -> MultiPolygon:
    return MultiPolygon(list(areas))


def surface(
    region_id: str, z: int, colour: str, area: MultiPolygon, bare: MultiPolygon, on: tuple[str, ...] = ()
) -> Surface:
    region = Region(region_id, f"svg/g[1]/path[{z + 1}]", None, z, colour, area, area, 1.25 * z)
    role = "base" if not on else "mixed" if not bare.is_empty else "overlay"
    return Surface(region, role, on, bare, bare, 0.2, 15.0, "It lies on bare fabric.")


def plan(passes: Sequence[Pass] | None = None, findings: tuple[Finding, ...] = ()) -> Plan:
    """A buoy: a disc with a bar across it, a ring about it and a line of running stitch; 40 × 30 mm."""
    disc, bar = Point(20, 15).buffer(10), box(4, 12, 36, 18)
    collar = Point(20, 15).buffer(13).difference(Point(20, 15).buffer(11))
    hanging = multi(*bar.difference(disc).geoms)
    surfaces = (
        surface("r1", 0, "#c8102e", multi(disc), multi(disc)),
        surface("r2", 1, "#f2c230", multi(bar), hanging, ("r1",)),
        surface("r3", 2, "#1f3a68", multi(collar), MultiPolygon(), ("r1", "r2")),
    )
    nothing = MultiPolygon()
    parts = (
        Part(
            "r1.1",
            "r1",
            "tatami",
            disc,
            (20, 20, 20),
            multi(disc),
            0.2,
            "A wide area; it lies on bare fabric.",
            15.0,
        ),
        Part(
            "r2.1",
            "r2",
            "tatami",
            bar,
            (6, 6, 6),
            hanging,
            0.2,
            "A wide area; only its ends need foundation.",
            120.0,
        ),
        Part("r3.1", "r3", "satin", collar, (2, 2, 2), nothing, 0.2, "A narrow column; it lies on stitches."),
    )
    if passes is None:
        passes = drawn(disc, bar)
    stitches = sum(len(p.points) for p in passes)
    kinds = {
        kind: sum(len(p.points) for p in passes if p.layer == kind)
        for kind in ("foundation", "cover", "travel", "lock")
    }
    checks = Checks(0.9912, 0.9987, 0.0004, 0.6, 2.25, 9.0, stitches)
    colours = ("#c8102e", "#f2c230", "#1f3a68")
    counts = Counts(
        stitches,
        **kinds,
        jumps=sum(p.approach == "jump" for p in passes[1:]),
        trims=sum(p.approach == "trim" for p in passes[1:]),
        colour_changes=sum(p.approach == "colour" for p in passes[1:]),
        thread_m=12.34,
        bobbin_m=7.9,
        minutes=4.5,
        width_mm=32.0,
        height_mm=26.0,
    )
    shapes = tuple(Shape(s.region.element, None, s.region.colour, s.region.outline) for s in surfaces)
    return Plan(
        "0.0.1",
        Drawing("buoy.svg", "0" * 63 + "a", 40.0, 30.0, shapes),
        {
            "fabric": {"name": "firm woven", "stabilizer": "tear-away"},
            "thread": {"name": "40-weight polyester", "needle": "75/11", "laid_mm": 0.25},
            "machine": {"name": "shop"},
        },
        surfaces,
        parts,
        Sewing(CENTRE, colours, tuple(passes)),
        tuple(
            Spool(c, n, m)
            for c, n, m in zip(colours, ("crimson", "gold", "navy blue"), (7.1, 3.2, 2.04), strict=True)
        ),
        counts,
        Price(21.75, "20.00 set-up + 1.750 thousand stitches × 1.00 = 21.75"),
        findings,
        checks,
        Checks(0.95, 0.97, 0.001, 14.2, 1.5, 7.0, stitches + 120),
    )


def drawn(disc: Polygon, bar: Polygon) -> list[Pass]:
    edge = np.array(disc.buffer(-0.5).exterior.segmentize(2.0).coords)
    fill = rows(disc, 15.0)
    return [
        sewn(0, edge[::4], "colour", "foundation"),
        sewn(0, np.linspace(edge[-1], fill[0], 9)[1:-1], "sewn", "travel"),
        sewn(0, fill),
        sewn(1, rows(bar, 120.0), "colour", part="r2.1"),
        sewn(2, ring((20, 15), 11, 13), "colour", part="r3.1"),
        sewn(2, [(x, 15 + 1.5 * np.sin(x)) for x in np.arange(6, 34, 0.6)], "trim", part="r3.1"),
        sewn(2, [(x, 25 + 0.5 * np.sin(x)) for x in np.arange(22, 34, 2.0)], "jump", part="r3.1"),
    ]
