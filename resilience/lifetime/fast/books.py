"""What a lifetime leaves, updated where a step touched it; the law is told in the reference."""

from resilience.lifetime.fast.blame import (
    judge,
    let_go,
)
from resilience.lifetime.state.columns import (
    AWAY,
    BEGAN,
    BLAME_MS,
    COST,
    COUNT_OUTAGES,
    COUNT_SINCE,
    CUT_OFF_MS,
    CUT_OFF_SINCE,
    DARK_MS,
    DARK_SINCE,
    DEEPEST,
    DEPTH,
    DEPTH_SINCE,
    DOWN,
    DOWN_MS,
    DOWN_SINCE,
    GATEWAY,
    HAD_ROUTE,
    HELD,
    HOLDER,
    HOLDER_SINCE,
    HOLDER_STRUCK,
    IN_OUTAGE,
    INTERRUPTED_MS,
    LAYOUT,
    LAYOUT_BEGAN,
    LAYOUT_MS,
    LOGGED,
    MUTE,
    N_ORPHANS,
    N_SPELLS,
    NOT_REACHED_MS,
    ORPHAN_MS,
    OUTAGE_SINCE,
    PARENT,
    PAUSED,
    RADIO_DRAW,
    RADIO_DRAW_BEGAN,
    RADIO_DRAW_MS,
    REJOIN_LONG,
    SENSOR,
    SILENT_SINCE,
    SILENT_UNTIL,
    SPELL_END,
    SPELL_IS_CUT,
    SPELL_ORPHAN_MS,
    SPELL_PROMISE,
    SPELL_SENSOR,
    SPELL_SINCE,
    SPELL_START,
    STRUCK,
)
from resilience.lifetime.state.compiled import (
    jit,
    jit_inline,
)


@jit_inline
def write(log, now, time_ms, code, a, b, c):
    """Write a line of the log, where one is kept; only count it once the log is full."""
    if log.shape[0] > 0:
        line = now[LOGGED]
        if line < log.shape[0]:
            log[line, 0] = time_ms
            log[line, 1] = code
            log[line, 2] = a
            log[line, 3] = b
            log[line, 4] = c
        now[LOGGED] = line + 1


@jit_inline
def is_paused(now, rules):
    """Whether an uncounted site outage is on."""
    return now[IN_OUTAGE] == 1 and rules[COUNT_OUTAGES] == 0


@jit_inline
def promise(now, rules, time_ms):
    """Wall time less the uncounted site outages so far."""
    if is_paused(now, rules):
        return now[OUTAGE_SINCE] - now[PAUSED]
    return time_ms - now[PAUSED]


@jit_inline
def hop_depth(dev, device):
    """Hops to the gateway; -1 without a route."""
    if dev[device, COST] < 0:
        return -1
    hops = 0
    while dev[device, GATEWAY] == 0:
        hops += 1
        device = dev[device, PARENT]
    return hops


@jit_inline
def _turned(acc, sensor, since, total, is_on, time_ms):
    """Turn a condition on or off and add what it lasted."""
    if is_on:
        if acc[sensor, since] < 0:
            acc[sensor, since] = time_ms
    elif acc[sensor, since] >= 0:
        acc[sensor, total] += time_ms - acc[sensor, since]
        acc[sensor, since] = -1


@jit_inline
def settle_depth(acc, now, depths, sensor, depth, time_ms):
    """Go on at another hop depth."""
    before = acc[sensor, DEPTH]
    if depth == before:
        return
    if before >= 0:
        lasted = time_ms - acc[sensor, DEPTH_SINCE]
        depths[before, sensor] += lasted
        if lasted > 0 and before > now[DEEPEST]:
            now[DEEPEST] = before
    acc[sensor, DEPTH] = depth
    acc[sensor, DEPTH_SINCE] = time_ms


@jit_inline
def cut_silence(acc, now, rules, sensor, time_ms):
    """End an interruption here, if one is on."""
    end = min(acc[sensor, SILENT_UNTIL], promise(now, rules, time_ms))
    acc[sensor, INTERRUPTED_MS] += end - acc[sensor, SILENT_SINCE]
    acc[sensor, SILENT_SINCE] = acc[sensor, SILENT_UNTIL] = end


