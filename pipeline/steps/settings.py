"""Settings of the steps room."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ranges import ranged


@dataclass(frozen=True)
class StepSettings:
    """How the sewing order is found (handbook.md, "Order, joins, travel")."""

    overlap_mm2: float = ranged(
        0.02, 0.0, 1.0, "mm²", "pieces that overlap by more than this are sewn in the order of the stack"
    )
    search_width: int = ranged(
        400, 1, 5000, "orders", "orders kept side by side while searching for the fewest colour changes"
    )
    trim_cost_mm: float = ranged(
        40.0, 0.0, 500.0, "mm", "a cut between two pieces is worth as much as this way with the needle up"
    )
    hop_mm: float = ranged(
        1.5, 0.0, 5.0, "mm", "pieces no farther apart are joined uncut, at a quarter of what a cut costs"
    )
    travel_share: float = ranged(
        0.3, 0.0, 1.0, "1", "cost of a hidden way that is sewn, as a share of the same way with the needle up"
    )
    keep_artwork_order: bool = False
    """Sew in the order of the artwork, whatever the colour changes."""
