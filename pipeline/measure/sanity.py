"""What a shop checks before it sews: hoop, needles, stitch lengths, speed, loose thread, and artwork too fine."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely

from pipeline.colour import difference, lab, name, rgb
from pipeline.craft import GRID_MM, Craft
from pipeline.geometry.polyline import spot_of
from pipeline.measure.inspection import Inspection
from pipeline.measure.nearness import grown, patches
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import LAYERS
from pipeline.model import Finding, Machine, Region, Sewing, Spot

LEAST_LETTER_MM = 1.2
"""Lower pieces are dots and specks, not letters."""

LETTERS = 4
"""Pieces in a row that make a word: fewer are found in any ornament."""


def sanity_findings(
    inspection: Inspection, sewing: Sewing, craft: Craft, settings: MeasureSettings
) -> list[Finding]:
    """Everything that needs no picture, or only the artwork's."""
    return [
        *_hoop(inspection, craft.machine, settings),
        *_needles(sewing, craft.machine),
        *_lengths(inspection, craft, settings),
        *_loose(inspection, craft.thread_mm, settings),
        *_alike(sewing, settings),
        *_closing(inspection, settings),
        *_lettering(inspection.art.regions, settings),
    ]


def _hoop(inspection: Inspection, machine: Machine, settings: MeasureSettings) -> tuple[Finding, ...]:
    spots = inspection.table.points
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


def _lengths(inspection: Inspection, craft: Craft, settings: MeasureSettings) -> list[Finding]:
    """Stitches that snag, that break thread, or that a machine sews slowly."""
    table = inspection.table
    counted = table.sewn & (table.layer != LAYERS.index("lock"))
    lengths = np.where(counted, table.lengths, np.nan)
    total = max(1, int(counted.sum()))
    found = []
    # Rounding to the machine's grid may add half a diagonal of it.
    if np.count_nonzero(lengths > craft.longest_mm + GRID_MM):
        at = int(np.nanargmax(lengths))
        x, y = spot_of(table.points[at])
        message = (
            f"A stitch is {lengths[at]:.1f} mm long at x {x:.1f}, y {y:.1f} mm; over"
            f" {craft.longest_mm:g} mm it snags. Set a lower longest stitch."
        )
        found.append(Finding("stitch-too-long", "warning", message, at=(x, y)))
    short = np.count_nonzero(lengths < craft.shortest_mm) / total
    if short > settings.most_short:
        message = (
            f"{short:.0%} of the stitches are shorter than {craft.shortest_mm:g} mm, which wears and breaks"
            " thread. Sew the design larger, or simplify its smallest details."
        )
        found.append(Finding("stitches-too-short", "note", message))
    slow = np.count_nonzero(lengths > settings.slow_stitch_mm) / total
    if slow > settings.most_slow:
        machine = craft.machine
        speed = machine.stitches_per_minute * settings.full_speed_stitch_mm / settings.slow_stitch_mm
        message = (
            f"{slow:.0%} of the stitches are longer than {settings.slow_stitch_mm:g} mm. Run {machine.name} at no"
            f" more than about {round(speed / 50.0) * 50} stitches a minute."
        )
        found.append(Finding("sew-slower", "note", message))
    return found


def _loose(inspection: Inspection, thread_mm: float, settings: MeasureSettings) -> list[Finding]:
    """Thread left uncut between two places that nothing sewn later hides."""
    table, top = inspection.table, inspection.sight.top
    jumps = np.flatnonzero(table.approach[table.lies] == 1)
    if len(jumps) == 0:
        return []
    cells = np.bincount(top[top >= 0], minlength=int(table.lies.sum()))[jumps]
    visible_mm = cells * inspection.art.grid.cell_mm2 / thread_mm
    open_ = jumps[visible_mm > settings.loose_mm]
    if len(open_) == 0:
        return []
    at = spot_of(table.segments[table.lies][open_[0]].mean(axis=0))
    message = (
        f"{len(open_)} uncut thread{'s' if len(open_) > 1 else ''} between two places stay visible, first at"
        f" x {at[0]:.1f}, y {at[1]:.1f} mm. Snip by hand after sewing, or set a shorter longest jump."
    )
    return [Finding("loose-thread", "note", message, at=at)]


