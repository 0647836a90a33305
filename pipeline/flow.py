"""One drawing through all rooms, on one page."""

from __future__ import annotations

from pathlib import Path

from pipeline import check, measure, read, regions, roles, split, steps, stitch, tie
from pipeline.model import Drawing, Finding, Note, Part, Plan, Region, Sewing, Surface
from pipeline.settings import Settings


def convert(path: Path, settings: Settings | None = None, width_mm: float | None = None) -> Plan:
    """Convert one SVG file into a stitch plan.

    Args:
        path: an ``.svg`` or ``.svgz`` file.
        settings: all settings; the handbook's defaults if None.
        width_mm: the width of the viewport as it is sewn; as the file says if None.

    Raises:
        ArtworkError: the file cannot be sewn; the message says why and what to do.
        BrokenPromiseError: a bug in plystitch.
    """
    settings = settings or Settings()
    findings: list[Finding] = []
    drawing = read.read_drawing(path, settings.read, findings.append, width_mm)
    return plan_of(drawing, settings, findings)


def plan_of(drawing: Drawing, settings: Settings, findings: list[Finding]) -> Plan:
    """The plan of a drawing already read; ``findings`` are those of the reading."""
    note = findings.append
    layers = regions.stack(drawing, settings.regions, note)
    check.regions(layers)
    surfaces, parts, sewing = sew(layers, settings, note)
    seen = measure.examine(sewing, layers, settings.thread, settings.fabric, settings.measure)
    findings += measure.inspection_findings(seen, sewing, settings.machine, settings.measure)
    _, _, puzzle = sew(regions.cut_out(layers), settings, _unheard)
    cut = measure.inspect(puzzle, layers, settings.thread, settings.fabric, settings.measure)
    counts = measure.count(sewing, settings.thread, settings.fabric, settings.machine, settings.measure)
    spools = measure.spools(sewing, settings.thread, settings.fabric, settings.measure)
    return Plan(
        drawing, settings.resolved(), surfaces, parts, sewing, spools, counts, tuple(findings), seen.checks, cut
    )


def sew(
    layers: tuple[Region, ...], settings: Settings, note: Note
) -> tuple[tuple[Surface, ...], tuple[Part, ...], Sewing]:
    """From regions to needle points: the surfaces, their parts, and the sewing."""
    surfaces = roles.assign(layers, settings.roles, settings.fabric, note)
    check.surfaces(surfaces)
    parts = split.split(surfaces, settings.split, note)
    check.parts(parts, surfaces)
    order = steps.arrange(parts, surfaces, settings.steps, settings.fabric, note)
    check.steps(order, parts)
    kinds = stitch.StitchSettings(settings.tatami, settings.satin, settings.run, settings.foundation)
    blocks = stitch.sew(order, kinds, settings.fabric, note)
    check.blocks(blocks)
    sewing = tie.join(blocks, settings.tie, note)
    check.sewing(sewing)
    return surfaces, parts, sewing


def _unheard(finding: Finding) -> None:
    """Findings of the cut-out plan are about no plan that anyone sews."""
