"""The strictest promises: for each duration the fewest sensors that may be lost at once."""

from dataclasses import dataclass

from resilience.policy.bounds import Bounds
from resilience.units import h_from_ms


@dataclass(frozen=True, slots=True)
class Step:
    """What can be promised for one duration.

    Parameters
    ----------
    longer_than_h : float
        The duration. [h]
    promised : int or None
        Fewest sensors that may be lost at once, as far as is shown; None if no number below that
        of all sensors is. [-]
    refuted : int or None
        Most sensors of which it is shown that the promise would be broken; None if of none. [-]
    """

    longer_than_h: float
    promised: int | None
    refuted: int | None

    def to_json(self) -> dict[str, float | None]:
        """Return the step under stable keys."""
        return {
            "longer_than_h": self.longer_than_h,
            "max_orphans": self.promised,
            "broken_up_to": self.refuted,
        }


def frontier(bounds: Bounds, kept_with_probability: float) -> tuple[Step, ...]:
    """Return the strictest promises of a layout, the shortest duration first; all hold together.

    Parameters
    ----------
    bounds : Bounds
        How often each promise is broken. [-]
    kept_with_probability : float
        With which a promise has to be kept. [-]
    """
    may_break = 1 - kept_with_probability
    steps = []
    for duration_ms in bounds.study.watch.durations_ms:
        low, high = bounds.of(duration_ms)
        kept = (high <= may_break).nonzero()[0].tolist()
        broken = (low > may_break).nonzero()[0].tolist()
        is_sure = not (kept and broken and kept[0] <= broken[-1])  # else the bounds have missed
        promised = kept[0] if kept and is_sure else None
        refuted = broken[-1] if broken and is_sure else None
        steps.append(Step(h_from_ms(duration_ms), promised, refuted))
    return tuple(steps)
