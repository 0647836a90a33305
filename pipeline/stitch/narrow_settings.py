"""Settings of satin and run stitches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pipeline.model import Range


@dataclass(frozen=True)
class RunSettings:
    """How lines are stitched; the defaults are common practice, no source."""

    stitch_mm: Annotated[float, Range(1.0, 5.0, "mm", "longest stitch of a run")] = 2.25
    chord_mm: Annotated[float, Range(0.02, 0.3, "mm", "how far a stitch may cut across a bend")] = 0.07
    corner_deg: Annotated[float, Range(20.0, 90.0, "deg", "turns from here on get a needle point")] = 45.0
    spread_mm: Annotated[float, Range(0.0, 0.4, "mm", "a bold line's passes part from its middle by up to")] = 0.28
    dot_mm: Annotated[float, Range(0.3, 2.0, "mm", "shorter single lines are sewn as a dot")] = 1.0


@dataclass(frozen=True)
class SatinSettings:
    """How columns are stitched; the defaults are common practice, no source."""

    pull_share: Annotated[float, Range(0.0, 0.5, "", "least pull compensation, both sides, per width")] = 0.10
    end_inset_mm: Annotated[float, Range(0.0, 0.5, "mm", "ends pulled in against push")] = 0.1
    tip_mm: Annotated[float, Range(0.3, 1.5, "mm", "narrower ends are sewn as run")] = 0.35
    seam_mm: Annotated[float, Range(0.0, 3.0, "mm", "overlap where a closed ring meets itself")] = 0.8
    gap_mm: Annotated[float, Range(0.0, 0.4, "mm", "least distance of needle points in a bend")] = 0.22
    short_least: Annotated[float, Range(0.0, 0.6, "", "least depth of a short stitch, per width")] = 0.18
    short_most: Annotated[float, Range(0.0, 0.6, "", "greatest depth of a short stitch, per width")] = 0.45
    short_step_mm: Annotated[float, Range(0.2, 3.0, "mm", "steps between the depths on wide columns")] = 0.5
    crowd: Annotated[int, Range(2, 12, "points", "earlier points within 0.5 mm of a short stitch")] = 3
    hidden_crowd: Annotated[int, Range(1, 12, "points", "earlier foundation points within 0.5 mm of one")] = 2
    centre_from_mm: Annotated[float, Range(0.0, 4.0, "mm", "wider columns get a centre run")] = 1.5
    edge_from_mm: Annotated[float, Range(1.5, 6.0, "mm", "wider columns get an edge run")] = 2.5
    zigzag_from_mm: Annotated[float, Range(2.0, 12.0, "mm", "wider ones get an open zig-zag too")] = 4.0
    zigzag_mm: Annotated[float, Range(1.0, 5.0, "mm", "distance of the open zig-zag's crossings")] = 2.0
    zigzag_stitch_mm: Annotated[float, Range(2.0, 7.0, "mm", "longest stitch of the open zig-zag")] = 4.0
    travel_stitch_mm: Annotated[float, Range(1.0, 4.0, "mm", "longest stitch of travel under the cover")] = 2.5
    hidden_chord_mm: Annotated[float, Range(0.05, 0.4, "mm", "how far hidden stitches may cut a bend")] = 0.15
