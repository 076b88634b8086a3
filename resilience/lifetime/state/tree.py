"""The routing tree, repaired only where a step touched it; the law is told in the reference."""

from resilience.lifetime.state.columns import (
    CELLS,
    CHANGED_LIST,
    CHILD,
    CLEARED,
    COST,
    COST_BEFORE,
    DETACHED,
    DETACHED_LIST,
    DOWN,
    DRAINS,
    DRAINS_LIST,
    END_A,
    END_B,
    GATEWAY,
    HYSTERESIS,
    LINK_BEFORE,
    LINK_COST,
    N_CHANGED,
    N_DETACHED,
    N_DRAINS,
    N_QUEUED,
    N_SAVED,
    N_TOUCHED,
    NEW_LIST,
    NEXT,
    PARENT,
    PARENT_BEFORE,
    PREV,
    RELAY,
    SAVED,
    SAVED_LIST,
    SENSOR,
    SHIFTED_LIST,
    SIZE,
    STACK,
    STEP,
    TOUCHED,
    TOUCHED_LIST,
)
from resilience.lifetime.state.compiled import (
    jit,
    jit_inline,
)
from resilience.lifetime.state.queues import (
    pop,
    push,
)

ID_MASK = (1 << 16) - 1


@jit_inline
def touch(acc, lists, now, device):
    """Remember that the accounts of a device have to be settled in this step."""
    if acc[device, TOUCHED] != now[STEP]:
        acc[device, TOUCHED] = now[STEP]
        lists[TOUCHED_LIST, now[N_TOUCHED]] = device
        now[N_TOUCHED] += 1


@jit_inline
def save(dev, lists, now, device):
    """Remember parent and cost from before the step, before the first of them changes."""
    if dev[device, SAVED] != now[STEP]:
        dev[device, SAVED] = now[STEP]
        dev[device, PARENT_BEFORE] = dev[device, PARENT]
        dev[device, COST_BEFORE] = dev[device, COST]
        lists[SAVED_LIST, now[N_SAVED]] = device
        now[N_SAVED] += 1


@jit_inline
def may_drain(acc, lists, now, device):
    """Remember that a device's drain may have changed in this step."""
    if acc[device, CELLS] >= 0 and acc[device, DRAINS] != now[STEP]:
        acc[device, DRAINS] = now[STEP]
        lists[DRAINS_LIST, now[N_DRAINS]] = device
        now[N_DRAINS] += 1


@jit
def _resize(dev, acc, lists, now, device, by):
    """Add to the subtree sizes from a device up."""
    while device >= 0:
        dev[device, SIZE] += by
        may_drain(acc, lists, now, device)
        device = dev[device, PARENT]


@jit
def _hang(dev, acc, lists, now, device, parent):
    """Put a device under a parent."""
    dev[device, PARENT] = parent
    dev[device, PREV] = -1
    first = dev[parent, CHILD]
    dev[device, NEXT] = first
    if first >= 0:
        dev[first, PREV] = device
    dev[parent, CHILD] = device
    _resize(dev, acc, lists, now, parent, dev[device, SIZE])


@jit
def _unhang(dev, acc, lists, now, device):
    """Take a device from under its parent."""
    parent = dev[device, PARENT]
    if parent < 0:
        return
    before, after = dev[device, PREV], dev[device, NEXT]
    if before >= 0:
        dev[before, NEXT] = after
    else:
        dev[parent, CHILD] = after
    if after >= 0:
        dev[after, PREV] = before
    dev[device, PARENT] = -1
    _resize(dev, acc, lists, now, parent, -dev[device, SIZE])


@jit
def _clear(dev, acc, lists, now, device):
    """Forget the parent of one device whose subtree is being taken apart."""
    save(dev, lists, now, device)
    touch(acc, lists, now, device)
    may_drain(acc, lists, now, device)
    dev[device, CLEARED] = now[STEP]
    dev[device, PARENT] = dev[device, CHILD] = dev[device, NEXT] = dev[device, PREV] = -1
    dev[device, COST] = -1
    dev[device, SIZE] = dev[device, SENSOR]


@jit
def forget_all(dev, acc, lists, now):
    """Forget every parent: the site is cut off."""
    for device in range(dev.shape[0]):
        if dev[device, GATEWAY] == 0 and dev[device, COST] >= 0:
            _clear(dev, acc, lists, now, device)
        elif dev[device, GATEWAY]:
            save(dev, lists, now, device)
            dev[device, COST] = dev[device, CHILD] = -1
            dev[device, SIZE] = 0


@jit
def _detach(acc, lists, now, device):
    """Count an up device without an intact path among the detached of this step."""
    if acc[device, DETACHED] != now[STEP]:
        acc[device, DETACHED] = now[STEP]
        lists[DETACHED_LIST, now[N_DETACHED]] = device
        now[N_DETACHED] += 1


