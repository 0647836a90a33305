"""From an inspection to what a person must know and do: a few findings of a kind, the most serious first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.craft import Craft
from pipeline.geometry.polyline import spot_of
from pipeline.measure.coverage import BARE
from pipeline.measure.inspection import Inspection
from pipeline.measure.nearness import Mask
from pipeline.measure.sanity import sanity_findings
from pipeline.measure.settings import MeasureSettings
from pipeline.model import Finding, Severity, Sewing, Spot

LEAST_JUDGED_MM2 = 1.0
"""Judged area below which a single region is not complained of: a cell more or less would decide."""

NOTABLE = 1.25
"""A place over a limit that is too small for a warning is told from this many times the limit on."""

RANKS: dict[Severity, int] = {"error": 0, "warning": 1, "note": 2}


def inspection_findings(
    inspection: Inspection, sewing: Sewing, craft: Craft, settings: MeasureSettings
) -> tuple[Finding, ...]:
    """What is too thick, too often pierced, off in colour, uncovered or open, and what the machine cannot hold.

    Errors come first, then warnings, then notes; of a kind no more than ``settings.most_findings``.
    """
    found = [
        *sanity_findings(inspection, sewing, craft, settings),
        *few(_colours(inspection, settings), settings),
        *few(_cover(inspection, settings), settings),
        *few(_gaps(inspection, settings), settings),
        *few(_layers(inspection, settings), settings),
        *few(_penetrations(inspection, settings), settings),
        *_outside(inspection, settings),
    ]
    return tuple(sorted(found, key=lambda finding: RANKS[finding.severity]))


def few(found: Iterable[Finding], settings: MeasureSettings) -> list[Finding]:
    """At most ``settings.most_findings`` of one kind, given most serious first; the last says how many more.

    Notes are told only where there is nothing graver, and then only the first.
    """
    every = list(found)
    grave = [finding for finding in every if finding.severity != "note"]
    kept = grave[: settings.most_findings] or every[:1]
    more = len(every) - len(kept)
    if more > 0:
        tail = f" {more} more such place{'s' if more > 1 else ''} of less weight."
        kept[-1] = replace(kept[-1], message=kept[-1].message + tail)
    return kept


def _layers(inspection: Inspection, settings: MeasureSettings) -> list[Finding]:
    limit = settings.most_layers
    found = []
    for place in inspection.layers.over(limit):
        serious = place.area_mm2 >= settings.thick_area_mm2
        message = (
            f"{place.value:.1f} full layers of thread lie on one another {there(place.at)}, over {limit:g} on"
            f" {place.area_mm2:.1f} mm²; that sews badly. Let fewer full areas of the artwork overlap there, or"
            " make the upper ones smaller."
        )
        found.append(_graver(Finding("too-thick", "note", message, at=place.at), serious))
    return found


def _penetrations(inspection: Inspection, settings: MeasureSettings) -> list[Finding]:
    limit = settings.most_penetrations
    found = []
    for place in inspection.penetrations.over(limit):
        serious = place.area_mm2 >= settings.pierced_area_mm2
        if not serious and place.value < NOTABLE * limit:
            continue
        message = (
            f"The needle goes in {place.value:.0f} times in one square millimetre {there(place.at)}; more than"
            f" {limit} can cut the fabric. Remove small details there, or sew the design larger."
        )
        found.append(_graver(Finding("too-many-penetrations", "note", message, at=place.at), serious))
    return found


def _graver(note: Finding, serious: bool) -> Finding:
    return replace(note, severity="warning") if serious else note


def _colours(inspection: Inspection, settings: MeasureSettings) -> list[Finding]:
    """The regions that show too little of their colour, by the area that is wrong."""
    art = inspection.art
    wrong = art.judged & ~inspection.sight.passes
    found = []
    for place, good in _short_regions(inspection, wrong, art.judged, settings.region_agreement):
        region = art.regions[place]
        at = worst(inspection, wrong & (art.region == place))
        message = (
            f"Only {good * 100:.0f} % of {region.element} shows its own colour {there(at)}. What is sewn on it"
            " hides more than in the artwork, or it is too thin to be sewn to shape; move the shapes apart or sew"
            " the design larger."
        )
        found.append(Finding("colour-off", "warning", message, region.id, at))
    share = 1.0 - int(np.count_nonzero(wrong)) / max(1, int(np.count_nonzero(art.judged)))
    if not found and share < settings.least_agreement:
        at = worst(inspection, wrong)
        message = (
            f"{share:.1%} of the picture has the artwork's colour on top, less than"
            f" {settings.least_agreement:.0%}, in many small places, the largest {there(at)}."
            " Its shapes are fine for this size; sew the design larger."
        )
        found.append(Finding("colour-off", "warning", message, None, at))
    return found


def _cover(inspection: Inspection, settings: MeasureSettings) -> list[Finding]:
    """The regions of which fabric shows, by the area that is bare; nothing of one sewn at all is an error."""
    art = inspection.art
    bare = art.shown & ~inspection.sight.covered
    found = []
    for place, good in _short_regions(inspection, bare, art.shown, settings.region_covered):
        region = art.regions[place]
        at = worst(inspection, bare & (art.region == place))
        if good < 0.05:
            message = (
                f"{region.element} is not sewn; fabric shows {there(at)}. Make it bolder or sew the design larger."
            )
            found.append(Finding("region-not-sewn", "error", message, region.id, at))
            continue
        message = (
            f"Only {good * 100:.0f} % of {region.element} is covered; fabric shows {there(at)}."
            " Make its narrow tips and corners bolder, or sew the design larger."
        )
        found.append(Finding("fabric-shows", "warning", message, region.id, at))
    share = inspection.checks.covered
    if not found and share < settings.least_covered:
        at = worst(inspection, bare)
        area = np.count_nonzero(bare) * art.grid.cell_mm2
        message = (
            f"{area:.1f} mm² of the artwork stay bare, {1.0 - share:.1%} of it, the largest place {there(at)}."
            " Make narrow tips and corners bolder, or sew the design larger."
        )
        found.append(Finding("fabric-shows", "warning", message, None, at))
    return found


def _short_regions(inspection: Inspection, wrong: Mask, whole: Mask, least: float) -> list[tuple[int, float]]:
    """Regions of whose ``whole`` less than the share ``least`` is free of ``wrong``, with it; most wrong first."""
    art = inspection.art
    total, bad = _by_region(inspection, whole), _by_region(inspection, wrong)
    good = 1.0 - bad / np.maximum(total, 1)
    short = np.flatnonzero((good < least) & (total * art.grid.cell_mm2 >= LEAST_JUDGED_MM2))
    return [(int(place), float(good[place])) for place in short[np.argsort(-bad[short], kind="stable")]]


def _by_region(inspection: Inspection, cells: Mask) -> NDArray[np.intp]:
    """How many of ``cells`` lie in each region."""
    region = inspection.art.region[cells]
    return np.bincount(region[region != BARE], minlength=len(inspection.art.regions))


def _gaps(inspection: Inspection, settings: MeasureSettings) -> list[Finding]:
    """Places where fabric shows between neighbours once the stitches have pulled."""
    regions = inspection.art.regions
    found = []
    for gap in inspection.gaps:
        if gap.length_mm < settings.gap_length_mm or gap.area_mm2 < settings.gap_area_mm2:
            continue
        lower, upper = (regions[place].element for place in gap.between)
        where = f"between {lower} and {upper}" if lower != upper else f"in {lower}"
        message = (
            f"Fabric would show {where} {there(gap.at)}, {gap.length_mm:.1f} mm long, once the stitches have"
            " pulled. Let the lower shape reach under the upper one, or choose a recipe with more pull"
            " compensation."
        )
        found.append(Finding("gap-after-pull", "warning", message, regions[gap.between[0]].id, gap.at))
    return found


def worst(inspection: Inspection, cells: Mask) -> Spot | None:
    """The middle of the longest unbroken row of ``cells``: a place inside the trouble, to point at."""
    rows, columns = np.nonzero(cells)
    if len(rows) == 0:
        return None
    breaks = np.flatnonzero((np.diff(columns) != 1) | (np.diff(rows) != 0)) + 1
    first = np.concatenate([[0], breaks])
    size = np.diff(np.concatenate([first, [len(rows)]]))
    longest = int(np.argmax(size))
    middle = int(first[longest] + size[longest] // 2)
    grid = inspection.art.grid
    return spot_of(grid.places(rows[middle : middle + 1], columns[middle : middle + 1])[0])


def _outside(inspection: Inspection, settings: MeasureSettings) -> tuple[Finding, ...]:
    outside = inspection.checks.outside
    if outside <= settings.most_outside:
        return ()
    places = inspection.outside
    at = spot_of(places[0]) if len(places) else None
    message = (
        f"{outside * 100:.1f} % of the thread lies more than {settings.spill_mm:g} mm outside the artwork, first"
        f" {there(at)}. Look at the sewn picture; bridges between separate pieces may be trimmed by hand."
    )
    return (Finding("thread-outside", "warning", message, at=at),)


def there(at: Spot | None) -> str:
    """A place in words."""
    return "" if at is None else f"at x {at[0]:.1f}, y {at[1]:.1f} mm"
