"""The stitch room's one function."""

from __future__ import annotations

from pipeline.craft import Craft
from pipeline.losses import each
from pipeline.model import Block, Note, Step
from pipeline.stitch.run import lay_run
from pipeline.stitch.satin import lay_satin
from pipeline.stitch.settings import StitchSettings
from pipeline.stitch.tatami import lay_tatami


def sew(steps: tuple[Step, ...], settings: StitchSettings, craft: Craft, note: Note) -> tuple[Block, ...]:
    """Lay the stitches of every step, in order: foundation where the part asks for it, then cover."""
    names = [step.part.region for step in steps]
    return tuple(each(names, steps, lambda step: _laid(step, settings, craft)))


def _laid(step: Step, settings: StitchSettings, craft: Craft) -> Block:
    if step.part.kind == "tatami":
        return lay_tatami(step, settings.tatami, craft)
    if step.part.kind == "satin":
        return lay_satin(step, settings.satin, settings.run, craft)
    return lay_run(step, settings.run, craft)
