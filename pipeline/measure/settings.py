"""What the measuring of a sewing can be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pipeline.model import Range


@dataclass(frozen=True)
class MeasureSettings:
    """Reckoning, the plan's own inspection, and the limits that it warns of."""

    interlock: Annotated[
        float, Range(0.5, 1.0, "", "depth at which the threads lock: 0.5 balanced (L + T), 1 beneath (L + 2 T)")
    ] = 0.9
    """Embroidery is sewn with a loose top thread, so that the bobbin never shows above (common practice)."""
    bobbin_share: Annotated[float, Range(0.2, 1.5, "", "bobbin thread a metre of top thread")] = 0.65
    cut_tail_mm: Annotated[float, Range(0.0, 200.0, "mm", "top thread lost at the start and at every cut")] = 30.0
    full_speed_stitch_mm: Annotated[
        float, Range(1.0, 12.1, "mm", "longest stitch that the machine sews at full speed")
    ] = 4.0
    longest_move_mm: Annotated[float, Range(1.0, 12.1, "mm", "way that one machine cycle moves a jump")] = 12.1
    price_per_thousand: Annotated[float, Range(0.0, 1000.0, "", "price of a thousand stitches")] = 1.0
    price_set_up: Annotated[float, Range(0.0, 10000.0, "", "price of setting a job up")] = 20.0

    px_per_mm: Annotated[float, Range(4.0, 40.0, "px/mm", "resolution of the plan's own inspection")] = 8.09
    """Not near a multiple of the machine's 10 points a mm: else every edge and row would meet cells alike."""
    near_mm: Annotated[float, Range(0.0, 0.5, "mm", "distance from thread that still counts as covered")] = 0.1
    border_mm: Annotated[
        float, Range(0.0, 2.0, "mm", "distance from a colour border below which the picture is not judged")
    ] = 0.4
    spill_mm: Annotated[float, Range(0.0, 5.0, "mm", "distance beyond the artwork that thread may reach")] = 0.6
    thickness_window_mm: Annotated[
        float, Range(0.5, 10.0, "mm", "side of the square over which thickness is averaged")
    ] = 1.5
    full_pull_mm: Annotated[
        float, Range(0.1, 12.1, "mm", "shortest stitch that pulls in by the fabric's whole pull")
    ] = 2.0
    push_share: Annotated[
        float, Range(0.0, 1.0, "", "how far stitching spreads sideways, as a share of the pull along it")
    ] = 0.5
    gap_edge_mm: Annotated[
        float, Range(0.0, 3.0, "mm", "distance from the artwork's outer border below which a gap is none")
    ] = 0.8

    gap_side_mm: Annotated[
        float, Range(0.0, 0.5, "mm", "distance beside thread at which fabric does not show as a gap")
    ] = 0.08

    most_layers: Annotated[float, Range(1.0, 10.0, "layers", "full layers at one place before a warning")] = 4.0
    thick_area_mm2: Annotated[
        float, Range(0.0, 100.0, "mm²", "place over that limit from which on it is a warning, not a note")
    ] = 2.0
    most_penetrations: Annotated[
        int, Range(2, 100, "per mm²", "needle penetrations in any square millimetre before a warning")
    ] = 12
    pierced_area_mm2: Annotated[
        float, Range(0.0, 100.0, "mm²", "place over that limit from which on it is a warning, not a note")
    ] = 1.0
    least_agreement: Annotated[
        float, Range(0.0, 1.0, "", "share of the whole judged picture in the right colour before a warning")
    ] = 0.97
    least_covered: Annotated[float, Range(0.0, 1.0, "", "share of the whole artwork covered before a warning")] = (
        0.99
    )
    region_agreement: Annotated[
        float, Range(0.0, 1.0, "", "share of one region that shows its own colour before a warning")
    ] = 0.90
    region_covered: Annotated[float, Range(0.0, 1.0, "", "share of one region covered before a warning")] = 0.95
    most_outside: Annotated[float, Range(0.0, 1.0, "", "share of thread beyond the artwork before a warning")] = (
        0.005
    )
    gap_length_mm: Annotated[
        float, Range(0.0, 100.0, "mm", "length of a gap between neighbours before a warning")
    ] = 2.0
    gap_area_mm2: Annotated[float, Range(0.0, 100.0, "mm²", "and its area")] = 0.3
    hoop_spare_mm: Annotated[float, Range(0.0, 50.0, "mm", "room in the hoop that must stay free, in all")] = 10.0

    most_short: Annotated[float, Range(0.0, 1.0, "", "share of too short stitches before a note")] = 0.05
    slow_stitch_mm: Annotated[
        float, Range(1.0, 12.1, "mm", "stitches over this are long for a machine at full speed")
    ] = 5.0
    most_slow: Annotated[float, Range(0.0, 1.0, "", "share of long stitches before a note")] = 0.25
    alike: Annotated[
        float, Range(0.0, 20.0, "ΔE00", "threads no farther apart than this are hard to tell apart")
    ] = 5.0
    loose_mm: Annotated[float, Range(0.0, 20.0, "mm", "uncut thread that may lie open on the sewing")] = 1.0
    least_between_mm: Annotated[
        float, Range(0.0, 3.0, "mm", "gap between shapes below which stitching closes it")
    ] = 0.8
    closing_mm2: Annotated[float, Range(0.0, 20.0, "mm²", "area of such a gap before a note")] = 1.0
    letters_mm: Annotated[
        float, Range(0.0, 20.0, "mm", "height of lettering below which it is too small for satin")
    ] = 4.0
    most_findings: Annotated[
        int, Range(1, 100, "findings", "of one kind that are told one by one, the most serious first")
    ] = 3
