"""What an orphan spell is put down to; the law is told in the reference."""

from resilience.lifetime.state.columns import (
    AMOUNT,
    CALM_COST,
    EARLIER,
    EFFECT,
    END_A,
    END_B,
    FIRST_ISLAND,
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
    NEXT_HELD,
    PREV_HELD,
    RADIO_DRAW,
    STACK,
    STRUCK,
    VERDICTS,
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
        elif effect in (IS_CUT, IS_LOSS) and lnk[target, CALM_COST] >= 0:
            a, b = lnk[target, END_A], lnk[target, END_B]
            if acc[a, ISLAND] == island or acc[b, ISLAND] == island:
                if effect == IS_CUT:
                    return True
                if path_cost(rad, curve, rules, target, ele[element, AMOUNT]) < 0:
                    return True
    return False


@jit
def _latest_on_border(
    acc, lnk, rad, curve, rules, adj_start, adj, ele, tgt_start, tgt, now, island
):
    """The element that struck last of those on the border of an island; -1 if there is none."""
    element = now[LATEST]
    while element >= 0:
        if _is_on_border(
            acc, lnk, rad, curve, rules, adj_start, adj, ele, tgt_start, tgt, element, island
        ):
            return element
        element = ele[element, EARLIER]
    return -1


@jit
def judge(
    acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now, at_mean, sensor
):
    """Find what holds a sensor's spell from now on.

    All that share an island in one step share the verdict: it is found once.
    """
    if acc[sensor, ISLAND] <= now[FIRST_ISLAND]:
        _mark_island(acc, lnk, adj_start, adj, lists, now, sensor)
        lists[VERDICTS, now[N_ISLANDS] - now[FIRST_ISLAND] - 1] = _latest_on_border(
            acc, lnk, rad, curve, rules, adj_start, adj, ele, tgt_start, tgt, now, now[N_ISLANDS]
        )
    holder = lists[VERDICTS, acc[sensor, ISLAND] - now[FIRST_ISLAND] - 1]
    if holder < 0:
        acc[sensor, HOLDER] = RADIO_DRAW if at_mean[sensor] else LAYOUT
        return
    acc[sensor, HOLDER] = holder
    acc[sensor, HOLDER_STRUCK] = ele[holder, STRUCK]
    first = ele[holder, HELD]
    acc[sensor, NEXT_HELD], acc[sensor, PREV_HELD] = first, -1
    if first >= 0:
        acc[first, PREV_HELD] = sensor
    ele[holder, HELD] = sensor


@jit
def let_go(acc, ele, sensor):
    """Take a sensor's spell from the element that holds it."""
    before, after = acc[sensor, PREV_HELD], acc[sensor, NEXT_HELD]
    if before >= 0:
        acc[before, NEXT_HELD] = after
    else:
        ele[acc[sensor, HOLDER], HELD] = after
    if after >= 0:
        acc[after, PREV_HELD] = before
