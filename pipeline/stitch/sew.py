"""The stitch room's one function."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.losses import each
from pipeline.model import Block, Fabric, Note, Step, Strand
from pipeline.stitch.narrow_settings import RunSettings, SatinSettings
from pipeline.stitch.run import lay_run
from pipeline.stitch.satin import lay_satin
from pipeline.stitch.tatami import lay_tatami
from pipeline.stitch.tatami_settings import FoundationSettings, TatamiSettings


@dataclass(frozen=True)
class StitchSettings:
    """The settings of every kind of stitching."""

    tatami: TatamiSettings = field(default_factory=TatamiSettings)
    satin: SatinSettings = field(default_factory=SatinSettings)
    run: RunSettings = field(default_factory=RunSettings)
    foundation: FoundationSettings = field(default_factory=FoundationSettings)


def sew(steps: tuple[Step, ...], settings: StitchSettings, fabric: Fabric, note: Note) -> tuple[Block, ...]:
    """Lay the stitches of every step, in order: foundation where the part asks for it, then cover."""
    names = [step.part.region for step in steps]
    return tuple(each(names, steps, lambda step: Block(step, _strands(step, settings, fabric))))


def _strands(step: Step, settings: StitchSettings, fabric: Fabric) -> tuple[Strand, ...]:
    if step.part.kind == "tatami":
        return lay_tatami(step, settings.tatami, settings.foundation, fabric)
    if step.part.kind == "satin":
        return lay_satin(step, settings.satin, settings.run, fabric)
    return lay_run(step, settings.run, fabric)
