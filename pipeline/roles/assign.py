"""The roles room's one function."""

from __future__ import annotations

import shapely

from pipeline.craft import Craft
from pipeline.geometry import overlay
from pipeline.geometry.polygon import multipolygon
from pipeline.losses import each
from pipeline.model import Note, Region, Role, Surface
from pipeline.roles.angles import angles
from pipeline.roles.hidden import left_out
from pipeline.roles.settings import RoleSettings
from pipeline.roles.support import Support, carrying, support
from pipeline.roles.thinning import thinned


def assign(regions: tuple[Region, ...], settings: RoleSettings, craft: Craft, note: Note) -> tuple[Surface, ...]:
    """Decide for every region what it rests on, where it needs foundation and at what angle its rows run.

    Where more full layers would lie than allowed, the hidden inside of the lowest is removed first, with a
    finding. ``bare`` and its complement in the outline are exact.
    """
    before = {region.id: region.outline.area for region in regions}
    whole = left_out(regions, settings, craft, note)
    wide = carrying(whole, craft)
    regions = thinned(whole, wide, settings, craft, note)
    changed = [z for z, region in enumerate(regions) if region is not whole[z]]
    for z, carrier in zip(changed, carrying(tuple(regions[z] for z in changed), craft), strict=True):
        wide[z] = carrier
    beneath = support(regions, wide)
    turned = angles(regions, settings)

    def surface(z: int) -> Surface:
        return _surface(regions[z], beneath[z], turned[z], before[regions[z].id], settings, craft)

    return tuple(each([region.id for region in regions], range(len(regions)), surface))


def _surface(
    region: Region, lies: Support, angle: float, stacked_mm2: float, settings: RoleSettings, craft: Craft
) -> Surface:
    """One region's decisions; ``stacked_mm2`` is its area before anything was left out."""
    share = lies.bare.area / region.outline.area
    role: Role = "base" if share >= settings.base_share else "mixed"
    need = _needs_foundation(lies.bare, settings)
    if not need and role == "mixed":
        role = "overlay"
    grown = overlay.buffer(overlay.union_all(need), settings.foundation_margin_mm, quad_segs=4)
    foundation = multipolygon(overlay.intersection(grown, region.outline))
    why = f"{_role_why(role, lies, share)}.{_areas_why(region, stacked_mm2)}"
    gone_mm2 = max(stacked_mm2 - region.outline.area, 0.0)
    return Surface(region, role, lies.rests_on, lies.bare, foundation, craft.row_mm, angle, why, gone_mm2)


def _needs_foundation(bare: shapely.MultiPolygon, settings: RoleSettings) -> list[shapely.Polygon]:
    """The bare places large and wide enough to need a foundation."""
    half = settings.least_bare_width_mm / 2
    return [
        place
        for place in bare.geoms
        if place.area >= settings.least_bare_mm2
        and (place.area >= settings.long_sliver_mm2 or not overlay.buffer(place, -half, quad_segs=2).is_empty)
    ]


MOST_NAMED = 4
"""Of more regions beneath only the number is told."""

TOLD_MM2, TOLD_SHARE = 0.05, 0.005
"""Less is rounding and not worth a word."""


def _role_why(role: Role, lies: Support, share: float) -> str:
    """What a region rests on, and what role that gives it."""
    named, more = lies.rests_on[:MOST_NAMED], len(lies.rests_on) - MOST_NAMED
    names = [*named, f"{more} more"] if more > 0 else list(named)
    on = " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
    if role == "base":
        beside = f", but for {1.0 - share:.0%} that rests on {on}" if on and share < 1.0 - TOLD_SHARE else ""
        return f"A base: it lies on bare fabric{beside}"
    if role == "mixed":
        return f"Mixed: it rests on {on or 'runs'}, but {share:.0%} of it hangs out over bare fabric"
    beside = f"; the {share:.0%} on bare fabric is too little to need foundation" if share >= TOLD_SHARE else ""
    return f"An overlay: it rests on {on or 'runs'}, whose cover carries it without foundation{beside}"


def _areas_why(region: Region, stacked_mm2: float) -> str:
    """What was restored of a region or left out, and why, as a second sentence; empty if neither."""
    told = (
        (region.restored_mm2, "restored under its neighbours so that no gap opens"),
        (stacked_mm2 - region.outline.area, "left out where hidden, to keep the stack thin or save stitches"),
    )
    found = [f"{area:.1f} mm² {words}" for area, words in told if area >= TOLD_MM2]
    return f" {'; '.join(found)}." if found else ""
