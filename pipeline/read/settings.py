"""What a person may choose about how artwork is read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated

from pipeline.errors import SettingsError
from pipeline.model import Range


@dataclass(frozen=True)
class ReadSettings:
    """How artwork is read; every length is in mm of the sewn artwork."""

    flatness_mm: Annotated[
        float, Range(0.001, 0.5, "mm", "how far a polyline may lie from the curve it stands for")
    ] = 0.02
    sliver_mm: Annotated[float, Range(0.0, 0.5, "mm", "filled slivers narrower than this are left out")] = 0.05
    least_area_mm2: Annotated[
        float, Range(0.0, 10.0, "mm²", "painted specks of at most this area are left out")
    ] = 0.005
    least_size_mm: Annotated[
        float, Range(0.0, 100.0, "mm", "artwork smaller than this is reported as implausible")
    ] = 10.0
    fit_width_mm: Annotated[
        float, Range(0.0, 2000.0, "mm", "without --width the drawing is fitted into this width; 0 for no limit")
    ] = 0.0
    fit_height_mm: Annotated[
        float, Range(0.0, 2000.0, "mm", "without --width the drawing is fitted into this height; 0 for no limit")
    ] = 0.0
    fit_to_hoop: bool = False
    """Whether, without --width, the drawing is fitted into the machine's hoop (instead of the two above)."""
    page_colour: str = "#ffffff"
    """The colour that a page behind the design has (``#rrggbb``)."""
    keep_page: bool = False
    """Whether a bottom shape that covers the whole viewport in ``page_colour`` and frames the design is sewn."""
    ground_colour: str = "#ffffff"
    """The colour beneath the artwork (``#rrggbb``), seen through translucent paint."""
    same_colour: Annotated[
        float, Range(0.0, 20.0, "ΔE00", "colours at most this far apart become one thread colour")
    ] = 2.3
    most_colours: Annotated[int, Range(0, 64, "colours", "thread colours at most; 0 for no limit")] = 0
    gradient_bands: Annotated[
        int, Range(1, 16, "bands", "flat bands that a gradient is sewn in; 1 for its mean")
    ] = 1
    most_megabytes: Annotated[
        float, Range(0.1, 200.0, "MB", "larger files are refused (packed ones: once unpacked)")
    ] = 32.0
    most_elements: Annotated[int, Range(100, 5_000_000, "elements", "elements drawn at most, copies included")] = (
        200_000
    )
    most_copies: Annotated[int, Range(100, 5_000_000, "elements", "elements drawn by reference (use) at most")] = (
        50_000
    )
    most_segments: Annotated[int, Range(100, 10_000_000, "segments", "path segments drawn at most")] = 1_000_000
    machine_fonts: bool = True
    """Whether text may be drawn with the fonts of this machine; otherwise only with those of ``font_folder``."""
    font_folder: str = ""
    """A folder of fonts for text, looked through first."""
    language: str = "en"
    """The language that ``systemLanguage`` is compared with."""

    def __post_init__(self) -> None:
        for name in ("page_colour", "ground_colour"):
            if not re.fullmatch("#[0-9a-fA-F]{6}", getattr(self, name)):
                raise SettingsError(f"read.{name} is “{getattr(self, name)}”; write a colour as #rrggbb.")
