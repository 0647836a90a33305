"""What a person may tune in fills. The defaults are common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pipeline.model import Range


@dataclass(frozen=True)
class TatamiSettings:
    """How a tatami is laid. The rows' distance comes with the part, pull compensation with the fabric."""

    stitch_mm: Annotated[float, Range(1.5, 7.0, "mm", "length of a stitch in the open field")] = 4.0
    narrow_stitch_mm: Annotated[float, Range(1.5, 7.0, "mm", "length of a stitch in narrow parts, at most")] = 3.0
    narrow_mm: Annotated[float, Range(0.0, 30.0, "mm", "parts of less median width are narrow")] = 8.0
    merge_mm: Annotated[
        float, Range(0.3, 2.0, "mm", "a needle point nearer to its row's end than this is left out")
    ] = 1.6
    fan_mm: Annotated[
        float, Range(0.65, 3.0, "mm", "a row that shares a turn leaves its own place this far inside the edge")
    ] = 0.8
    slit_mm: Annotated[float, Range(0.0, 1.0, "mm", "gaps narrower than this along a row are sewn over")] = 0.3
    two_points_mm: Annotated[
        float, Range(0.5, 2.0, "mm", "a turn at least this long gets a needle point at both of its ends")
    ] = 0.8
    travel_mm: Annotated[float, Range(1.5, 5.0, "mm", "length of a stitch of travel under later rows")] = 3.0
    inset_mm: Annotated[float, Range(0.2, 1.5, "mm", "how far inside the edge travel runs")] = 0.6
