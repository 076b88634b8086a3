"""What a link costs at a moment, and when it next closes or opens.

A link is a pure function of time: its calm strength, the level of its swing, and the losses whose
clocks run on draws alone. Nothing of it is stepped; a clock is turned when somebody asks.
"""

from typing import Any

from resilience.connectivity.reception import COST_PER_TRANSMISSION, FULL
from resilience.lifetime.state.compiled import (
    jit,
    jit_inline,
    level_place,
)
from resilience.lifetime.state.queues import turn
from resilience.lifetime.state.world import (
    IS_COST,
    NEVER,
    PARTS_CDB,
    PARTS_UNTIL,
    Link,
    World,
)

ABOVE = 1 << 43  # so that no level that is sought is told by -1, which is none
N_PARTS = 4  # of a sum of levels
ONE_WAY = COST_PER_TRANSMISSION * float(FULL) * FULL


@jit_inline
def cost_at(world: World, link: Link, gain_cdb: int) -> int:
    """Cost of a link so far above its calm strength; -1 where it is not usable then."""
    if link.spare_cdb + gain_cdb < 0:
        return -1
    if link.given_cost >= 0:
        return link.given_cost
    rules, curve = world.rules[0], world.curve
    if rules.counts_hops:
        return COST_PER_TRANSMISSION
    last = curve.shape[0] - 1
    there = link.heard_there_cdbm + gain_cdb - rules.first_cdbm
    back = link.heard_back_cdbm + gain_cdb - rules.first_cdbm
    both = curve[min(max(there, 0), last)] * curve[min(max(back, 0), last)]
    # As exact as whole numbers: a quotient below 2^11 whose halves lie 2^-33 apart or more.
    return int(ONE_WAY / both + 0.5)


@jit_inline
def _hold_now(world: World, link: Link) -> int:
    """Number of the hold that a link is in; times below 2^53 divide exactly, and twice as fast."""
    return int((world.now[0].time_ms + link.phase_ms) / world.rules[0].holds_ms)


@jit_inline
def _part(world: World, link: Link, n: int) -> tuple[Any, int, int]:
    """Start, phase and table of a part of a level: its own, that of the mesh, those of its ends."""
    if n == 0:
        return link.start, link.phase_ms, 0
    if n == 1:
        return world.now[0].mesh_start, world.now[0].mesh_phase_ms, 1
    end = world.devices[link.a if n == 2 else link.b]
    return end.swing_start, end.swing_phase_ms, 2


@jit
def _held(world: World, link: Link, time_ms: int) -> tuple[int, int, int]:
    """Since when and until when a sum of levels is held at a moment, and the sum."""
    holds_ms, since_ms, until_ms, level_cdb = world.rules[0].holds_ms, -NEVER, NEVER, 0
    for n in range(N_PARTS):
        start, phase, table = _part(world, link, n)
        hold = (time_ms + phase) // holds_ms
        since_ms = max(since_ms, hold * holds_ms - phase)
        until_ms = min(until_ms, (hold + 1) * holds_ms - phase)
        level_cdb += world.levels[table, level_place(start, hold)]
    return since_ms, until_ms, level_cdb


@jit
def _take_level(world: World, link: Link) -> None:
    """Find the level that a link holds now, and until when."""
    rules = world.rules[0]
    if rules.has_common:
        found = _held(world, link, world.now[0].time_ms)
        link.held_since, link.held_until, link.held_cdb = found
    elif rules.swings:
        hold = _hold_now(world, link)
        link.held_since = hold * rules.holds_ms - link.phase_ms
        link.held_until = link.held_since + rules.holds_ms
        link.held_cdb = world.levels[0, level_place(link.start, hold)]
    else:
        link.held_since, link.held_until, link.held_cdb = -1, NEVER, 0
    link.held_cost = cost_at(world, link, link.held_cdb)


@jit_inline
def level_cost(world: World, link: Link) -> int:
    """Cost at the level of this moment if nothing strikes; -1 where that makes it unusable."""
    if world.now[0].time_ms >= link.held_until:
        _take_level(world, link)
    return link.held_cost


@jit_inline
def level_cdb(world: World, link: Link) -> int:
    """Level of a link's swing at the time of the step."""
    level_cost(world, link)
    return link.held_cdb


