"""What is measured: scattered layouts of any size, an office that was measured, and their twins."""

import csv
import math
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from resilience.assumptions.catalogue import section
from resilience.building.entries import Findings
from resilience.building.sections.stated import batteries_of, hazards_of, routing_of, upkeep_of
from resilience.building.settings import DeviceModel, Radio
from resilience.building.site import Device, GivenLink, Kind, Layout, Place, Site
from resilience.building.structure import Building, Level
from resilience.connectivity.links import LinkTable, link_table
from resilience.connectivity.luck.prospect import prospect
from resilience.draws import DEFAULT_SEED, element_key, stream, uniform
from resilience.hazards.causes import Effect
from resilience.hazards.table import HazardTable, hazard_table
from resilience.lifetime.mesh import GivenPath, Mesh, MeshLink, Rules, mesh_of

YEARS = 5.0
# Metres of floor side per sensor's root: sparse enough for orphans, dense enough round the one
# gateway to carry everybody.
SPACING_M = {20: 45.0, 200: 32.0, 2000: 27.0}
SPARSE_M = 32.0  # at 2,000 sensors too few round the gateway: some have no route from the first day
LARGEST_COST = 1 << 31  # that the compiled engine's keys can hold
LUCK_DB = 10.0  # pairs that would need more luck than this with their shadowing are left out
OPEN = Building((Level("L1", 0.0, 3.0, "concrete_200"),))


@dataclass(frozen=True)
class Case:
    """One layout in one possible building, with all that can strike it.

    Parameters
    ----------
    name : str
        How tables call it. [-]
    mesh : Mesh
        The layout. [-]
    hazards : HazardTable
        What can strike it, nothing left out. [-]
    rules : Rules
        Horizon and routing. [-]
    table : LinkTable or None
        From which other buildings can be drawn; None where links are made up. [-]
    """

    name: str
    mesh: Mesh
    hazards: HazardTable
    rules: Rules
    table: LinkTable | None = None

    def until(self, n_events: int) -> "Case":
        """Return the same case up to about so many events; what happens until then is the same."""
        per_ms = sum(2 / one.strikes.scale for one in self.hazards.elements if one.strikes.shape)
        horizon_ms = min(self.rules.horizon_ms, max(1, int(n_events / per_ms)))
        return replace(self, rules=replace(self.rules, horizon_ms=horizon_ms))

    def struck_by(self, hazards: HazardTable) -> "Case":
        """Return the same layout with other hazards."""
        return replace(self, hazards=hazards)


def _stated(kind: type, path: str) -> object:
    """One section with every key at the catalogue's default."""
    return kind(**{setting.name: setting.default for setting in section(path)})


def _device(id: str, kind: Kind, place: Place | None) -> Device:
    model = _stated(DeviceModel, "models.*")
    cells = None if kind is Kind.GATEWAY else batteries_of(None, Findings())[model.battery]
    return Device(id, kind, place, model, cells)


def _site(layout: Layout, *, predict: bool) -> Site:
    return Site(
        "Made up",
        YEARS,
        date(2030, 1, 1),
        OPEN,
        layouts=(layout,),
        radio=replace(_stated(Radio, "radio"), predict=predict),
        routing=routing_of(None, Findings()),
        hazards=hazards_of(None, Findings()),
        upkeep=upkeep_of(None, Findings()),
    )


def _case(name: str, site: Site, table: LinkTable) -> Case:
    is_drawn = site.radio.predict
    drawn = prospect(table).strengths_cdbm(DEFAULT_SEED, 0) if is_drawn else table.calm_cdbm()
    mesh = mesh_of(table, drawn)
    rules = Rules.of(site.routing, site.horizon_years, count_site_outages=False)
    return Case(name, mesh, hazard_table(site, table), rules, table)


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
    return _site(Layout("scattered", tuple(devices), ()), predict=True)


def scattered(n_sensors: int) -> Case:
    """Layout of that site in its first possible building.

    Parameters
    ----------
    n_sensors : int
        How many. [-]
    """
    site = scattered_site(n_sensors, SPACING_M[n_sensors])
    return _case(f"{n_sensors:,} sensors", site, _near_links(site))


def sparse() -> Case:
    """Return 2,000 sensors that stand further apart."""
    site = scattered_site(2000, SPARSE_M)
    return _case("2,000 sparse", site, _near_links(site))


def _near_links(site: Site) -> LinkTable:
    """Links of a site by the site-general model, pairs out of reach left out."""
    table = link_table(site, site.layouts[0])
    return table.taken(np.flatnonzero(table.margins_db >= -LUCK_DB))


def office(folder: Path) -> Case:
    """Office floor of 34 devices whose links were measured, N1 as its gateway.

    Parameters
    ----------
    folder : Path
        Holds ``office34-links.csv``. [-]
    """
    with (folder / "office34-links.csv").open(newline="") as lines:
        given = [
            GivenLink(line["a"], line["b"], float(line["prr"]), float(line["rssi_dbm"]))
            for line in csv.DictReader(lines)
        ]
    ids = sorted({end for link in given for end in (link.a, link.b)})
    devices = tuple(_device(id, Kind.GATEWAY if id == "N1" else Kind.SENSOR, None) for id in ids)
    site = _site(Layout("office", devices, tuple(given)), predict=False)
    return _case("measured office", site, link_table(site, site.layouts[0]))


def told_apart(case: Case) -> Case:
    """Twin of a case that loops without a memory can play: no hysteresis and no two equal routes.

    Links have fixed costs, refined by a fraction of their own so that the least cost decides
    everywhere; a blockage closes its link.

    Parameters
    ----------
    case : Case
        The layout. [-]
    """
    dearest = max(link.path.dearest for link in case.mesh.links) + 1
    scale = (LARGEST_COST - 1) // (len(case.mesh.devices) * dearest)
    links = tuple(
        MeshLink(link.id, link.a, link.b, GivenPath(_fine_cost(link, scale)))
        for link in case.mesh.links
    )
    mesh = Mesh(case.mesh.devices, links, case.mesh.routed_at_mean)
    elements = tuple(
        replace(one, effect=Effect.CUT, amount=0) if one.effect is Effect.LOSS else one
        for one in case.hazards.elements
        if one.effect is Effect.DOWN or one.id in mesh.link
    )
    return Case(
        case.name,
        mesh,
        HazardTable(elements, case.hazards.cells),
        replace(case.rules, hysteresis=0),
    )


def _fine_cost(link: MeshLink, scale: int) -> int:
    calm = link.path.cost(0)
    assert calm is not None
    return calm * scale + element_key("link", link.id, "fraction of cost") % scale
