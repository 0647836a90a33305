"""What a person may tune in stitches. The defaults are common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.ranges import ranged


@dataclass(frozen=True)
class TatamiSettings:
    """How a tatami is laid. The rows' distance comes with the part, pull compensation with the fabric."""

    stitch_mm: float = ranged(4.0, 1.5, 7.0, "mm", "length of a stitch in the open field")
    narrow_stitch_mm: float = ranged(3.0, 1.5, 7.0, "mm", "length of a stitch in narrow parts, at most")
    narrow_mm: float = ranged(8.0, 0.0, 30.0, "mm", "parts of less median width are narrow")
    merge_mm: float = ranged(1.6, 0.3, 2.0, "mm", "a needle point nearer to its row's end than this is left out")
    fan_mm: float = ranged(
        0.8, 0.65, 3.0, "mm", "a row that shares a turn leaves its own place this far inside the edge"
    )
    slit_mm: float = ranged(0.3, 0.0, 1.0, "mm", "gaps narrower than this along a row are sewn over")
    two_points_mm: float = ranged(
        0.8, 0.5, 2.0, "mm", "a turn at least this long gets a needle point at both of its ends"
    )
    travel_mm: float = ranged(3.0, 1.5, 5.0, "mm", "length of a stitch of travel under later rows")
    inset_mm: float = ranged(0.6, 0.2, 1.5, "mm", "how far inside the edge travel runs")


@dataclass(frozen=True)
class RunSettings:
    """How lines are stitched."""

    stitch_mm: float = ranged(2.25, 1.0, 5.0, "mm", "longest stitch of a run")
    chord_mm: float = ranged(0.07, 0.02, 0.3, "mm", "how far a stitch may cut across a bend")
    corner_deg: float = ranged(45.0, 20.0, 90.0, "deg", "turns from here on get a needle point")
    spread_mm: float = ranged(0.28, 0.0, 0.4, "mm", "a bold line's passes part from its middle by up to")
    dot_mm: float = ranged(1.0, 0.3, 2.0, "mm", "shorter single lines are sewn as a dot")


@dataclass(frozen=True)
class SatinSettings:
    """How columns are stitched."""

    pull_share: float = ranged(0.10, 0.0, 0.5, "", "least pull compensation, both sides, per width")
    end_inset_mm: float = ranged(0.1, 0.0, 0.5, "mm", "ends pulled in against push")
    tip_mm: float = ranged(0.35, 0.3, 1.5, "mm", "narrower ends are sewn as run")
    seam_mm: float = ranged(0.8, 0.0, 3.0, "mm", "overlap where a closed ring meets itself")
    gap_mm: float = ranged(0.22, 0.0, 0.4, "mm", "least distance of needle points in a bend")
    short_least: float = ranged(0.18, 0.0, 0.6, "", "least depth of a short stitch, per width")
    short_most: float = ranged(0.45, 0.0, 0.6, "", "greatest depth of a short stitch, per width")
    short_step_mm: float = ranged(0.5, 0.2, 3.0, "mm", "steps between the depths on wide columns")
    crowd: int = ranged(3, 2, 12, "points", "earlier points within 0.5 mm of a short stitch")
    hidden_crowd: int = ranged(2, 1, 12, "points", "earlier foundation points within 0.5 mm of one")
    centre_from_mm: float = ranged(1.5, 0.0, 4.0, "mm", "wider columns get a centre run")
    edge_from_mm: float = ranged(2.5, 1.5, 6.0, "mm", "wider columns get an edge run")
    zigzag_from_mm: float = ranged(4.0, 2.0, 12.0, "mm", "wider ones get an open zig-zag too")
    zigzag_mm: float = ranged(2.0, 1.0, 5.0, "mm", "distance of the open zig-zag's crossings")
    zigzag_stitch_mm: float = ranged(4.0, 2.0, 7.0, "mm", "longest stitch of the open zig-zag")
    travel_stitch_mm: float = ranged(2.5, 1.0, 4.0, "mm", "longest stitch of travel under the cover")
    hidden_chord_mm: float = ranged(0.15, 0.05, 0.4, "mm", "how far hidden stitches may cut a bend")


@dataclass(frozen=True)
class StitchSettings:
    """The settings of every kind of stitching."""

    tatami: TatamiSettings = field(default_factory=TatamiSettings)
    satin: SatinSettings = field(default_factory=SatinSettings)
    run: RunSettings = field(default_factory=RunSettings)
