"""What a person may tune in fills and their foundation. The defaults are common practice, no source."""

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
    shortest_mm: Annotated[float, Range(0.3, 1.5, "mm", "shortest stitch once on the machine's grid")] = 0.5
    longest_mm: Annotated[float, Range(3.0, 12.1, "mm", "longest stitch, fans at the turns included")] = 7.0
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


@dataclass(frozen=True)
class FoundationSettings:
    """How foundation is laid beneath a tatami."""

    edge_inset_mm: Annotated[float, Range(0.3, 1.0, "mm", "edge run and rows lie this far inside")] = 0.5
    clear_mm: Annotated[
        float, Range(0.0, 1.0, "mm", "distance of foundation from the edge of cover already sewn beside it")
    ] = 0.4
    edge_stitch_mm: Annotated[float, Range(1.0, 4.0, "mm", "stitch of the edge run")] = 2.0
    rows_mm: Annotated[float, Range(1.0, 5.0, "mm", "distance of open rows")] = 2.5
    light_rows_mm: Annotated[float, Range(1.5, 6.0, "mm", "distance of light and of crossed rows")] = 3.5
    rows_stitch_mm: Annotated[float, Range(2.0, 5.0, "mm", "stitch of open rows")] = 3.5
    least_rows_mm2: Annotated[float, Range(0.0, 200.0, "mm²", "smaller areas get an edge run only")] = 30.0
    least_mm2: Annotated[float, Range(0.0, 50.0, "mm²", "smaller areas get none")] = 6.0
