"""What a person may want to change about the files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.ranges import ranged

Ground = Literal["natural", "white", "grey", "navy"]


@dataclass(frozen=True)
class WriteSettings:
    """How the sewn picture is drawn; plan and machine file know no choice."""

    picture_px_per_mm: float = ranged(10.0, 1, 40, "px/mm", "fineness of the sewn picture")
    picture_detail: int = ranged(2, 1, 6, "×", "samples a pixel, each way, that smooth the picture")
    picture_margin_mm: float = ranged(5.0, 0, 50, "mm", "fabric shown around the sewing")
    ground: Ground = "natural"
    """The colour of the fabric in the picture."""
