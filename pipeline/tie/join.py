"""The tie room's one function."""

from __future__ import annotations

import numpy as np

from pipeline.craft import Craft
from pipeline.losses import each
from pipeline.model import Approach, Block, Pass, Points, Sewing
from pipeline.tie.grid import on_grid
from pipeline.tie.ground import Ground
from pipeline.tie.locks import Crowd, tie_in, tie_off
from pipeline.tie.moves import NONE, Move, move
from pipeline.tie.settings import TieSettings


def join(blocks: tuple[Block, ...], settings: TieSettings, craft: Craft) -> Sewing:
    """Join the blocks in order into passes on the machine's grid.

    A block is reached by running on, by travel that later cover hides, by a short hidden jump, or after a
    trim; a colour change cuts as well. Every thread is locked after it starts and before it is cut.
    """
    blocks = tuple(block for block in blocks if sum(len(s.points) for s in block.strands))
    paths = [np.vstack([strand.points for strand in block.strands]) for block in blocks]
    moves = _moves(blocks, paths, settings, craft)
    colours: list[str] = []
    crowd = Crowd(paths)

    def legs(index: int) -> list[Pass]:
        colour = blocks[index].step.colour
        if colour not in colours:
            colours.append(colour)
        cut_after = index + 1 == len(blocks) or moves[index + 1].approach in ("trim", "colour")
        thread = colours.index(colour)
        return _block(blocks[index], paths[index], moves[index], cut_after, thread, crowd, settings, craft)

    made = each(_regions(blocks), range(len(blocks)), legs)
    every = [leg for group in made for leg in group]
    centre, passes = on_grid(every, craft.lengths.least_mm, craft.longest_mm)
    return Sewing(centre, tuple(colours), passes)


def _moves(blocks: tuple[Block, ...], paths: list[Points], settings: TieSettings, craft: Craft) -> list[Move]:
    ground = Ground(blocks, settings, craft.thread_mm)

    def to(index: int) -> Move:
        if index == 0 or blocks[index].step.colour != blocks[index - 1].step.colour:
            return Move("colour", NONE)
        return move(ground, index, tuple(paths[index - 1][-1]), tuple(paths[index][0]), settings)

    return each(_regions(blocks), range(len(blocks)), to)


def _regions(blocks: tuple[Block, ...]) -> list[str]:
    return [block.step.part.region for block in blocks]


def _block(
    block: Block,
    path: Points,
    came: Move,
    cut_after: bool,
    thread: int,
    crowd: Crowd,
    settings: TieSettings,
    craft: Craft,
) -> list[Pass]:
    """One block's passes, not yet on the grid, with the travel and locks that belong to it."""
    part = block.step.part
    approach: Approach = came.approach
    legs = []
    if len(came.travel):
        legs.append(Pass(thread, part.region, part.id, "travel", approach, came.travel))
        approach = "sewn"
    if approach in ("trim", "colour"):
        lock = tie_in(path, part.area, settings.lock_mm, crowd, craft)
        legs.append(Pass(thread, part.region, part.id, "lock", approach, lock))
        approach = "sewn"
    for strand in block.strands:
        if len(strand.points):
            legs.append(Pass(thread, part.region, part.id, strand.layer, approach, strand.points))
            approach = "sewn"
    if cut_after:
        lock = tie_off(path, part.area, settings.lock_mm, crowd, craft)
        legs.append(Pass(thread, part.region, part.id, "lock", "sewn", lock))
    return legs
