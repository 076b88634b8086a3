"""Who carries how much for others, and whose cells go first because of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import mean

from resilience.building.site import Kind, Layout, Site
from resilience.hazards.cells import cells_of
from resilience.hazards.laws import NEVER
from resilience.montecarlo.figures import CellLife
from resilience.montecarlo.study import Study

LEAST_CARRIED = 1.0  # sensors: who carries less is nobody's hub
MONTHS_PER_YEAR = 12


@dataclass(frozen=True, slots=True)
class Hub:
    """A sensor that carries more for others than the repeaters do, though nobody planned it.

    Parameters
    ----------
    sensor : str
        Its id. [-]
    carried : float
        Sensors whose readings it passes on, mean over time. [-]
    by_repeaters : float or None
        The same of a repeater, on average; None where there is none. [-]
    """

    sensor: str
    carried: float
    by_repeaters: float | None

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {"sensor": self.sensor, "carried": self.carried, "by_repeaters": self.by_repeaters}


@dataclass(frozen=True, slots=True)
class Draining:
    """Cells of one device, and what drains them.

    Parameters
    ----------
    device : str
        Its id. [-]
    life : CellLife
        How long average cells last. [month]
    carried : float
        Sensors whose readings it passes on, mean over time. [-]
    passing_share : float
        Part of what it draws that this takes. [-]
    flat_per_year : float
        How often a year its cells are flat. [1/year]
    """

    device: str
    life: CellLife
    carried: float
    passing_share: float
    flat_per_year: float

    @property
    def year(self) -> float:
        """Year, counted from hand-over, in which average cells go."""
        return self.life.mean_months / MONTHS_PER_YEAR

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "device": self.device,
            "months": self.life.to_json(),
            "carried": self.carried,
            "share_of_drain_for_others": self.passing_share,
            "flat_per_year": self.flat_per_year,
        }


def hubs_of(layout: Layout, carried: Mapping[str, float]) -> tuple[Hub, ...]:
    """Return sensors that carry more than the repeaters do on average, those with most first.

    Parameters
    ----------
    layout : Layout
        What is installed. [-]
    carried : mapping of str to float
        Sensors behind each device, mean over time. [-]
    """
    repeaters = [carried.get(one.id, 0.0) for one in layout.of_kind(Kind.REPEATER)]
    usual = mean(repeaters) if repeaters else None
    least = max(LEAST_CARRIED, usual or 0.0)
    found = [
        Hub(one.id, carried[one.id], usual)
        for one in layout.sensors
        if carried.get(one.id, 0.0) > least
    ]
    return tuple(sorted(found, key=lambda one: (-one.carried, one.sensor)))


def draining_of(
    site: Site, layout: Layout, study: Study, carried: Mapping[str, float]
) -> tuple[Draining, ...]:
    """Return all devices on cells, those whose cells go first in front.

    Parameters
    ----------
    site : Site
        States the hazard of flat cells. [-]
    layout : Layout
        What is installed. [-]
    study : Study
        Its lifetimes. [-]
    carried : mapping of str to float
        Sensors behind each device, mean over time. [-]
    """
    passing_na = {one.device: one.forwarding_na for one in cells_of(site, layout.devices, NEVER)}
    flat = study.strikes_per_year
    found = []
    for device, life in study.cell_lives.items():
        sums, load = study.tally.drains[device], carried.get(device, 0.0)
        drain_na = sums.total / sums.n_lifetimes
        share = min(1.0, load * passing_na.get(device, 0) / drain_na) if drain_na else 0.0
        found.append(Draining(device, life, load, share, flat.get(("battery", device), 0.0)))
    return tuple(found)
