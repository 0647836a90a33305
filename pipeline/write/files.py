"""A plan's four files, whole or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pipeline.errors import BrokenPromiseError
from pipeline.model import Plan
from pipeline.write.machine import machine_bytes, read_machine_file
from pipeline.write.picture import picture_bytes
from pipeline.write.plan import plan_bytes
from pipeline.write.settings import WriteSettings
from pipeline.write.sheet import sheet_bytes
from pipeline.write.whole import SUFFIXES, write_whole


def write_files(plan: Plan, folder: Path | str, stem: str, settings: WriteSettings | None = None) -> None:
    """Write ``stem`` + ``.plan.json``, ``.dst``, ``.png`` and ``.html`` into ``folder`` (made if missing).

    The machine file is read back first and compared with the plan. Raises BrokenPromiseError if they differ,
    OSError if the folder cannot be written; then none of the four is left unfinished.
    """
    machine = machine_bytes(plan)
    _compare(plan, machine)
    picture = picture_bytes(plan, settings or WriteSettings())
    contents = (plan_bytes(plan), machine, picture, sheet_bytes(plan, picture))
    write_whole({Path(folder) / (stem + suffix): data for suffix, data in zip(SUFFIXES, contents, strict=True)})


def _compare(plan: Plan, machine: bytes) -> None:
    """The machine file must give the plan's needle points, cuts and counts again."""
    found = read_machine_file(machine)
    passes, counts = plan.sewing.passes, plan.counts
    wanted = np.vstack([np.empty((0, 2)), *(step.points for step in passes)]) - np.asarray(plan.sewing.centre)
    approaches = [a for step in passes for a in (step.approach, *["sewn"] * (len(step.points) - 1))]
    same = len(wanted) == len(found.points) and list(found.approaches) == approaches
    if not same or not np.allclose(found.points, wanted, rtol=0.0, atol=1e-3):
        raise BrokenPromiseError("The machine file, read back, does not give the plan's stitches.")
    counted = counts.stitches, counts.jumps, counts.trims, counts.colour_changes
    if counted != (len(found.points), found.count("jump"), found.count("trim"), found.count("colour")):
        raise BrokenPromiseError("The plan's counts are not those of its machine file.")
