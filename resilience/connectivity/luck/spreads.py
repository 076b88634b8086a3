"""How sure the strength of a link is: its spread over possible buildings."""

import numpy as np

from resilience.connectivity.luck.prospect import prospect
from resilience.connectivity.luck.strengths import DISTANCE, FIELD, HALF, OWN, Floats, Lots
from resilience.connectivity.table import LinkTable


def spreads_db(table: LinkTable) -> Floats:
    """Spread of the strength of each link of a table, one standard deviation of either direction.

    A drawn construction never strengthens a signal; where that cuts its luck short, the true spread
    is a little smaller.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    ready = prospect(table)
    lots, weights = ready.lots, ready.lots.weights  # as narrowed by a calibration
    a_m, b_m = lots.points_m[lots.ends[:, 0]], lots.points_m[lots.ends[:, 1]]
    alike = np.exp(-np.linalg.norm(a_m - b_m, axis=1) / lots.decorrelation_m)
    # Independent parts add in square; the field at the two ends is correlated, and everything of
    # one construction in the way is off by the same.
    variance = weights[:, FIELD] ** 2 * 2 * (1 + alike)
    variance += weights[:, OWN] ** 2 + weights[:, HALF] ** 2
    variance += (weights[:, DISTANCE] * lots.power_spread) ** 2
    variance += _crossings(lots) ** 2 @ lots.construction_spread_db**2
    return np.sqrt(variance)


def _crossings(lots: Lots) -> Floats:
    """How often each link passes each construction, shape (links, constructions)."""
    found = np.zeros((len(lots.ends), len(lots.construction_spread_db)))
    links = np.repeat(np.arange(len(lots.ends)), np.diff(lots.crossing_start))
    np.add.at(found, (links, lots.crossing_of), 1.0)
    return found
