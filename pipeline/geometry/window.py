"""A large polygon as seen through small windows, so that what happens at one place does not cost all of it."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay

Box = tuple[float, float, float, float]

FEW = 400
"""Shapes of so few corners are not cut further: about where an overlay costs more than finding the window."""
SPARE_MM = 1.0
"""A window shows so much about its box: edges of up to this length that reach into the box are whole."""


class Windows:
    """``polygon`` cut into overlapping quarters, and these again, as far as they are looked at.

    A look costs about the logarithm of the number of corners, once the windows about it have been cut.
    """

    def __init__(self, polygon: BaseGeometry) -> None:
        self.shape = polygon
        self.bounds: Box = polygon.bounds
        self.quarters: dict[Box, Windows] = {}

    def around(self, box: Box) -> BaseGeometry:
        """A part of the polygon, the same as the whole in ``box`` (least x, least y, largest x, largest y)."""
        quarter = self._quarter(box)
        if quarter is None or shapely.get_num_coordinates(self.shape) <= FEW:
            return self.shape
        if quarter not in self.quarters:
            self.quarters[quarter] = Windows(overlay.intersection(self.shape, shapely.box(*quarter)))
            self.quarters[quarter].bounds = quarter
        return self.quarters[quarter].around(box)

    def _quarter(self, box: Box) -> Box | None:
        """The quarter (six tenths as wide and high) that holds the box with room to spare; None if none does."""
        x0, y0, x1, y1 = self.bounds
        wide, high = 0.6 * (x1 - x0), 0.6 * (y1 - y0)
        left = x0 if box[2] + SPARE_MM <= x0 + wide else x1 - wide
        top = y0 if box[3] + SPARE_MM <= y0 + high else y1 - high
        held = box[0] - SPARE_MM >= left or left == x0, box[1] - SPARE_MM >= top or top == y0
        return (left, top, left + wide, top + high) if all(held) else None
