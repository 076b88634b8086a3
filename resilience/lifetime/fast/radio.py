"""What a link costs under a loss, on plain arrays; the law is told in ``hazards.buildings``."""

from resilience.connectivity.reception import COST_PER_TRANSMISSION, FULL
from resilience.lifetime.fast.columns import (
    COUNT_HOPS,
    CURVE_FIRST,
    EXPECTED_THERE,
    FIXED,
    FLOOR_THERE,
    MEASURED_THERE,
    MIN_PRR,
    RSSI_THERE,
)
from resilience.lifetime.fast.compiled import jit

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
