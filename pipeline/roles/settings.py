"""Settings of the roles room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pipeline.model import Range


@dataclass(frozen=True)
class RoleSettings:
    """How regions lie on each other (handbook.md, "Why layers", "Stack and density")."""

    base_share: Annotated[
        float, Range(0.5, 1.0, "share", "a region with at least this much of its area on fabric is a base")
    ] = 0.95
    foundation_margin_mm: Annotated[
        float, Range(0.0, 2.0, "mm", "how far foundation reaches under the neighbour that gives support")
    ] = 0.5
    least_bare_mm2: Annotated[
        float, Range(0.0, 20.0, "mm²", "bare places smaller than this get no foundation of their own")
    ] = 1.0
    least_bare_width_mm: Annotated[
        float, Range(0.0, 3.0, "mm", "bare slivers narrower than this get no foundation of their own")
    ] = 0.6
    long_sliver_mm2: Annotated[float, Range(0.0, 50.0, "mm²", "unless they are at least so large")] = 6.0
    max_layers: Annotated[int, Range(2, 6, "layers", "full layers of cover allowed at one place")] = 3
    rim_mm: Annotated[
        float, Range(1.0, 4.0, "mm", "overlap kept beneath the edge of what covers a removed inside")
    ] = 1.5
    overlap_mm: Annotated[
        float,
        Range(0.0, 3.0, "mm", "what lies hidden farther from an edge in sight goes at a region's end; 0: none"),
    ] = 0.8
    set_back_mm: Annotated[
        float, Range(0.0, 1.5, "mm", "how far a hidden edge stays back from the edge of what hides it; 0 for not")
    ] = 0.5
    set_back_rim_mm: Annotated[
        float, Range(0.3, 3.0, "mm", "overlap kept where it comes out from beneath what hides it")
    ] = 0.8
    least_thinned_mm2: Annotated[
        float, Range(0.0, 100.0, "mm²", "a hidden inside smaller than this is never removed")
    ] = 4.0
    least_saving: Annotated[
        float, Range(0.0, 100000.0, "stitches", "a hidden inside goes if that saves at least so many stitches")
    ] = 60.0
    angle_step_deg: Annotated[float, Range(5.0, 45.0, "°", "step between the row angles that are tried")] = 15.0
    angle_apart_deg: Annotated[
        float, Range(0.0, 45.0, "°", "least difference of row angles of stacked or abutting neighbours")
    ] = 30.0
    angle_first_deg: Annotated[float, Range(0.0, 180.0, "°", "the row angle that wins where all cost the same")] = (
        45.0
    )
