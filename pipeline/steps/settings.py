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
        Range(1, 5000, "orders", "colour orders kept side by side while searching for the fewest changes"),
    ] = 400
    keep_artwork_order: bool = False
    """Sew in the order of the artwork, whatever the colour changes."""
