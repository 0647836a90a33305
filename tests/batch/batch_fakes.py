"""Stand-ins for the conversion of one file, importable by name so that a fresh process finds them.

What a file does is written in it: ``ok``, or one of the troubles below.
"""

from __future__ import annotations

import os
import signal
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from shapely.geometry import MultiPolygon, box

from pipeline.errors import ArtworkError, BrokenPromiseError
from pipeline.model import (
    Checks,
    Counts,
    Drawing,
    Finding,
    Part,
    Pass,
    Plan,
    Price,
    Region,
    Sewing,
    Spool,
    Surface,
    points,
)
from pipeline.settings import Settings


def convert(path: Path, settings: Settings, width_mm: float | None, twin: bool) -> Plan:
    """A small square, unless the file asks for trouble."""
    word = path.read_text(encoding="utf-8").strip()
    if word == "crash":
        os._exit(3)
    if word == "kill":
        os.kill(os.getpid(), signal.SIGKILL)
    while word == "spin":
        pass
    if word == "hang":
        time.sleep(600)
    if word == "half":
        path.with_name("unfinished").touch()
        os._exit(1)
    if word == "memory":
        np.ones((settings.batch.memory_mib + 64, 2**17))
    if word == "artwork":
        raise ArtworkError("svg/path[1]: its fill is a picture; give it a colour.")
    if word == "promise":
        raise BrokenPromiseError("a part without area")
    if word == "surprise":
        raise ZeroDivisionError("by zero")
    plan = square_plan(path.name, 10.0 if width_mm is None else width_mm)
    return replace(plan, cut_out=plan.checks) if twin else plan


def square_plan(name: str, side: float) -> Plan:
    """A square of level rows."""
    area = MultiPolygon([box(0, 0, side, side)])
    region = Region("r1", "svg/rect[1]", None, 0, "#c81e1e", area, area)
    surface = Surface(region, "base", (), area, area, 0.2, 0.0, "It lies on bare fabric.")
    part = Part(
        "r1.1", "r1", "tatami", box(0, 0, side, side), (side, side, side), MultiPolygon(), 0.2, "Wide.", 0.0
    )
    levels = np.arange(0, round(side * 5) + 1) * 0.2
    ends = np.array([[0.0, side], [side, 0.0]])[np.arange(len(levels)) % 2]
    spots = np.column_stack([ends.reshape(-1), np.repeat(levels, 2)])
    spots = np.round((spots - side / 2) * 10) / 10 + side / 2
    sewing = Sewing((side / 2, side / 2), ("#c81e1e",), (Pass(0, "r1", "r1.1", "cover", "colour", points(spots)),))
    figures = Counts(len(spots), 0, len(spots), 0, 0, 0, 0, 0, 1.0, 0.6, 0.5, side, side)
    checks = Checks(1.0, 1.0, 0.0, 0.0, 1.0, 5.0, len(spots))
    return Plan(
        "0.0.1",
        Drawing(name, "0" * 64, side, side, ()),
        {"thread": {"laid_mm": 0.25}},
        (surface,),
        (part,),
        sewing,
        (Spool("#c81e1e", "fire brick", 1.0),),
        figures,
        Price(20.1, "20.00 set-up + 0.102 thousand stitches × 1.00 = 20.10"),
        (Finding("made-up", "warning", "A made-up warning."),),
        checks,
    )