@jit
def _detach_subtree(dev, acc, lists, now, root):
    """Forget the parents of a device and of all that hang on it."""
    if dev[root, CLEARED] == now[STEP]:
        return
    _unhang_saved(dev, acc, lists, now, root)
    lists[STACK, 0] = root
    n = 1
    while n > 0:
        n -= 1
        device = lists[STACK, n]
        child = dev[device, CHILD]
        while child >= 0:
            lists[STACK, n] = child
            n += 1
            child = dev[child, NEXT]
        _clear(dev, acc, lists, now, device)
        if dev[device, DOWN] == 0:
            _detach(acc, lists, now, device)


@jit
def _unhang_saved(dev, acc, lists, now, device):
    save(dev, lists, now, device)
    _unhang(dev, acc, lists, now, device)


@jit
def stop_serving(dev, acc, lists, now, gateway):
    """Detach everything that hangs on a gateway that serves no longer."""
    while dev[gateway, CHILD] >= 0:
        _detach_subtree(dev, acc, lists, now, dev[gateway, CHILD])
    save(dev, lists, now, gateway)
    dev[gateway, COST] = -1


@jit
def _shift(dev, lists, now, root, by):
    """Let the costs of a subtree follow; list its devices and return how many they are."""
    lists[STACK, 0] = lists[SHIFTED_LIST, 0] = root
    n, n_listed = 1, 1
    while n > 0:
        n -= 1
        device = lists[STACK, n]
        save(dev, lists, now, device)
        dev[device, COST] += by
        child = dev[device, CHILD]
        while child >= 0:
            lists[STACK, n] = lists[SHIFTED_LIST, n_listed] = child
            n += 1
            n_listed += 1
            child = dev[child, NEXT]
    return n_listed


@jit_inline
def child_of_link(dev, lnk, link):
    """The end of a link whose parent is the other end; -1 if it is no branch of the tree."""
    a, b = lnk[link, END_A], lnk[link, END_B]
    if dev[a, PARENT] == b:
        return a
    return b if dev[b, PARENT] == a else -1


@jit_inline
def _wants(dev, device):
    """Whether a device looks for a parent."""
    return dev[device, COST] < 0 and dev[device, DOWN] == 0 and dev[device, GATEWAY] == 0


@jit_inline
def _offers(dev, device):
    """Whether a device can be a parent."""
    return dev[device, COST] >= 0 and dev[device, RELAY] == 1


@jit
def _ask_all(dev, lnk, adj_start, adj, heap, now, device):
    """Queue a detached device for the best of its neighbours that have a route."""
    least, best = -1, -1
    for k in range(adj_start[device], adj_start[device + 1]):
        parent = adj[k, 0]
        if _offers(dev, parent):
            cost = lnk[adj[k, 1], LINK_COST]
            through = dev[parent, COST] + cost
            if cost >= 0 and (best < 0 or through < least):  # neighbours stand in order of id
                least, best = through, parent
    if best >= 0:
        push(heap, now, least, device, best)


@jit
def _offer_all(dev, lnk, adj_start, adj, heap, now, parent):
    """Queue every detached neighbour for a device that has just got a route."""
    for k in range(adj_start[parent], adj_start[parent + 1]):
        device = adj[k, 0]
        if _wants(dev, device):
            cost = lnk[adj[k, 1], LINK_COST]
            if cost >= 0:
                push(heap, now, dev[parent, COST] + cost, device, parent)


@jit_inline
def _consider(dev, heap, now, rules, device, parent, link_cost):
    """Queue a move if its gain is greater than the hysteresis."""
    if dev[device, GATEWAY] or dev[device, COST] < 0 or not _offers(dev, parent):
        return
    new_cost = dev[parent, COST] + link_cost
    if dev[device, COST] - new_cost > rules[HYSTERESIS]:
        push(heap, now, new_cost, device, parent)


@jit
def _invite_neighbours(dev, lnk, adj_start, adj, heap, now, rules, parent):
    """Queue the moves of neighbours to a device that has become cheaper."""
    enough = dev[parent, COST] + rules[HYSTERESIS]
    for k in range(adj_start[parent], adj_start[parent + 1]):
        if dev[adj[k, 0], COST] > enough:
            cost = lnk[adj[k, 1], LINK_COST]
            if cost >= 0:
                _consider(dev, heap, now, rules, adj[k, 0], parent, cost)


@jit
def _look_round(dev, lnk, adj_start, adj, heap, now, rules, device):
    """Queue the best move of a device that costs more than before."""
    least, best = dev[device, COST] - rules[HYSTERESIS], -1
    for k in range(adj_start[device], adj_start[device + 1]):
        parent = adj[k, 0]
        if _offers(dev, parent):
            cost = lnk[adj[k, 1], LINK_COST]
            if cost >= 0 and dev[parent, COST] + cost < least:
                least, best = dev[parent, COST] + cost, parent
    if best >= 0 and not dev[device, GATEWAY]:
        push(heap, now, least, device, best)


@jit
def _link_cost_between(lnk, adj_start, adj, device, other):
    for k in range(adj_start[device], adj_start[device + 1]):
        if adj[k, 0] == other:
            return lnk[adj[k, 1], LINK_COST]
    return -1


