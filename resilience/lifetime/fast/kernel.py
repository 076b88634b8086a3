"""One lifetime on plain arrays, event by event; the law is told in the reference engine."""

from resilience.lifetime.fast import books
from resilience.lifetime.fast.columns import (
    ACC_COLUMNS,
    AMOUNT,
    AWAY,
    BACK_SINCE,
    BACKUPS,
    BAT_ELEMENT,
    CELLS,
    CELLS_OF,
    CHANGED_LIST,
    CHILD,
    CLEARED,
    COST,
    COST_BEFORE,
    COUNT_OUTAGES,
    CUT_OFF_SINCE,
    CUTS,
    CYCLE,
    DARK_SINCE,
    DEEPEST,
    DEPTH,
    DETACHED,
    DOWN,
    DOWN_SINCE,
    DRAIN,
    DRAIN_SINCE,
    DRAINS_LIST,
    EARLIER,
    EFFECT,
    END_A,
    END_B,
    ENDED_LIST,
    EXTRA,
    FORWARDING,
    GATEWAY,
    HELD,
    HOLDER,
    HORIZON,
    IN_OUTAGE,
    IS_COST,
    IS_CUT,
    IS_DOWN,
    IS_LOSS,
    IS_MUTE,
    LATER,
    LATEST,
    LEAF,
    LEFT,
    LINK_BEFORE,
    LINK_COST,
    LINK_SAVED,
    LOG_END,
    LOG_OUTAGE,
    LOG_PARENT,
    LOG_STRIKE,
    LOSS,
    MENDED,
    MUTE,
    N_CELLS,
    N_CHANGED,
    N_DETACHED,
    N_DRAINS,
    N_ORPHANS,
    N_SAVED,
    N_TOUCHED,
    N_VISITS,
    NEVER,
    NEW_LIST,
    NEXT,
    NO_PRIMARY_SINCE,
    OUTAGE_MS,
    OUTAGE_SINCE,
    OUTAGES,
    PARENT,
    PARENT_BEFORE,
    PAUSED,
    PREV,
    REFORMATION,
    REJOIN_LONG,
    REJOIN_SHORT,
    RELAY,
    RENEWED,
    RENEWS,
    REPARENTINGS,
    SAVED,
    SCRIPTED,
    SEARCHING,
    SENSOR,
    SETS,
    SIZE,
    SLOT,
    SPELL_SINCE,
    STANDBY,
    STANDBY_SWITCH,
    STEP,
    STRIKES,
    STRUCK,
    STRUCK_LIST,
    TOUCHED_LIST,
    VISIT_END,
    VISITS,
)
from resilience.lifetime.fast.compiled import (
    at_risk_ms,
    away_ms,
    jit,
    jit_entry,
    quantile,
    stream,
    uniform,
    whole_ms,
)
from resilience.lifetime.fast.queues import SLOT_BITS, SLOT_MASK, schedule, scheduled_ms
from resilience.lifetime.fast.radio import path_cost
from resilience.lifetime.fast.tree import (
    child_of_link,
    forget_all,
    may_drain,
    save,
    settle_routes,
    stop_serving,
    touch,
)

# Columns of ``laws``, a row per element, and of ``charges``, a row per set of cells.
STRIKE_LAW, LAST_LAW, WEAK_SHARE, WEAK_MS, LAW_COLUMNS = 0, 3, 6, 7, 8
CHARGE, SPREAD_LAW, REPAIR_LAW, CHARGE_COLUMNS = 0, 1, 4, 7


@jit
def _law(table, row, first):
    return (int(table[row, first]), table[row, first + 1], table[row, first + 2])


@jit
def _charge(charges, cell_starts, row, n):
    """Usable charge of the n-th set of cells."""
    shape, scale, slope = _law(charges, row, SPREAD_LAW)
    drawn = quantile(shape, scale, slope, uniform(cell_starts[row], n))
    return max(1, int(charges[row, CHARGE] * drawn))


