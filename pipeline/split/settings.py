"""How regions are parted by local width. Defaults are common practice of the trade, no source."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

from pipeline.ranges import ranged


@dataclass(frozen=True)
class SplitSettings:
    """Widths at which the kind of stitching changes, and how parts meet.

    Limits of detail are those of a 40-weight thread; ``for_thread`` gives them for another.
    """

    run_below_mm: float = ranged(1.0, 0.5, 2.0, "mm", "narrower is run, wider is satin")
    run_surely_below_mm: float = ranged(
        0.8, 0.3, 2.0, "mm", "a stretch never narrower than this stays satin beside satin"
    )
    letter_from_mm: float = ranged(
        0.3, 0.2, 2.0, "mm", "shapes of limbs modelled or small as letters are satin from this median width"
    )
    hairline_mm: float = ranged(
        0.24, 0.2, 2.0, "mm", "narrower is run in such a shape, and in one whose limbs are mostly wide"
    )
    small_shape_mm: float = ranged(
        10.0, 0.0, 30.0, "mm", "shapes up to this size are taken for letters, not for lines"
    )
    letter_reads_from_mm: float = ranged(
        5.0, 0.0, 10.0, "mm", "smaller figures of fine strokes are reported as lettering too small"
    )
    smallest_letter_mm: float = ranged(
        2.0, 0.0, 10.0, "mm", "still smaller ones are sewn as lines: run and triple run"
    )
    triple_run_from_mm: float = ranged(0.6, 0.3, 2.0, "mm", "a run this wide is sewn as triple run")
    bold_outline_mm: float = ranged(
        0.51, 0.3, 2.0, "mm", "so is an outlined line of this median width: one run would leave its sides bare"
    )
    finest_line_mm: float = ranged(0.3, 0.1, 1.0, "mm", "narrower cannot be sewn to shape and is reported")
    satin_up_to_mm: float = ranged(7.0, 3.0, 9.0, "mm", "wider is tatami")
    tatami_surely_over_mm: float = ranged(
        5.5, 2.0, 9.0, "mm", "a stretch never narrower than this stays tatami beside tatami"
    )
    tatami_from_mm: float = ranged(1.5, 0.5, 5.0, "mm", "narrower is never tatami, even where satin fails")
    least_area_mm2: float = ranged(0.3, 0.0, 2.0, "mm²", "a smaller and too fine area is not sewn but reported")
    shortest_run_mm: float = ranged(
        2.0, 0.5, 10.0, "mm", "a shorter run at the end of a satin column stays in the column"
    )
    shortest_column_widths: float = ranged(
        1.3, 0.5, 5.0, "widths", "a shorter limb of a tatami stays in the tatami"
    )
    corner_widths: float = ranged(
        1.9, 0.5, 5.0, "widths", "so does a corner up to this long, which narrows steadily to its tip"
    )
    overlap_mm: float = ranged(0.5, 0.0, 1.0, "mm", "how far a part reaches beneath its neighbour")
    sharpest_turn_deg: float = ranged(
        75.0, 20.0, 120.0, "degrees", "a column runs through a junction up to this turn"
    )
    coverage: float = ranged(
        0.97, 0.8, 1.0, "share", "a column whose cross-sections cover less of its face is not kept"
    )
    run_reach_mm: float = ranged(0.22, 0.1, 0.6, "mm", "a single run covers a line so far to either side")

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