def _alike(sewing: Sewing, settings: MeasureSettings) -> list[Finding]:
    """The two threads that are hardest to tell apart, if a person may mix them up."""
    colours = tuple(dict.fromkeys(sewing.colours))
    pairs = list(combinations(range(len(colours)), 2))
    if not pairs:
        return []
    places = lab(np.array([rgb(colour) for colour in colours]))
    one, other = np.array(pairs).T
    apart = difference(places[one], places[other])
    close = np.flatnonzero(apart <= settings.alike)
    if len(close) == 0:
        return []
    nearest = int(close[np.argmin(apart[close])])
    first, second = (colours[k] for k in pairs[nearest])
    others = f" {len(close) - 1} more pairs are as near." if len(close) > 1 else ""
    message = (
        f"The threads {first} ({name(first)}) and {second} ({name(second)}) can hardly be told apart once sewn"
        f" (ΔE00 {apart[nearest]:.1f}). Use one thread for both and save a colour, or set them farther apart."
        + others
    )
    return [Finding("colours-alike", "note", message)]


def _closing(inspection: Inspection, settings: MeasureSettings) -> list[Finding]:
    """Windows and gaps in the artwork so narrow that stitching closes them."""
    art = inspection.art
    reach = settings.least_between_mm / 2.0 * art.grid.px_per_mm
    open_ = ~art.shown
    wide = grown(open_ & ~grown(art.shown, reach), reach + 1.0)
    found = patches(open_ & ~wide, 4, max(1, round(settings.closing_mm2 / art.grid.cell_mm2)))
    # A notch at a corner is as long as it is wide; a gap between two columns is longer.
    long = [p for p in found if p.length / art.grid.px_per_mm >= 3.0 * settings.least_between_mm]
    if not long:
        return []
    x, y = art.grid.places(*np.array([long[0].middle]).T)[0].tolist()
    message = (
        f"A gap between shapes at x {x:.1f}, y {y:.1f} mm is narrower than {settings.least_between_mm:g} mm over"
        f" {long[0].length / art.grid.px_per_mm:.0f} mm and will close when sewn. Widen it, or leave it out."
    )
    return [Finding("gap-closes", "note", message, at=(x, y))]


@dataclass(frozen=True)
class _Letter:
    """A piece that may be a letter."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def height(self) -> float:
        return self.bottom - self.top


def _lettering(regions: tuple[Region, ...], settings: MeasureSettings) -> list[Finding]:
    """Rows of small pieces of one colour on one line: lettering too small for satin."""
    for colour in dict.fromkeys(region.colour for region in regions):
        pieces = shapely.get_parts([region.visible for region in regions if region.colour == colour])
        boxes = shapely.bounds(pieces)
        height = boxes[:, 3] - boxes[:, 1]
        small = (height >= LEAST_LETTER_MM) & (height < settings.letters_mm)
        small &= boxes[:, 2] - boxes[:, 0] < 1.6 * settings.letters_mm
        letters = [_Letter(*box) for box in sorted(boxes[small].tolist())]
        word = _word(letters)
        if word:
            tall = float(np.median([letter.height for letter in word]))
            at: Spot = ((word[0].left + word[-1].right) / 2.0, (word[0].top + word[0].bottom) / 2.0)
            message = (
                f"Lettering about {tall:.1f} mm high at x {at[0]:.1f}, y {at[1]:.1f} mm is small for thread; under"
                f" {settings.letters_mm:g} mm it loses its shape. Sew it larger, or use a finer thread and needle."
            )
            return [Finding("lettering-small", "note", message, at=at)]
    return []


def _word(letters: list[_Letter]) -> list[_Letter]:
    """The first run of at least ``LETTERS`` pieces, left to right, that stand on one line side by side."""
    for start, first in enumerate(letters):
        word = [first]
        for letter in letters[start + 1 :]:
            last = word[-1]
            if letter.left > last.right + 1.2 * last.height:
                break
            level = abs(letter.bottom - first.bottom) <= 0.2 * first.height
            alike = 0.55 <= letter.height / first.height <= 1.8
            if level and alike and letter.left >= last.right - 0.2 * last.height:
                word.append(letter)
        if len(word) >= LETTERS:
            return word
    return []