@jit
def _death_ms(bat, row):
    """First millisecond at which the charge is used up, if nothing changes."""
    if bat[row, DRAIN] == 0:
        return NEVER
    return bat[row, DRAIN_SINCE] - (-bat[row, LEFT] // bat[row, DRAIN])


@jit
def reset(dev, acc, lnk, ele, now, depths, active):
    """Bring every account and every story to its beginning."""
    for depth in range(now[DEEPEST] + 1):
        depths[depth, :] = 0
    now[:] = 0
    now[LATEST] = -1
    now[OUTAGE_SINCE] = now[BACK_SINCE] = now[NO_PRIMARY_SINCE] = -1
    for device in range(dev.shape[0]):
        dev[device, PARENT] = dev[device, COST] = dev[device, CHILD] = -1
        dev[device, NEXT] = dev[device, PREV] = -1
        dev[device, SIZE] = dev[device, SENSOR]
        dev[device, DOWN] = dev[device, MUTE] = 0
        dev[device, SAVED] = dev[device, CLEARED] = 0
        cells = acc[device, CELLS]
        for column in range(ACC_COLUMNS):
            acc[device, column] = 0
        acc[device, CELLS] = cells
        acc[device, DOWN_SINCE] = acc[device, DARK_SINCE] = acc[device, CUT_OFF_SINCE] = -1
        acc[device, DEPTH] = acc[device, SPELL_SINCE] = acc[device, HOLDER] = -1
    for link in range(lnk.shape[0]):
        lnk[link, CUTS] = lnk[link, LOSS] = lnk[link, EXTRA] = lnk[link, LINK_SAVED] = 0
    for element in range(ele.shape[0]):
        ele[element, AWAY] = ele[element, CYCLE] = ele[element, HELD] = 0
        ele[element, LATER] = ele[element, EARLIER] = ele[element, SLOT] = -1
    for slot in range(active.shape[0]):
        ele[active[slot], SLOT] = slot


@jit
def _at_risk(laws, starts, element, n):
    return at_risk_ms(
        starts[element],
        n,
        _law(laws, element, STRIKE_LAW),
        laws[element, WEAK_SHARE],
        laws[element, WEAK_MS],
    )


@jit
def _next_strike_ms(ele, laws, starts, script_start, script, element, time_ms):
    """Time of the next strike of an element that is at risk from now on."""
    n = ele[element, CYCLE]
    if ele[element, SCRIPTED]:
        place = script_start[element] + n
        return script[place, 0] if place < script_start[element + 1] else NEVER
    return time_ms + _at_risk(laws, starts, element, n)


@jit
def _refresh(dev, lnk, rad, curve, rules, lists, now, link):
    """Bring one link up to date and remember what it was."""
    cost = -1
    if (
        lnk[link, CUTS] == 0
        and dev[lnk[link, END_A], DOWN] == 0
        and dev[lnk[link, END_B], DOWN] == 0
    ):
        cost = path_cost(rad, curve, rules, link, lnk[link, LOSS])
        if cost >= 0:
            cost += lnk[link, EXTRA]
    if cost == lnk[link, LINK_COST]:
        return
    if lnk[link, LINK_SAVED] != now[STEP]:
        lnk[link, LINK_SAVED] = now[STEP]
        lnk[link, LINK_BEFORE] = lnk[link, LINK_COST]
        lists[CHANGED_LIST, now[N_CHANGED]] = link
        now[N_CHANGED] += 1
    lnk[link, LINK_COST] = cost


@jit
def _hold(dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, now, element, target, by):
    """Let an absence take hold of a target, or let it go."""
    effect = ele[element, EFFECT]
    if effect == IS_DOWN:
        was_up = dev[target, DOWN] == 0
        dev[target, DOWN] += by
        if was_up != (dev[target, DOWN] == 0):
            touch(acc, lists, now, target)
            may_drain(acc, lists, now, target)
            for k in range(adj_start[target], adj_start[target + 1]):
                _refresh(dev, lnk, rad, curve, rules, lists, now, adj[k, 1])
    elif effect == IS_MUTE:
        dev[target, MUTE] += by
        touch(acc, lists, now, target)
    else:
        if effect == IS_CUT:
            lnk[target, CUTS] += by
        elif effect == IS_LOSS:
            lnk[target, LOSS] += by * ele[element, AMOUNT]
        elif effect == IS_COST:
            lnk[target, EXTRA] += by * ele[element, AMOUNT]
        _refresh(dev, lnk, rad, curve, rules, lists, now, target)


@jit
def _visit_end_ms(acc, now, rules, laws, repair_starts, tgt, place, element, time_ms):
    """End of the visit that mends a device: the one on its way, or a new one."""
    device = tgt[place]
    if acc[device, VISIT_END] <= time_ms:
        shape, scale, slope = _law(laws, element, LAST_LAW)
        u = uniform(repair_starts[device], acc[device, VISITS])
        acc[device, VISITS] += 1
        acc[device, VISIT_END] = time_ms + whole_ms(quantile(shape, scale, slope, u))
        if acc[device, VISIT_END] < rules[HORIZON]:
            now[N_VISITS] += 1
    return acc[device, VISIT_END]


@jit
def _list_away(ele, now, element):
    """Put an element that strikes at the end of the list of what is away."""
    latest = now[LATEST]
    ele[element, EARLIER] = latest
    ele[element, LATER] = -1
    if latest >= 0:
        ele[latest, LATER] = element
    now[LATEST] = element


@jit
def _unlist_away(ele, now, element):
    earlier, later = ele[element, EARLIER], ele[element, LATER]
    if later >= 0:
        ele[later, EARLIER] = earlier
    else:
        now[LATEST] = earlier
    if earlier >= 0:
        ele[earlier, LATER] = later


@jit
def _sort(lists, row, n):
    """Sort the first n numbers of a list; they are few."""
    for i in range(1, n):
        value = lists[row, i]
        k = i
        while k > 0 and lists[row, k - 1] > value:
            lists[row, k] = lists[row, k - 1]
            k -= 1
        lists[row, k] = value


@jit
def _can_matter(dev, lnk, lists, now):
    """Whether a changed link is better than before or a branch of the tree."""
    for i in range(now[N_CHANGED]):
        link = lists[CHANGED_LIST, i]
        cost, before = lnk[link, LINK_COST], lnk[link, LINK_BEFORE]
        is_better = cost >= 0 and (before < 0 or cost < before)
        if is_better or child_of_link(dev, lnk, link) >= 0:
            return True
    return False


@jit
def _settle_gateways(dev, acc, lists, now, rules, log, time_ms):
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
            _turn_outage(dev, acc, lists, now, rules, log, time_ms, True)
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
    _turn_outage(dev, acc, lists, now, rules, log, time_ms, False)
    if now[NO_PRIMARY_SINCE] >= 0:  # once it is over, every up gateway serves
        now[NO_PRIMARY_SINCE] = time_ms - rules[STANDBY_SWITCH]
    return NEVER


@jit
def _turn_outage(dev, acc, lists, now, rules, log, time_ms, begins):
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
        books.write(log, now, time_ms, LOG_OUTAGE, now[OUTAGE_SINCE], 0, 0)


@jit
def _parent_before(dev, now, device):
    return dev[device, PARENT_BEFORE] if dev[device, SAVED] == now[STEP] else dev[device, PARENT]


@jit
def _cost_through(dev, lnk, adj, now, device, k):
    """Cost before the step through the k-th neighbour; -1 if it was not kept ready."""
    other, link = adj[k, 0], adj[k, 1]
    cost = lnk[link, LINK_BEFORE] if lnk[link, LINK_SAVED] == now[STEP] else lnk[link, LINK_COST]
    path = dev[other, COST_BEFORE] if dev[other, SAVED] == now[STEP] else dev[other, COST]
    if cost < 0 or path < 0 or dev[other, RELAY] == 0:
        return -1
    if other == _parent_before(dev, now, device):
        return -1
    here = other
    while here >= 0:
        if here == device:
            return -1
        here = _parent_before(dev, now, here) if dev[here, GATEWAY] == 0 else -1
    return path + cost


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
    if chosen < 0:
        return rules[REJOIN_LONG]
    n_better = 0
    for k in range(adj_start[device], adj_start[device + 1]):
        cost = _cost_through(dev, lnk, adj, now, device, k)
        if cost >= 0 and (cost < chosen or (cost == chosen and adj[k, 0] < parent)):
            n_better += 1
    return rules[REJOIN_SHORT] if n_better < rules[BACKUPS] else rules[REJOIN_LONG]


@jit
def _silence_ms(dev, acc, lnk, adj_start, adj, now, rules, sensor):
    """Silence of a sensor that the step detached and attached again."""
    if acc[sensor, DETACHED] != now[STEP] or dev[sensor, COST] < 0:
        return 0
    if dev[sensor, COST_BEFORE] < 0:
        return 0
    longest, here = 0, sensor
    while dev[here, GATEWAY] == 0:
        if dev[here, PARENT] != _parent_before(dev, now, here):
            longest = max(longest, _rejoin_ms(dev, lnk, adj_start, adj, now, rules, here))
        here = dev[here, PARENT]
    return longest


@jit
def _settle_batteries(
    dev, acc, lists, ele, bat, charges, cell_starts, now, rules, calendar, time_ms
):
    """Let cells go on at another drain, put in new ones, and bring deaths forward."""
    for i in range(now[N_DRAINS]):
        device = lists[DRAINS_LIST, i]
        row = acc[device, CELLS]
        drain = 0
        if dev[device, DOWN] == 0:
            if dev[device, COST] < 0:
                drain = bat[row, SEARCHING]
            else:
                behind = dev[device, SIZE] - dev[device, SENSOR]
                drain = bat[row, LEAF] + bat[row, FORWARDING] * behind
        bat[row, LEFT] -= bat[row, DRAIN] * (time_ms - bat[row, DRAIN_SINCE])
        bat[row, DRAIN_SINCE] = time_ms
        bat[row, DRAIN] = drain
        if acc[device, RENEWED] == now[STEP]:
            bat[row, LEFT] = _charge(charges, cell_starts, row, bat[row, SETS])
            bat[row, SETS] += 1
            now[N_CELLS] += 1
        element = bat[row, BAT_ELEMENT]
        if ele[element, AWAY] == 0:
            death_ms = _death_ms(bat, row)
            slot = ele[element, SLOT]
            if death_ms < scheduled_ms(calendar, slot):
                schedule(calendar, slot, death_ms, rules[HORIZON])


@jit_entry
def play(
    seed,
    lifetime,
    rules,
    element_keys,
    repair_keys,
    cell_keys,
    starts,
    repair_starts,
    cell_starts,
    laws,
    charges,
    active,
    tgt_start,
    tgt,
    script_start,
    script,
    adj_start,
    adj,
    dev,
    acc,
    lnk,
    rad,
    curve,
    ele,
    bat,
    lists,
    now,
    at_mean,
    above_since,
    longest_ms,
    count_ms,
    calendar,
    heap,
    depths,
    spells,
    log,
):
    """Play one lifetime in place."""
    horizon = rules[HORIZON]
    n_active = active.shape[0]
    reset(dev, acc, lnk, ele, now, depths, active)
    longest_ms[:] = 0
    count_ms[:] = 0
    calendar[:] = NEVER
    for link in range(lnk.shape[0]):
        lnk[link, LINK_COST] = path_cost(rad, curve, rules, link, 0)
    for device in range(dev.shape[0]):
        repair_starts[device] = stream(seed, lifetime, repair_keys[device])
    for row in range(bat.shape[0]):
        cell_starts[row] = stream(seed, lifetime, cell_keys[row])
        bat[row, LEFT] = _charge(charges, cell_starts, row, 0)
        bat[row, SETS] = 1
        bat[row, DRAIN] = bat[row, DRAIN_SINCE] = 0
    for slot in range(n_active):
        element = active[slot]
        starts[element] = stream(seed, lifetime, element_keys[element])
        if ele[element, CELLS_OF] < 0:
            first_ms = _next_strike_ms(ele, laws, starts, script_start, script, element, 0)
            schedule(calendar, slot, first_ms, horizon)
    schedule(calendar, n_active, 0, horizon)
    while calendar[1] < NEVER:
        time_ms = calendar[1] >> SLOT_BITS
        n_struck, n_ended, is_due = 0, 0, False
        while calendar[1] >> SLOT_BITS == time_ms:
            slot = calendar[1] & SLOT_MASK
            schedule(calendar, slot, NEVER, horizon)
            if slot == n_active:
                is_due = True
                continue
            element = active[slot]
            if ele[element, AWAY]:
                lists[ENDED_LIST, n_ended] = element
                n_ended += 1
            else:
                row = ele[element, CELLS_OF]
                if row >= 0 and _death_ms(bat, row) > time_ms:  # the end has moved away
                    schedule(calendar, slot, _death_ms(bat, row), horizon)
                    continue
                lists[STRUCK_LIST, n_struck] = element
                n_struck += 1
        if n_struck + n_ended == 0 and not is_due:
            continue
        is_first = now[STEP] == 0
        now[STEP] += 1
        now[N_TOUCHED] = now[N_SAVED] = now[N_CHANGED] = now[N_DETACHED] = 0
        now[N_DRAINS] = 0
        if n_struck + n_ended > 1:
            _sort(lists, STRUCK_LIST, n_struck)
            _sort(lists, ENDED_LIST, n_ended)
        has_gateway_turned = is_due
        for i in range(n_struck):
            element = lists[STRUCK_LIST, i]
            ele[element, AWAY] = 1
            ele[element, STRUCK] = time_ms
            ele[element, STRIKES] += 1
            _list_away(ele, now, element)
            books.write(log, now, time_ms, LOG_STRIKE, element, 0, 0)
            for k in range(tgt_start[element], tgt_start[element + 1]):
                target = tgt[k]
                if ele[element, EFFECT] == IS_DOWN and dev[target, GATEWAY]:
                    has_gateway_turned = True
                _hold(
                    dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, now, element,
                    target, 1,
                )  # fmt: skip
            n = ele[element, CYCLE]
            if ele[element, SCRIPTED]:
                end_ms = script[script_start[element] + n, 1]
            elif ele[element, MENDED]:
                end_ms = _visit_end_ms(
                    acc, now, rules, laws, repair_starts, tgt, tgt_start[element], element, time_ms
                )
            else:
                end_ms = time_ms + away_ms(starts[element], n, _law(laws, element, LAST_LAW))
            schedule(calendar, ele[element, SLOT], end_ms, horizon)
        must_judge = False
        for i in range(n_ended):
            element = lists[ENDED_LIST, i]
            ele[element, AWAY] = 0
            ele[element, CYCLE] += 1
            must_judge |= ele[element, HELD] > 0
            _unlist_away(ele, now, element)
            books.write(log, now, time_ms, LOG_END, element, ele[element, STRUCK], 0)
            for k in range(tgt_start[element], tgt_start[element + 1]):
                target = tgt[k]
                if ele[element, EFFECT] == IS_DOWN and dev[target, GATEWAY]:
                    has_gateway_turned = True
                _hold(
                    dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, now, element,
                    target, -1,
                )  # fmt: skip
                if ele[element, RENEWS]:
                    acc[target, RENEWED] = now[STEP]
                    may_drain(acc, lists, now, target)
            if ele[element, CELLS_OF] < 0:
                next_ms = _next_strike_ms(ele, laws, starts, script_start, script, element, time_ms)
                schedule(calendar, ele[element, SLOT], next_ms, horizon)
        n_new = 0
        was_in_outage = now[IN_OUTAGE]
        if has_gateway_turned:
            look_again_ms, n_new = _settle_gateways(dev, acc, lists, now, rules, log, time_ms)
            schedule(calendar, n_active, look_again_ms, horizon)
        if not now[IN_OUTAGE] and (
            now[N_DETACHED] + n_new > 0 or _can_matter(dev, lnk, lists, now)
        ):
            settle_routes(dev, acc, lnk, adj_start, adj, lists, now, rules, heap, n_new)
        if is_first:
            for device in range(dev.shape[0]):
                touch(acc, lists, now, device)
                may_drain(acc, lists, now, device)
        n_before = now[N_ORPHANS]
        for i in range(now[N_TOUCHED]):
            device = lists[TOUCHED_LIST, i]
            if dev[device, GATEWAY] == 0 and dev[device, SAVED] == now[STEP]:
                old, new = dev[device, PARENT_BEFORE], dev[device, PARENT]
                if old != new:
                    books.write(log, now, time_ms, LOG_PARENT, device, old, new)
                    if old >= 0 and new >= 0:
                        acc[device, REPARENTINGS] += 1
            if dev[device, SENSOR]:
                silence_ms = _silence_ms(dev, acc, lnk, adj_start, adj, now, rules, device)
                books.settle_sensor(
                    dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt,
                    now, at_mean, depths, spells, device, time_ms, silence_ms,
                )  # fmt: skip
        if now[N_ORPHANS] != n_before:
            books.settle_count(now, rules, above_since, longest_ms, count_ms, n_before, time_ms)
        has_outage_ended = was_in_outage == 1 and now[IN_OUTAGE] == 0
        if not now[IN_OUTAGE] and (must_judge or has_outage_ended):
            books.judge_again(
                dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt,
                now, at_mean, time_ms,
            )  # fmt: skip
        if now[N_DRAINS] > 0:
            _settle_batteries(
                dev, acc, lists, ele, bat, charges, cell_starts, now, rules, calendar, time_ms
            )
    books.close(dev, acc, ele, now, rules, depths, spells, above_since, longest_ms, count_ms)
    if now[IN_OUTAGE]:
        _turn_outage(dev, acc, lists, now, rules, log, horizon, False)
