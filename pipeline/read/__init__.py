"""SVG file → Drawing: everything awkward is resolved here, so that no later room knows SVG."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.read.reading import read_drawing as read_drawing
    from pipeline.read.settings import ReadSettings as ReadSettings

lazily(
    __name__,
    reading="read_drawing",
    settings="ReadSettings",
)
