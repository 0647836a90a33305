"""Counts, thread, time and price of a sewing, by arithmetic that a person can follow.

Top thread: each stitch takes its length and goes down to where the threads lock and up again: L + 2·i·T, with
the interlock at i of the thickness T; in the middle, as in a balanced seam, that is L + T (plain lockstitch
geometry, class 301 of ISO 4915). T is fabric and stabilizer and the thread of other parts that lies there
already. Moves with the thread uncut take their length, every cut a tail.
"""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from pipeline.colour import name
from pipeline.craft import Craft
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import APPROACHES, LAYERS, Path, path
from pipeline.model import Counts, Machine, Price, Sewing, Spool, Thread

DENSITY_G_PER_CM3, PACKING = 1.38, 0.65
"""Of polyester, and the share of a yarn's section that is fibre (both from memory); rayon is slightly thinner."""


def count(sewing: Sewing, craft: Craft, settings: MeasureSettings) -> Counts:
    """The figures of ``sewing``.

    Stitches are needle penetrations; jumps, trims and colour changes the approaches of all passes but the first.
    """
    table = path(sewing)
    approaches = [each.approach for each in sewing.passes[1:]]
    foundation, cover, travel, lock = np.bincount(table.layer, minlength=len(LAYERS)).tolist()
    metres = float(_top_mm(table, len(sewing.colours), craft, settings).sum()) / 1000.0
    width, height = np.ptp(table.points, axis=0).tolist() if len(table.points) else (0.0, 0.0)
    return Counts(
        stitches=len(table.points),
        foundation=foundation,
        cover=cover,
        travel=travel,
        lock=lock,
        jumps=approaches.count("jump"),
        trims=approaches.count("trim"),
        colour_changes=approaches.count("colour"),
        thread_m=metres,
        bobbin_m=metres * settings.bobbin_share,
        minutes=_minutes(table, craft.machine, settings),
        width_mm=width,
        height_mm=height,
    )


def spools(sewing: Sewing, craft: Craft, settings: MeasureSettings) -> tuple[Spool, ...]:
    """The top threads, one for each of ``sewing.colours``; their metres add up to ``Counts.thread_m``."""
    metres = _top_mm(path(sewing), len(sewing.colours), craft, settings) / 1000.0
    return tuple(
        Spool(colour, name(colour), float(used)) for colour, used in zip(sewing.colours, metres, strict=True)
    )


def _top_mm(table: Path, threads: int, craft: Craft, settings: MeasureSettings) -> NDArray[np.float64]:
    """Top thread in mm by colour, ``(threads,)``."""
    cut = table.approach >= APPROACHES.index("trim")
    thickness = craft.fabric.thickness_mm + diameter_mm(craft.thread) * layers_beneath(table, craft, settings)
    taken = np.where(table.lies, table.lengths, 0.0) + 2.0 * settings.interlock * thickness
    taken += cut * settings.cut_tail_mm
    taken[:1] += settings.cut_tail_mm
    return np.bincount(table.thread, weights=taken, minlength=threads).astype(np.float64)


def diameter_mm(thread: Thread) -> float:
    """A round yarn's diameter from its mass a length: d = √(4 tex / (π ρ φ)), 0.20 mm at 27 tex.

    Tex is grams a kilometre (ISO 1144).
    """
    return 2.0 * sqrt(thread.tex * 1e-3 / (pi * DENSITY_G_PER_CM3 * PACKING))


def layers_beneath(table: Path, craft: Craft, settings: MeasureSettings) -> NDArray[np.float64]:
    """For every needle point the full layers of thread, of parts sewn before its own, at its place, ``(n,)``.

    Thread is summed by cells as wide as the thickness window, each stitch in the cell of its needle point: true
    on average, not at each point.
    """
    if len(table.points) == 0:
        return np.zeros(0)
    side = settings.thickness_window_mm
    cells = np.floor((table.points - table.points.min(axis=0)) / side).astype(np.intp)
    parts = int(table.part.max()) + 1
    key = (cells[:, 1] * (int(cells[:, 0].max()) + 1) + cells[:, 0]) * parts + table.part
    keys, which = np.unique(key, return_inverse=True)
    thread_mm = np.bincount(which, weights=np.where(table.lies, table.lengths, 0.0))
    before = np.cumsum(thread_mm) - thread_mm
    first = np.searchsorted(keys // parts, keys // parts)
    beneath = (before - before[first]) / (side * side * craft.layer_mm_per_mm2)
    return np.asarray(beneath[which])


def _minutes(table: Path, machine: Machine, settings: MeasureSettings) -> float:
    """Sewing slows in proportion beyond the full-speed length; moves take cycles; cuts and changes stop it."""
    slower = np.maximum(1.0, table.lengths / settings.full_speed_stitch_mm)
    moves = ~table.sewn
    # The frame goes from the origin to the first point while nobody waits for it: one cycle, as any stitch.
    cycles = np.where(moves, 1.0 + np.ceil(table.lengths / settings.longest_move_mm), slower)
    stops_s = np.sum(table.approach == APPROACHES.index("trim")) * machine.trim_s
    stops_s += np.sum(table.approach == APPROACHES.index("colour")) * machine.colour_change_s
    return float(cycles.sum() / machine.stitches_per_minute + stops_s / 60.0)


def price(counts: Counts, settings: MeasureSettings) -> Price:
    """Thousands of stitches at their price, and the set-up."""
    amount = settings.price_set_up + counts.stitches / 1000.0 * settings.price_per_thousand
    formula = (
        f"{settings.price_set_up:.2f} set-up + {counts.stitches / 1000.0:.3f} thousand stitches"
        f" × {settings.price_per_thousand:.2f} = {amount:.2f}"
    )
    return Price(amount, formula)
