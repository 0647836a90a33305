"""Satin over families of columns, told from its needle points alone."""

from __future__ import annotations

import numpy as np
import pytest
from crafts import CRAFT
from shapely.geometry import MultiPolygon, box

from pipeline.model import Column, Part, Step, Strand, points
from pipeline.stitch.satin import lay_satin
from pipeline.stitch.settings import RunSettings, SatinSettings


def bar(length: float, width: float, start: float, end: float, bedded: bool = True) -> tuple[Strand, ...]:
    """A straight column from x = 0, entered and left on its middle at those places."""
    area = box(0, 0, length, width)
    bed = MultiPolygon([area] if bedded else [])
    column = Column(points([(0, 0), (length, 0)]), points([(0, width), (length, width)]))
    part = Part("p", "r1", "satin", area, (width,) * 3, bed, 0.2, "", bare=bed, column=column)
    step = Step(part, "#204060", (start, width / 2), (end, width / 2))
    return lay_satin(step, SatinSettings(), RunSettings(), CRAFT).strands


@pytest.mark.parametrize("bedded", [False, True])
@pytest.mark.parametrize("width", [1.2, 2.0, 3.0, 5.0])
@pytest.mark.parametrize("place", [0.0, 0.4, 0.5, 1.0])
def test_what_is_hidden_stays_inside_the_ends_that_the_thread_does_not_pass(
    place: float, width: float, bedded: bool
) -> None:
    """By a thread's width, so that it does not peep out."""
    at = 20.0 * place
    strands = bar(20.0, width, at, at, bedded)
    hidden = np.vstack([strand.points for strand in strands if strand.layer != "cover"])
    away = hidden[np.abs(hidden[:, 0] - at) > 2.0]
    assert len(away) > 2
    assert away[:, 0].min() >= CRAFT.thread_mm
    assert away[:, 0].max() <= 20.0 - CRAFT.thread_mm