@jit
def level_before_cdb(world: World, link: Link) -> int:
    """Level of a link's swing a millisecond before the step."""
    level = level_cdb(world, link)
    rules, time_ms = world.rules[0], world.now[0].time_ms
    if time_ms > link.held_since:
        return level
    if rules.has_common:
        return _held(world, link, time_ms - 1)[2]
    hold = (time_ms - 1 + link.phase_ms) // rules.holds_ms
    return world.levels[0, level_place(link.start, hold)]


@jit
def _take_losses(world: World, link: Link) -> None:
    """Add up what strikes a link now, and find until when."""
    time_ms = world.now[0].time_ms
    link.struck_since, link.struck_until, link.loss_cdb, link.extra = -1, NEVER, 0, 0
    for i in range(link.burdens_first, link.burdens_beyond):
        element = world.elements[world.places[i]]
        turn(world, element, time_ms)
        link.struck_since = max(link.struck_since, element.since)
        link.struck_until = min(link.struck_until, element.next)
        if element.away:
            if element.effect == IS_COST:
                link.extra += world.weights[i]
            else:
                link.loss_cdb += world.weights[i]


@jit_inline
def loss_now(world: World, link: Link) -> int:
    """Sum of the losses in force at the time of the step."""
    if world.now[0].time_ms >= link.struck_until:
        _take_losses(world, link)
    return link.loss_cdb


@jit
def cost_now(world: World, row: int) -> int:
    """Cost of a link at the time of the step; -1 where it is not usable, whatever its ends do."""
    return cost_within(world, row, NEVER)


@jit
def cost_within(world: World, row: int, most: int) -> int:
    """Cost of a link at the time of the step if it is usable and at most so much; else -1.

    Clocks of what strikes it are turned only where it would do without them.
    """
    link = world.links[row]
    cost = level_cost(world, link)
    if cost < 0 or cost > most:
        return -1
    loss_cdb = loss_now(world, link)
    if loss_cdb > 0:
        cost = cost_at(world, link, link.held_cdb - loss_cdb)
    return cost + link.extra if 0 <= cost <= most - link.extra else -1


@jit
def cost_before(world: World, row: int, most: int) -> int:
    """Cost of a link a millisecond before the step, if usable and at most so much; else -1."""
    link, time_ms = world.links[row], world.now[0].time_ms
    gain_cdb, cost = level_before_cdb(world, link), link.held_cost
    if link.held_since == time_ms:
        cost = cost_at(world, link, gain_cdb)
    if cost < 0 or cost > most:
        return -1
    loss_cdb, extra = loss_now(world, link), link.extra
    if link.struck_since == time_ms:
        loss_cdb, extra = _losses_before(world, link)
    if loss_cdb > 0:
        cost = cost_at(world, link, gain_cdb - loss_cdb)
    return cost + extra if 0 <= cost <= most - extra else -1


@jit
def _losses_before(world: World, link: Link) -> tuple[int, int]:
    """Sums of the losses and extra costs in force a millisecond before the step."""
    loss_cdb, extra, time_ms = 0, 0, world.now[0].time_ms
    for i in range(link.burdens_first, link.burdens_beyond):
        element = world.elements[world.places[i]]
        # Changes of one element lie a millisecond apart at least: it was the other way before.
        if (element.away == 1) != (element.since == time_ms):
            if element.effect == IS_COST:
                extra += world.weights[i]
            else:
                loss_cdb += world.weights[i]
    return loss_cdb, extra


@jit_inline
def _first_level(world: World, least_cdb: int) -> int:
    """Place of the first level that reaches a value; their number if none does."""
    low, high = 0, world.levels.shape[1]
    while low < high:
        middle = (low + high) >> 1
        if world.levels[0, middle] < least_cdb:
            low = middle + 1
        else:
            high = middle
    return low


