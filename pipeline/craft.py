"""What cloth, thread and machine ask of every stitch, in one value: rooms derive from it and repeat none of it.

Lengths are mm. Defaults are common practice of the trade, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.model import Fabric, Machine, Thread
from pipeline.ranges import ranged

GRID_MM = 0.1
"""The machine file's unit: all needle points lie on multiples of it about the plan's centre (common practice)."""
RECORD_UNITS = 121
"""Units that one record of the machine file moves an axis: 1 + 3 + 9 + 27 + 81."""
RECORD_MM = RECORD_UNITS * GRID_MM
USUAL_THREAD_MM = 0.25
"""Laid width of the thread that row, pitch and detail limits are stated for; others follow in proportion."""
FULL_LAYER = 1.25
"""A full layer of cover lies so many times as close as its thread is wide: 5 mm a mm² at 0.25 mm, rows at 0.20."""


@dataclass(frozen=True)
class LengthSettings:
    """How long a stitch may be, whatever it is part of."""

    longest_mm: float = ranged(7.0, 3.0, 12.1, "mm", "longer sewn stitches snag and are split")
    shortest_mm: float = ranged(0.5, 0.3, 1.0, "mm", "shortest stitch that sews well, once on the grid")
    least_mm: float = ranged(0.3, 0.2, 1.0, "mm", "shorter stitches are taken out wherever they come from")


@dataclass(frozen=True)
class FoundationSettings:
    """How foundation is laid, beneath a tatami and beneath satin."""

    edge_inset_mm: float = ranged(0.5, 0.2, 1.5, "mm", "edge run and rows lie this far inside")
    clear_mm: float = ranged(
        0.4, 0.0, 1.0, "mm", "distance of foundation from the edge of cover already sewn beside it"
    )
    edge_stitch_mm: float = ranged(2.0, 1.0, 4.0, "mm", "stitch of edge and centre runs")
    rows_mm: float = ranged(2.5, 1.0, 5.0, "mm", "distance of open rows")
    light_rows_mm: float = ranged(3.5, 1.5, 6.0, "mm", "distance of light and of crossed rows")
    rows_stitch_mm: float = ranged(3.5, 2.0, 5.0, "mm", "stitch of open rows")
    least_rows_mm2: float = ranged(30.0, 0.0, 200.0, "mm²", "smaller areas get an edge run only")
    least_mm2: float = ranged(6.0, 0.0, 50.0, "mm²", "smaller areas get none")


@dataclass(frozen=True)
class Craft:
    """Fabric, thread and machine of a job, and the lengths that more than one room goes by.

    ``stitch_mm`` is the tatami stitch of the open field; ``satin_from_mm`` and ``satin_up_to_mm`` are the widths
    sewn as satin, for this thread.
    """

    fabric: Fabric
    thread: Thread
    machine: Machine
    lengths: LengthSettings
    foundation: FoundationSettings
    stitch_mm: float
    satin_from_mm: float
    satin_up_to_mm: float

    @property
    def thread_mm(self) -> float:
        """Width of the laid thread."""
        return self.thread.laid_mm

    @property
    def fineness(self) -> float:
        """The laid thread's width over that of 40-weight: what is stated for that is sewn in this proportion."""
        return self.thread.laid_mm / USUAL_THREAD_MM

    @property
    def row_mm(self) -> float:
        """Distance of neighbouring tatami rows (line 1 to line 2) with this thread on this fabric."""
        return self.fabric.row_mm * self.fineness

    @property
    def pitch_mm(self) -> float:
        """Distance of neighbouring needle points on one side of a satin (line 1 to line 3)."""
        return self.fabric.pitch_mm * self.fineness

    @property
    def pull_mm(self) -> float:
        """Pull compensation a side."""
        return self.fabric.pull_mm

    @property
    def layer_mm_per_mm2(self) -> float:
        """Thread in one full layer of cover, mm a mm²."""
        return FULL_LAYER / self.thread.laid_mm

    @property
    def longest_mm(self) -> float:
        """Longest sewn stitch."""
        return self.lengths.longest_mm

    @property
    def shortest_mm(self) -> float:
        """Shortest stitch that sews well, as it lies on the grid."""
        return self.lengths.shortest_mm

    @property
    def planned_mm(self) -> float:
        """Shortest stitch as planned: rounding to the grid rarely takes more than half a unit off."""
        return self.lengths.shortest_mm - GRID_MM / 2

    @property
    def surely_mm(self) -> float:
        """A stitch planned this long is never shorter than ``shortest_mm`` once both its ends are rounded."""
        return self.lengths.shortest_mm + 1.5 * GRID_MM

    @property
    def kept_mm(self) -> float:
        """A stitch planned this long is rarely taken out once both its ends are rounded."""
        return self.lengths.least_mm + 0.7 * GRID_MM
