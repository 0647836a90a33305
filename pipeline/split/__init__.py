"""Surfaces to parts by local width: tatami, satin or run."""

from pipeline.split.parts import split
from pipeline.split.settings import SplitSettings

__all__ = ["SplitSettings", "split"]
