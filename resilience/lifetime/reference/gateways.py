"""Which gateways serve, and whether the site is cut off."""

from collections.abc import Set

from resilience.lifetime.mesh import Mesh, Rules


class Gateways:
    """Follows the gateways from step to step."""

    def __init__(self, mesh: Mesh, rules: Rules) -> None:
        gateways = [device for device in mesh.devices if device.id in mesh.gateways]
        self._primaries = {device.id for device in gateways if not device.standby}
        self._all = {device.id for device in gateways}
        self._rules = rules
        self._without_primary_since: int | None = None
        self._back_since: int | None = None
        self.in_outage = False
        self.serving: Set[str] = frozenset()

    def settle(self, now: int, up: Set[str]) -> int | None:
        """Settle outage and service after a step; return when to look again, if ever.

        Parameters
        ----------
        now : int
            Time of the step. [ms]
        up : set of str
            Devices that are up. [-]
        """
        there = self._all & up
        has_primary = bool(self._primaries & there)
        if has_primary:
            self._without_primary_since = None
        elif self._without_primary_since is None:
            self._without_primary_since = now
        look_again = self._settle_outage(now, bool(there))
        if self.in_outage:
            self.serving = frozenset()
            return look_again
        if has_primary:
            self.serving = self._primaries & there
            return None
        return self._settle_standby(now, there)

    def _settle_outage(self, now: int, is_any_up: bool) -> int | None:
        if not is_any_up:
            self.in_outage, self._back_since = True, None
            return None
        if not self.in_outage:
            return None
        if self._back_since is None:
            self._back_since = now
        formed_ms = self._back_since + self._rules.reformation_ms
        if now < formed_ms:
            return formed_ms
        self.in_outage, self._back_since = False, None
        if self._without_primary_since is not None:  # once it is over, every up gateway serves
            self._without_primary_since = now - self._rules.standby_switch_ms
        return None

    def _settle_standby(self, now: int, there: Set[str]) -> int | None:
        assert self._without_primary_since is not None
        switched_ms = self._without_primary_since + self._rules.standby_switch_ms
        if now < switched_ms:
            self.serving = frozenset()
            return switched_ms
        self.serving = there
        return None
