"""Laws of elements, repair visits and the cells of batteries, on plain arrays."""

from resilience.lifetime.state.columns import (
    AWAY,
    BAT_ELEMENT,
    CELLS,
    COST,
    DOWN,
    DRAIN,
    DRAIN_SINCE,
    DRAINS_LIST,
    FORWARDING,
    HORIZON,
    LEAF,
    LEFT,
    N_CELLS,
    N_DRAINS,
    N_VISITS,
    NEVER,
    RENEWED,
    SEARCHING,
    SENSOR,
    SETS,
    SIZE,
    SLOT,
    STEP,
    VISIT_END,
    VISITS,
)
from resilience.lifetime.state.compiled import (
    jit,
    jit_inline,
    quantile,
    uniform,
    whole_ms,
)
from resilience.lifetime.state.queues import (
    schedule,
    scheduled_ms,
)

# Columns of ``laws``, a row per element, and of ``charges``, a row per set of cells.
STRIKE_LAW, LAST_LAW, WEAK_SHARE, WEAK_MS, LAW_COLUMNS = 0, 3, 6, 7, 8
CHARGE, SPREAD_LAW, REPAIR_LAW, CHARGE_COLUMNS = 0, 1, 4, 7


@jit_inline
def law(table, row, first):
    """Law that stands in a row from a column on, as the draws take it."""
    return (int(table[row, first]), table[row, first + 1], table[row, first + 2])


@jit
def charge(charges, cell_starts, row, n):
    """Usable charge of the n-th set of cells."""
    shape, scale, slope = law(charges, row, SPREAD_LAW)
    drawn = quantile(shape, scale, slope, uniform(cell_starts[row], n))
    return max(1, int(charges[row, CHARGE] * drawn))


@jit_inline
def death_ms(bat, row):
    """First millisecond at which the charge is used up, if nothing changes."""
    if bat[row, DRAIN] == 0:
        return NEVER
    return bat[row, DRAIN_SINCE] - (-bat[row, LEFT] // bat[row, DRAIN])


@jit
def visit_end_ms(acc, now, rules, laws, repair_starts, tgt, place, element, time_ms):
    """End of the visit that mends a device: the one on its way, or a new one."""
    device = tgt[place]
    if acc[device, VISIT_END] <= time_ms:
        shape, scale, slope = law(laws, element, LAST_LAW)
        u = uniform(repair_starts[device], acc[device, VISITS])
        acc[device, VISITS] += 1
        acc[device, VISIT_END] = time_ms + whole_ms(quantile(shape, scale, slope, u))
        if acc[device, VISIT_END] < rules[HORIZON]:
            now[N_VISITS] += 1
    return acc[device, VISIT_END]


@jit_inline
def settle_batteries(
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
            bat[row, LEFT] = charge(charges, cell_starts, row, bat[row, SETS])
            bat[row, SETS] += 1
            now[N_CELLS] += 1
        element = bat[row, BAT_ELEMENT]
        if ele[element, AWAY] == 0:
            dies_ms = death_ms(bat, row)
            slot = ele[element, SLOT]
            if dies_ms < scheduled_ms(calendar, slot):
                schedule(calendar, slot, dies_ms, rules[HORIZON])