@jit
def _interrupt(acc, now, rules, sensor, time_ms, duration_ms):
    here = promise(now, rules, time_ms)
    if acc[sensor, SILENT_UNTIL] <= here:
        cut_silence(acc, now, rules, sensor, time_ms)
        acc[sensor, SILENT_SINCE] = acc[sensor, SILENT_UNTIL] = here
    acc[sensor, SILENT_UNTIL] = max(acc[sensor, SILENT_UNTIL], here + duration_ms)


@jit
def _close_holder(acc, ele, now, rules, sensor, time_ms):
    """Put the time so far down to the present holder of a spell."""
    here = promise(now, rules, time_ms)
    held_ms = here - acc[sensor, HOLDER_SINCE]
    holder = acc[sensor, HOLDER]
    if holder >= 0:
        ele[holder, BLAME_MS] += held_ms
        let_go(acc, ele, sensor)
    elif holder == LAYOUT:
        now[LAYOUT_MS] += held_ms
    elif holder == RADIO_DRAW:
        now[RADIO_DRAW_MS] += held_ms
    acc[sensor, HOLDER_SINCE] = here
    acc[sensor, HOLDER] = -1


@jit
def _begin_spell(
    acc,
    lnk,
    rad,
    curve,
    rules,
    adj_start,
    adj,
    lists,
    ele,
    tgt_start,
    tgt,
    now,
    at_mean,
    sensor,
    time_ms,
):
    cut_silence(acc, now, rules, sensor, time_ms)
    acc[sensor, SPELL_SINCE] = time_ms
    acc[sensor, SPELL_PROMISE] = acc[sensor, HOLDER_SINCE] = promise(now, rules, time_ms)
    judge(
        acc,
        lnk,
        rad,
        curve,
        rules,
        adj_start,
        adj,
        lists,
        ele,
        tgt_start,
        tgt,
        now,
        at_mean,
        sensor,
    )
    holder = acc[sensor, HOLDER]
    if holder >= 0:
        ele[holder, BEGAN] += 1
    elif holder == LAYOUT:
        now[LAYOUT_BEGAN] += 1
    else:
        now[RADIO_DRAW_BEGAN] += 1
    now[N_ORPHANS] += 1


@jit
def end_spell(acc, ele, now, rules, spells, sensor, time_ms, is_cut):
    """End an orphan spell."""
    _close_holder(acc, ele, now, rules, sensor, time_ms)
    orphan_ms = promise(now, rules, time_ms) - acc[sensor, SPELL_PROMISE]
    acc[sensor, ORPHAN_MS] += orphan_ms
    if acc[sensor, HAD_ROUTE] == 0:
        acc[sensor, NOT_REACHED_MS] += orphan_ms
    line = now[N_SPELLS]
    if line < spells.shape[0]:
        spells[line, SPELL_SENSOR] = sensor
        spells[line, SPELL_START] = acc[sensor, SPELL_SINCE]
        spells[line, SPELL_END] = time_ms
        spells[line, SPELL_ORPHAN_MS] = orphan_ms
        spells[line, SPELL_IS_CUT] = is_cut
    now[N_SPELLS] = line + 1
    acc[sensor, SPELL_SINCE] = -1
    now[N_ORPHANS] -= 1


