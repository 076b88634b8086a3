"""One lifetime and its branches, without leaving compiled code.

Whenever a lifetime comes to a level from below it is replaced by copies, each with a future of its
own. A copy that falls below that level is given up, but for the last one, which goes on as the
lifetime that it was copied from. MODELS.md, "multilevel splitting".
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.lifetime.branching.redrawing import redraw
from resilience.lifetime.fast.accounts import is_paused, promise_ms
from resilience.lifetime.fast.play import Row, begin_lifetime, end_lifetime, play_step
from resilience.lifetime.fast.wiring import take_building, wire
from resilience.lifetime.state.books import CROWDS
from resilience.lifetime.state.compiled import jit, jit_entry, jit_inline, world_at
from resilience.lifetime.state.queues import SLOT_BITS
from resilience.lifetime.state.world import CALLS, IS_DOWN, NEVER, World

Ints = NDArray[np.int64]

UP, DOWN, BROKEN, ENDED, STOPPED = range(5)  # why a lifetime is played no further for now
HEAP_WAS_FULL, STEPS, BRANCHES, FIRST_LEVEL = range(4)  # places of sums, entries by level last
LIFETIME, LEVEL, BRANCH, IS_OPEN, PLACES = range(5)  # where to go on: places of ``at``


class Course(NamedTuple):
    """What is looked for, in the rows of a world, and room for copies.

    Parameters
    ----------
    until_ms : int
        Play no further than this; ``NEVER`` where there are levels. [ms]
    branch : int
        Of a lifetime that is only continued: number of the future to draw; 0 keeps its own. [-]
    kind, max_count : int
        Way to be lost, and how many may be. [-]
    beyond_ms : int
        Time in excess that ends it. [ms]
    distance, counts_sensors : int
        Losses that it takes at first; whether each sensor lost brings it nearer. [-]
    marks_ms : Ints
        Times in excess that are levels, rising. [ms]
    copies : Ints
        How many lifetimes one becomes at each level, from level 0 on. [-]
    left : Ints
        How many of these are still to be played, of the same shape; overwritten. [-]
    cut_first, cut_members : Ints
        Devices of each cut, end to end. [-]
    of_first, of_cut : Ints
        Cuts of each device, end to end. [-]
    block, saved, calls : Ints
        State of the world, copies of it by level, and of the calls that wait. [-]
    until_steps : int
        Come back as soon as the sums hold so many steps, to be gone on with. [-]
    at : Ints
        Where to go on; overwritten. [-]
    lost_ms : Ints
        Time lost by level, of all sensors together; added to. [ms]
    """

    until_ms: int
    branch: int
    kind: int
    max_count: int
    beyond_ms: int
    distance: int
    counts_sensors: int
    marks_ms: Ints
    copies: Ints
    left: Ints
    cut_first: Ints
    cut_members: Ints
    of_first: Ints
    of_cut: Ints
    block: Ints
    saved: Ints
    calls: Ints
    until_steps: int
    at: Ints
    lost_ms: Ints


@jit_inline
def _n_lost(world: World, course: Course) -> int:
    return world.crowds[CROWDS + course.kind]


@jit_inline
def _excess_ms(world: World, course: Course) -> int:
    """For how long more than so many have been lost; -1 if they are not."""
    if _n_lost(world, course) <= course.max_count:
        return -1
    first = course.kind * (world.counts.size // CROWDS)
    return promise_ms(world) - world.counts[first + course.max_count].since


@jit
def _distance(world: World, course: Course) -> int:
    """Further losses that it takes, at least 1: the least that is up of any cut."""
    found = course.distance
    here = world.now[0].latest
    while here >= 0:
        element = world.elements[here]
        if element.effect == IS_DOWN:
            for i in range(element.targets_first, element.targets_beyond):
                row = world.places[i]
                for k in range(course.of_first[row], course.of_first[row + 1]):
                    found = min(found, _up_of(world, course, course.of_cut[k]))
        here = element.earlier
    if course.counts_sensors:
        found = min(found, course.max_count + 1 - _n_lost(world, course))
    return max(found, 1)


@jit_inline
def _up_of(world: World, course: Course, cut: int) -> int:
    """How many devices of a cut are up."""
    n = 0
    for i in range(course.cut_first[cut], course.cut_first[cut + 1]):
        n += world.devices[course.cut_members[i]].down == 0
    return n


@jit
def _level(world: World, course: Course) -> int:
    """How near a lifetime is to what is looked for, from 0."""
    excess_ms = _excess_ms(world, course)
    if excess_ms < 0:
        return course.distance - _distance(world, course)
    level = course.distance
    for i in range(course.marks_ms.size):
        level += excess_ms >= course.marks_ms[i]
    return level


@jit_inline
def _next_mark_ms(course: Course, excess_ms: int) -> int:
    """Time in excess at the next mark; the last one ends it."""
    for i in range(course.marks_ms.size):
        if course.marks_ms[i] > excess_ms:
            return course.marks_ms[i]
    return course.beyond_ms


@jit
def _travel(world: World, course: Course, level: int) -> int:
    """Play until a lifetime leaves its level, is over, or comes to where it is to stop."""
    now, horizon_ms = world.now[0], world.rules[0].horizon_ms
    while True:
        here = _level(world, course)
        if here != level:
            return UP if here > level else DOWN
        next_ms = world.calendar[1] >> SLOT_BITS if world.calendar[1] < NEVER else NEVER
        excess_ms = _excess_ms(world, course)
        if excess_ms >= 0 and not is_paused(world):
            mark_ms = _next_mark_ms(course, excess_ms)
            comes_ms = now.time_ms + mark_ms - excess_ms
            if mark_ms == course.beyond_ms:
                # Whatever happens in that very millisecond comes too late to end it before.
                if comes_ms <= min(next_ms, horizon_ms):
                    return BROKEN
            elif comes_ms < min(next_ms, horizon_ms):
                now.time_ms = comes_ms
                continue
        n_lost, before_ms = _n_lost(world, course), promise_ms(world)
        if next_ms == NEVER:
            if not is_paused(world):
                course.lost_ms[level] += n_lost * (horizon_ms - now.time_ms)
            return ENDED
        if next_ms >= course.until_ms:
            return STOPPED
        play_step(world)
        course.lost_ms[level] += n_lost * (promise_ms(world) - before_ms)


@jit_inline
def _copy(to: Ints, of: Ints) -> None:
    for i in range(of.size):
        to[i] = of[i]


@jit_inline
def _save(world: World, course: Course, level: int) -> None:
    _copy(course.saved[level], course.block)
    for i in range(world.now[0].n_waiting):
        course.calls[level, i] = world.lists[CALLS, i]


@jit_inline
def _restore(world: World, course: Course, level: int, sums: Ints) -> None:
    sums[HEAP_WAS_FULL] |= world.now[0].heap_is_full
    sums[STEPS] += world.now[0].step
    _copy(course.block, course.saved[level])
    sums[STEPS] -= world.now[0].step
    for i in range(world.now[0].n_waiting):
        world.lists[CALLS, i] = course.calls[level, i]


@jit
def _play_family(world: World, course: Course, sums: Ints) -> bool:
    """Play a lifetime that has begun, and all of its branches, the deepest first.

    Between two of them it may come back with False, and goes on there when it is called again.
    """
    at, last = course.at, course.copies.size - 1
    level, branch = at[LEVEL], at[BRANCH]
    why = _travel(world, course, level)
    while True:
        if why == UP:
            level += 1
            sums[FIRST_LEVEL + level] += 1
            course.left[level] = course.copies[level] - 1
            if course.left[level] > 0:
                _save(world, course, level)
                branch += 1
                redraw(world, branch)
        elif why == DOWN and course.left[level] == 0:
            level -= 1  # the last copy goes on in the place of what it was copied from
        else:
            sums[FIRST_LEVEL + last + 1] += why == BROKEN
            while level > 0 and course.left[level] == 0:
                level -= 1
            if level == 0:
                break
            course.left[level] -= 1
            _restore(world, course, level, sums)
            branch += 1
            redraw(world, branch)
        if sums[STEPS] + world.now[0].step >= course.until_steps:
            at[LEVEL], at[BRANCH] = level, branch
            return False
        why = _travel(world, course, level)
    sums[BRANCHES] += branch
    sums[STEPS] += world.now[0].step
    sums[HEAP_WAS_FULL] |= world.now[0].heap_is_full
    return True


@jit
def _begin_family(world: World, course: Course, row: Row) -> None:
    """Begin a lifetime, in another building where one begins."""
    at = course.at
    i, lifetime = at[LIFETIME], row.first + at[LIFETIME]
    if i % LIFETIMES_PER_BUILDING == 0:
        number = lifetime // LIFETIMES_PER_BUILDING
        take_building(world, row.lots, row.strengths_cdbm, row.seed, number)
        wire(world)
    begin_lifetime(world, row.seed, lifetime)
    course.left[:] = 0
    at[LEVEL] = at[BRANCH] = 0
    at[IS_OPEN] = 1


@jit_entry
def branch_out(table: Ints, course: Course, row: Row, sums: Ints) -> None:
    """Play lifetimes with their branches; of none, go on with what the world holds.

    ``table`` is that of the world, from ``table_of``; ``course.block`` is its state. It is not over
    while ``course.at`` counts fewer lifetimes than there are to be played.
    """
    world, at = world_at(table), course.at
    while at[LIFETIME] < row.n and sums[STEPS] < course.until_steps:
        if at[IS_OPEN] == 0:
            _begin_family(world, course, row)
        if not _play_family(world, course, sums):
            return
        at[IS_OPEN] = 0
        at[LIFETIME] += 1
    if row.n == 0:
        if course.branch > 0:
            redraw(world, course.branch)
        if _travel(world, course, 0) == ENDED and course.until_ms == NEVER:
            end_lifetime(world)
