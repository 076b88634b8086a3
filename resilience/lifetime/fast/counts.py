"""How many sensors are lost at once, and for how long more than so many were."""

from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.world import CROWDS, SILENT, Account, World


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
def settle_crowds(world: World, promise_ms: int, is_paused: bool) -> None:
    """Go on with the numbers of now; only what is silent knows no pause."""
    for kind in range(CROWDS):
        n = world.crowds[kind]
        if n != world.crowds[CROWDS + kind] and (kind == SILENT or not is_paused):
            _go_on(world, kind, n, world.now[0].time_ms if kind == SILENT else promise_ms)


@jit
def close_crowds(world: World, promise_ms: int) -> None:
    """Close every account at the horizon."""
    for kind in range(CROWDS):
        _go_on(world, kind, 0, world.now[0].time_ms if kind == SILENT else promise_ms)


@jit
def reset_crowds(world: World) -> None:
    """Begin with nobody lost."""
    world.crowds[:] = 0
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
