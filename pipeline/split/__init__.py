"""Surfaces to parts by local width: tatami, satin or run."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.split.parts import split as split
    from pipeline.split.settings import SplitSettings as SplitSettings

lazily(
    __name__,
    parts="split",
    settings="SplitSettings",
)
