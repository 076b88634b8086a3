"""What a measured link may still differ by, the longer it was measured the less."""

import math
from collections.abc import Iterable

from resilience.building.settings import Radio


def survey_spread_db(radio: Radio, measured_h: float | None) -> float:
    """Spread of the true mean strength of a link about the one that was measured.

    Parameters
    ----------
    radio : Radio
        Spread of a spot reading, what is left of it in the end, and the swing. [-]
    measured_h : float or None
        How long it was averaged over, above 0; None for a spot reading. [h]
    """
    if measured_h is None:
        return radio.survey_spread_db
    swing_db = radio.swing_db * math.sqrt(variance_left(measured_h / radio.swing_holds_h))
    # Nobody knows a link worse for having looked longer, whatever a site states of its swing.
    return min(radio.survey_spread_db, math.hypot(radio.survey_settled_db, swing_db))


def variance_left(n_holds: float) -> float:
    """Variance of the mean of independent levels over a stretch of time, over that of one level.

    Parameters
    ----------
    n_holds : float
        The stretch, in times that a level holds, above 0; it begins anywhere in the first. [-]
    """
    # MODELS.md, "survey averaging": two moments a share s of a hold apart have one level with
    # probability 1 - s, and the mean of that over all pairs of moments in the stretch is this.
    if n_holds <= 1:
        return 1 - n_holds / 3
    return (1 - 1 / (3 * n_holds)) / n_holds


def shortest_h(measured_h: Iterable[float | None]) -> float | None:
    """Shortest of the times that links were averaged over; None if any was a spot reading.

    Parameters
    ----------
    measured_h : iterable of float or None
        At least one. [h]
    """
    hours = [0.0 if one_h is None else one_h for one_h in measured_h]
    return min(hours) or None
