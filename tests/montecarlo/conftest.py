import pytest


@pytest.fixture(scope="session")
def site(busy_site):
    return busy_site
