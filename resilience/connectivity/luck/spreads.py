"""How sure the strength of a link is: its spread over possible buildings."""

import numpy as np

from resilience.connectivity.links import LinkTable
from resilience.connectivity.luck.prospect import Prospect, prospect
from resilience.connectivity.luck.strengths import DISTANCE, FIELD, HALF, OWN, Floats


def spreads_db(table: LinkTable) -> dict[str, float]:
    """Spread of the strength of each link by its id, one standard deviation of either direction.

    A drawn construction never strengthens a signal; where that cuts its luck short, the true spread
    is a little smaller.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    ready = prospect(table)
    radio, weights = ready.table.radio, ready.weights  # as narrowed by a calibration
    a_m, b_m = ready.points_m[ready.ends[:, 0]], ready.points_m[ready.ends[:, 1]]
    alike = np.exp(-np.linalg.norm(a_m - b_m, axis=1) / radio.decorrelation_m)
    # Independent parts add in square; the field at the two ends is correlated, and everything of
    # one construction in the way is off by the same.
    variance = weights[:, FIELD] ** 2 * 2 * (1 + alike)
    variance += weights[:, OWN] ** 2 + weights[:, HALF] ** 2
    variance += (weights[:, DISTANCE] * radio.distance_power_spread) ** 2
    variance += _crossings(ready) ** 2 @ ready.construction_spread_db**2
    links = (link.id for link in table.links)
    return dict(zip(links, np.sqrt(variance).tolist(), strict=True))


def _crossings(ready: Prospect) -> Floats:
    """How often each link passes each construction, shape (links, constructions)."""
    found = np.zeros((len(ready.ends), len(ready.construction_spread_db)))
    links = np.repeat(np.arange(len(ready.ends)), np.diff(ready.crossing_start))
    np.add.at(found, (links, ready.crossing_of), 1.0)
    return found
