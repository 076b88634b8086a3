"""What is left in the cells of one device, and at what rate it goes."""

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
        self._left_na_ms = fate.charge_na_ms(cells, 0)
        self._drain_na = 0
        self._since = 0
        self._drained_na_ms = 0  # by all sets, and for how long
        self._drained_for_ms = 0

    def death_ms(self) -> int:
        """First millisecond at which the charge is used up, if nothing changes."""
        if not self._drain_na:
            return LONGEST_MS
        return self._since - (-self._left_na_ms // self._drain_na)

    def drain(self, now: int, drain_na: int) -> None:
        """Go on at another rate."""
        drained_na_ms = self._drain_na * (now - self._since)
        self._left_na_ms -= drained_na_ms
        self._drained_na_ms += drained_na_ms
        self._drained_for_ms += (now - self._since) * (self._drain_na > 0)
        self._since, self._drain_na = now, drain_na

    def mean_drain_na(self, now: int) -> int | None:
        """Draw so far while it was up; None if it never was."""
        self.drain(now, 0)
        return self._drained_na_ms // self._drained_for_ms if self._drained_for_ms else None

    def renew(self, now: int) -> None:
        """Put in the next set of cells."""
        self._since = now
        self._left_na_ms = self._fate.charge_na_ms(self.cells, self.n_sets)
        self.n_sets += 1
