"""Settings of the regions room."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ranges import ranged


@dataclass(frozen=True)
class RegionSettings:
    """How shapes become regions (handbook.md, "Why layers" and "Order, joins, travel")."""

    least_visible_mm2: float = ranged(
        0.05, 0.0, 5.0, "mm²", "a region of which less shows is left out, with a finding"
    )
    export_gap_mm: float = ranged(
        0.15, 0.0, 0.5, "mm", "gap or overlap that exporters leave between pieces that meet"
    )
    least_window_mm2: float = ranged(
        0.25, 0.0, 5.0, "mm²", "a smaller open place in a cut-out that is filled otherwise is no window"
    )
    join_overlap_mm: float = ranged(
        0.8, 0.0, 2.0, "mm", "how far the lower of two abutting regions reaches under the upper"
    )
    join_inset_mm: float = ranged(
        0.35, 0.0, 1.0, "mm", "how far that reach stays from the far edge of what hides it"
    )
    restore: bool = True
    """Close cut-outs that other regions fill."""
    search_width: int = ranged(
        60, 1, 5000, "orders", "orders kept side by side while looking for fewer colour changes"
    )
    line_mm: float = ranged(
        3.0, 0.0, 9.0, "mm", "what is nowhere wider is a line: it lies on the fills beside it, not beneath"
    )
    outline_mm: float = ranged(
        7.0, 0.0, 9.0, "mm", "a line may be so wide if it is long and its colour paints nothing else"
    )
    fewest_changes: bool = True
    """Neighbours that only abut may change places in the stack where that saves colour changes."""
