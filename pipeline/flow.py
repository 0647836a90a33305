"""One drawing through all rooms, on one page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from pipeline import __version__, check
from pipeline.errors import ArtworkError
from pipeline.losses import leaving_out, left_out
from pipeline.measure.coverage import artwork
from pipeline.measure.displacement import after_pull
from pipeline.measure.findings import inspection_findings
from pipeline.measure.gap import Gap
from pipeline.measure.inspection import Inspection, examine
from pipeline.measure.reckoning import count, price, spools
from pipeline.model import Block, Checks, Drawing, Finding, Note, Part, Plan, Region, Sewing, Surface
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings
from pipeline.regions.settings import RegionSettings
from pipeline.regions.stack import cut_out, stack
from pipeline.roles.assign import assign
from pipeline.settings import Settings
from pipeline.split.parts import split
from pipeline.steps.arrange import arrange
from pipeline.stitch.settings import StitchSettings
from pipeline.stitch.sew import sew as stitch
from pipeline.tie.join import join
from pipeline.write.comparison import ComparisonSide, Opening

Made = tuple[tuple[Surface, ...], tuple[Part, ...], Sewing]
"""What the rooms from ``roles`` to ``tie`` make."""


def convert(
    path: Path | str, settings: Settings | None = None, width_mm: float | None = None, twin: bool = False
) -> Plan:
    """Convert one SVG file into a stitch plan.

    Args:
        path: an ``.svg`` or ``.svgz`` file.
        settings: all settings; the handbook's defaults if None.
        width_mm: the width of the viewport as it is sewn; as the file says if None.
        twin: sew the same design cut out puzzle-fashion as well, for ``Plan.cut_out``; takes as long again.

    Raises:
        ArtworkError: the file cannot be sewn; the message says why and what to do.
        BrokenPromiseError: a bug in plystitch.
    """
    settings = settings or Settings()
    findings: list[Finding] = []
    drawing = read_drawing(Path(path), _reading(settings), findings.append, width_mm)
    return plan_of(drawing, settings, findings, twin)


def _reading(settings: Settings) -> ReadSettings:
    """How to read; fitted into the machine's hoop with room to spare where that is asked for."""
    if not settings.read.fit_to_hoop:
        return settings.read
    past = max(settings.fabric.pull_mm, settings.satin.pull_share / 2 * settings.craft.satin_up_to_mm)
    machine, spare = settings.machine, settings.measure.hoop_spare_mm + 2 * past
    return replace(
        settings.read,
        fit_width_mm=machine.hoop_width_mm - spare,
        fit_height_mm=machine.hoop_height_mm - spare,
    )


def plan_of(drawing: Drawing, settings: Settings, findings: list[Finding], twin: bool = False) -> Plan:
    """The plan of a drawing already read; ``findings`` are those of the reading, ``twin`` as for ``convert``."""
    layers = stack(drawing, _stacking(settings), findings.append)
    art = artwork(layers, settings.measure)
    made = _sewn(layers, settings, findings.append)
    seen = examine(made[2], layers, settings.craft, settings.measure, art)
    cut = None
    if twin:
        _, _, puzzle = sew(cut_out(layers), settings, _unheard)
        cut = examine(puzzle, layers, settings.craft, settings.measure, art).checks
    return _plan(drawing, settings, made, seen, cut, findings)


def compare(
    path: Path | str, settings: Settings | None = None, width_mm: float | None = None
) -> tuple[ComparisonSide, ComparisonSide]:
    """One SVG file sewn in layers, and the same design cut out puzzle-fashion by the same engine.

    Raises as ``convert`` does.
    """
    settings = settings or Settings()
    read_: list[Finding] = []
    drawing = read_drawing(Path(path), _reading(settings), read_.append, width_mm)
    layers = stack(drawing, _stacking(settings), read_.append)
    art = artwork(layers, settings.measure)
    made, heard, seen = [], [], []
    for given, way in ((layers, _sewn), (cut_out(layers), sew)):
        heard.append(list(read_))
        made.append(way(given, settings, heard[-1].append))
        sewing = made[-1][2]
        seen.append(examine(sewing, layers, settings.craft, settings.measure, art))
    cut = seen[1].checks
    layered, puzzle = (
        ComparisonSide(
            _plan(drawing, settings, made[k], seen[k], cut, heard[k]),
            after_pull(made[k][2], settings.fabric, settings.measure),
            tuple(_opening(gap, layers) for gap in seen[k].gaps),
        )
        for k in (0, 1)
    )
    return layered, puzzle


