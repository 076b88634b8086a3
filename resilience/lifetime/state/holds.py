"""What holds devices and links, and what a link costs under a loss, on plain arrays."""

from resilience.connectivity.reception import (
    COST_PER_TRANSMISSION,
    FULL,
)
from resilience.lifetime.state.columns import (
    AMOUNT,
    AWAY,
    CALM_COST,
    CHANGED_LIST,
    COUNT_HOPS,
    CURVE_FIRST,
    CUTS,
    DOWN,
    EARLIER,
    EFFECT,
    END_A,
    END_B,
    EXPECTED_THERE,
    EXTRA,
    FIXED,
    FLOOR_THERE,
    IS_COST,
    IS_CUT,
    IS_DOWN,
    IS_LOSS,
    IS_MUTE,
    LATER,
    LATEST,
    LINK_BEFORE,
    LINK_COST,
    LINK_SAVED,
    LOSS,
    MEASURED_THERE,
    MIN_PRR,
    MUTE,
    N_CHANGED,
    OTHER_COST,
    OTHER_LOSS,
    RSSI_THERE,
    STEP,
)
from resilience.lifetime.state.compiled import (
    jit,
    jit_inline,
)
from resilience.lifetime.state.tree import (
    may_drain,
    touch,
)

NUMERATOR = 2 * COST_PER_TRANSMISSION * FULL * FULL


@jit
def _prr(rad, curve, rules, link, direction, loss_cdb):
    rssi_cdbm = rad[link, RSSI_THERE + direction] - loss_cdb
    if rssi_cdbm < rad[link, FLOOR_THERE + direction]:
        return 0
    place = min(max(rssi_cdbm - rules[CURVE_FIRST], 0), curve.shape[0] - 1)
    prr = curve[place]
    measured = rad[link, MEASURED_THERE + direction]
    if measured < 0:
        return prr
    return min(FULL, measured * prr // rad[link, EXPECTED_THERE + direction])


@jit
def path_cost(rad, curve, rules, link, loss_cdb):
    """Cost of a link under an added loss; -1 where it is not usable then."""
    if rad[link, FIXED] >= 0:
        return rad[link, FIXED]
    there = _prr(rad, curve, rules, link, 0, loss_cdb)
    back = _prr(rad, curve, rules, link, 1, loss_cdb)
    if min(there, back) < rules[MIN_PRR]:
        return -1
    if rules[COUNT_HOPS]:
        return COST_PER_TRANSMISSION
    return (NUMERATOR + there * back) // (2 * there * back)


@jit_inline
def list_away(ele, now, element):
    """Put an element that strikes at the end of the list of what is away."""
    latest = now[LATEST]
    ele[element, EARLIER] = latest
    ele[element, LATER] = -1
    if latest >= 0:
        ele[latest, LATER] = element
    now[LATEST] = element


@jit_inline
def unlist_away(ele, now, element):
    """Take an element that has come back out of the list."""
    earlier, later = ele[element, EARLIER], ele[element, LATER]
    if later >= 0:
        ele[later, EARLIER] = earlier
    else:
        now[LATEST] = earlier
    if earlier >= 0:
        ele[earlier, LATER] = later


@jit_inline
def _refresh(dev, lnk, rad, curve, rules, lists, now, link):
    """Bring one link up to date and remember what it was."""
    cost = -1
    if (
        lnk[link, CUTS] == 0
        and dev[lnk[link, END_A], DOWN] == 0
        and dev[lnk[link, END_B], DOWN] == 0
    ):
        loss_cdb = lnk[link, LOSS]
        if loss_cdb == 0:
            cost = lnk[link, CALM_COST]
        elif loss_cdb == lnk[link, OTHER_LOSS]:
            cost = lnk[link, OTHER_COST]
        else:
            cost = path_cost(rad, curve, rules, link, loss_cdb)
            lnk[link, OTHER_LOSS], lnk[link, OTHER_COST] = loss_cdb, cost
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


@jit_inline
def hold(dev, acc, lnk, rad, curve, rules, adj_start, adj, lists, ele, now, element, target):
    """Let an absence that has begun take hold of a target, or one that has ended let it go."""
    by = 2 * ele[element, AWAY] - 1
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
    elif lnk[target, CALM_COST] >= 0:  # else this building has no such link
        if effect == IS_CUT:
            lnk[target, CUTS] += by
        elif effect == IS_LOSS:
            lnk[target, LOSS] += by * ele[element, AMOUNT]
        elif effect == IS_COST:
            lnk[target, EXTRA] += by * ele[element, AMOUNT]
        _refresh(dev, lnk, rad, curve, rules, lists, now, target)
