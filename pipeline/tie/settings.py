"""Settings of the tie room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pipeline.model import Range


@dataclass(frozen=True)
class TieSettings:
    """How blocks are joined (handbook.md, "Order, joins, travel", "Run" and "Tatami")."""

    direct_mm: Annotated[
        float, Range(0.0, 2.0, "mm", "the needle goes straight on to a place no farther than this")
    ] = 0.8
    jump_mm: Annotated[float, Range(0.0, 5.0, "mm", "longest move left uncut, where later cover hides it")] = 2.0
    open_mm: Annotated[float, Range(0.0, 5.0, "mm", "of it, this much may lie open between two pieces")] = 1.0
    travel_mm: Annotated[float, Range(0.0, 200.0, "mm", "longest hidden travel; a longer move is trimmed")] = 200.0
    travel_stitch_mm: Annotated[float, Range(1.0, 5.0, "mm", "stitch length of travel")] = 2.5
    travel_inset_mm: Annotated[
        float, Range(0.0, 2.0, "mm", "how far travel keeps from the edge of what will hide it")
    ] = 0.5
    own_cover_cost: Annotated[
        float,
        Range(
            1.0,
            100.0,
            "1",
            "a way over sewn cover of its own colour counts so many times one beneath cover to come",
        ),
    ] = 20.0
    lock_mm: Annotated[float, Range(0.4, 1.5, "mm", "length of a lock stitch")] = 0.7
