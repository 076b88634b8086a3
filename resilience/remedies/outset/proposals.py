"""What is told of layouts from sensors alone: which keep the promise, and what was searched."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from resilience.building.service.policy import Policy
from resilience.building.site import Device, Kind, Layout, Site
from resilience.draws import STREAM_VERSION
from resilience.montecarlo.costs import installation
from resilience.montecarlo.estimates import Estimate
from resilience.policy.judgement import Verdict
from resilience.remedies.outset.allowed import Allowed

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True, slots=True)
class Proposal:
    """A layout that was judged on lifetimes that nobody chose on.

    Parameters
    ----------
    layout : Layout
        The sensors, with what would hang beside them. [-]
    added : tuple of Device
        Gateways and repeaters. [-]
    cost : float
        Of these to install, or their number. [currency]
    broken : Estimate
        Share of lifetimes that break the promise. [-]
    verdict : Verdict
        What its bounds show. [-]
    n_lifetimes : int
        Lifetimes that this rests on. [-]
    """

    layout: Layout
    added: tuple[Device, ...]
    cost: float
    broken: Estimate
    verdict: Verdict
    n_lifetimes: int

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "devices": [_device_json(one) for one in self.added],
            "cost": self.cost,
            "verdict": self.verdict.value,
            "broken_share": self.broken.to_json(),
            "lifetimes": self.n_lifetimes,
        }


def _device_json(device: Device) -> dict[str, object]:
    place = device.place
    return {
        "id": device.id,
        "kind": device.kind.value,
        "supply": device.supply.value,
        "level": place and place.level,
        "x_m": place and place.x_m,
        "y_m": place and place.y_m,
        "height_m": place and place.height_m,
    }


@dataclass(frozen=True, slots=True)
class Searched:
    """Layouts of as many gateways and repeaters, and what came of them.

    Parameters
    ----------
    n_gateways, n_repeaters : int
        Devices beside the sensors. [-]
    cost : float
        Of these to install, or their number. [currency]
    n_possible, n_screened, n_reaching, n_played, n_open : int
        Layouts there are; looked at; that reach all sensors as drawn but those that may be lost;
        played; of these neither shown to keep the promise nor surely broken. [-]
    least_broken : float or None
        The least share of lifetimes that broke the promise; None where nothing was played. [-]
    """

    n_gateways: int
    n_repeaters: int
    cost: float
    n_possible: int
    n_screened: int
    n_reaching: int
    n_played: int
    n_open: int
    least_broken: float | None

    @property
    def is_whole(self) -> bool:
        """Whether every layout of the group was looked at, and all that reach were played."""
        return self.n_screened == self.n_possible and self.n_played == self.n_reaching

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "gateways": self.n_gateways,
            "repeaters": self.n_repeaters,
            "cost": self.cost,
            "possible": self.n_possible,
            "screened": self.n_screened,
            "reach_all_as_drawn": self.n_reaching,
            "played": self.n_played,
            "open": self.n_open,
            "least_broken_share": self.least_broken,
        }


@dataclass(frozen=True, slots=True)
class Outset:
    """The cheapest layouts found that keep a promise, and how far was searched.

    Parameters
    ----------
    site : Site
        The site. [-]
    start : Layout
        The layout whose sensors were asked for. [-]
    policy : Policy
        What is to be kept. [-]
    allowed : Allowed
        What could hang. [-]
    judged : tuple of Proposal
        What was judged, in the order in which that happened. [-]
    searched : tuple of Searched
        Groups of layouts, the cheapest first. [-]
    out_of_reach : tuple of str
        Sensors that have no way as drawn even if everything hung. [-]
    by_money : bool
        Whether costs are money; else they are numbers of devices. [-]
    counts_outages : bool
        Whether site outages count. [-]
    level_share : float
        Level of the bounds of each layout that was judged, so that all hold together. [-]
    seed : int
        Of what was drawn. [-]
    stopped_because : str
        Why it searched no further. [-]
    """

    site: Site
    start: Layout
    policy: Policy
    allowed: Allowed
    judged: tuple[Proposal, ...]
    searched: tuple[Searched, ...]
    out_of_reach: tuple[str, ...]
    by_money: bool
    counts_outages: bool
    level_share: float
    seed: int
    stopped_because: str

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """Layouts shown to keep the promise, the cheapest first, then the surest."""
        kept = [one for one in self.judged if one.verdict is Verdict.KEPT]
        return tuple(sorted(kept, key=lambda one: (one.cost, one.broken.high)))

    @property
    def is_least(self) -> bool:
        """Whether every cheaper layout was looked at, and all that reach the sensors played."""
        if not self.proposals:
            return False
        cost = self.proposals[0].cost
        return all(one.is_whole for one in self.searched if one.cost < cost)

    @property
    def n_open_below(self) -> int:
        """Cheaper layouts than the best proposal of which it stays open whether they keep it."""
        cost = self.proposals[0].cost if self.proposals else math.inf
        return sum(one.n_open for one in self.searched if one.cost < cost)

    def to_json(self) -> dict[str, object]:
        """Return everything under stable keys."""
        prices = self.site.prices
        return {
            "format": 1,
            "stream_version": STREAM_VERSION,
            "site": self.site.name,
            "sensors_of": self.start.name,
            "policy": self.policy.to_json(),
            "seed": self.seed,
            "level": self.level_share,
            "stopped_because": self.stopped_because,
            "site_outages_counted": self.counts_outages,
            "gateway_places": [one.id for one in self.allowed.gateways],
            "repeater_places": len(self.allowed.repeaters),
            "places_forbidden": self.allowed.n_forbidden,
            "out_of_reach": list(self.out_of_reach),
            "cost_is": "money" if self.by_money else "devices",
            "cheaper_ones_all_played": self.is_least,
            "proposals": [
                {**one.to_json(), "installation": installation(one.layout, prices).to_json()}
                for one in self.proposals
            ],
            "judged": [one.to_json() for one in self.judged],
            "searched": [one.to_json() for one in self.searched],
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per layout that was judged."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "gateways": _ids(one, Kind.GATEWAY),
                    "repeaters": _ids(one, Kind.REPEATER),
                    "cost": one.cost,
                    "broken_share": one.broken.mean,
                    "low": one.broken.low,
                    "high": one.broken.high,
                    "verdict": one.verdict.value,
                }
                for one in self.judged
            ]
        )


def _ids(proposal: Proposal, kind: Kind) -> str:
    return " ".join(one.id for one in proposal.added if one.kind is kind)
