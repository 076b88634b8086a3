"""Small hand-made comparisons: studies built from figures, never by playing."""

import io
from collections import Counter
from collections.abc import Callable
from datetime import date

import numpy as np
import pytest
from rich.console import Console

from resilience.assumptions.catalogue import section
from resilience.building.models import DeviceModel
from resilience.building.settings import Battery, Hazards, Radio, Routing
from resilience.building.site import Device, Kind, Layout, Site
from resilience.building.structure import Building
from resilience.building.upkeep import Upkeep
from resilience.lifetime.tally import COLUMNS, SENSOR_FIGURES, SensorSums, Tally
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import ranked
from resilience.report.pages import Page
from resilience.report.screen import Screen
from resilience.units import MS_PER_H, MS_PER_YEAR

MODEL = DeviceModel(0, 0, 0, -100, 20, 2, 500, True, "cells")
RADIO = Radio(**{setting.name: setting.default for setting in section("radio")})
ROUTING = Routing(**{setting.name: setting.default for setting in section("routing")})
NO_HAZARDS = Hazards(**dict.fromkeys(Hazards.__slots__) | {"battery": Battery(0.1)})


def _layout(name: str, ids: str) -> Layout:
    kinds = {"G": Kind.GATEWAY, "R": Kind.REPEATER, "S": Kind.SENSOR}
    devices = tuple(Device(id, kinds[id[0]], None, MODEL, None) for id in sorted(ids.split()))
    return Layout(name, devices, ())


def _site(layouts: dict[str, str], name: str = "Invented annexe") -> Site:
    return Site(
        name,
        1.0,
        date(2030, 1, 1),
        Building(()),
        RADIO,
        ROUTING,
        NO_HAZARDS,
        Upkeep(None, None),
        tuple(_layout(one, ids) for one, ids in sorted(layouts.items())),
    )


def _study(
    layout: Layout,
    hours: list[float],
    blame: dict[tuple[str, str], float],
    **columns: list[int],
) -> Study:
    """A study of one-year lifetimes from the orphan hours of each, all of the first sensor's."""
    sensors = tuple(sensor.id for sensor in layout.sensors)
    rows = np.zeros((len(hours), len(COLUMNS)), dtype=np.int64)
    orphan_ms = np.array([round(one * MS_PER_H) for one in hours], dtype=np.int64)
    for name in ("orphan_ms", "dark_ms"):
        rows[:, COLUMNS.index(name)] = orphan_ms
    defaults = {"routed_ms": [MS_PER_YEAR], "depth_ms": [2 * MS_PER_YEAR], "deepest": [3]}
    for name, values in (defaults | columns).items():
        rows[:, COLUMNS.index(name)] = np.resize(values, len(hours))
    sums = {(figure, id): SensorSums(0, 0) for figure in SENSOR_FIGURES for id in sensors}
    pairs = [int(one) for one in orphan_ms.reshape(-1, 2).sum(axis=1)]
    for figure in ("orphan_ms", "dark_ms"):
        squares = sum(one**2 for one in pairs)
        sums[figure, sensors[0]] = SensorSums(sum(pairs), squares)
    waited = sum(int(one) for one in rows[:, COLUMNS.index("not_reached_ms")])
    sums["not_reached_ms", sensors[0]] = SensorSums(waited, waited**2)
    blame_ms = Counter({holder: round(one * MS_PER_H) for holder, one in blame.items()})
    return Study(
        "Invented annexe",
        layout.name,
        sensors,
        MS_PER_YEAR,
        7,
        False,
        "the lifetimes asked for were played",
        Tally(0, rows, sums, blame_ms, Counter()),
    )


@pytest.fixture(scope="session")
def study_of() -> Callable[..., Study]:
    return _study


@pytest.fixture(scope="session")
def site_of() -> Callable[..., Site]:
    return _site


@pytest.fixture(scope="session")
def clear_case():
    """Layout b beats a by 40 h a sensor and year in each of 120 buildings; S1 is the only sensor.

    Of the 40 h that a has more, 31 come while R1 is away and 12 by the radio draw; b has 3 h more
    on the path from S1 to R2.
    """
    site = _site({"a": "G1 R1 S1", "b": "G1 R1 R2 S1"})
    wobble = [-2, 2, 1, 3] * 60  # the mean of a is 52 + 1
    events = {"device_failures": [1, 1, 1, 2], "gateway_outages": [6], "visits": [4]}
    n = len(wobble)
    a = _study(
        site.layout("a"),
        [52 + one for one in wobble],
        {("hardware", "R1"): 31 * n, ("radio draw", ""): 22 * n},
        **events,
    )
    b = _study(
        site.layout("b"),
        [12 + one / 2 for one in wobble[::-1]],
        {("radio draw", ""): 9.5 * n, ("link_blockage", "R2~S1"): 3 * n},
        **events,
    )
    return ranked(site, (a, b))


@pytest.fixture(scope="session")
def shown() -> Callable[..., str]:
    """Text of a page as a pipe of 100 columns gets it, trailing blanks taken away."""

    def rendered(page: Page, color_system: str | None = None) -> str:
        stream = io.StringIO()
        is_terminal = color_system is not None
        console = Console(
            file=stream,
            width=100,
            markup=False,
            emoji=False,
            highlight=False,
            color_system=color_system,
            force_terminal=is_terminal,
        )
        console.print(Screen(page), crop=False)
        return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"

    return rendered
