"""What a lifetime leaves, updated where a step touched it; the law is told in the reference."""

from resilience.lifetime.fast.blame import find_holder, let_go
from resilience.lifetime.state.books import (
    CROWDS,
    DARK,
    LOG_HELD,
    LOG_HELD_EARLY,
    ORPHANS,
    SILENT,
    Account,
)
from resilience.lifetime.state.cells import run_down
from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.tree import time_anew
from resilience.lifetime.state.world import (
    LAYOUT,
    TOUCHED,
    World,
)


@jit
def count_sensor(world: World, account: Account, states: int) -> None:
    """Let a sensor count among those that are lost; a bit of ``states`` for each way."""
    if world.rules[0].from_first_route and account.had_route == 0:
        states = 0
    changed = states ^ account.counts_as
    if changed:
        for kind in range(CROWDS):
            if changed >> kind & 1:
                world.crowds[kind] += 1 if states >> kind & 1 else -1
        account.counts_as = states


@jit_inline
def _go_on(world: World, kind: int, n: int, here: int) -> None:
    """Go on with another number, on the clock that it is told on."""
    first, before = kind * (world.counts.size // CROWDS), world.crowds[CROWDS + kind]
    for k in range(n, before):
        count = world.counts[first + k]
        count.longest_ms = max(count.longest_ms, here - count.since)
    for k in range(before, n):
        world.counts[first + k].since = here
    world.crowds[CROWDS + kind] = n


@jit
def _go_on_by_sensor(world: World, kind: int, here: int) -> None:
    """Go on with the sensors of now, of which each has a time of its own, the oldest first."""
    first, n = kind * (world.counts.size // CROWDS), world.crowds[CROWDS + kind]
    for i in range(world.now[0].n_touched):
        row = world.lists[TOUCHED, i]
        is_lost, since = world.accounts[row].counts_as >> kind & 1, world.lost_since[kind, row]
        if is_lost and since < 0:
            world.lost_since[kind, row] = world.counts[first + n].since = here
            n += 1
        elif since >= 0 and not is_lost:
            world.lost_since[kind, row] = -1
            n -= 1
            _close_up(world, first, n, since, here)
    world.crowds[CROWDS + kind] = n


@jit
def _close_up(world: World, first: int, last: int, since: int, here: int) -> None:
    """Take out a time of those up to ``last``; what comes after it moves up by one."""
    k = last
    while world.counts[first + k].since != since:
        k -= 1
    for place in range(first + k, first + last + 1):
        count = world.counts[place]
        count.longest_ms = max(count.longest_ms, here - count.since)
        if place < first + last:
            count.since = world.counts[place + 1].since


@jit
def settle_crowds(world: World, promise_ms: int, is_paused: bool) -> None:
    """Go on with the numbers of now; only what is silent knows no pause."""
    for kind in range(CROWDS):
        if is_paused and kind != SILENT:
            continue
        n, here = world.crowds[kind], world.now[0].time_ms if kind == SILENT else promise_ms
        if world.rules[0].by_sensor:
            _go_on_by_sensor(world, kind, here)
        elif n != world.crowds[CROWDS + kind]:
            _go_on(world, kind, n, here)


@jit
def close_crowds(world: World, promise_ms: int) -> None:
    """Close every account at the horizon."""
    for kind in range(CROWDS):
        _go_on(world, kind, 0, world.now[0].time_ms if kind == SILENT else promise_ms)


@jit
def reset_crowds(world: World) -> None:
    """Begin with nobody lost."""
    world.crowds[:] = 0
    world.lost_since[:] = -1
    for k in range(world.counts.size):
        count = world.counts[k]
        count.count_ms = count.since = count.longest_ms = 0


@jit
def most_beyond(world: World, kind: int, duration_ms: int) -> int:
    """Largest number that was lost at once for longer than a duration."""
    n_counts = world.counts.size // CROWDS
    k = 0
    while world.counts[kind * n_counts + k].longest_ms > duration_ms:
        k += 1
    return k


@jit_inline
def write(world: World, code: int, one: int, two: int, three: int) -> None:
    """Write a line of the log, where one is kept; only count it once the log is full."""
    now, log = world.now[0], world.log
    if log.size > 0:
        if now.n_logged < log.size:
            line = log[now.n_logged]
            line.time_ms, line.code = now.time_ms, code
            line.one, line.two, line.three = one, two, three
        now.n_logged += 1


@jit_inline
def is_paused(world: World) -> bool:
    """Whether an uncounted site outage is on."""
    return world.now[0].in_outage == 1 and world.rules[0].counts_outages == 0


@jit
def promise_ms(world: World) -> int:
    """Wall time less the uncounted site outages so far."""
    now = world.now[0]
    return (now.outage_since if is_paused(world) else now.time_ms) - now.paused_ms


@jit
def _hop_depth(world: World, row: int) -> int:
    """Hops to the gateway; -1 without a route."""
    device, hops = world.devices[row], 0
    if device.routed == 0:
        return -1
    while device.is_gateway == 0:
        hops += 1
        device = world.devices[device.parent]
    return hops


@jit_inline
def _settle_depth(world: World, row: int, depth: int) -> None:
    """Go on at another hop depth."""
    account, now = world.accounts[row], world.now[0]
    before = account.depth
    if depth == before:
        return
    if before >= 0:
        lasted_ms = now.time_ms - account.depth_since
        world.depths[before, row] += lasted_ms
        if lasted_ms > 0 and before > now.deepest:
            now.deepest = before
    account.depth, account.depth_since = depth, now.time_ms


@jit
def _cut_silence(world: World, account: Account) -> None:
    """End an interruption here, if one is on."""
    end = min(account.silent_until, promise_ms(world))
    account.interrupted_ms += end - account.silent_since
    account.silent_since = account.silent_until = end


@jit
def _interrupt(world: World, account: Account, duration_ms: int) -> None:
    """Silence a sensor while it moves; of two that overlap, the later end holds."""
    here = promise_ms(world)
    if account.silent_until <= here:
        _cut_silence(world, account)
        account.silent_since = account.silent_until = here
    account.silent_until = max(account.silent_until, here + duration_ms)


@jit
def _write_held(world: World, row: int, here: int) -> None:
    """Write what orphan time is put down to into the log."""
    account, now = world.accounts[row], world.now[0]
    if now.n_logged < world.log.size:
        line = world.log[now.n_logged]
        line.time_ms, line.code = now.time_ms, LOG_HELD if account.had_route else LOG_HELD_EARLY
        line.one, line.two = row, account.holder
        line.three, line.four = account.holder_since, here
    now.n_logged += 1


@jit
def _close_holder(world: World, row: int) -> None:
    """Put the time so far down to the present holder of a spell."""
    account, here, now = world.accounts[row], promise_ms(world), world.now[0]
    if world.log.size > 0:
        _write_held(world, row, here)
    held_ms = here - account.holder_since
    early_ms = 0 if account.had_route else held_ms
    if account.holder >= 0:
        element = world.elements[account.holder]
        element.blame_ms += held_ms
        element.early_blame_ms += early_ms
        let_go(world, account)
    elif account.holder == LAYOUT:
        now.layout_ms += held_ms
        now.early_layout_ms += early_ms
    else:
        now.radio_draw_ms += held_ms
        now.early_radio_draw_ms += early_ms
    account.holder_since = here
    account.holder = -1


@jit
def _begin_spell(world: World, row: int) -> None:
    account, now = world.accounts[row], world.now[0]
    _cut_silence(world, account)
    account.spell_since = now.time_ms
    account.spell_promise = account.holder_since = promise_ms(world)
    find_holder(world, row)
    if account.holder >= 0:
        world.elements[account.holder].began += 1
    elif account.holder == LAYOUT:
        now.layout_began += 1
    else:
        now.radio_draw_began += 1
    now.n_orphans += 1


@jit
def _end_spell(world: World, row: int, is_cut: int) -> None:
    account, now = world.accounts[row], world.now[0]
    _close_holder(world, row)
    orphan_ms = promise_ms(world) - account.spell_promise
    account.orphan_ms += orphan_ms
    if account.had_route == 0:
        account.not_reached_ms += orphan_ms
    if now.n_spells < world.spells.size:
        spell = world.spells[now.n_spells]
        spell.sensor, spell.start_ms, spell.end_ms = row, account.spell_since, now.time_ms
        spell.orphan_ms, spell.is_cut = orphan_ms, is_cut
    now.n_spells += 1
    account.spell_since = -1
    now.n_orphans -= 1


@jit
def settle_sensor(world: World, row: int, silence_ms: int) -> None:
    """Settle the accounts of one sensor that a step touched."""
    device, account = world.devices[row], world.accounts[row]
    _settle_depth(world, row, _hop_depth(world, row))
    if device.down > 0:
        _cut_silence(world, account)
    if not is_paused(world):
        if device.down == 0 and device.routed == 0:
            if account.spell_since < 0:
                _begin_spell(world, row)
        elif account.spell_since >= 0:
            _end_spell(world, row, 0)
            if device.routed:
                _interrupt(world, account, world.rules[0].rejoin_long_ms)
        elif silence_ms > 0:
            _interrupt(world, account, silence_ms)
    if device.routed:
        account.had_route = 1
    _settle_wall_times(world, row, device.down == 0)


@jit_inline
def _settle_wall_times(world: World, row: int, is_up: bool) -> None:
    """Begin or end what is told on the wall clock: down, dark and cut off."""
    account = world.accounts[row]
    is_orphan = account.spell_since >= 0 and not is_paused(world)
    is_dark = is_orphan or not is_up or world.devices[row].mute > 0
    is_cut_off = is_up and world.now[0].in_outage == 1
    _turn_wall_times(world, account, is_up, is_dark, is_cut_off)
    states = 0
    if account.spell_since >= 0:
        states |= 1 << ORPHANS
    if is_dark:
        states |= 1 << DARK
    if is_dark or is_cut_off:
        states |= 1 << SILENT
    count_sensor(world, account, states)


@jit
def _turn_wall_times(
    world: World, account: Account, is_up: bool, is_dark: bool, is_cut_off: bool
) -> None:
    """Turn conditions on or off and add what they lasted."""
    time_ms = world.now[0].time_ms
    if is_up and account.down_since >= 0:
        account.down_ms += time_ms - account.down_since
        account.down_since = -1
    elif not is_up and account.down_since < 0:
        account.down_since = time_ms
    if not is_dark and account.dark_since >= 0:
        account.dark_ms += time_ms - account.dark_since
        account.dark_since = -1
    elif is_dark and account.dark_since < 0:
        account.dark_since = time_ms
    if not is_cut_off and account.cut_off_since >= 0:
        account.cut_off_ms += time_ms - account.cut_off_since
        account.cut_off_since = -1
    elif is_cut_off and account.cut_off_since < 0:
        account.cut_off_since = time_ms


@jit
def find_holder_again(world: World, row: int) -> None:
    """Put an open spell whose holder has returned down to another from now on."""
    _close_holder(world, row)
    find_holder(world, row)
    time_anew(world, row)


@jit
def has_returned(world: World, account: Account) -> bool:
    """Whether the absence that holds an open spell is over, though the element be away anew."""
    if account.spell_since < 0 or account.holder < 0:
        return False
    element = world.elements[account.holder]
    if element.slot < 0:
        return world.now[0].time_ms >= account.holder_until
    return element.away == 0 or element.since != account.holder_struck


@jit
def settle_count(world: World, before: int) -> None:
    """Go on with other numbers of what is lost at once."""
    now = world.now[0]
    settle_crowds(world, promise_ms(world), is_paused(world))
    if now.n_orphans == before or is_paused(world):
        return
    here = promise_ms(world)
    world.counts[before].count_ms += here - now.count_since
    now.count_since = here


@jit
def close(world: World) -> None:
    """Close every account at the horizon, which is the time of the step by now."""
    now = world.now[0]
    here = promise_ms(world)
    world.counts[now.n_orphans].count_ms += here - now.count_since
    close_crowds(world, here)
    for row in range(world.devices.size):
        if world.devices[row].is_sensor:
            _settle_depth(world, row, -1)
            _cut_silence(world, world.accounts[row])
            if world.accounts[row].spell_since >= 0:
                _end_spell(world, row, 1)
            _turn_wall_times(world, world.accounts[row], True, False, False)
    for row in range(world.cells.size):
        run_down(world, world.cells[row])
