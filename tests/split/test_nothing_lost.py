"""However an outline is cut up, all of it belongs to some piece."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from pipeline.geometry.medial import Axis
from pipeline.geometry.window import Windows
from pipeline.split.groups import Group, Layout, cut
from pipeline.split.joints import strip
from pipeline.split.stretches import SATIN

BAR = box(0, 0, 30, 10)
CORNERS = np.array([[10.0, 10.0], [10.0, 0.0], [20.0, 10.0], [20.0, 0.0]])
SPOTS = [np.array([x, 5.0]) for x in (4.0, 15.0, 26.0)]


@pytest.mark.parametrize("taken", [[[0, 2], [1]], [[0], [1, 2]], [[1], []], [[], []]])
def test_every_face_has_a_group_even_where_those_of_one_do_not_hang_together(taken: list[list[int]]) -> None:
    """``taken``: in which thirds of a bar the middles of the stretches of two groups lie."""
    far = np.array([99.0, 99.0])
    spots = dict(enumerate([*SPOTS, far]))
    groups = [Group(SATIN, junctions=own or [3]) for own in taken]
    layout = Layout(groups, [(0, 1), (2, 3)], {}, spots)
    cut(Axis(BAR, CORNERS, ()), layout)
    faces = [group.face for group in layout.groups if group.face is not None]
    assert shapely.union_all(faces).area == pytest.approx(BAR.area)
    assert sum(face.area for face in faces) == pytest.approx(BAR.area)


def test_a_strip_that_does_not_touch_leaves_the_piece_as_it_is() -> None:
    small, chord = box(0, 0, 1, 1), (np.array([5.0, 9.0]), np.array([5.0, 1.0]))
    assert strip(small, chord, Windows(BAR), 3.0).equals(small)
