"""Settings of the tie room."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ranges import ranged


@dataclass(frozen=True)
class TieSettings:
    """How blocks are joined (handbook.md, "Order, joins, travel", "Run" and "Tatami")."""

    direct_mm: float = ranged(0.8, 0.0, 2.0, "mm", "the needle goes straight on to a place no farther than this")
    jump_mm: float = ranged(2.0, 0.0, 5.0, "mm", "longest move left uncut, where later cover hides it")
    open_mm: float = ranged(1.0, 0.0, 5.0, "mm", "of it, this much may lie open between two pieces")
    travel_mm: float = ranged(200.0, 0.0, 200.0, "mm", "longest hidden travel; a longer move is trimmed")
    travel_stitch_mm: float = ranged(2.5, 1.0, 5.0, "mm", "stitch length of travel")
    travel_inset_mm: float = ranged(0.5, 0.0, 2.0, "mm", "how far travel keeps from the edge of what will hide it")
    own_cover_cost: float = ranged(
        20.0, 1.0, 100.0, "1", "how many times a way over its own sewn cover counts one beneath cover to come"
    )
    lock_mm: float = ranged(0.7, 0.4, 1.5, "mm", "length of a lock stitch")
