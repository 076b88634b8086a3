"""Lifetime after lifetime, building after building, without leaving compiled code."""

from resilience.connectivity.luck.prospect import (
    LIFETIMES_PER_BUILDING,
)
from resilience.lifetime.fast.story import (
    play,
)
from resilience.lifetime.state.columns import (
    CALM_COST,
    CUT_OFF_MS,
    DARK_MS,
    DEEPEST,
    DOWN_MS,
    EFFECT,
    END_A,
    END_B,
    HEAP_IS_FULL,
    INTERRUPTED_MS,
    IS_DOWN,
    IS_LOSS,
    IS_MUTE,
    LAYOUT_BEGAN,
    LAYOUT_MS,
    LINK_COST,
    N_CELLS,
    N_VISITS,
    NOT_REACHED_MS,
    ORPHAN_MS,
    OUTAGE_MS,
    RADIO_DRAW_BEGAN,
    RADIO_DRAW_MS,
    RELAY,
    REPARENTINGS,
    RSSI_BACK,
    RSSI_THERE,
    SENSOR,
    STRIKES,
)
from resilience.lifetime.state.compiled import (
    draw_strengths,
    jit,
    jit_entry,
)
from resilience.lifetime.state.holds import (
    path_cost,
)
from resilience.lifetime.tally import (
    COLUMNS,
)

ROW = {name: place for place, name in enumerate(COLUMNS)}
SUMMED = (  # the first of them are SENSOR_FIGURES, in their order
    (ORPHAN_MS, ROW["orphan_ms"]),
    (DARK_MS, ROW["dark_ms"]),
    (DOWN_MS, ROW["down_ms"]),
    (NOT_REACHED_MS, ROW["not_reached_ms"]),
    (CUT_OFF_MS, ROW["cut_off_ms"]),
    (INTERRUPTED_MS, ROW["interrupted_ms"]),
)
ROW_SITE_OUTAGE, ROW_ROUTED, ROW_DEPTH = ROW["site_outage_ms"], ROW["routed_ms"], ROW["depth_ms"]
ROW_DEEPEST, ROW_MOST, ROW_MOVES = ROW["deepest"], ROW["most_orphans"], ROW["reparentings"]
ROW_VISITS, ROW_CELLS = ROW["visits"], ROW["cells"]

# A square of up to 84 bits is kept as three sums of whole numbers that never overflow:
# (high 2^22 + low)^2 = high^2 2^44 + 2 high low 2^22 + low^2.
HALF_BITS = 22
HALF_MASK = (1 << HALF_BITS) - 1
TOTAL, HIGH, CROSS, LOW, PAIR, SUM_COLUMNS = range(6)

LOST_IN_HEAP, BLAME_LAYOUT, BLAME_RADIO, BEGAN_LAYOUT, BEGAN_RADIO, EXTRA_COLUMNS = range(6)


@jit
def _wire(rad, lnk, curve, rules, dev, strengths, adj_start, adj):
    """Take over the strengths of a building and list the usable links of every device."""
    adj_start[:] = 0
    for link in range(rad.shape[0]):
        rad[link, RSSI_THERE] = strengths[link, 0]
        rad[link, RSSI_BACK] = strengths[link, 1]
        a, b = lnk[link, END_A], lnk[link, END_B]
        cost = path_cost(rad, curve, rules, link, 0)
        if dev[a, RELAY] == 0 and dev[b, RELAY] == 0:
            cost = -1
        lnk[link, CALM_COST] = lnk[link, LINK_COST] = cost
        if cost >= 0:
            adj_start[a + 1] += 1
            adj_start[b + 1] += 1
    for device in range(dev.shape[0]):
        adj_start[device + 1] += adj_start[device]
    for link in range(rad.shape[0]):
        if lnk[link, LINK_COST] >= 0:
            a, b = lnk[link, END_A], lnk[link, END_B]
            adj[adj_start[a], 0], adj[adj_start[a], 1] = b, link
            adj[adj_start[b], 0], adj[adj_start[b], 1] = a, link
            adj_start[a] += 1
            adj_start[b] += 1
    for device in range(dev.shape[0] - 1, -1, -1):
        adj_start[device + 1] = adj_start[device]
    adj_start[0] = 0


@jit
def _prune(rad, lnk, curve, rules, ele, tgt_start, tgt, worst_cdb, active):
    """List the elements that can matter in this building; return how many they are."""
    n_active = 0
    for element in range(ele.shape[0]):
        effect = ele[element, EFFECT]
        matters = effect in (IS_DOWN, IS_MUTE)
        for k in range(tgt_start[element], tgt_start[element + 1]):
            if matters:
                break
            link = tgt[k]
            cost = lnk[link, LINK_COST]
            if cost >= 0:
                worst = path_cost(rad, curve, rules, link, worst_cdb[link])
                matters = effect != IS_LOSS or worst != cost
        if matters:
            active[n_active] = element
            n_active += 1
    return n_active


