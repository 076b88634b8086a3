"""What is promised, as a sentence."""

from resilience.building.service.policy import Lost, Policy, Start
from resilience.report.words import counted, span


def promise_words(policy: Policy, n_sensors: int, horizon_years: float) -> str:
    """Return what is promised, as a sentence.

    Parameters
    ----------
    policy : Policy
        What is promised. [-]
    n_sensors : int
        Sensors of a layout. [-]
    horizon_years : float
        How long it is kept. [year]
    """
    each = ", each" if policy.per_sensor else ""
    what = {
        Lost.ORPHANS: "cut off at once (working, but with no way to a gateway)",
        Lost.DARK: "dark at once (failed, or with no way to a gateway)",
    }[policy.count]
    since = "" if policy.start is Start.HAND_OVER else ", each from its first way on,"
    sensors = f"{policy.max_count(n_sensors)} of {counted(n_sensors, 'sensor')}"
    return (
        f"Promise: never more than {sensors}{since} {what}{each} for longer than "
        f"{_hours(policy.longer_than_h)}, kept over {horizon_years:g} years with a probability of "
        f"{probability_words(policy)}."
    )


def probability_words(policy: Policy) -> str:
    """Return how surely a promise is kept, in per cent.

    Parameters
    ----------
    policy : Policy
        What is promised. [-]
    """
    return f"{100 * policy.kept_with_probability:g} %"


def _hours(hours: float) -> str:
    return f"{hours:g} h" if hours < 72 else f"{hours:g} h ({span(hours)})"
