"""What the measuring of a sewing can be told."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ranges import ranged


@dataclass(frozen=True)
class MeasureSettings:
    """Reckoning, the plan's own inspection, and the limits that it warns of."""

    interlock: float = ranged(
        0.9, 0.5, 1.0, "", "depth at which the threads lock: 0.5 balanced (L + T), 1 beneath (L + 2 T)"
    )
    """Embroidery is sewn with a loose top thread, so that the bobbin never shows above (common practice)."""
    bobbin_share: float = ranged(0.65, 0.2, 1.5, "", "bobbin thread a metre of top thread")
    cut_tail_mm: float = ranged(30.0, 0.0, 200.0, "mm", "top thread lost at the start and at every cut")
    full_speed_stitch_mm: float = ranged(4.0, 1.0, 12.1, "mm", "longest stitch that the machine sews at full speed")
    longest_move_mm: float = ranged(12.1, 1.0, 12.1, "mm", "way that one machine cycle moves a jump")
    price_per_thousand: float = ranged(1.0, 0.0, 1000.0, "", "price of a thousand stitches")
    price_set_up: float = ranged(20.0, 0.0, 10000.0, "", "price of setting a job up")

    px_per_mm: float = ranged(8.09, 4.0, 40.0, "px/mm", "resolution of the plan's own inspection")
    """Not near a multiple of the machine's 10 points a mm: else every edge and row would meet cells alike."""
    near_mm: float = ranged(0.1, 0.0, 0.5, "mm", "distance from thread that still counts as covered")
    border_mm: float = ranged(
        0.4, 0.0, 2.0, "mm", "distance from a colour border below which the picture is not judged"
    )
    spill_mm: float = ranged(0.6, 0.0, 5.0, "mm", "distance beyond the artwork that thread may reach")
    thickness_window_mm: float = ranged(1.5, 0.5, 10.0, "mm", "side of the square over which thickness is averaged")
    full_pull_mm: float = ranged(2.0, 0.1, 12.1, "mm", "shortest stitch that pulls in by the fabric's whole pull")
    push_share: float = ranged(
        0.5, 0.0, 1.0, "", "how far stitching spreads sideways, as a share of the pull along it"
    )
    gap_edge_mm: float = ranged(
        0.8, 0.0, 3.0, "mm", "distance from the artwork's outer border below which a gap is none"
    )

    gap_side_mm: float = ranged(0.08, 0.0, 0.5, "mm", "distance beside thread at which fabric is no gap")

    most_layers: float = ranged(4.0, 1.0, 10.0, "layers", "full layers at one place before a warning")
    thick_area_mm2: float = ranged(
        2.0, 0.0, 100.0, "mm²", "place over that limit from which on it is a warning, not a note"
    )
    most_penetrations: int = ranged(
        12, 2, 100, "per mm²", "needle penetrations in any square millimetre before a warning"
    )
    pierced_area_mm2: float = ranged(
        1.0, 0.0, 100.0, "mm²", "place over that limit from which on it is a warning, not a note"
    )
    least_agreement: float = ranged(
        0.97, 0.0, 1.0, "", "share of the whole judged picture in the right colour before a warning"
    )
    least_covered: float = ranged(0.99, 0.0, 1.0, "", "share of the whole artwork covered before a warning")
    region_agreement: float = ranged(
        0.90, 0.0, 1.0, "", "share of one region that shows its own colour before a warning"
    )
    region_covered: float = ranged(0.95, 0.0, 1.0, "", "share of one region covered before a warning")
    most_outside: float = ranged(0.005, 0.0, 1.0, "", "share of thread beyond the artwork before a warning")
    gap_length_mm: float = ranged(2.0, 0.0, 100.0, "mm", "length of a gap between neighbours before a warning")
    gap_area_mm2: float = ranged(0.3, 0.0, 100.0, "mm²", "and its area")
    hoop_spare_mm: float = ranged(10.0, 0.0, 50.0, "mm", "room in the hoop that must stay free, in all")

    most_short: float = ranged(0.05, 0.0, 1.0, "", "share of too short stitches before a note")
    slow_stitch_mm: float = ranged(5.0, 1.0, 12.1, "mm", "stitches over this are long for a machine at full speed")
    most_slow: float = ranged(0.25, 0.0, 1.0, "", "share of long stitches before a note")
    alike: float = ranged(5.0, 0.0, 20.0, "ΔE00", "threads no farther apart than this are hard to tell apart")
    loose_mm: float = ranged(1.0, 0.0, 20.0, "mm", "uncut thread that may lie open on the sewing")
    least_between_mm: float = ranged(0.8, 0.0, 3.0, "mm", "gap between shapes below which stitching closes it")
    closing_mm2: float = ranged(1.0, 0.0, 20.0, "mm²", "area of such a gap before a note")
    letters_mm: float = ranged(4.0, 0.0, 20.0, "mm", "height of lettering below which it is too small for satin")
    most_findings: int = ranged(
        3, 1, 100, "findings", "of one kind that are told one by one, the most serious first"
    )