@jit
def _add_up(dev, acc, ele, now, count_ms, depths, count_as, row, sums):
    """Write the row of a lifetime that has just ended and add it to the sums of its sensors."""
    row[:] = 0
    for device in range(dev.shape[0]):
        row[ROW_MOVES] += acc[device, REPARENTINGS]
        if dev[device, SENSOR] == 0:
            continue
        for column, place in SUMMED:
            row[place] += acc[device, column]
        for figure in range(sums.shape[0]):
            sums[figure, device, PAIR] += acc[device, SUMMED[figure][0]]
    for depth in range(1, now[DEEPEST] + 1):
        for device in range(dev.shape[0]):
            row[ROW_ROUTED] += depths[depth, device]
            row[ROW_DEPTH] += depth * depths[depth, device]
    for element in range(ele.shape[0]):
        if count_as[element] >= 0:
            row[count_as[element]] += ele[element, STRIKES]
    for n in range(count_ms.shape[0]):
        if count_ms[n] > 0:
            row[ROW_MOST] = n
    row[ROW_SITE_OUTAGE] = now[OUTAGE_MS]
    row[ROW_DEEPEST] = now[DEEPEST]
    row[ROW_VISITS] = now[N_VISITS]
    row[ROW_CELLS] = now[N_CELLS]


@jit
def _close_pair(sums):
    """Add what the lifetimes of one building came to, and its square."""
    for figure in range(sums.shape[0]):
        for device in range(sums.shape[1]):
            value = sums[figure, device, PAIR]
            high, low = value >> HALF_BITS, value & HALF_MASK
            sums[figure, device, TOTAL] += value
            sums[figure, device, HIGH] += high * high
            sums[figure, device, CROSS] += high * low
            sums[figure, device, LOW] += low * low
            sums[figure, device, PAIR] = 0


@jit_entry
def play_many(
    seed, first, decorrelation_m, power_spread, field_key, distance_key, points_m, ends, weights,
    own_keys, half_keys, crossing_start, crossing_of, crossing_loss_db, construction_keys,
    construction_spread_db, waves, field, offsets_db, strengths, worst_cdb, count_as, rows, sums,
    extra, rules, element_keys, repair_keys, cell_keys, starts, repair_starts, cell_starts, laws,
    charges, active, tgt_start, tgt, script_start, script, adj_start, adj, dev, acc, lnk, rad,
    curve, ele, bat, lists, now, at_mean, above_since, longest_ms, count_ms, calendar, heap, depths,
    spells, log,
):  # fmt: skip
    """Play as many lifetimes as there are rows, from a number that begins a building."""
    n_active = 0
    for i in range(rows.shape[0]):
        lifetime = first + i
        if i % LIFETIMES_PER_BUILDING == 0:
            draw_strengths(
                seed, lifetime // LIFETIMES_PER_BUILDING, decorrelation_m, power_spread, field_key,
                distance_key, points_m, ends, weights, own_keys, half_keys, crossing_start,
                crossing_of, crossing_loss_db, construction_keys, construction_spread_db, waves,
                field, offsets_db, strengths,
            )  # fmt: skip
            _wire(rad, lnk, curve, rules, dev, strengths, adj_start, adj)
            n_active = _prune(rad, lnk, curve, rules, ele, tgt_start, tgt, worst_cdb, active)
        play(
            seed, lifetime, rules, element_keys, repair_keys, cell_keys, starts, repair_starts,
            cell_starts, laws, charges, active, n_active, tgt_start, tgt, script_start, script,
            adj_start, adj, dev, acc, lnk, rad, curve, ele, bat, lists, now, at_mean, above_since,
            longest_ms, count_ms, calendar, heap, depths, spells, log,
        )  # fmt: skip
        _add_up(dev, acc, ele, now, count_ms, depths, count_as, rows[i], sums)
        extra[LOST_IN_HEAP] |= now[HEAP_IS_FULL]
        extra[BLAME_LAYOUT] += now[LAYOUT_MS]
        extra[BLAME_RADIO] += now[RADIO_DRAW_MS]
        extra[BEGAN_LAYOUT] += now[LAYOUT_BEGAN]
        extra[BEGAN_RADIO] += now[RADIO_DRAW_BEGAN]
        if (i + 1) % LIFETIMES_PER_BUILDING == 0:
            _close_pair(sums)
