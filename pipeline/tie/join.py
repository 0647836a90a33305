"""The tie room's one function."""

from __future__ import annotations

import numpy as np

from pipeline.model import Approach, Block, Finding, Note, Points, Sewing
from pipeline.tie.grid import Leg, on_grid
from pipeline.tie.ground import Ground
from pipeline.tie.locks import tie_in, tie_off
from pipeline.tie.moves import NONE, Move, move
from pipeline.tie.settings import TieSettings


def join(blocks: tuple[Block, ...], settings: TieSettings, note: Note) -> Sewing:
    """Join the blocks in order into passes on the machine's grid.

    A block is reached by running on, by travel that later cover hides, by a short hidden jump, or after a
    trim; a colour change cuts as well. Every thread is locked after it starts and before it is cut.
    """
    blocks = tuple(block for block in blocks if sum(len(s.points) for s in block.strands))
    paths = [np.vstack([strand.points for strand in block.strands]) for block in blocks]
    moves = _moves(blocks, paths, settings)
    _tell(moves, blocks, paths, note)
    colours: list[str] = []
    legs: list[Leg] = []
    for index, block in enumerate(blocks):
        if block.step.colour not in colours:
            colours.append(block.step.colour)
        thread = colours.index(block.step.colour)
        cut_after = index + 1 == len(blocks) or moves[index + 1].approach in ("trim", "colour")
        legs.extend(_block(block, paths[index], moves[index], cut_after, thread, settings))
    centre, passes = on_grid(legs, settings.shortest_mm, settings.longest_mm)
    return Sewing(centre, tuple(colours), passes)


def _moves(blocks: tuple[Block, ...], paths: list[Points], settings: TieSettings) -> list[Move]:
    ground = Ground(blocks, settings)
    moves = [Move("colour", NONE)]
    for index in range(1, len(blocks)):
        if blocks[index].step.colour != blocks[index - 1].step.colour:
            moves.append(Move("colour", NONE))
        else:
            start, end = tuple(paths[index - 1][-1]), tuple(paths[index][0])
            moves.append(move(ground, index, start, end, settings))
    return moves


def _tell(moves: list[Move], blocks: tuple[Block, ...], paths: list[Points], note: Note) -> None:
    """Say how many uncut threads nothing will cover."""
    seen = [index for index, came in enumerate(moves) if came.shows_mm > 0]
    if seen:
        longest = max(seen, key=lambda index: (moves[index].shows_mm, -index))
        x, y = (float(value) for value in paths[longest][0])
        message = (
            f"{len(seen)} uncut thread{'s' if len(seen) > 1 else ''} between pieces may stay visible, "
            f"the longest for {moves[longest].shows_mm:.1f} mm at ({x:.1f}, {y:.1f}); cut them by hand, "
            "or lower tie.open_mm so that the machine does"
        )
        note(Finding("visible-threads", "note", message, blocks[longest].step.part.region, (x, y)))


def _block(
    block: Block, path: Points, came: Move, cut_after: bool, thread: int, settings: TieSettings
) -> list[Leg]:
    """One block's passes, with the travel and locks that belong to it."""
    part = block.step.part
    approach: Approach = came.approach
    legs = []
    if len(came.travel):
        legs.append(Leg(thread, part.region, part.id, "travel", approach, came.travel))
        approach = "sewn"
    if approach in ("trim", "colour"):
        legs.append(Leg(thread, part.region, part.id, "lock", approach, tie_in(path, part.area, settings.lock_mm)))
        approach = "sewn"
    for strand in block.strands:
        if len(strand.points):
            legs.append(Leg(thread, part.region, part.id, strand.layer, approach, strand.points))
            approach = "sewn"
    if cut_after:
        legs.append(Leg(thread, part.region, part.id, "lock", "sewn", tie_off(path, part.area, settings.lock_mm)))
    return legs
