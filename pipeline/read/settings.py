"""What a person may choose about how artwork is read."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.errors import SettingsError
from pipeline.ranges import ranged


@dataclass(frozen=True)
class ReadSettings:
    """How artwork is read; every length is in mm of the sewn artwork."""

    flatness_mm: float = ranged(0.02, 0.001, 0.5, "mm", "how far a polyline may lie from the curve it stands for")
    sliver_mm: float = ranged(0.05, 0.0, 0.5, "mm", "filled slivers narrower than this are left out")
    least_area_mm2: float = ranged(0.005, 0.0, 10.0, "mm²", "painted specks of at most this area are left out")
    least_size_mm: float = ranged(10.0, 0.0, 100.0, "mm", "artwork smaller than this is reported as implausible")
    fit_width_mm: float = ranged(
        0.0, 0.0, 2000.0, "mm", "without --width the drawing is fitted into this width; 0 for no limit"
    )
    fit_height_mm: float = ranged(
        0.0, 0.0, 2000.0, "mm", "without --width the drawing is fitted into this height; 0 for no limit"
    )
    fit_to_hoop: bool = False
    """Whether, without --width, the drawing is fitted into the machine's hoop (instead of the two above)."""
    page_colour: str = "#ffffff"
    """The colour that a page behind the design has (``#rrggbb``)."""
    keep_page: bool = False
    """Whether a bottom shape that covers the whole viewport in ``page_colour`` and frames the design is sewn."""
    ground_colour: str = "#ffffff"
    """The colour beneath the artwork (``#rrggbb``), seen through translucent paint."""
    same_colour: float = ranged(2.3, 0.0, 20.0, "ΔE00", "colours at most this far apart become one thread colour")
    most_colours: int = ranged(0, 0, 64, "colours", "thread colours at most; 0 for no limit")
    gradient_bands: int = ranged(1, 1, 16, "bands", "flat bands that a gradient is sewn in; 1 for its mean")
    most_megabytes: float = ranged(32.0, 0.1, 200.0, "MB", "larger files are refused (packed ones: once unpacked)")
    most_elements: int = ranged(200_000, 100, 5_000_000, "elements", "elements drawn at most, copies included")
    most_copies: int = ranged(50_000, 100, 5_000_000, "elements", "elements drawn by reference (use) at most")
    most_segments: int = ranged(1_000_000, 100, 10_000_000, "segments", "path segments drawn at most")
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
