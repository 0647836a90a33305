"""What was sewn beneath a part, told from its needle points."""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.model import Part, Pass

STEADY_MM = 0.4
"""A run beside the edge keeps its distance from it to within this (most of its points); rows don't."""

CENTRAL = 0.3
"""Share of a part's width from its edge: from here on a steady run lies in its middle."""


def foundation_names(part: Part, sewn: list[Pass]) -> list[str]:
    """The foundation of ``part`` in the order sewn: edge run, centre run, rows or zig-zag; empty for none.

    One name for foundation passes of a kind that follow each other without a cut.
    """
    names: list[str] = []
    joined = False
    for step in sewn:
        if step.layer == "foundation":
            name = _name(part, step)
            if not joined or not names or names[-1] != name:
                names.append(name)
            joined = True
        elif step.layer == "cover":
            joined = False
    return names


def _name(part: Part, step: Pass) -> str:
    middles = (step.points[:-1] + step.points[1:]) / 2.0
    spots = np.vstack([step.points, middles])  # a zig-zag keeps its depth at needle points, not between them
    depths = shapely.distance(part.area.boundary, shapely.points(spots))
    low, middle, high = np.quantile(depths, [0.2, 0.5, 0.8])
    if high - low > STEADY_MM:
        return "zig-zag" if part.kind == "satin" else "rows"
    central = part.kind != "tatami" and middle > CENTRAL * part.width_mm[1]
    return "centre run" if central else "edge run"
