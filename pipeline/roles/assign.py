"""The roles room's one function."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay
from pipeline.geometry.polygon import multipolygon
from pipeline.losses import each
from pipeline.model import Fabric, Note, Region, Role, Surface
from pipeline.roles.angles import angles
from pipeline.roles.flush import set_back
from pipeline.roles.hollow import hollowed
from pipeline.roles.rims import Insides
from pipeline.roles.settings import RoleSettings
from pipeline.roles.support import Support, carrying, support
from pipeline.roles.thinning import thinned


def assign(regions: tuple[Region, ...], settings: RoleSettings, fabric: Fabric, note: Note) -> tuple[Surface, ...]:
    """Decide for every region what it rests on, where it needs foundation and at what angle its rows run.

    Where more full layers would lie than allowed, the hidden inside of the lowest is removed first, with a
    finding. ``bare`` and its complement in the outline are exact.
    """
    before = {region.id: region.outline.area for region in regions}
    regions, strips = set_back(regions, settings)
    insides = Insides([region.outline for region in regions], settings.rim_mm)
    whole = hollowed(regions, insides, settings, fabric, note)
    wide = carrying(whole, settings)
    regions = thinned(whole, wide, insides, settings, note)
    changed = [z for z, region in enumerate(regions) if region is not whole[z]]
    for z, carrier in zip(changed, carrying(tuple(regions[z] for z in changed), settings), strict=True):
        wide[z] = carrier
    beneath = support(regions, wide)
    turned = angles(regions, settings)
    given_up = overlay.union_all(strips)

    def surface(z: int) -> Surface:
        areas = before[regions[z].id], strips[z].area
        return _surface(regions[z], beneath[z], turned[z], areas, given_up, settings, fabric)

    return tuple(each([region.id for region in regions], range(len(regions)), surface))


def _surface(
    region: Region,
    lies: Support,
    angle: float,
    areas: tuple[float, float],
    given_up: BaseGeometry,
    settings: RoleSettings,
    fabric: Fabric,
) -> Surface:
    """One region's decisions.

    ``areas`` are its area before, and what it gave up at hidden edges; ``given_up`` is all that such regions did:
    too narrow to need foundation.
    """
    share = lies.bare.area / region.outline.area
    role: Role = "base" if share >= settings.base_share else "mixed"
    need = _needs_foundation(multipolygon(overlay.difference(lies.bare, given_up)), settings)
    if not need and role == "mixed":
        role = "overlay"
    grown = overlay.buffer(overlay.union_all(need), settings.foundation_margin_mm, quad_segs=4) if need else None
    foundation = multipolygon(
        overlay.intersection(grown, region.outline) if grown is not None else shapely.MultiPolygon()
    )
    why = _why(region, role, lies, share, areas)
    return Surface(region, role, lies.rests_on, lies.bare, foundation, fabric.row_mm, angle, why)


def _needs_foundation(bare: shapely.MultiPolygon, settings: RoleSettings) -> list[shapely.Polygon]:
    """The bare places large and wide enough to need a foundation."""
    half = settings.least_bare_width_mm / 2
    return [
        place
        for place in bare.geoms
        if place.area >= settings.least_bare_mm2
        and (place.area >= settings.long_sliver_mm2 or not overlay.buffer(place, -half, quad_segs=2).is_empty)
    ]


def _why(region: Region, role: Role, lies: Support, share: float, areas: tuple[float, float]) -> str:
    on = " and ".join(lies.rests_on)
    if role == "base":
        sentence = "base on bare fabric: foundation under all of it"
    elif role == "overlay":
        sentence = f"overlay on {on}: the cover below carries it, so no foundation"
    else:
        sentence = f"rests on {on} but {share:.0%} of it hangs out over bare fabric: foundation there only"
    if region.restored_mm2 >= 0.05:
        sentence += f"; {region.restored_mm2:.1f} mm² restored under its neighbours so that no gap opens"
    area_before, set_back_mm2 = areas
    if set_back_mm2 >= 0.05:
        sentence += f"; {set_back_mm2:.1f} mm² set back from hidden edges so that it doesn't peek out"
    removed = area_before - set_back_mm2 - region.outline.area
    if removed >= 0.05:
        sentence += f"; {removed:.1f} mm² of its hidden inside removed to keep the stack thin"
    return sentence