def _stacking(settings: Settings) -> RegionSettings:
    """How to stack: in the artwork's own order where that is how it is to be sewn."""
    free = settings.regions.fewest_changes and not settings.steps.keep_artwork_order
    return replace(settings.regions, fewest_changes=free)


def _opening(gap: Gap, layers: tuple[Region, ...]) -> Opening:
    """A gap with the names of the elements between which it opens."""
    names = dict.fromkeys(layers[place].element for place in gap.between)
    return Opening(gap.at, gap.length_mm, gap.area_mm2, " and ".join(names))


def _plan(
    drawing: Drawing,
    settings: Settings,
    made: Made,
    seen: Inspection,
    cut: Checks | None,
    findings: list[Finding],
) -> Plan:
    """A plan from what was made and seen; ``findings`` are those of the rooms before the inspection."""
    surfaces, parts, sewing = made
    every = (*findings, *inspection_findings(seen, sewing, settings.craft, settings.measure))
    counts = count(sewing, settings.craft, settings.measure)
    return Plan(
        __version__, drawing, settings.resolved(), surfaces, parts, sewing,
        spools(sewing, settings.craft, settings.measure), counts, price(counts, settings.measure), every,
        seen.checks, cut,
    )  # fmt: skip


def _sewn(layers: tuple[Region, ...], settings: Settings, note: Note) -> Made:
    """``sew``, or ArtworkError if every shape is a speck."""
    made = sew(layers, settings, note)
    if not made[1]:
        largest = max((p for r in layers for p in r.outline.geoms), key=lambda p: p.area)
        x0, y0, x1, y1 = largest.bounds
        raise ArtworkError(
            f"Everything in the drawing is too small to sew: its largest shape is {x1 - x0:.1f} × {y1 - y0:.1f} mm;"
            " sew it larger with --width, or draw it bolder."
        )
    return made


def sew(layers: tuple[Region, ...], settings: Settings, note: Note) -> Made:
    """From regions to needle points: the surfaces, their parts, and the sewing; nothing if all are specks.

    A region that a room cannot work on is left out with a finding, and all rooms begin again without it.
    """
    return leaving_out(
        layers,
        lambda region: region.id,
        lambda kept, tell: _through(tuple(kept), settings, tell),
        note,
        lambda region, fault: left_out(
            region.element, region.id, region.outline if region.visible.is_empty else region.visible, fault
        ),
    )


def _through(layers: tuple[Region, ...], settings: Settings, note: Note) -> Made:
    """``sew``, all regions at once."""
    check.regions(layers)
    surfaces = assign(layers, settings.roles, settings.craft, note)
    check.surfaces(surfaces)
    parts = split(surfaces, settings.split, settings.craft, note)
    check.parts(parts, surfaces)
    if not parts:
        return surfaces, (), Sewing((0.0, 0.0), (), ())
    order = arrange(parts, surfaces, settings.steps, settings.craft, note)
    check.steps(order, parts)
    kinds = StitchSettings(settings.tatami, settings.satin, settings.run)
    blocks = stitch(order, kinds, settings.craft, note)
    check.blocks(blocks)
    sewing = join(blocks, settings.tie, settings.craft)
    check.sewing(sewing)
    return surfaces, _reasoned(parts, blocks), sewing


def _reasoned(parts: tuple[Part, ...], blocks: tuple[Block, ...]) -> tuple[Part, ...]:
    """The parts, their sentences ended with why they were given the foundation that they have, or none."""
    ends = {block.step.part.id: block.why for block in blocks}
    return tuple(replace(part, why=f"{part.why}; {ends[part.id]}.") for part in parts)


def _unheard(finding: Finding) -> None:
    """Findings of the cut-out plan are about no plan that anyone sews."""
