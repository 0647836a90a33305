"""How regions are parted by local width. Defaults are common practice of the trade, no source."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Self

from pipeline.model import Range


@dataclass(frozen=True)
class SplitSettings:
    """Widths at which the kind of stitching changes, and how parts meet.

    Limits of detail are those of a 40-weight thread; ``for_thread`` gives them for another.
    """

    run_below_mm: Annotated[float, Range(0.5, 2.0, "mm", "narrower is run, wider is satin")] = 1.0
    run_surely_below_mm: Annotated[
        float, Range(0.3, 2.0, "mm", "a stretch never narrower than this stays satin beside satin")
    ] = 0.8
    letter_from_mm: Annotated[
        float,
        Range(0.2, 2.0, "mm", "shapes of limbs modelled or small as letters are satin from this median width"),
    ] = 0.3
    hairline_mm: Annotated[
        float, Range(0.2, 2.0, "mm", "narrower is run in such a shape, and in one whose limbs are mostly wide")
    ] = 0.24
    small_shape_mm: Annotated[
        float, Range(0.0, 30.0, "mm", "shapes up to this size are taken for letters, not for lines")
    ] = 10.0
    letter_reads_from_mm: Annotated[
        float, Range(0.0, 10.0, "mm", "smaller figures of fine strokes are reported as lettering too small")
    ] = 5.0
    smallest_letter_mm: Annotated[
        float, Range(0.0, 10.0, "mm", "still smaller ones are sewn as lines: run and triple run")
    ] = 2.0
    triple_run_from_mm: Annotated[float, Range(0.3, 2.0, "mm", "a run this wide is sewn as triple run")] = 0.6
    bold_outline_mm: Annotated[
        float,
        Range(0.3, 2.0, "mm", "so is an outlined line of this median width: one run would leave its sides bare"),
    ] = 0.51
    finest_line_mm: Annotated[float, Range(0.1, 1.0, "mm", "narrower cannot be sewn to shape and is reported")] = (
        0.3
    )
    satin_up_to_mm: Annotated[float, Range(3.0, 9.0, "mm", "wider is tatami")] = 7.0
    tatami_surely_over_mm: Annotated[
        float, Range(2.0, 9.0, "mm", "a stretch never narrower than this stays tatami beside tatami")
    ] = 5.5
    tatami_from_mm: Annotated[float, Range(0.5, 5.0, "mm", "narrower is never tatami, even where satin fails")] = (
        1.5
    )
    least_area_mm2: Annotated[
        float, Range(0.0, 2.0, "mm²", "a smaller and too fine area is not sewn but reported")
    ] = 0.3
    shortest_run_mm: Annotated[
        float, Range(0.5, 10.0, "mm", "a shorter run at the end of a satin column stays in the column")
    ] = 2.0
    shortest_column_widths: Annotated[
        float, Range(0.5, 5.0, "widths", "a shorter limb of a tatami stays in the tatami")
    ] = 1.3
    corner_widths: Annotated[
        float, Range(0.5, 5.0, "widths", "so does a corner up to this long, which narrows steadily to its tip")
    ] = 1.9
    overlap_mm: Annotated[float, Range(0.0, 1.0, "mm", "how far a part reaches beneath its neighbour")] = 0.5
    sharpest_turn_deg: Annotated[
        float, Range(20.0, 120.0, "degrees", "a column runs through a junction up to this turn")
    ] = 75.0
    coverage: Annotated[
        float, Range(0.8, 1.0, "share", "a column whose cross-sections cover less of its face is not kept")
    ] = 0.97
    run_reach_mm: Annotated[float, Range(0.1, 0.6, "mm", "a single run covers a line so far to either side")] = 0.22

    def for_thread(self, fineness: float) -> Self:
        """The same with all limits of detail ``fineness`` times as large: a finer thread sews finer."""
        return replace(self, **{name: fineness * getattr(self, name) for name in DETAIL})


DETAIL = (
    "run_below_mm",
    "run_surely_below_mm",
    "letter_from_mm",
    "hairline_mm",
    "letter_reads_from_mm",
    "smallest_letter_mm",
    "triple_run_from_mm",
    "bold_outline_mm",
    "finest_line_mm",
    "run_reach_mm",
)
"""The limits that go with the thread's width."""
