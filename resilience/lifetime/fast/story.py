"""One lifetime on plain arrays, event by event; the law is told in the reference engine."""

from resilience.lifetime.fast.books import (
    close,
    judge_all,
    judge_held,
    settle_count,
    settle_sensor,
    write,
)
from resilience.lifetime.fast.service import (
    settle_gateways,
    silence_ms,
    turn_outage,
)
from resilience.lifetime.state.cells import (
    LAST_LAW,
    STRIKE_LAW,
    WEAK_MS,
    WEAK_SHARE,
    charge,
    death_ms,
    law,
    settle_batteries,
    visit_end_ms,
)
from resilience.lifetime.state.columns import (
    ACC_COLUMNS,
    AWAY,
    BACK_SINCE,
    CALM_COST,
    CELLS,
    CELLS_OF,
    CHANGED_LIST,
    CHILD,
    CLEARED,
    COST,
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
    EARLIER,
    EFFECT,
    ENDED_LIST,
    EXTRA,
    FIRST_ISLAND,
    GATEWAY,
    HELD,
    HOLDER,
    HORIZON,
    IN_OUTAGE,
    IS_DOWN,
    LATER,
    LATEST,
    LEFT,
    LINK_BEFORE,
    LINK_COST,
    LINK_SAVED,
    LOG_END,
    LOG_PARENT,
    LOG_STRIKE,
    LOSS,
    MENDED,
    MUTE,
    N_CHANGED,
    N_DETACHED,
    N_DRAINS,
    N_ISLANDS,
    N_ORPHANS,
    N_SAVED,
    N_TOUCHED,
    NEVER,
    NEXT,
    NO_PRIMARY_SINCE,
    OTHER_LOSS,
    OUTAGE_SINCE,
    PARENT,
    PARENT_BEFORE,
    PREV,
    RENEWED,
    RENEWS,
    REPARENTINGS,
    SAVED,
    SCRIPTED,
    SENSOR,
    SETS,
    SIZE,
    SLOT,
    SPELL_SINCE,
    STEP,
    STRIKES,
    STRUCK,
    STRUCK_LIST,
    TOUCHED_LIST,
)
from resilience.lifetime.state.compiled import (
    at_risk_ms,
    away_ms,
    jit,
    jit_entry,
    jit_inline,
    stream,
)
from resilience.lifetime.state.holds import (
    hold,
    list_away,
    unlist_away,
)
from resilience.lifetime.state.queues import (
    SLOT_BITS,
    SLOT_MASK,
    schedule,
)
from resilience.lifetime.state.tree import (
    child_of_link,
    may_drain,
    settle_routes,
    touch,
)


@jit
def reset(dev, acc, lnk, ele, now, depths, active, n_active):
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
        ele[element, AWAY] = ele[element, CYCLE] = ele[element, STRIKES] = 0
        ele[element, LATER] = ele[element, EARLIER] = ele[element, SLOT] = -1
        ele[element, HELD] = -1
    for slot in range(n_active):
        ele[active[slot], SLOT] = slot


