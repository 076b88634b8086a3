"""A world whose state lies in one piece, so that it is saved and brought back by one copy."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience.lifetime.state.world import World

Ints = NDArray[np.int64]

# What a step leaves behind for later ones; all else is fixed for a building, or empty in between.
STATE = (
    *("now", "devices", "accounts", "silences", "stocks", "coming", "links", "elements", "cells"),
    *("counts", "crowds", "lost_since", "calendar", "depths"),
)
WORD = 8  # bytes of every number of a world


def copied(world: World) -> World:
    """Return a world of its own that is the same in every number.

    Parameters
    ----------
    world : World
        Between two steps. [-]
    """
    arrays: Any = world
    return World(*(array.copy() for array in arrays))


def in_one_block(world: World) -> tuple[World, Ints]:
    """Return a world whose state is one block of numbers, and that block.

    Parameters
    ----------
    world : World
        Taken over, but for its state. [-]
    """
    block = np.zeros(sum(getattr(world, name).nbytes for name in STATE) // WORD, np.int64)
    placed, first = {}, 0
    for name in STATE:
        array: Any = getattr(world, name)
        n = array.nbytes // WORD
        part: Any = block[first : first + n].view(array.dtype).reshape(array.shape)
        part[...] = array
        placed[name] = part
        first += n
    return world._replace(**placed), block
