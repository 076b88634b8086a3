"""Sites small enough to read, made of the catalogue's defaults."""

from collections.abc import Callable

import pytest

from resilience.assumptions.catalogue import section
from resilience.building.settings import DeviceModel, Radio, Routing


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
