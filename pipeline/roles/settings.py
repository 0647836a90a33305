"""Settings of the roles room."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ranges import ranged


@dataclass(frozen=True)
class RoleSettings:
    """How regions lie on each other (handbook.md, "Why layers", "Stack and density")."""

    base_share: float = ranged(
        0.95, 0.5, 1.0, "share", "a region with at least this much of its area on fabric is a base"
    )
    foundation_margin_mm: float = ranged(
        0.5, 0.0, 2.0, "mm", "how far foundation reaches under the neighbour that gives support"
    )
    least_bare_mm2: float = ranged(
        1.0, 0.0, 20.0, "mm²", "bare places smaller than this get no foundation of their own"
    )
    least_bare_width_mm: float = ranged(
        0.6, 0.0, 3.0, "mm", "bare slivers narrower than this get no foundation of their own"
    )
    long_sliver_mm2: float = ranged(6.0, 0.0, 50.0, "mm²", "unless they are at least so large")
    max_layers: int = ranged(3, 2, 6, "layers", "full layers of cover allowed at one place")
    rim_mm: float = ranged(1.5, 1.0, 4.0, "mm", "overlap kept beneath the edge of what covers a removed inside")
    overlap_mm: float = ranged(0.8, 0.0, 3.0, "mm", "what stays of a hidden end beneath an edge in sight; 0: all")
    least_thinned_mm2: float = ranged(4.0, 0.0, 100.0, "mm²", "a hidden inside smaller than this is never removed")
    least_saving: float = ranged(
        60.0, 0.0, 100000.0, "stitches", "a hidden inside goes if that saves at least so many stitches"
    )
    angle_step_deg: float = ranged(15.0, 5.0, 45.0, "°", "step between the row angles that are tried")
    angle_apart_deg: float = ranged(
        30.0, 0.0, 45.0, "°", "least difference of row angles of stacked or abutting neighbours"
    )
    angle_first_deg: float = ranged(45.0, 0.0, 180.0, "°", "the row angle that wins where all cost the same")