@jit_inline
def settle_routes(dev, acc, lnk, adj_start, adj, lists, now, rules, heap, n_new):
    """Settle the routes of a step whose links, devices and gateways have changed.

    ``lists[NEW_LIST, :n_new]`` holds gateways that serve from this step on.
    """
    n_changed = now[N_CHANGED]
    for i in range(n_changed):
        link = lists[CHANGED_LIST, i]
        if lnk[link, LINK_COST] < 0:
            child = child_of_link(dev, lnk, link)
            if child >= 0:
                _detach_subtree(dev, acc, lists, now, child)
    for i in range(n_changed):
        link = lists[CHANGED_LIST, i]
        if lnk[link, LINK_COST] >= 0 and lnk[link, LINK_BEFORE] >= 0:
            child = child_of_link(dev, lnk, link)
            if child >= 0:
                by = lnk[link, LINK_COST] - lnk[link, LINK_BEFORE]
                _shift(dev, lists, now, child, by)
    n_saved = now[N_SAVED]
    now[N_QUEUED] = 0
    _queue_losses(dev, lnk, adj_start, adj, lists, now, heap, n_new)
    while now[N_QUEUED] > 0:
        key = pop(heap, now)
        device, parent = (key >> 16) & ID_MASK, key & ID_MASK
        if dev[device, COST] >= 0:
            continue
        save(dev, lists, now, device)
        touch(acc, lists, now, device)
        may_drain(acc, lists, now, device)
        dev[device, COST] = key >> 32
        _hang(dev, acc, lists, now, device, parent)
        lists[NEW_LIST, n_new] = device
        n_new += 1
        if dev[device, RELAY]:
            _offer_all(dev, lnk, adj_start, adj, heap, now, device)
    for i in range(n_changed):
        link = lists[CHANGED_LIST, i]
        cost = lnk[link, LINK_COST]
        if cost >= 0:
            _consider(dev, heap, now, rules, lnk[link, END_A], lnk[link, END_B], cost)
            _consider(dev, heap, now, rules, lnk[link, END_B], lnk[link, END_A], cost)
    for i in range(n_saved):
        device = lists[SAVED_LIST, i]
        cost, before = dev[device, COST], dev[device, COST_BEFORE]
        if dev[device, CLEARED] == now[STEP]:
            continue
        if cost < before:
            _invite_neighbours(dev, lnk, adj_start, adj, heap, now, rules, device)
        elif cost > before:
            _look_round(dev, lnk, adj_start, adj, heap, now, rules, device)
    for i in range(n_new):
        device = lists[NEW_LIST, i]
        # Who costs no less than before the step invites nobody who was not better off elsewhere.
        if dev[device, COST_BEFORE] < 0 or dev[device, COST] < dev[device, COST_BEFORE]:
            _invite_neighbours(dev, lnk, adj_start, adj, heap, now, rules, device)
    _move_all(dev, acc, lnk, adj_start, adj, lists, now, rules, heap)


@jit_inline
def _queue_losses(dev, lnk, adj_start, adj, lists, now, heap, n_new):
    """Queue every way in which a device without a route could attach now."""
    for i in range(now[N_DETACHED]):
        _ask_all(dev, lnk, adj_start, adj, heap, now, lists[DETACHED_LIST, i])
    for i in range(now[N_CHANGED]):
        link = lists[CHANGED_LIST, i]
        a, b, cost = lnk[link, END_A], lnk[link, END_B], lnk[link, LINK_COST]
        if cost >= 0:
            if _wants(dev, a) and _offers(dev, b):
                push(heap, now, dev[b, COST] + cost, a, b)
            if _wants(dev, b) and _offers(dev, a):
                push(heap, now, dev[a, COST] + cost, b, a)
    for i in range(n_new):
        _offer_all(dev, lnk, adj_start, adj, heap, now, lists[NEW_LIST, i])


@jit_inline
def _move_all(dev, acc, lnk, adj_start, adj, lists, now, rules, heap):
    """Move, again and again, the device with the least (new cost, id, parent id)."""
    while now[N_QUEUED] > 0:
        key = pop(heap, now)
        new_cost, device, parent = key >> 32, (key >> 16) & ID_MASK, key & ID_MASK
        gain = dev[device, COST] - new_cost
        if gain <= rules[HYSTERESIS]:
            continue
        if dev[parent, COST] + _link_cost_between(lnk, adj_start, adj, device, parent) != new_cost:
            continue  # the parent has become cheaper since; a newer entry says so
        _unhang_saved(dev, acc, lists, now, device)
        _hang(dev, acc, lists, now, device, parent)
        n_moved = _shift(dev, lists, now, device, -gain)
        for i in range(n_moved):
            touch(acc, lists, now, lists[SHIFTED_LIST, i])
            _invite_neighbours(dev, lnk, adj_start, adj, heap, now, rules, lists[SHIFTED_LIST, i])
