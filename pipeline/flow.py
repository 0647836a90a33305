"""One drawing through all rooms, on one page."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from pipeline import __version__, check, measure, read, regions, roles, split, steps, stitch, tie
from pipeline.errors import ArtworkError
from pipeline.losses import leaving_out, left_out
from pipeline.model import Block, Checks, Drawing, Finding, Note, Part, Plan, Region, Sewing, Surface
from pipeline.regions.settings import RegionSettings
from pipeline.settings import Settings


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
    drawing = read.read_drawing(Path(path), _reading(settings), findings.append, width_mm)
    return plan_of(drawing, settings, findings, twin)


def _reading(settings: Settings) -> read.ReadSettings:
    """How to read; fitted into the machine's hoop with room to spare where that is asked for."""
    if not settings.read.fit_to_hoop:
        return settings.read
    machine, spare = settings.machine, settings.measure.hoop_spare_mm + 2 * settings.fabric.pull_mm
    return replace(
        settings.read,
        fit_width_mm=machine.hoop_width_mm - spare,
        fit_height_mm=machine.hoop_height_mm - spare,
    )


def plan_of(drawing: Drawing, settings: Settings, findings: list[Finding], twin: bool = False) -> Plan:
    """The plan of a drawing already read; ``findings`` are those of the reading, ``twin`` as for ``convert``."""
    layers = _stacked(drawing, settings, findings.append)
    art = measure.artwork(layers, settings.measure)
    made = _sewn(layers, settings, findings.append)
    seen = measure.examine(made[2], layers, settings.craft, settings.measure, art)
    cut = None
    if twin:
        _, _, puzzle = sew(regions.cut_out(layers), settings, _unheard)
        cut = measure.inspect(puzzle, layers, settings.craft, settings.measure, art)
    return _plan(drawing, settings, made, seen, cut, findings)


@dataclass(frozen=True, eq=False)
class Compared:
    """One of the two plans of a comparison: the plan, what its inspection saw, and how it lies after pull."""

    plan: Plan
    seen: measure.Inspection
    pulled: Sewing


def compare(
    path: Path | str, settings: Settings | None = None, width_mm: float | None = None
) -> tuple[Compared, Compared]:
    """The plan of one SVG file, and that of the same design cut out puzzle-fashion by the same engine.

    Raises as ``convert`` does.
    """
    settings = settings or Settings()
    read_: list[Finding] = []
    drawing = read.read_drawing(Path(path), _reading(settings), read_.append, width_mm)
    layers = _stacked(drawing, settings, read_.append)
    art = measure.artwork(layers, settings.measure)
    made, heard, seen = [], [], []
    for given, way in ((layers, _sewn), (regions.cut_out(layers), sew)):
        heard.append(list(read_))
        made.append(way(given, settings, heard[-1].append))
        sewing = made[-1][2]
        seen.append(measure.examine(sewing, layers, settings.craft, settings.measure, art))
    cut = seen[1].checks
    layered, puzzle = (
        Compared(
            _plan(drawing, settings, made[k], seen[k], cut, heard[k]),
            seen[k],
            measure.after_pull(made[k][2], settings.fabric, settings.measure),
        )
        for k in (0, 1)
    )
    return layered, puzzle


def _stacking(settings: Settings) -> RegionSettings:
    """How to stack: in the artwork's own order where that is how it is to be sewn."""
    free = settings.regions.fewest_changes and not settings.steps.keep_artwork_order
    return replace(settings.regions, fewest_changes=free)


def _stacked(drawing: Drawing, settings: Settings, note: Note) -> tuple[Region, ...]:
    layers = regions.stack(drawing, _stacking(settings), note)
    check.regions(layers)
    return layers


def _plan(
    drawing: Drawing,
    settings: Settings,
    made: tuple[tuple[Surface, ...], tuple[Part, ...], Sewing],
    seen: measure.Inspection,
    cut: Checks | None,
    findings: list[Finding],
) -> Plan:
    """A plan from what was made and seen; ``findings`` are those of the rooms before the inspection."""
    surfaces, parts, sewing = made
    every = (*findings, *measure.inspection_findings(seen, sewing, settings.craft, settings.measure))
    counts = measure.count(sewing, settings.craft, settings.measure)
    spools = measure.spools(sewing, settings.craft, settings.measure)
    price = measure.price(counts, settings.measure)
    return Plan(
        __version__, drawing, settings.resolved(), surfaces, parts, sewing, spools, counts, price, every,
        seen.checks, cut,
    )  # fmt: skip


def _sewn(
    layers: tuple[Region, ...], settings: Settings, note: Note
) -> tuple[tuple[Surface, ...], tuple[Part, ...], Sewing]:
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


def sew(
    layers: tuple[Region, ...], settings: Settings, note: Note
) -> tuple[tuple[Surface, ...], tuple[Part, ...], Sewing]:
    """From regions to needle points: the surfaces, their parts, and the sewing; nothing if all are specks.

    A region that a room cannot work on is left out with a finding, and all rooms begin again without it.
    """
    return leaving_out(
        layers,
        lambda region: region.id,
        lambda kept, tell: _through(tuple(kept), settings, tell),
        note,
        lambda region, fault: left_out(region.element, region.id, region.visible, fault),
    )


def _through(
    layers: tuple[Region, ...], settings: Settings, note: Note
) -> tuple[tuple[Surface, ...], tuple[Part, ...], Sewing]:
    """``sew``, all regions at once."""
    surfaces = roles.assign(layers, settings.roles, settings.craft, note)
    check.surfaces(surfaces)
    parts = split.split(surfaces, settings.split, settings.craft, note)
    check.parts(parts, surfaces)
    if not parts:
        return surfaces, (), Sewing((0.0, 0.0), (), ())
    order = steps.arrange(parts, surfaces, settings.steps, settings.craft, note)
    check.steps(order, parts)
    kinds = stitch.StitchSettings(settings.tatami, settings.satin, settings.run)
    blocks = stitch.sew(order, kinds, settings.craft, note)
    check.blocks(blocks)
    sewing = tie.join(blocks, settings.tie, settings.craft)
    check.sewing(sewing)
    return surfaces, _reasoned(parts, blocks), sewing


def _reasoned(parts: tuple[Part, ...], blocks: tuple[Block, ...]) -> tuple[Part, ...]:
    """The parts, their sentences ended with why they were given the foundation that they have, or none."""
    ends = {block.step.part.id: block.why for block in blocks}
    return tuple(replace(part, why=f"{part.why}; {ends[part.id]}.") for part in parts)


def _unheard(finding: Finding) -> None:
    """Findings of the cut-out plan are about no plan that anyone sews."""
