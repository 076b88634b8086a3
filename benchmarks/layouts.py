"""What is played: sensors scattered over one floor, all of it made up."""

import math
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from resilience.assumptions.catalogue import section
from resilience.building.models import DeviceModel
from resilience.building.settings import Radio
from resilience.building.site import Device, Kind, Layout, Place, Site
from resilience.building.stated.equipment import batteries_of
from resilience.building.stated.sections import hazards_of, routing_of
from resilience.building.stated.upkeep import upkeep_of
from resilience.building.structure import Building, Level
from resilience.building.text.entries import Findings
from resilience.connectivity.links import LinkTable, link_table
from resilience.draws import DEFAULT_SEED, element_key, stream, uniform

YEARS = 5.0
LUCK_DB = 10.0  # pairs that would need more luck than this with their shadowing are left out
OPEN = Building((Level("L1", 0.0, 3.0, "concrete_200"),))


@dataclass(frozen=True, slots=True)
class Scatter:
    """A layout by its size and spacing, and how much of it is played.

    Parameters
    ----------
    name : str
        How tables call it. [-]
    n_sensors : int
        How many. [-]
    spacing_m : float
        Side of the floor by the root of that number. [m]
    years : float
        How long a lifetime is. [year]
    n_lifetimes : int
        How many one repeat of a study plays, two to a building. [-]
    is_cut : bool
        Whether pairs that hardly any building joins are left out beforehand. [-]
    """

    name: str
    n_sensors: int
    spacing_m: float
    years: float
    n_lifetimes: int
    is_cut: bool = False

    def site(self) -> Site:
        """Return the site, its lifetimes as long as they are played."""
        return replace(scattered_site(self.n_sensors, self.spacing_m), horizon_years=self.years)


# Sparse enough for orphans, dense enough round the one gateway to carry everybody; at 32 m one
# gateway is too little for 2,000. At 4.1 m 29,011 of 45,150 pairs are usable at mean shadowing.
SCATTERS = (
    Scatter("20 sensors", 20, 45.0, YEARS, 32),
    Scatter("200 sensors", 200, 32.0, YEARS, 4),
    Scatter("2,000 sensors", 2000, 27.0, 0.5, 2, is_cut=True),
    Scatter("2,000 sparse", 2000, 32.0, 0.5, 2, is_cut=True),
    Scatter("300 dense", 300, 4.1, YEARS, 2),
)


def _stated(kind: type, path: str) -> Any:
    """One section with every key at the catalogue's default."""
    return kind(**{setting.name: setting.default for setting in section(path)})


def _device(id: str, kind: Kind, place: Place) -> Device:
    model = _stated(DeviceModel, "models.*")
    cells = None if kind is Kind.GATEWAY else batteries_of(None, None, Findings())[model.battery]
    return Device(id, kind, place, model, cells)


def scattered_site(n_sensors: int, spacing_m: float) -> Site:
    """Site of sensors at random places on one floor, the gateway in the middle.

    Parameters
    ----------
    n_sensors : int
        How many. [-]
    spacing_m : float
        Side of the floor by the root of that number. [m]
    """
    side_m = spacing_m * math.sqrt(n_sensors)
    start = stream(DEFAULT_SEED, n_sensors, element_key("benchmark", "", "places"))
    devices = [_device("g", Kind.GATEWAY, Place("L1", side_m / 2, side_m / 2, 2.0))]
    for number in range(n_sensors):
        x_m, y_m = (side_m * uniform(start, 2 * number + axis) for axis in (0, 1))
        devices.append(_device(f"s{number:04}", Kind.SENSOR, Place("L1", x_m, y_m, 2.0)))
    return Site(
        "Made up",
        YEARS,
        date(2030, 1, 1),
        OPEN,
        layouts=(Layout("scattered", tuple(devices), ()),),
        radio=_stated(Radio, "radio"),
        routing=routing_of(None, Findings()),
        hazards=hazards_of(None, Findings()),
        upkeep=upkeep_of(None, Findings()),
    )


def near_links(site: Site) -> LinkTable:
    """Links of a site by the site-general model, pairs out of reach left out.

    Parameters
    ----------
    site : Site
        Of one layout. [-]
    """
    table = link_table(site, site.layouts[0])
    return table.taken(np.flatnonzero(table.margins_db >= -LUCK_DB))
