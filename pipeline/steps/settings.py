"""Settings of the steps room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pipeline.model import Range


@dataclass(frozen=True)
class StepSettings:
    """How the sewing order is found (handbook.md, "Order, joins, travel")."""

    overlap_mm2: Annotated[
        float,
        Range(0.0, 1.0, "mm²", "pieces that overlap by more than this are sewn in the order of the stack"),
    ] = 0.02
    search_width: Annotated[
        int,
        Range(1, 5000, "orders", "orders kept side by side while searching for the fewest colour changes"),
    ] = 400
    trim_cost_mm: Annotated[
        float,
        Range(0.0, 500.0, "mm", "a cut between two pieces is worth as much as this way with the needle up"),
    ] = 40.0
    hop_mm: Annotated[
        float,
        Range(0.0, 5.0, "mm", "pieces no farther apart are joined uncut, at a quarter of what a cut costs"),
    ] = 1.5
    travel_share: Annotated[
        float,
        Range(0.0, 1.0, "1", "cost of a hidden way that is sewn, as a share of the same way with the needle up"),
    ] = 0.3
    keep_artwork_order: bool = False
    """Sew in the order of the artwork, whatever the colour changes."""
