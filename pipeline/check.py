"""What each handover must satisfy. A violation is a bug in the room that made it, never the sender's fault."""

from __future__ import annotations

from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.craft import RECORD_MM
from pipeline.errors import BrokenPromiseError
from pipeline.geometry import overlay
from pipeline.losses import each
from pipeline.model import Block, Part, Region, Sewing, Step, Surface

"""What one record of the machine file can hold along an axis."""
ROUNDED_MM, ROUNDED_MM2 = 1e-3, 0.01
"""Overlays round corners by less than this, and what lies outside for that reason is less than this."""
Areas = NDArray[np.object_]


def regions(given: tuple[Region, ...]) -> None:
    """Heights rise from the bottom; outlines are valid and something of each shows.

    Raises LostError with the regions at fault.
    """
    each([region.id for region in given], zip((-1, *(region.z for region in given)), given, strict=False), _region)


def _region(pair: tuple[int, Region]) -> None:
    beneath, region = pair
    _must(region.id == f"r{region.z + 1}" and region.z > beneath, f"{region.id} is not at its height {region.z}")
    _must(region.outline.is_valid and not region.outline.is_empty, f"{region.id} has no valid outline")
    _must(not region.visible.is_empty, f"{region.id} is hidden but kept")


def surfaces(given: tuple[Surface, ...]) -> None:
    """Bare places and foundations lie within the outline. Raises LostError with the regions that break that."""
    names = [surface.region.id for surface in given]
    outlines = np.array([surface.region.outline for surface in given], dtype=object)
    for name in ("bare", "foundation"):
        inner = np.array([getattr(surface, name) for surface in given], dtype=object)
        each(names, _outside(inner, outlines), partial(_inside, name))


def _outside(inner: Areas, outer: Areas) -> NDArray[np.float64]:
    """How much (mm²) of each area lies farther than rounding outside its outline.

    Outlines are grown only where it matters: that costs most, and GEOS can lose a piece of what it grows.
    """
    out = np.asarray(shapely.area(overlay.difference(inner, outer)))
    doubtful = np.flatnonzero(out > ROUNDED_MM2)
    grown = overlay.buffer(outer[doubtful], ROUNDED_MM, quad_segs=1)
    left = shapely.area(overlay.difference(inner[doubtful], grown))
    out[doubtful] = np.minimum(out[doubtful], left)
    return out


def _inside(what: str, out_mm2: float) -> None:
    _must(out_mm2 <= ROUNDED_MM2, f"its {what} lies outside its outline by {out_mm2:.3f} mm²")


def parts(given: tuple[Part, ...], of: tuple[Surface, ...]) -> None:
    """Each kind brings what its stitching needs; ids are unique. Raises LostError with the regions at fault."""
    _must(len({part.id for part in given}) == len(given), "two parts share an id")
    regions_known = {surface.region.id for surface in of}
    _must({part.region for part in given} <= regions_known, "a part belongs to no region")
    each([part.region for part in given], given, _part)


def _part(part: Part) -> None:
    _must(not part.area.is_empty and part.area.is_valid, f"part {part.id} has no valid area")
    _must(part.kind != "satin" or part.column is not None, f"satin {part.id} has no column")
    _must("run" not in part.kind or bool(part.lines), f"run {part.id} has no line")
    _must(part.kind != "tatami" or part.angle_deg is not None, f"tatami {part.id} has no angle")


def steps(given: tuple[Step, ...], of: tuple[Part, ...]) -> None:
    """Every part is sewn exactly once."""
    _must(sorted(s.part.id for s in given) == sorted(p.id for p in of), "a part is not sewn exactly once")


def blocks(given: tuple[Block, ...]) -> None:
    """Needle points are finite, and every block covers. Raises LostError with the regions at fault."""
    each([block.step.part.region for block in given], given, _block)


def _block(block: Block) -> None:
    part = block.step.part.id
    _must(any(strand.layer == "cover" and len(strand.points) for strand in block.strands), f"{part} has no cover")
    for strand in block.strands:
        _must(bool(np.isfinite(strand.points).all()), f"{part} has a needle point at no place")


def sewing(given: Sewing) -> None:
    """Sewn stitches fit the machine file, and points lie on its grid."""
    _must(bool(given.passes), "nothing is sewn")
    every = np.vstack([item.points for item in given.passes])
    off = np.abs((every - given.centre) * 10 - np.rint((every - given.centre) * 10))
    _must(float(off.max()) < 1e-6, "a needle point lies off the machine's grid")
    sewn = np.concatenate([[item.approach == "sewn"] + [True] * (len(item.points) - 1) for item in given.passes])
    reach = np.abs(np.diff(every, axis=0)).max(axis=1)[sewn[1:]]
    _must(not len(reach) or float(reach.max()) <= RECORD_MM + 1e-9, "a sewn stitch is longer than a record holds")


def _must(holds: bool, what: str) -> None:
    if not holds:
        raise BrokenPromiseError(what)
