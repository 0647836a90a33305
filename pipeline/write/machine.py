"""The trade's common machine file, written and read back.

Everything about the format is common practice, written down from memory; no published standard is known.

Header: 512 bytes of ASCII, each field ended by a carriage return, closed by 0x1A and padded with spaces. ``LA``
the name in 16 places, ``ST`` needle penetrations in 7, ``CO`` colour changes in 3, ``+X -X +Y -Y`` how far the
needle points reach from the origin in 5 places (0.1 mm, never negative), ``AX AY`` the last position with its
sign, ``MX MY`` and ``PD`` unused.

Records: three bytes, which hold a move right and up of -121…121 units (0.1 mm) an axis as balanced ternary: a
number is the sum of some of ±1 ±3 ±9 ±27 ±81, and each of these ten has a bit of its own for x and for y
(``X_BITS``, ``Y_BITS``). Two bits say what the record does (``STITCH``, ``JUMP``, ``STOP``), the lowest two
are always set.

Approaches, so that each of them can be told when reading:

- the first pass puts the first thread in (``colour``): jumps from the origin, as many as it takes, no stop;
- ``sewn``: a stitch record for the move to the first point;
- ``jump``: one or two jump records, then a stitch record without a move;
- ``trim``: at least three jump records, then the same; a move too short to show in three makes a small detour;
- ``colour``: a stop record, jump records as many as it takes (maybe none), then the same.

A jump farther than two records (24.2 mm an axis) would be cut by the machine and must be a trim.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.craft import RECORD_UNITS
from pipeline.errors import ArtworkError, BrokenPromiseError
from pipeline.model import Approach, Pass, Plan, Points, points
from pipeline.write.records import UNITS_PER_MM, Units, pass_units

HEADER_BYTES = 512
SIGNED = ("AX", "AY", "MX", "MY")
"""Fields of the last position, and of the start in a series of files, which there is not."""
NUMBERS = ("ST", "CO", "+X", "-X", "+Y", "-Y")
CUT_RECORDS = 3
"""Jump records in a row from which a machine cuts the thread."""

DETOUR = 3
"""Units of the detour that keeps the three records of a short trim from being empty (0.3 mm)."""

FIRST: Approach = "colour"
"""How the first pass is approached: the first thread is put in, which is no change and needs no stop."""

STITCH, JUMP, STOP, END = 0x000003, 0x000083, 0x0000C3, 0x0000F3
CONTROL = 0x0000C3
"""The bits that say what a record does; the four between them belong to the move."""

X_BITS = {1: 0x010000, -1: 0x020000, 9: 0x040000, -9: 0x080000}
X_BITS |= {3: 0x000100, -3: 0x000200, 27: 0x000400, -27: 0x000800, 81: 0x000004, -81: 0x000008}
Y_BITS = {1: 0x800000, -1: 0x400000, 9: 0x200000, -9: 0x100000}
Y_BITS |= {3: 0x008000, -3: 0x004000, 27: 0x002000, -27: 0x001000, 81: 0x000020, -81: 0x000010}

Words = NDArray[np.int64]


def ternary_digits(number: int) -> list[int]:
    """``number`` as a sum of signed powers of three, none of them twice, smallest first.

    The remainder of a division by three decides the digit; a remainder of two is a digit of -1 and a carry.
    """
    found, power = [], 1
    while number:
        digit = (number + 1) % 3 - 1
        if digit:
            found.append(digit * power)
        number, power = (number - digit) // 3, power * 3
    return found


def _table(bits: dict[int, int]) -> Words:
    """The bits of every move from -121 to 121, found at ``move + 121``."""
    moves = range(-RECORD_UNITS, RECORD_UNITS + 1)
    return np.array([sum(bits[digit] for digit in ternary_digits(move)) for move in moves], dtype=np.int64)


X_TABLE, Y_TABLE = _table(X_BITS), _table(Y_BITS)


@dataclass(frozen=True, eq=False)
class MachineStitches:
    """What a machine file sews.

    ``points`` are the needle penetrations, ``(n, 2)`` mm right and down from the origin; ``approaches`` says
    for each how the needle came there (``sewn`` for every stitch that follows on); ``header`` holds its
    fields, without the padding.
    """

    points: Points
    approaches: tuple[Approach, ...]
    header: dict[str, str]

    def count(self, approach: Approach) -> int:
        """How many needle points after the first were reached so."""
        return self.approaches[1:].count(approach)


# --- writing ---------------------------------------------------------------------------------------------


def machine_bytes(plan: Plan) -> bytes:
    """The plan as a machine file.

    Raises BrokenPromiseError for a sewn stitch over 12.1 mm, a jump over 24.2 mm, a first pass that does
    not put its thread in, and a needle point off the 0.1 mm grid.
    """
    moves, words = [np.empty((0, 2), dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    needle = [np.zeros((1, 2), dtype=np.int64)]
    at = np.zeros((1, 2), dtype=np.int64)
    for number, step in enumerate(plan.sewing.passes):
        spots = pass_units(step, plan.sewing.centre)
        lead, control = _approach(step, spots[0] - at[0], first=number == 0)
        sewn = np.diff(spots if step.approach != "sewn" else np.vstack([at, spots]), axis=0)
        if step.approach != "sewn":
            sewn = np.vstack([np.zeros((1, 2), dtype=np.int64), sewn])
        _refuse_long(step, sewn)
        moves += [lead, sewn]
        words += [control, np.full(len(sewn), STITCH, dtype=np.int64)]
        needle.append(spots)
        at = spots[-1:]
    body = _records(np.vstack(moves), np.concatenate(words))
    return _header(plan, needle) + body + END.to_bytes(3, "big")


def _approach(step: Pass, move: Units, *, first: bool) -> tuple[Units, Words]:
    """The records without a stitch that lead to a pass's first point: their moves and what they do."""
    needed = -(-int(np.abs(move).max()) // RECORD_UNITS)
    if first and step.approach != FIRST:
        raise BrokenPromiseError(f"The first pass must be approached by '{FIRST}', not '{step.approach}'.")
    if first:
        return _jumps(move, needed)
    if step.approach == "sewn":
        return np.empty((0, 2), dtype=np.int64), np.empty(0, dtype=np.int64)
    if step.approach == "colour":
        moves, control = _jumps(move, needed)
        return np.vstack([[[0, 0]], moves]), np.concatenate([[STOP], control])
    if step.approach == "jump":
        if needed >= CUT_RECORDS:
            raise BrokenPromiseError(f"The jump to part {step.part} is too long to stay uncut; trim there.")
        return _jumps(move, max(1, needed))
    if np.abs(move).max() < DETOUR:
        out = np.full(2, DETOUR, dtype=np.int64)
        return np.array([out, -2 * out, move + out]), np.full(3, JUMP, dtype=np.int64)
    return _jumps(move, max(CUT_RECORDS, needed))


def _jumps(move: Units, count: int) -> tuple[Units, Words]:
    """``move`` shared out over ``count`` jump records as evenly as whole units allow."""
    along = np.arange(count + 1)[:, None] * move // max(1, count)
    return np.diff(along, axis=0), np.full(count, JUMP, dtype=np.int64)


def _refuse_long(step: Pass, moves: Units) -> None:
    longest = float(np.hypot(*moves.T).max(initial=0.0))
    if longest > RECORD_UNITS:
        raise BrokenPromiseError(
            f"A {step.layer} stitch of part {step.part} is {longest / UNITS_PER_MM:.1f} mm long; "
            f"the machine file holds {RECORD_UNITS / UNITS_PER_MM} mm."
        )


def _records(moves: Units, words: Words) -> bytes:
    """Three bytes a record; ``moves`` point down as in the plan, the file's y points up."""
    packed = words | X_TABLE[moves[:, 0] + RECORD_UNITS] | Y_TABLE[RECORD_UNITS - moves[:, 1]]
    return packed.astype(">u4").view(np.uint8).reshape(-1, 4)[:, 1:].tobytes()


def _header(plan: Plan, needle: list[Units]) -> bytes:
    spots = np.vstack(needle)
    right, down = spots[1:].max(axis=0, initial=0)
    left, up = -spots[1:].min(axis=0, initial=0)
    signed = zip(SIGNED, (*(spots[-1] * (1, -1)).tolist(), 0, 0), strict=True)
    changes = sum(step.approach == "colour" for step in plan.sewing.passes[1:])
    fields = (
        f"LA:{_label(plan.source.name):<16}",
        f"ST:{len(spots) - 1:7d}",
        f"CO:{changes:3d}",
        f"+X:{right:5d}",
        f"-X:{left:5d}",
        f"+Y:{up:5d}",
        f"-Y:{down:5d}",
        *(f"{axis}:{'-' if value < 0 else '+'}{abs(value):5d}" for axis, value in signed),
        "PD:******",
    )
    text = "".join(field + "\r" for field in fields).encode("ascii") + b"\x1a"
    return text.ljust(HEADER_BYTES)


def _label(name: str) -> str:
    """At most 16 plain ASCII characters of the artwork's name."""
    plain = re.sub(r"\.svgz?$", "", name, flags=re.IGNORECASE)
    return re.sub(r"[^A-Za-z0-9 ._-]", "_", plain)[:16]


# --- reading ---------------------------------------------------------------------------------------------


def read_machine_file(data: bytes) -> MachineStitches:
    """The needle points, approaches and header of a machine file.

    Raises ArtworkError, with one sentence that names the damage, if it is cut short or no such file.
    """
    header = _read_header(data)
    words = _read_words(data)
    control = words & CONTROL
    unknown = np.flatnonzero(~np.isin(control, (STITCH, JUMP, STOP)))
    if len(unknown):
        raise ArtworkError(f"The machine file is damaged: record {unknown[0] + 1} is of no known kind.")
    moves = np.column_stack([_read_axis(words, X_BITS), -_read_axis(words, Y_BITS)])
    at = np.cumsum(moves, axis=0)
    stitched = np.flatnonzero(control == STITCH)
    jumps = np.concatenate([[0], np.cumsum(control == JUMP)])
    stops = np.concatenate([[0], np.cumsum(control == STOP)])
    before = np.concatenate([[0], stitched[:-1] + 1])[: len(stitched)]
    return MachineStitches(
        points(at[stitched] / UNITS_PER_MM + 0.0),
        _approaches(jumps[stitched] - jumps[before], stops[stitched] - stops[before]),
        header,
    )


def _approaches(jumps: Words, stops: Words) -> tuple[Approach, ...]:
    """The approach of every stitch, from the jumps and stops since the stitch before."""
    names: tuple[Approach, ...] = ("sewn", "jump", "trim", "colour")
    kinds = np.where(stops > 0, 3, np.where(jumps >= CUT_RECORDS, 2, np.minimum(jumps, 1)))
    kinds[:1] = names.index(FIRST)
    return tuple(names[kind] for kind in kinds.tolist())


def _read_header(data: bytes) -> dict[str, str]:
    if len(data) < HEADER_BYTES or not data.startswith(b"LA:"):
        raise ArtworkError("The machine file is damaged: it does not begin with a whole header of 512 bytes.")
    text = data[:HEADER_BYTES].split(b"\x1a")[0].decode("ascii", errors="replace")
    fields = dict(field.split(":", 1) for field in text.split("\r") if ":" in field)
    missing = [label for label in NUMBERS if label not in fields]
    if missing:
        raise ArtworkError(f"The machine file is damaged: its header has no field {missing[0]}.")
    for label in NUMBERS:
        if not re.fullmatch(r" *[0-9]+ *", fields[label]):
            raise ArtworkError(f"The machine file is damaged: its header's field {label} is no number.")
    return {label: value.replace(" ", "") if label != "LA" else value.strip() for label, value in fields.items()}


def _read_words(data: bytes) -> Words:
    """The records before the end record, as 24-bit numbers."""
    body = np.frombuffer(data, dtype=np.uint8, offset=HEADER_BYTES).astype(np.int64)
    body = body[: len(body) // 3 * 3].reshape(-1, 3)
    words = body @ np.array([0x10000, 0x100, 0x1])
    ends = np.flatnonzero(words == END)
    if len(ends) == 0:
        raise ArtworkError("The machine file is damaged: it stops before its end record.")
    kept: Words = words[: ends[0]]
    return kept


def _read_axis(words: Words, bits: dict[int, int]) -> Words:
    """The moves that ``words`` hold on one axis; no power of three may be added and taken at once."""
    moves = np.zeros(len(words), dtype=np.int64)
    for weight in (1, 3, 9, 27, 81):
        plus, minus = (words & bits[weight]) != 0, (words & bits[-weight]) != 0
        clash = np.flatnonzero(plus & minus)
        if len(clash):
            raise ArtworkError(f"The machine file is damaged: record {clash[0] + 1} moves both ways at once.")
        moves += weight * (plus.astype(np.int64) - minus)
    return moves
