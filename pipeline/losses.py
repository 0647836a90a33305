"""What fails for one shape costs that shape, not the file.

A room calls ``each`` wherever it works on one region, part or step: all are tried, and ``LostError`` names the
regions for which it failed. ``leaving_out`` catches that in one place, begins again without them, so that what
lay on a lost region is told to lie on what is left, and says so in a finding.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

import shapely
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from pipeline.errors import BrokenPromiseError, OverlayError
from pipeline.model import Finding, Note

FAILURES = (BrokenPromiseError, GEOSException, ArithmeticError, LookupError, RecursionError, ValueError)
"""What geometry that nobody foresaw makes of a computation. Errors of other kinds are plain faults of a program."""
Item = TypeVar("Item")
Done = TypeVar("Done")


class LostError(BrokenPromiseError):
    """Some shapes could not be worked on; ``faults`` by their names. All else can be sewn without them."""

    def __init__(self, faults: dict[str, Exception]) -> None:
        told = (f"{name}: {_reason(fault)}" for name, fault in faults.items())
        super().__init__("; ".join(told))
        self.faults = faults


def each(names: Iterable[str], items: Iterable[Item], work: Callable[[Item], Done]) -> list[Done]:
    """``work`` of every item, all of them tried; ``names`` says to which region each belongs.

    Raises LostError with the names of those that fail.
    """
    done: list[Done] = []
    faults: dict[str, Exception] = {}
    for name, item in zip(names, items, strict=True):
        try:
            done.append(work(item))
        except LostError as fault:
            faults |= fault.faults
        except FAILURES as fault:
            faults.setdefault(name, fault)
    if faults:
        raise LostError(faults) from next(iter(faults.values()))
    return done


def leaving_out(
    items: Sequence[Item],
    name: Callable[[Item], str],
    work: Callable[[Sequence[Item], Note], Done],
    note: Note,
    told: Callable[[Item, Exception], Finding],
) -> Done:
    """``work`` of ``items`` without those that it cannot be done with; each of them is noted as ``told``.

    What ``work`` notes counts only of the time when it succeeds. Raises LostError if nothing is left.
    """
    while True:  # with fewer items each time
        heard: list[Finding] = []
        try:
            done = work(items, heard.append)
        except LostError as lost:
            gone = [item for item in items if name(item) in lost.faults]
            items = [item for item in items if name(item) not in lost.faults]
            if not gone or not items:
                raise
            for item in gone:
                note(told(item, lost.faults[name(item)]))
        else:
            for finding in heard:
                note(finding)
            return done


def left_out(element: str, region: str | None, area: BaseGeometry, fault: Exception) -> Finding:
    """The finding of a shape that is not sewn, at the place of the fault if that is known."""
    at = fault.where if isinstance(fault, OverlayError) else None
    if at is None:
        spot = shapely.point_on_surface(area)
        at = (spot.x, spot.y)
    message = (
        f"{element}, at {at[0]:.1f}, {at[1]:.1f} mm: it is left out, since plystitch cannot work out how to sew it"
        f" ({_reason(fault)}), which is a fault in plystitch; all else is sewn. Simplify that shape, join its"
        " pieces, or try a slightly different --width."
    )
    return Finding("region-left-out", "error", message, region, at)


def _reason(fault: Exception) -> str:
    kind = "" if isinstance(fault, BrokenPromiseError) else f"{type(fault).__name__}: "
    return f"{kind}{fault}".split("\n")[0].rstrip(".")