@jit_inline
def settle_sensor(
    dev,
    acc,
    lnk,
    rad,
    curve,
    rules,
    adj_start,
    adj,
    lists,
    ele,
    tgt_start,
    tgt,
    now,
    at_mean,
    depths,
    spells,
    sensor,
    time_ms,
    silence_ms,
):
    """Settle the accounts of one sensor that a step touched."""
    settle_depth(acc, now, depths, sensor, hop_depth(dev, sensor), time_ms)
    is_up = dev[sensor, DOWN] == 0
    has_route = dev[sensor, COST] >= 0
    if not is_up:
        cut_silence(acc, now, rules, sensor, time_ms)
    if not is_paused(now, rules):
        is_orphan = acc[sensor, SPELL_SINCE] >= 0
        if is_up and not has_route:
            if not is_orphan:
                _begin_spell(
                    acc,
                    lnk,
                    rad,
                    curve,
                    rules,
                    adj_start,
                    adj,
                    lists,
                    ele,
                    tgt_start,
                    tgt,
                    now,
                    at_mean,
                    sensor,
                    time_ms,
                )
        elif is_orphan:
            end_spell(acc, ele, now, rules, spells, sensor, time_ms, 0)
            if has_route:
                _interrupt(acc, now, rules, sensor, time_ms, rules[REJOIN_LONG])
        elif silence_ms > 0:
            _interrupt(acc, now, rules, sensor, time_ms, silence_ms)
    if has_route:
        acc[sensor, HAD_ROUTE] = 1
    is_orphan = acc[sensor, SPELL_SINCE] >= 0 and not is_paused(now, rules)
    is_dark = is_orphan or not is_up or dev[sensor, MUTE] > 0
    _turned(acc, sensor, DOWN_SINCE, DOWN_MS, not is_up, time_ms)
    _turned(acc, sensor, DARK_SINCE, DARK_MS, is_dark, time_ms)
    _turned(acc, sensor, CUT_OFF_SINCE, CUT_OFF_MS, is_up and now[IN_OUTAGE] == 1, time_ms)


@jit
def _judge_again(
    acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now, at_mean, sensor,
    time_ms,
):  # fmt: skip
    _close_holder(acc, ele, now, rules, sensor, time_ms)
    judge(
        acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now, at_mean,
        sensor,
    )  # fmt: skip


@jit
def judge_held(
    acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now, at_mean, element,
    time_ms,
):  # fmt: skip
    """Judge every open spell whose holder has just returned."""
    while ele[element, HELD] >= 0:
        _judge_again(
            acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now, at_mean,
            ele[element, HELD], time_ms,
        )  # fmt: skip


@jit
def judge_all(
    acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now, at_mean, time_ms
):
    """Judge every open spell whose holder has returned during a site outage."""
    for sensor in range(acc.shape[0]):
        holder = acc[sensor, HOLDER]
        if acc[sensor, SPELL_SINCE] < 0 or holder < 0:
            continue
        if ele[holder, AWAY] == 0 or ele[holder, STRUCK] != acc[sensor, HOLDER_STRUCK]:
            _judge_again(
                acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, tgt_start, tgt, now,
                at_mean, sensor, time_ms,
            )  # fmt: skip


@jit
def settle_count(now, rules, above_since, longest_ms, count_ms, before, time_ms):
    """Go on with another number of orphans at once."""
    n = now[N_ORPHANS]
    if n == before or is_paused(now, rules):
        return
    here = promise(now, rules, time_ms)
    count_ms[before] += here - now[COUNT_SINCE]
    for k in range(n, before):
        longest_ms[k] = max(longest_ms[k], here - above_since[k])
    for k in range(before, n):
        above_since[k] = here
    now[COUNT_SINCE] = here


@jit
def close(dev, acc, ele, now, rules, depths, spells, above_since, longest_ms, count_ms):
    """Close every account at the horizon."""
    end = rules[0]
    here = promise(now, rules, end)
    count_ms[now[N_ORPHANS]] += here - now[COUNT_SINCE]
    for k in range(now[N_ORPHANS]):
        longest_ms[k] = max(longest_ms[k], here - above_since[k])
    for sensor in range(dev.shape[0]):
        if dev[sensor, SENSOR] == 0:
            continue
        settle_depth(acc, now, depths, sensor, -1, end)
        cut_silence(acc, now, rules, sensor, end)
        if acc[sensor, SPELL_SINCE] >= 0:
            end_spell(acc, ele, now, rules, spells, sensor, end, 1)
        _turned(acc, sensor, DOWN_SINCE, DOWN_MS, False, end)
        _turned(acc, sensor, DARK_SINCE, DARK_MS, False, end)
        _turned(acc, sensor, CUT_OFF_SINCE, CUT_OFF_MS, False, end)
