"""Every type that passes from room to room, in the order of the flow. Read this first.

Lengths are millimetres in the artwork as it is sewn: x right, y down, origin at the top-left corner of the
viewport. Points are ``(n, 2)`` float64 arrays, read-only once inside a type; areas are valid shapely
``MultiPolygon`` (of a region, maybe empty) or ``Polygon`` (of a part, connected). Angles are degrees in
[0, 180), anticlockwise as seen, so that angle ``a`` runs along ``(cos a, -sin a)``. Colours are ``#rrggbb``.

    read     SVG file  → Drawing
    regions  Drawing   → Regions, bottom first
    roles    Regions   → Surfaces
    split    Surfaces  → Parts
    steps    Parts     → Steps, in sewing order
    stitch   Steps     → Blocks of needle points
    tie      Blocks    → Sewing
    write    Plan      → files
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from pipeline.ranges import ranged, within

if TYPE_CHECKING:  # settings and the batch's parent process use types of this module, but no geometry
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry import MultiPolygon, Polygon

Points: TypeAlias = "NDArray[np.float64]"
Spot = tuple[float, float]

Severity = Literal["note", "warning", "error"]
Role = Literal["base", "overlay", "mixed"]
Kind = Literal["tatami", "satin", "run", "triple run"]
Layer = Literal["foundation", "cover", "travel", "lock"]
Approach = Literal["sewn", "jump", "trim", "colour"]
Foundation = Literal["edge", "edge and rows", "edge and light rows", "edge and crossed rows"]


def points(values: Any) -> Points:
    """A read-only ``(n, 2)`` float64 copy of ``values``."""
    import numpy as np

    array = np.array(values, dtype=np.float64).reshape(-1, 2)
    array.setflags(write=False)
    return array


def nowhere() -> MultiPolygon:
    """The empty area."""
    from shapely.geometry import MultiPolygon

    return MultiPolygon()


@dataclass(frozen=True)
class Finding:
    """Something that a person must know.

    ``code`` is stable and documented, ``message`` says what, where and what to do, ``region`` is the id of a
    region (or None), ``at`` a place in mm (or None).
    """

    code: str
    severity: Severity
    message: str
    region: str | None = None
    at: Spot | None = None


Note = Callable[[Finding], None]
"""Where a room hands trouble that it noticed on the way and could live with."""


# --- what a job is sewn with: chosen by name, handed to the rooms that need it --------------------------


@dataclass(frozen=True)
class Fabric:
    """The settings of one fabric (its recipe)."""

    name: str
    pull_mm: float = field(metadata=within(0.0, 1.5, "mm", "pull compensation a side"))
    row_mm: float = field(
        metadata=within(0.12, 1.0, "mm", "distance of neighbouring tatami rows, line 1 to line 2")
    )
    pitch_mm: float = field(metadata=within(0.24, 2.0, "mm", "satin needle points on one side, line 1 to line 3"))
    foundation: Foundation
    stabilizer: str
    thickness_mm: float = field(
        metadata=within(0.1, 10.0, "mm", "fabric and stabilizer that a stitch goes through")
    )
    centre_out: bool = False
    """Sewn from the middle outwards and bottom up (caps)."""
    bias: float = ranged(1.0, 1.0, 3.0, "×", "pull on the bias over that along the yarns; 1 for no grain")


@dataclass(frozen=True)
class Thread:
    """A top thread: ``tex`` in grams a kilometre, ``laid_mm`` its width once sewn."""

    name: str
    tex: float = field(metadata=within(5.0, 200.0, "tex", "mass of a kilometre in grams"))
    laid_mm: float = field(metadata=within(0.08, 1.0, "mm", "width once sewn"))
    needle: str


@dataclass(frozen=True)
class Machine:
    """A machine with its hoop (mm), needles and speeds."""

    name: str
    hoop_width_mm: float = field(metadata=within(20.0, 2000.0, "mm", "width of the hoop"))
    hoop_height_mm: float = field(metadata=within(20.0, 2000.0, "mm", "height of the hoop"))
    needles: int = field(metadata=within(1, 60, "needles", "threads that can be on the machine at once"))
    stitches_per_minute: float = field(metadata=within(50.0, 2500.0, "1/min", "full speed"))
    trim_s: float = field(metadata=within(0.0, 60.0, "s", "time of a trim"))
    colour_change_s: float = field(metadata=within(0.0, 600.0, "s", "time of a colour change"))


# --- read → regions --------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Line:
    """A polyline of at least two points; a closed one does not repeat its first point."""

    points: Points
    closed: bool = False


@dataclass(frozen=True, eq=False)
class Stroke:
    """The true centrelines (dashes already cut) and width of an area that the artwork painted as a stroke."""

    lines: tuple[Line, ...]
    width_mm: float


@dataclass(frozen=True, eq=False)
class Shape:
    """One painted area, as ``read`` made it: absolute, in mm, opaque, non-empty and valid.

    ``element`` is the SVG id or a path such as ``svg/g[2]/path[1]``; ``label`` a layer's name, if any.
    """

    element: str
    label: str | None
    colour: str
    area: MultiPolygon
    stroke: Stroke | None = None


@dataclass(frozen=True, eq=False)
class Drawing:
    """A file's shapes, bottom first, with the viewport as it is sewn. No inheritance, units or references."""

    name: str
    sha256: str
    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]


# --- regions → roles -------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Region:
    """One colour at one height in the stack, kept whole beneath what lies on it.

    ``outline`` is the area to sew as cover before pull compensation, ``visible`` the part of it that the
    artwork shows, ``restored_mm2`` what was added under inserts and at joins. Regions of a stack have
    consecutive ``z`` from 0, ids ``r1``, ``r2``, … in that order, and a non-empty ``visible``.
    """

    id: str
    element: str
    label: str | None
    z: int
    colour: str
    outline: MultiPolygon
    visible: MultiPolygon
    restored_mm2: float = 0.0
    stroke: Stroke | None = None


