"""Which gateways serve, and how long those are silent who must move; as the reference tells it."""

from resilience.lifetime.fast.books import (
    write,
)
from resilience.lifetime.state.columns import (
    BACK_SINCE,
    BACKUPS,
    COST,
    COST_BEFORE,
    COUNT_OUTAGES,
    DOWN,
    GATEWAY,
    IN_OUTAGE,
    LINK_BEFORE,
    LINK_COST,
    LINK_SAVED,
    LOG_OUTAGE,
    NEVER,
    NEW_LIST,
    NO_PRIMARY_SINCE,
    OUTAGE_MS,
    OUTAGE_SINCE,
    OUTAGES,
    PARENT,
    PARENT_BEFORE,
    PAUSED,
    REFORMATION,
    REJOIN_LONG,
    REJOIN_SHORT,
    RELAY,
    SAVED,
    STANDBY,
    STANDBY_SWITCH,
    STEP,
)
from resilience.lifetime.state.compiled import (
    jit,
    jit_inline,
)
from resilience.lifetime.state.tree import (
    forget_all,
    may_drain,
    save,
    stop_serving,
    touch,
)


@jit
def settle_gateways(dev, acc, lists, now, rules, log, time_ms):
    """Settle outage and service; return when to look again and how many begin to serve.

    Gateways that begin to serve are put into ``lists[NEW_LIST]``.
    """
    has_primary, has_any = False, False
    for device in range(dev.shape[0]):
        if dev[device, GATEWAY] and dev[device, DOWN] == 0:
            has_any = True
            has_primary |= dev[device, STANDBY] == 0
    if has_primary:
        now[NO_PRIMARY_SINCE] = -1
    elif now[NO_PRIMARY_SINCE] < 0:
        now[NO_PRIMARY_SINCE] = time_ms
    look_again_ms = _settle_outage(dev, acc, lists, now, rules, log, time_ms, has_any)
    if now[IN_OUTAGE]:
        return look_again_ms, 0
    does_standby_serve = False
    if not has_primary:
        switched_ms = now[NO_PRIMARY_SINCE] + rules[STANDBY_SWITCH]
        does_standby_serve = time_ms >= switched_ms
        look_again_ms = NEVER if does_standby_serve else switched_ms
    n_new = 0
    for device in range(dev.shape[0]):
        if dev[device, GATEWAY] == 0:
            continue
        serves = dev[device, DOWN] == 0 and (dev[device, STANDBY] == 0 or does_standby_serve)
        if serves and dev[device, COST] < 0:
            save(dev, lists, now, device)
            dev[device, COST] = 0
            lists[NEW_LIST, n_new] = device
            n_new += 1
        elif not serves and dev[device, COST] >= 0:
            stop_serving(dev, acc, lists, now, device)
    return look_again_ms, n_new


@jit
def _settle_outage(dev, acc, lists, now, rules, log, time_ms, has_any):
    if not has_any:
        now[BACK_SINCE] = -1
        if not now[IN_OUTAGE]:
            turn_outage(dev, acc, lists, now, rules, log, time_ms, True)
            forget_all(dev, acc, lists, now)
        return NEVER
    if not now[IN_OUTAGE]:
        return NEVER
    if now[BACK_SINCE] < 0:
        now[BACK_SINCE] = time_ms
    formed_ms = now[BACK_SINCE] + rules[REFORMATION]
    if time_ms < formed_ms:
        return formed_ms
    now[BACK_SINCE] = -1
    turn_outage(dev, acc, lists, now, rules, log, time_ms, False)
    if now[NO_PRIMARY_SINCE] >= 0:  # once it is over, every up gateway serves
        now[NO_PRIMARY_SINCE] = time_ms - rules[STANDBY_SWITCH]
    return NEVER


@jit
def turn_outage(dev, acc, lists, now, rules, log, time_ms, begins):
    """Begin or end a site outage: every sensor's accounts are touched."""
    for device in range(dev.shape[0]):
        if dev[device, GATEWAY] == 0:
            touch(acc, lists, now, device)
            may_drain(acc, lists, now, device)
    if begins:
        now[OUTAGE_SINCE] = time_ms
        now[IN_OUTAGE] = 1
        now[OUTAGES] += 1
    else:
        lasted_ms = time_ms - now[OUTAGE_SINCE]
        now[OUTAGE_MS] += lasted_ms
        if rules[COUNT_OUTAGES] == 0:
            now[PAUSED] += lasted_ms
        now[IN_OUTAGE] = 0
        write(log, now, time_ms, LOG_OUTAGE, now[OUTAGE_SINCE], 0, 0)


@jit_inline
def _parent_before(dev, now, device):
    return dev[device, PARENT_BEFORE] if dev[device, SAVED] == now[STEP] else dev[device, PARENT]


@jit
def _cost_through(dev, lnk, adj, now, device, k):
    """Cost before the step through the k-th neighbour; -1 if it offered none, or is the parent."""
    other, link = adj[k, 0], adj[k, 1]
    cost = lnk[link, LINK_BEFORE] if lnk[link, LINK_SAVED] == now[STEP] else lnk[link, LINK_COST]
    path = dev[other, COST_BEFORE] if dev[other, SAVED] == now[STEP] else dev[other, COST]
    if cost < 0 or path < 0 or dev[other, RELAY] == 0:
        return -1
    return -1 if other == _parent_before(dev, now, device) else path + cost


@jit
def _was_behind(dev, now, other, device):
    """Whether a device had its route through another one before the step."""
    while dev[other, GATEWAY] == 0:
        if other == device:
            return True
        other = _parent_before(dev, now, other)
    return False


@jit
def _rejoin_ms(dev, lnk, adj_start, adj, now, rules, device):
    """Silence of one device that has another parent than before the step."""
    if _parent_before(dev, now, device) < 0:
        return rules[REJOIN_LONG]
    parent = dev[device, PARENT]
    chosen = -1
    for k in range(adj_start[device], adj_start[device + 1]):
        if adj[k, 0] == parent:
            chosen = _cost_through(dev, lnk, adj, now, device, k)
    if chosen < 0 or _was_behind(dev, now, parent, device):
        return rules[REJOIN_LONG]
    n_better = 0
    for k in range(adj_start[device], adj_start[device + 1]):
        cost, other = _cost_through(dev, lnk, adj, now, device, k), adj[k, 0]
        is_better = cost >= 0 and (cost < chosen or (cost == chosen and other < parent))
        if is_better and not _was_behind(dev, now, other, device):
            n_better += 1
    return rules[REJOIN_SHORT] if n_better < rules[BACKUPS] else rules[REJOIN_LONG]


@jit
def silence_ms(dev, lnk, adj_start, adj, now, rules, sensor):
    """Silence of a sensor that the step detached and attached again; 0 where it had no route."""
    if dev[sensor, COST_BEFORE] < 0:
        return 0
    longest, here = 0, sensor
    while dev[here, GATEWAY] == 0:
        if dev[here, PARENT] != _parent_before(dev, now, here):
            longest = max(longest, _rejoin_ms(dev, lnk, adj_start, adj, now, rules, here))
        here = dev[here, PARENT]
    return longest
