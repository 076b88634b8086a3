"""What is left in the cells of one device, and at what rate it goes."""

from collections.abc import Iterator

from resilience.draws import LONGEST_MS
from resilience.hazards.elements import Cells, DeviceFate


class Battery:
    """The cells of one device.

    Parameters
    ----------
    cells : Cells
        What they are. [-]
    fate : DeviceFate
        Draws of the device. [-]
    """

    def __init__(self, cells: Cells, fate: DeviceFate) -> None:
        self.cells = cells
        self._fate = fate
        self.n_sets = 1
        self._full_na_ms = self._left_na_ms = fate.charge_na_ms(cells, 0)
        self._drain_na = 0
        self._since = 0
        self._drained_na_ms = 0  # by all sets, and for how long
        self._drained_for_ms = 0

    def death_ms(self) -> int:
        """First millisecond at which the charge is used up, if nothing changes.

        Used up is what the month lets have: it may be the cold of the next one that ends it.
        """
        if not self._drain_na:
            return LONGEST_MS
        if not self.cells.course.kept:
            return self._reaches_ms(0)
        return next(
            dies_ms
            for start_ms, end_ms, kept_na_ms in self._months()
            if (dies_ms := max(start_ms, self._reaches_ms(kept_na_ms))) < end_ms
        )

    def _reaches_ms(self, kept_na_ms: int) -> int:
        """First millisecond at which no more than this is left."""
        return self._since - (-(self._left_na_ms - kept_na_ms) // self._drain_na)

    def _months(self) -> Iterator[tuple[int, int, int]]:
        """Start, end and what stays in the cells of each month from the first that can be last."""
        course = self.cells.course
        shares = [self._full_na_ms // 1000 * kept for kept in course.kept]
        start_ms = max(self._since + 1, self._reaches_ms(max(shares)))
        while True:
            month = (start_ms + course.first_ms) // course.month_ms
            end_ms = (month + 1) * course.month_ms - course.first_ms
            yield start_ms, end_ms, shares[month % 12]
            start_ms = end_ms

    def drain(self, now: int, drain_na: int) -> None:
        """Go on at another rate."""
        drained_na_ms = self._drain_na * (now - self._since)
        self._left_na_ms -= drained_na_ms
        self._drained_na_ms += drained_na_ms
        self._drained_for_ms += (now - self._since) * (self._drain_na > 0)
        self._since, self._drain_na = now, drain_na

    def mean_drain_na(self, now: int) -> int | None:
        """What was lost so far, over the time it was being lost; None if nothing ever was."""
        self.drain(now, 0)
        return self._drained_na_ms // self._drained_for_ms if self._drained_for_ms else None

    def renew(self, now: int) -> None:
        """Put in the next set of cells."""
        self._since = now
        self._full_na_ms = self._left_na_ms = self._fate.charge_na_ms(self.cells, self.n_sets)
        self.n_sets += 1
