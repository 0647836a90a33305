"""The stitch plan as JSON: the table of the contract, key by key.

Needle points are written in whole micrometres: the centre rounded to 0.001 mm and whole tenths added to it, so
that the difference of any two written numbers is the machine file's move exactly.
"""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import Any

import numpy as np
import orjson
import shapely
from shapely.geometry import MultiPolygon

from pipeline.model import Checks, Counts, Finding, Part, Pass, Plan, Surface
from pipeline.write.foundation import foundation_names
from pipeline.write.records import UNITS_PER_MM, pass_units

FORMAT = "plystitch-plan"
VERSION = 2
DECIMALS = 3
"""Micrometres: far finer than thread, and short enough to read."""

PLACES = {
    **dict.fromkeys(("picture_agreement", "covered", "outside"), 5),
    **dict.fromkeys(("peak_layers", "peak_penetrations_per_mm2", "thick_mm2", "pierced_mm2"), 2),
    **dict.fromkeys(("thread_m", "bobbin_m", "minutes"), 2),
}
"""Decimals of figures that have other than ``DECIMALS``."""

LISTED = ("regions", "threads", "passes", "findings")
"""Keys whose items stand one on a line, so that two plans can be compared line by line."""


def plan_document(plan: Plan) -> dict[str, Any]:
    """The plan as the contract's table: plain dicts, lists, numbers and strings, keys in the table's order.

    Raises BrokenPromiseError if a needle point is off the machine's grid.
    """
    sewn: dict[str, list[Pass]] = {}
    for step in plan.sewing.passes:
        sewn.setdefault(step.part, []).append(step)
    parts: dict[str, list[Part]] = {}
    for part in plan.parts:
        parts.setdefault(part.region, []).append(part)
    centre = np.rint(np.asarray(plan.sewing.centre) * 10**DECIMALS).astype(np.int64)
    return {
        "format": FORMAT,
        "version": VERSION,
        "made_by": plan.made_by,
        "source": {
            "name": plan.source.name,
            "sha256": plan.source.sha256,
            "directions": None,
            "width_mm": _round(plan.source.width_mm),
            "height_mm": _round(plan.source.height_mm),
        },
        "settings": plan.settings,
        "centre": (centre / 10**DECIMALS).tolist(),
        "regions": [_region(s, parts.get(s.region.id, []), sewn) for s in plan.surfaces],
        "threads": [{"colour": s.colour, "name": s.name, "metres": _round(s.metres, 2)} for s in plan.spools],
        "passes": [_pass(step, plan, centre) for step in plan.sewing.passes],
        "counts": _figures(plan.counts),
        "findings": [_finding(finding) for finding in plan.findings],
        "checks": {**_figures(plan.checks), "cut_out": None if plan.cut_out is None else _figures(plan.cut_out)},
    }


def plan_bytes(plan: Plan) -> bytes:
    """The plan as UTF-8 JSON: one top-level key a line, and of regions, threads, passes and findings one item.

    Raises ValueError for a number that JSON cannot hold, and as ``plan_document`` does.
    """
    lines = []
    for key, value in plan_document(plan).items():
        if key in LISTED and value:
            items = b",\n".join(b"  " + orjson.dumps(item) for item in value)
            lines.append(b"%b: [\n%b\n]" % (orjson.dumps(key), items))
        else:
            lines.append(b"%b: %b" % (orjson.dumps(key), orjson.dumps(value)))
    if orjson.loads(orjson.dumps(plan.settings)) != plan.settings:  # what is no number becomes null
        raise ValueError("A setting has a value that JSON cannot hold.")
    return b"{\n" + b",\n".join(lines) + b"\n}\n"


def _round(value: float, decimals: int = DECIMALS) -> float:
    if not isfinite(value):
        raise ValueError(f"{value} is no number that JSON can hold.")
    return round(float(value), decimals) + 0.0  # + 0.0: no negative zero


def _region(surface: Surface, parts: list[Part], sewn: dict[str, list[Pass]]) -> dict[str, Any]:
    region = surface.region
    return {
        "id": region.id,
        "element": region.element,
        "z": region.z,
        "colour": region.colour,
        "role": surface.role,
        "rests_on": list(surface.rests_on),
        "outline": _coordinates(region.outline),
        "bare": _coordinates(surface.bare),
        "restored_mm2": _round(region.restored_mm2),
        "left_out_mm2": _round(surface.left_out_mm2),
        "why": surface.why,
        "parts": [_part(part, sewn.get(part.id, [])) for part in parts],
    }


def _part(part: Part, sewn: list[Pass]) -> dict[str, Any]:
    return {
        "id": part.id,
        "kind": part.kind,
        "area_mm2": _round(part.area.area),
        "width_mm": [_round(width) for width in part.width_mm],
        "angle_deg": None if part.angle_deg is None else _round(part.angle_deg),
        "foundation": foundation_names(part, sewn),
        "why": part.why,
    }


def _pass(step: Pass, plan: Plan, centre: np.ndarray[Any, np.dtype[np.int64]]) -> dict[str, Any]:
    per_unit = 10**DECIMALS // UNITS_PER_MM
    places = pass_units(step, plan.sewing.centre) * per_unit + centre
    return {
        "thread": int(step.thread),
        "region": step.region,
        "part": step.part,
        "layer": step.layer,
        "approach": step.approach,
        "points": (places / 10**DECIMALS).tolist(),
    }


def _coordinates(area: MultiPolygon) -> list[list[list[list[float]]]]:
    """GeoJSON MultiPolygon coordinates (RFC 7946, 3.1.7): closed rings of at least four positions."""
    polygons = []
    for polygon in area.geoms:
        rings = [_ring(ring) for ring in (polygon.exterior, *polygon.interiors)]
        if len(rings[0]) >= 4:
            polygons.append([ring for ring in rings if len(ring) >= 4])
    return polygons


def _ring(ring: shapely.LinearRing) -> list[list[float]]:
    spots = np.round(shapely.get_coordinates(ring), DECIMALS) + 0.0
    keep = np.ones(len(spots), dtype=bool)
    keep[1:] = np.any(np.diff(spots, axis=0) != 0.0, axis=1)
    kept: list[list[float]] = spots[keep].tolist()
    return kept


def _figures(of: Counts | Checks) -> dict[str, Any]:
    """Every figure under its name, numbers that are no counts rounded."""
    return {
        key: _round(value, PLACES.get(key, DECIMALS)) if isinstance(value, float) else value
        for key, value in asdict(of).items()
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {**asdict(finding), "at": None if finding.at is None else [_round(place) for place in finding.at]}