# --- roles → split ---------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Surface:
    """A region with the decisions about how it lies: no stitches yet.

    ``bare`` is the part of the outline on bare fabric, ``foundation`` the part that gets foundation (bare and
    a margin beneath its neighbours), ``rests_on`` the ids directly beneath, ``row_mm`` its rows' distance,
    ``angle_deg`` the direction of its tatami rows, ``left_out_mm2`` its hidden area as stacked that is not sewn,
    ``why`` a sentence or two for the digitizer.
    """

    region: Region
    role: Role
    rests_on: tuple[str, ...]
    bare: MultiPolygon
    foundation: MultiPolygon
    row_mm: float
    angle_deg: float
    why: str
    left_out_mm2: float = 0.0


# --- split → steps ---------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Column:
    """A satin column as cross-sections, before pull compensation.

    ``left`` and ``right`` are ``(n, 2)``, n ≥ 2: row i of both is one cross-section, square to the centreline
    (fanning in bends). Cross-sections never cross; between two stations both rails are straight to within
    0.02 mm. A closed column does not repeat its first station. An end may taper to a point.
    """

    left: Points
    right: Points
    closed: bool = False


@dataclass(frozen=True, eq=False)
class Part:
    """A connected piece of a surface that is sewn in one way.

    ``area`` is its face with the overlap at its joints. ``column`` is set for satin; ``lines`` for run and
    triple run (a connected tree or loop of centrelines, sharing end points exactly where they meet);
    ``angle_deg`` for tatami. ``foundation`` is the part of ``area`` that gets foundation (maybe empty),
    ``bare`` the part of it on bare fabric.
    ``width_mm`` is (smallest, median, largest) local width, ``why`` says why this kind, and once sewn why this
    foundation or none.
    """

    id: str
    region: str
    kind: Kind
    area: Polygon
    width_mm: tuple[float, float, float]
    foundation: MultiPolygon
    row_mm: float
    why: str
    bare: MultiPolygon = field(default_factory=nowhere)
    angle_deg: float | None = None
    column: Column | None = None
    lines: tuple[Line, ...] = ()


# --- steps → stitch --------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Step:
    """One part in the sewing order: where the thread comes in and where it leaves (both in ``part.area``)."""

    part: Part
    colour: str
    start: Spot
    end: Spot


# --- stitch → tie ----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Strand:
    """Needle points of one layer, one after the other; the first is where the thread enters it."""

    layer: Layer
    points: Points


@dataclass(frozen=True, eq=False)
class Block:
    """A step with its needle points, sewn from strand to strand without a jump; ``why`` this foundation or none."""

    step: Step
    strands: tuple[Strand, ...]
    why: str = ""


# --- tie → write -----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Pass:
    """Needle points sewn in one go, on the machine's 0.1 mm grid relative to the plan's centre.

    ``approach`` says how the needle came to the first point from the last pass. ``thread`` counts colour
    stops' threads through ``Plan.threads``.
    """

    thread: int
    region: str
    part: str
    layer: Layer
    approach: Approach
    points: Points


@dataclass(frozen=True, eq=False)
class Sewing:
    """The passes in order, the colours that their ``thread`` counts through, and the machine's origin."""

    centre: Spot
    colours: tuple[str, ...]
    passes: tuple[Pass, ...]


@dataclass(frozen=True)
class Spool:
    """A top thread that the plan uses: colour, the nearest plain colour name, and metres."""

    colour: str
    name: str
    metres: float


@dataclass(frozen=True)
class Counts:
    """Exact figures of a sewing; ``stitches`` counts needle penetrations as the machine file's records do."""

    stitches: int
    foundation: int
    cover: int
    travel: int
    lock: int
    jumps: int
    trims: int
    colour_changes: int
    thread_m: float
    bobbin_m: float
    minutes: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Price:
    """What a job costs, in the currency of the settings, and how that was reckoned."""

    amount: float
    formula: str


@dataclass(frozen=True)
class Checks:
    """A plan's own inspection, from its needle points: shares in 0…1, areas in mm², full layers.

    ``picture_agreement`` is the share of the judged picture (farther than 0.4 mm from a colour border) whose
    top thread has the artwork's colour, ``covered`` the share of the artwork within 0.1 mm of thread,
    ``outside`` the share of thread more than 0.6 mm outside, ``gap_mm2`` the fabric that shows after pull and
    ``longest_gap_mm`` how long the longest piece of it is. ``thick_mm2`` and ``pierced_mm2`` are the areas over
    the limits of layers and of penetrations.
    """

    picture_agreement: float
    covered: float
    outside: float
    gap_mm2: float
    peak_layers: float
    peak_penetrations_per_mm2: float
    stitches: int
    longest_gap_mm: float = 0.0
    thick_mm2: float = 0.0
    pierced_mm2: float = 0.0


@dataclass(frozen=True, eq=False)
class Plan:
    """All that is known of one file's sewing; ``write`` turns it into files and adds nothing.

    ``made_by`` is the version of plystitch, ``cut_out`` what the same design comes to cut out puzzle-fashion.
    """

    made_by: str
    source: Drawing
    settings: dict[str, Any]
    surfaces: tuple[Surface, ...]
    parts: tuple[Part, ...]
    sewing: Sewing
    spools: tuple[Spool, ...]
    counts: Counts
    price: Price
    findings: tuple[Finding, ...]
    checks: Checks
    cut_out: Checks | None = None
