"""Sites of a few devices as values, and studies put together by hand.

What a site does not say is at the catalogue's default.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from resilience.assumptions.catalogue import section
from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.models import DeviceModel
from resilience.building.settings import Blockage, Duration, GatewayOutage, Hardware, Radio
from resilience.building.site import Device, GivenLink, Kind, Layout, Place, Site
from resilience.building.stated.equipment import batteries_of
from resilience.building.stated.sections import hazards_of, routing_of
from resilience.building.stated.upkeep import upkeep_of
from resilience.building.structure import Building, Level, Wall
from resilience.building.text.entries import Findings
from resilience.lifetime.record import Holder
from resilience.lifetime.tally import COLUMNS, SENSOR_FIGURES, SensorSums, Tally
from resilience.montecarlo.study import Study

KINDS = {"g": Kind.GATEWAY, "r": Kind.REPEATER, "s": Kind.SENSOR}
UNDRAWN = Building((Level("L1", 0.0, 3.0, "concrete_200"),))
FAR_AWAY = Wall("far", "L1", 900.0, 900.0, 901.0, 900.0, "brick_120")  # drawn, in nobody's way
OPEN_PLAN = replace(UNDRAWN, walls=(FAR_AWAY,), constructions=tuple(CONSTRUCTIONS.items()))


def _stated(kind: type, path: str) -> object:
    """Return one section with every key at the catalogue's default."""
    return kind(**{setting.name: setting.default for setting in section(path)})


def _device(id: str, *place_m: float, standby: bool = False, **changes: object) -> Device:
    place = Place("L1", *place_m, 2.0) if place_m else None
    model = replace(_stated(DeviceModel, "models.*"), **changes)
    cells = batteries_of(None, None, Findings())[model.battery] if id[0] == "s" else None
    return Device(id, KINDS[id[0]], place, model, cells, standby)


def _layout(name: str, *devices: Device, links: str = "") -> Layout:
    given = []
    for text in links.split():
        ends, prr = text.split("=")
        given.append(GivenLink(*ends.split("~"), float(prr), None))
    known = {device.id for device in devices}
    missing = {end for link in given for end in (link.a, link.b)} - known
    everyone = (*devices, *map(_device, sorted(missing)))
    return Layout(name, tuple(sorted(everyone, key=lambda device: device.id)), tuple(given))


class SmallSites:
    """Builders: ``device("s1", 3.0, 4.0)``, ``layout("a", ..., links="g1~s1=0.9")``, ``site``.

    The first letter of an id says what a device is: g, r or s for gateway, repeater or sensor.
    """

    device = staticmethod(_device)
    layout = staticmethod(_layout)
    undrawn = UNDRAWN
    open_plan = OPEN_PLAN

    def __call__(
        self,
        *layouts: Layout,
        building: Building = UNDRAWN,
        horizon_years: float = 1.0,
        **sections: dict[str, object],
    ) -> Site:
        """Return a site; ``radio={"predict": False}`` and the like replace single settings."""
        settings = {
            "radio": _stated(Radio, "radio"),
            "routing": routing_of(None, Findings()),
            "hazards": hazards_of(None, Findings()),
            "upkeep": upkeep_of(None, Findings()),
        }
        for name, changes in sections.items():
            settings[name] = replace(settings[name], **changes)
        return Site(
            "Made up",
            horizon_years,
            date(2030, 1, 1),
            building,
            layouts=layouts,
            **settings,
        )

    def linked(self, links: str, **changes: object) -> Site:
        """Return a site of given links only, ``g1~s1=0.9 s1~s2=0.8``, with one layout."""
        radio = {"predict": False} | changes.pop("radio", {})
        return self(_layout("a", links=links), radio=radio, **changes)


@pytest.fixture(scope="session")
def small_site() -> SmallSites:
    return SmallSites()


BUSY = {
    "hardware": Hardware(400.0, 1.0),
    "link_blockage": Blockage(200.0, 0.5, 20.0, 12.0, Duration("exponential", mean_h=4.0)),
    "gateway_outage": GatewayOutage(60.0, Duration("exponential", mean_h=6.0)),
}
PLACES = {"g1": (0, 0), "s1": (16, 3), "s2": (29, 0), "s3": (43, 6), "s4": (26, 14), "s5": (54, 0)}


@pytest.fixture(scope="session")
def busy_site(small_site: SmallSites) -> Site:
    """A corridor whose far end needs relays, with much going on in 0.02 years (175 h).

    Layout b has a repeater more than layout a.
    """
    devices = [small_site.device(id, float(x), float(y)) for id, (x, y) in PLACES.items()]
    helped = [*devices, small_site.device("r1", 35.0, 3.0)]
    layouts = (small_site.layout("a", *devices), small_site.layout("b", *helped))
    return small_site(*layouts, horizon_years=0.02, hazards=BUSY)


MS_PER_H = 3_600_000
YEAR_MS = 8766 * MS_PER_H


def _made_study(
    layout: str,
    *,
    blame_h: Mapping[Holder, Sequence[float]] | None = None,
    counted: bool = False,
    n_repeaters: int = 9,
    **columns_h: Sequence[float],
) -> Study:
    """Return a study of one sensor over a year from hours (or counts) per building draw.

    Both lifetimes of a building have the value given, so that hours per sensor-year are exactly
    it; columns are named as in the tally, ``orphan``, ``dark``, ``depth`` and the like in hours.
    """
    n = 2 * len(next(iter(columns_h.values())))
    rows = np.zeros((n, len(COLUMNS)), dtype=np.int64)
    for name, values in columns_h.items():
        is_time = f"{name}_ms" in COLUMNS
        column = COLUMNS.index(f"{name}_ms" if is_time else name)
        rows[:, column] = np.repeat(np.asarray(values) * (MS_PER_H if is_time else 1), 2)
    sensors = {}
    for figure in SENSOR_FIGURES:
        pairs = rows[:, COLUMNS.index(figure)].reshape(-1, 2).sum(axis=1).tolist()
        sensors[figure, "s1"] = SensorSums(sum(pairs), sum(value**2 for value in pairs))
    if blame_h is None:
        blame_h = {("layout", ""): columns_h.get("orphan", ())}
    blame_ms = {holder: round(2 * MS_PER_H * sum(hours)) for holder, hours in blame_h.items()}
    tally = Tally(0, rows, sensors, Counter(blame_ms), Counter())
    return Study(
        "Made up", layout, ("s1",), YEAR_MS, 1, counted, "made by hand", tally, n_repeaters
    )


@pytest.fixture(scope="session")
def made_study() -> Callable[..., Study]:
    return _made_study
