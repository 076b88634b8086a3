"""What an orphan spell is put down to; the law is told in the reference."""

from resilience.lifetime.state.columns import (
    AMOUNT,
    EARLIER,
    EFFECT,
    END_A,
    END_B,
    HELD,
    HOLDER,
    HOLDER_STRUCK,
    IS_CUT,
    IS_DOWN,
    IS_LOSS,
    ISLAND,
    LATEST,
    LAYOUT,
    LINK_COST,
    N_ISLANDS,
    RADIO_DRAW,
    STACK,
    STRUCK,
)
from resilience.lifetime.state.compiled import (
    jit,
)
from resilience.lifetime.state.holds import (
    path_cost,
)


@jit
def _mark_island(acc, lnk, adj_start, adj, lists, now, sensor):
    """Mark every up device that a sensor reaches over usable links."""
    now[N_ISLANDS] += 1
    acc[sensor, ISLAND] = now[N_ISLANDS]
    lists[STACK, 0] = sensor
    n = 1
    while n > 0:
        n -= 1
        device = lists[STACK, n]
        for k in range(adj_start[device], adj_start[device + 1]):
            other = adj[k, 0]
            if lnk[adj[k, 1], LINK_COST] >= 0 and acc[other, ISLAND] != now[N_ISLANDS]:
                acc[other, ISLAND] = now[N_ISLANDS]
                lists[STACK, n] = other
                n += 1


@jit
def _is_on_border(
    acc, lnk, rad, curve, rules, adj_start, adj, ele, tgt_start, tgt, element, island
):
    """Whether an absence holds down a neighbour of an island or would by itself close a link."""
    effect = ele[element, EFFECT]
    for i in range(tgt_start[element], tgt_start[element + 1]):
        target = tgt[i]
        if effect == IS_DOWN:
            for k in range(adj_start[target], adj_start[target + 1]):
                if acc[adj[k, 0], ISLAND] == island:
                    return True
        elif effect in (IS_CUT, IS_LOSS):
            a, b = lnk[target, END_A], lnk[target, END_B]
            if acc[a, ISLAND] == island or acc[b, ISLAND] == island:
                if effect == IS_CUT:
                    return True
                if path_cost(rad, curve, rules, target, ele[element, AMOUNT]) < 0:
                    return True
    return False


@jit
def judge(
    acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now, at_mean, sensor
):
    """Find what holds a sensor's spell from now on."""
    _mark_island(acc, lnk, adj_start, adj, lists, now, sensor)
    island = now[N_ISLANDS]
    element = now[LATEST]
    while element >= 0:
        if _is_on_border(
            acc, lnk, rad, curve, rules, adj_start, adj, ele, tgt_start, tgt, element, island
        ):
            acc[sensor, HOLDER] = element
            acc[sensor, HOLDER_STRUCK] = ele[element, STRUCK]
            ele[element, HELD] += 1
            return
        element = ele[element, EARLIER]
    acc[sensor, HOLDER] = RADIO_DRAW if at_mean[sensor] else LAYOUT
