"""SVG file → Drawing: everything awkward is resolved here, so that no later room knows SVG."""

from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings

__all__ = ["ReadSettings", "read_drawing"]