@jit
def _at_risk(laws, starts, element, n):
    return at_risk_ms(
        starts[element],
        n,
        law(laws, element, STRIKE_LAW),
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
def _sort(lists, row, n):
    """Sort the first n numbers of a list; they are few."""
    for i in range(1, n):
        value = lists[row, i]
        k = i
        while k > 0 and lists[row, k - 1] > value:
            lists[row, k] = lists[row, k - 1]
            k -= 1
        lists[row, k] = value


@jit_inline
def _can_matter(dev, lnk, lists, now):
    """Whether a changed link is better than before or a branch of the tree."""
    for i in range(now[N_CHANGED]):
        link = lists[CHANGED_LIST, i]
        cost, before = lnk[link, LINK_COST], lnk[link, LINK_BEFORE]
        is_better = cost >= 0 and (before < 0 or cost < before)
        if is_better or child_of_link(dev, lnk, link) >= 0:
            return True
    return False


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
    n_active,
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
    reset(dev, acc, lnk, ele, now, depths, active, n_active)
    longest_ms[:] = 0
    count_ms[:] = 0
    calendar[:] = NEVER
    for link in range(lnk.shape[0]):
        lnk[link, LINK_COST] = lnk[link, CALM_COST]
        lnk[link, OTHER_LOSS] = -1
    for device in range(dev.shape[0]):
        repair_starts[device] = stream(seed, lifetime, repair_keys[device])
    for row in range(bat.shape[0]):
        cell_starts[row] = stream(seed, lifetime, cell_keys[row])
        bat[row, LEFT] = charge(charges, cell_starts, row, 0)
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
            if slot == n_active:
                is_due = True
                schedule(calendar, slot, NEVER, horizon)
                continue
            element = active[slot]
            next_ms = NEVER
            if ele[element, AWAY]:
                lists[ENDED_LIST, n_ended] = element
                n_ended += 1
                ele[element, CYCLE] += 1
                if ele[element, CELLS_OF] < 0:
                    next_ms = _next_strike_ms(
                        ele, laws, starts, script_start, script, element, time_ms
                    )
            else:
                row = ele[element, CELLS_OF]
                if row >= 0 and death_ms(bat, row) > time_ms:  # the end has moved away
                    schedule(calendar, slot, death_ms(bat, row), horizon)
                    continue
                lists[STRUCK_LIST, n_struck] = element
                n_struck += 1
                if ele[element, SCRIPTED]:
                    next_ms = script[script_start[element] + ele[element, CYCLE], 1]
                elif ele[element, MENDED] == 0:
                    lasts = law(laws, element, LAST_LAW)
                    next_ms = time_ms + away_ms(starts[element], ele[element, CYCLE], lasts)
            schedule(calendar, slot, next_ms, horizon)
        if n_struck + n_ended == 0 and not is_due:
            continue
        is_first = now[STEP] == 0
        now[STEP] += 1
        now[N_TOUCHED] = now[N_SAVED] = now[N_CHANGED] = now[N_DETACHED] = 0
        now[N_DRAINS] = 0
        now[FIRST_ISLAND] = now[N_ISLANDS]
        if n_struck + n_ended > 1:
            _sort(lists, STRUCK_LIST, n_struck)
            _sort(lists, ENDED_LIST, n_ended)
        has_gateway_turned = is_due
        for i in range(n_struck):
            element = lists[STRUCK_LIST, i]
            ele[element, AWAY] = 1
            ele[element, STRUCK] = time_ms
            ele[element, STRIKES] += 1
            list_away(ele, now, element)
            write(log, now, time_ms, LOG_STRIKE, element, 0, 0)
            for k in range(tgt_start[element], tgt_start[element + 1]):
                target = tgt[k]
                if ele[element, EFFECT] == IS_DOWN and dev[target, GATEWAY]:
                    has_gateway_turned = True
                hold(
                    dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, now, element,
                    target,
                )  # fmt: skip
            if ele[element, MENDED]:
                end_ms = visit_end_ms(
                    acc, now, rules, laws, repair_starts, tgt, tgt_start[element], element, time_ms
                )
                schedule(calendar, ele[element, SLOT], end_ms, horizon)
        for i in range(n_ended):
            element = lists[ENDED_LIST, i]
            ele[element, AWAY] = 0
            unlist_away(ele, now, element)
            write(log, now, time_ms, LOG_END, element, ele[element, STRUCK], 0)
            for k in range(tgt_start[element], tgt_start[element + 1]):
                target = tgt[k]
                if ele[element, EFFECT] == IS_DOWN and dev[target, GATEWAY]:
                    has_gateway_turned = True
                hold(
                    dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, now, element,
                    target,
                )  # fmt: skip
                if ele[element, RENEWS]:
                    acc[target, RENEWED] = now[STEP]
                    may_drain(acc, lists, now, target)
        n_new = 0
        was_in_outage = now[IN_OUTAGE]
        if has_gateway_turned:
            look_again_ms, n_new = settle_gateways(dev, acc, lists, now, rules, log, time_ms)
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
                    write(log, now, time_ms, LOG_PARENT, device, old, new)
                    if old >= 0 and new >= 0:
                        acc[device, REPARENTINGS] += 1
            if dev[device, SENSOR]:
                silent_ms = 0
                if acc[device, DETACHED] == now[STEP] and dev[device, COST] >= 0:
                    silent_ms = silence_ms(dev, lnk, adj_start, adj, now, rules, device)
                settle_sensor(
                    dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt,
                    now, at_mean, depths, spells, device, time_ms, silent_ms,
                )  # fmt: skip
        if now[N_ORPHANS] != n_before:
            settle_count(now, rules, above_since, longest_ms, count_ms, n_before, time_ms)
        has_outage_ended = was_in_outage == 1 and now[IN_OUTAGE] == 0
        if has_outage_ended:
            judge_all(
                acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now,
                at_mean, time_ms,
            )  # fmt: skip
        if not now[IN_OUTAGE]:
            for i in range(n_ended):
                if ele[lists[ENDED_LIST, i], HELD] >= 0:
                    judge_held(
                        acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt,
                        now, at_mean, lists[ENDED_LIST, i], time_ms,
                    )  # fmt: skip
        if now[N_DRAINS] > 0:
            settle_batteries(
                dev, acc, lists, ele, bat, charges, cell_starts, now, rules, calendar, time_ms
            )
    close(dev, acc, ele, now, rules, depths, spells, above_since, longest_ms, count_ms)
    if now[IN_OUTAGE]:
        turn_outage(dev, acc, lists, now, rules, log, horizon, False)
