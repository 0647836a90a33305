"""What a person may want to change about the files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pipeline.model import Range

Ground = Literal["natural", "white", "grey", "navy"]


@dataclass(frozen=True)
class WriteSettings:
    """How the sewn picture is drawn; plan and machine file know no choice."""

    picture_px_per_mm: Annotated[float, Range(1, 40, "px/mm", "fineness of the sewn picture")] = 10.0
    picture_detail: Annotated[int, Range(1, 6, "×", "samples a pixel, each way, that smooth the picture")] = 2
    picture_margin_mm: Annotated[float, Range(0, 50, "mm", "fabric shown around the sewing")] = 5.0
    ground: Ground = "natural"
    """The colour of the fabric in the picture."""
