"""From an inspection to what a person must know and do."""

from __future__ import annotations

import numpy as np

from pipeline.measure.coverage import BARE, Mask
from pipeline.measure.inspection import Inspection
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import path
from pipeline.model import Finding, Machine, Sewing, Spot

LEAST_JUDGED_MM2 = 1.0
"""Judged area below which a single region is not complained of: a cell more or less would decide."""


def inspection_findings(
    inspection: Inspection, sewing: Sewing, machine: Machine, settings: MeasureSettings
) -> tuple[Finding, ...]:
    """What is too thick, too often pierced, off in colour or uncovered, and what ``machine`` cannot hold."""
    return (
        *_hoop(sewing, machine, settings),
        *_needles(sewing, machine),
        *_layers(inspection, settings),
        *_penetrations(inspection, settings),
        *_by_region(inspection, settings),
        *_outside(inspection, settings),
    )


def _hoop(sewing: Sewing, machine: Machine, settings: MeasureSettings) -> tuple[Finding, ...]:
    spots = path(sewing).points
    if len(spots) == 0:
        return ()
    width, height = np.ptp(spots, axis=0).tolist()
    room = (machine.hoop_width_mm - settings.hoop_spare_mm, machine.hoop_height_mm - settings.hoop_spare_mm)
    if width <= room[0] and height <= room[1]:
        return ()
    turned = width <= room[1] and height <= room[0]
    remedy = "turn it by 90°" if turned else f"sew it at most {_fitting(width, height, room) * 100:.0f} % as large"
    message = (
        f"The design is {width:.1f} × {height:.1f} mm; the hoop of {machine.name} leaves"
        f" {room[0]:.0f} × {room[1]:.0f} mm. Use a larger hoop or {remedy}."
    )
    return (Finding("larger-than-hoop", "error", message),)


def _fitting(width: float, height: float, room: tuple[float, float]) -> float:
    """The scale at which the design fits, rounded down to a whole per cent."""
    sides = [have / need for have, need in ((room[0], width), (room[1], height)) if need > 0.0]
    return float(np.floor(max(0.0, min(sides)) * 100.0)) / 100.0


def _needles(sewing: Sewing, machine: Machine) -> tuple[Finding, ...]:
    colours = len(set(sewing.colours))
    if colours <= machine.needles:
        return ()
    message = (
        f"The design has {colours} colours and {machine.name} has {machine.needles} needles."
        f" Rethread {colours - machine.needles} of them at the stops, or merge near colours in the artwork."
    )
    return (Finding("more-colours-than-needles", "warning", message),)


def _layers(inspection: Inspection, settings: MeasureSettings) -> tuple[Finding, ...]:
    peak = inspection.layers
    if peak.value <= settings.most_layers:
        return ()
    message = (
        f"{peak.value:.1f} full layers of thread lie on one another {_there(peak.at)}; more than"
        f" {settings.most_layers:g} sew badly. Let the artwork have fewer full areas there, or smaller ones."
    )
    return (Finding("too-thick", "warning", message, at=peak.at),)


def _penetrations(inspection: Inspection, settings: MeasureSettings) -> tuple[Finding, ...]:
    peak = inspection.penetrations
    if peak.value <= settings.most_penetrations:
        return ()
    message = (
        f"The needle goes in {peak.value:.0f} times in one square millimetre {_there(peak.at)};"
        f" more than {settings.most_penetrations} can cut the fabric."
        " Remove small details there, or sew the design larger."
    )
    return (Finding("too-many-penetrations", "warning", message, at=peak.at),)


def _by_region(inspection: Inspection, settings: MeasureSettings) -> tuple[Finding, ...]:
    """Regions in which the picture or the cover falls short, bottom first, each with its worst place."""
    art, sight = inspection.art, inspection.sight
    found: list[Finding] = []
    agree = _shares(inspection, sight.passes, art.judged)
    cover = _shares(inspection, sight.covered, art.shown)
    for place, region in enumerate(art.regions):
        if agree[place] < settings.least_agreement:
            at = _worst(inspection, art.judged & (art.region == place) & ~sight.passes)
            message = (
                f"Only {agree[place] * 100:.0f} % of {region.element} shows its own colour {_there(at)}."
                " What is sewn on it hides more than in the artwork, or it is too thin to be sewn to shape;"
                " move the shapes apart or sew the design larger."
            )
            found.append(Finding("colour-off", "warning", message, region.id, at))
        if cover[place] < settings.least_covered:
            at = _worst(inspection, art.shown & (art.region == place) & ~sight.covered)
            message = (
                f"Only {cover[place] * 100:.0f} % of {region.element} is covered; fabric shows {_there(at)}."
                " Make its narrow tips and corners bolder, or sew the design larger."
            )
            found.append(Finding("fabric-shows", "warning", message, region.id, at))
    return tuple(found)


def _shares(inspection: Inspection, part: Mask, whole: Mask) -> list[float]:
    """For each region the share of ``whole`` that ``part`` fills; 1 where too little of it can be judged."""
    art = inspection.art
    kinds = len(art.regions)
    total = np.bincount(art.region[whole & (art.region != BARE)], minlength=kinds)
    good = np.bincount(art.region[part & whole & (art.region != BARE)], minlength=kinds)
    enough = total * art.grid.cell_mm2 >= LEAST_JUDGED_MM2
    return list(np.where(enough, good / np.maximum(total, 1), 1.0))


def _worst(inspection: Inspection, cells: Mask) -> Spot:
    """The middle of the longest unbroken row of ``cells``: a place inside the trouble, to point at."""
    rows, columns = np.nonzero(cells)
    breaks = np.flatnonzero((np.diff(columns) != 1) | (np.diff(rows) != 0)) + 1
    first = np.concatenate([[0], breaks])
    size = np.diff(np.concatenate([first, [len(rows)]]))
    longest = int(np.argmax(size))
    middle = int(first[longest] + size[longest] // 2)
    grid = inspection.art.grid
    x, y = grid.places(rows[middle : middle + 1], columns[middle : middle + 1])[0].tolist()
    return (x, y)


def _outside(inspection: Inspection, settings: MeasureSettings) -> tuple[Finding, ...]:
    outside = inspection.checks.outside
    if outside <= settings.most_outside:
        return ()
    message = (
        f"{outside * 100:.1f} % of the thread lies more than {settings.spill_mm:g} mm outside the artwork."
        " Look at the sewn picture; bridges between separate pieces may be trimmed by hand."
    )
    return (Finding("thread-outside", "warning", message),)


def _there(at: Spot | None) -> str:
    return "" if at is None else f"at x {at[0]:.1f}, y {at[1]:.1f} mm"
