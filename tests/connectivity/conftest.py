"""Sites small enough to read, made of the catalogue's defaults."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from resilience.assumptions.catalogue import section
from resilience.building.models import DeviceModel
from resilience.building.settings import Radio, Routing
from resilience.building.site import Place
from resilience.building.structure import Building
from resilience.connectivity.shapes.crossings import Hindrance, drawing, hindrances


@pytest.fixture(scope="session")
def radio() -> Radio:
    return Radio(**{setting.name: setting.default for setting in section("radio")})


@pytest.fixture(scope="session")
def routing() -> Routing:
    return Routing(**{setting.name: setting.default for setting in section("routing")})


@pytest.fixture(scope="session")
def model() -> Callable[..., DeviceModel]:
    defaults = {setting.name: setting.default for setting in section("models.*")}
    return lambda **changes: DeviceModel(**{**defaults, **changes})


@pytest.fixture(scope="session")
def met(radio) -> Callable[..., tuple[Hindrance, ...]]:
    """Hindrances between two places of a building, with an obstacle limit if one is asked for."""

    def hindrances_of(building: Building, a: Place, b: Place, most_db: float = 25.0):
        return hindrances(drawing(building, replace(radio, obstacle_most_db=most_db)), a, b)

    return hindrances_of
