"""From an aim to what compiled code looks for, in the rows of a world."""

from collections import defaultdict
from collections.abc import Sequence
from itertools import accumulate, chain

import numpy as np
from numpy.typing import NDArray

from resilience.lifetime.branching.aims import Aim
from resilience.lifetime.branching.families import PLACES, Course
from resilience.lifetime.record import COUNTED
from resilience.lifetime.state.world import NEVER

Ints = NDArray[np.int64]


def course_of(aim: Aim, devices: Sequence[str], block: Ints, copies: Sequence[int]) -> Course:
    """What a world is to be played for, with room for copies of it.

    Parameters
    ----------
    aim : Aim
        What is looked for. [-]
    devices : sequence of str
        Ids by row. [-]
    block : Ints
        State of the world. [-]
    copies : sequence of int
        How many lifetimes one becomes at each level from level 1 on. [-]
    """
    by_level = [1, *copies, 1] if aim.is_open_ended else [1, *copies]
    n = len(by_level)
    return Course(
        until_ms=NEVER,
        branch=0,
        kind=COUNTED.index(aim.counted),
        max_count=aim.max_count,
        beyond_ms=aim.longer_than_ms + 1,
        distance=aim.distance,
        counts_sensors=int(aim.furthest > 0),
        marks_ms=np.array(aim.marks_ms, np.int64),
        copies=np.array(by_level, np.int64),
        left=np.zeros(n, np.int64),
        **_cuts(aim, devices),
        block=block,
        saved=np.zeros((n, len(block)), np.int64),
        calls=np.zeros((n, len(devices)), np.int64),
        until_steps=NEVER,
        at=np.zeros(PLACES, np.int64),
        lost_ms=np.zeros(n, np.int64),
    )


def _cuts(aim: Aim, devices: Sequence[str]) -> dict[str, Ints]:
    """Cuts in rows of devices, and which of them each device is in."""
    place = {id: row for row, id in enumerate(devices)}
    cuts = [sorted(place[id] for id in cut) for cut in aim.cuts]
    of: dict[int, list[int]] = defaultdict(list)
    for number, cut in enumerate(cuts):
        for row in cut:
            of[row].append(number)
    of_device = [of[row] for row in range(len(devices))]
    return {
        "cut_first": _starts(cuts),
        "cut_members": np.array([*chain(*cuts)], np.int64),
        "of_first": _starts(of_device),
        "of_cut": np.array([*chain(*of_device)], np.int64),
    }


def _starts(lists: Sequence[Sequence[int]]) -> Ints:
    return np.array([0, *accumulate(map(len, lists))], np.int64)