@jit
def _next_common_ms(world: World, link: Link, least_cdb: int, wanted: int, until_ms: int) -> int:
    """``next_level_ms`` where a level is a sum: the changes of its parts are gone through."""
    holds_ms, sought, at_ms = world.rules[0].holds_ms, 2 * least_cdb + wanted, world.now[0].time_ms
    if link.sought == sought + ABOVE:  # go on just before the first that was not looked at
        at_ms = max(at_ms, link.unsought - 1)
    for n in range(N_PARTS):
        start, phase, table = _part(world, link, n)
        hold = (at_ms + phase) // holds_ms
        world.lists[PARTS_UNTIL, n] = (hold + 1) * holds_ms - phase
        world.lists[PARTS_CDB, n] = world.levels[table, level_place(start, hold)]
    while True:
        at_ms, level_cdb = NEVER, 0
        for n in range(N_PARTS):
            at_ms = min(at_ms, world.lists[PARTS_UNTIL, n])
        if at_ms >= until_ms:
            break
        for n in range(N_PARTS):
            if world.lists[PARTS_UNTIL, n] == at_ms:
                start, phase, table = _part(world, link, n)
                place = level_place(start, int((at_ms + phase) / holds_ms))
                world.lists[PARTS_CDB, n] = world.levels[table, place]
                world.lists[PARTS_UNTIL, n] += holds_ms
            level_cdb += world.lists[PARTS_CDB, n]
        if (level_cdb >= least_cdb) == (wanted == 1):
            break
    link.sought, link.unsought = sought + ABOVE, at_ms
    return min(at_ms, until_ms)


@jit
def next_level_ms(world: World, link: Link, least_cdb: int, wanted: int, until_ms: int) -> int:
    """First change of level, before a time, to one that reaches a value or, wanted 0, does not."""
    rules = world.rules[0]
    if rules.swings == 0:
        return until_ms
    if (rules.best_cdb < least_cdb) if wanted else (rules.worst_cdb >= least_cdb):
        return until_ms
    if rules.has_common:
        return _next_common_ms(world, link, least_cdb, wanted, min(until_ms, rules.horizon_ms))
    first = _first_level(world, least_cdb)
    hold = _hold_now(world, link) + 1
    if link.sought == 2 * first + wanted:
        hold = max(hold, link.unsought)
    at_ms = hold * rules.holds_ms - link.phase_ms
    until_ms = min(until_ms, rules.horizon_ms)
    while at_ms < until_ms and (level_place(link.start, hold) >= first) != (wanted == 1):
        hold += 1
        at_ms += rules.holds_ms
    link.sought, link.unsought = 2 * first + wanted, hold
    return min(at_ms, until_ms)


@jit
def next_closing_ms(world: World, row: int) -> int:
    """Time before which a link that is usable now stays so."""
    link = world.links[row]
    if link.is_firm:
        return NEVER
    loss_cdb, soonest_ms = loss_now(world, link), NEVER
    for i in range(link.burdens_first, link.burdens_beyond):
        element = world.elements[world.places[i]]
        if element.away == 0 and element.effect != IS_COST:  # it closes by itself, or with others
            soonest_ms = min(soonest_ms, element.next)
    return next_level_ms(world, link, loss_cdb - link.spare_cdb, 0, soonest_ms)


@jit
def next_opening_ms(world: World, row: int, until_ms: int) -> int:
    """Time before which a link that is not usable now stays so, or one by which that is told."""
    link = world.links[row]
    level = level_cdb(world, link)
    if link.spare_cdb + level < 0:  # whatever strikes it, a better level has to come first
        return next_level_ms(world, link, -link.spare_cdb, 1, until_ms)
    loss_cdb = loss_now(world, link)
    for i in range(link.burdens_first, link.burdens_beyond):
        element = world.elements[world.places[i]]
        if element.away and element.effect != IS_COST:
            until_ms = min(until_ms, element.next)
    return next_level_ms(world, link, loss_cdb - link.spare_cdb, 1, until_ms)


@jit
def swung_since_ms(world: World, link: Link, after_ms: int) -> int:
    """Start of the run of levels that alone close a link, or any time before ``after_ms``."""
    rules = world.rules[0]
    if rules.has_common:
        since_ms = link.held_since  # whoever asks has just taken its level
        while since_ms > 0 and since_ms >= after_ms:
            earlier_ms, _, level_cdb = _held(world, link, since_ms - 1)
            if link.spare_cdb + level_cdb >= 0:
                break
            since_ms = earlier_ms
        return max(0, since_ms)
    hold = _hold_now(world, link)
    while hold > 0 and hold * rules.holds_ms - link.phase_ms >= after_ms:
        if link.spare_cdb + world.levels[0, level_place(link.start, hold - 1)] >= 0:
            break
        hold -= 1
    return max(0, hold * rules.holds_ms - link.phase_ms)
