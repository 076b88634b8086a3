"""The service log of the market hall says what its README says of it."""

from datetime import datetime
from pathlib import Path

from resilience.building.files.folder import read_site
from resilience.building.service.logbook import read_history
from resilience.hazards.learning.learning import learn
from resilience.hazards.learning.lessons import Conflict

HALL = Path(__file__).parent.parent.parent / "sites" / "market-hall"


def test_the_log_of_the_market_hall_says_what_its_readme_says():
    history = read_history([(HALL / "history.csv", None)], datetime(2026, 1, 1))
    found = {one.key: one for one in learn(read_site(HALL), history).found}
    outages, hardware = (
        found[f"hazards.{cause}.per_year"] for cause in ("gateway_outage", "hardware")
    )
    assert round(outages.after.value) == 1
    assert outages.before.value == 6
    assert outages.conflict is Conflict.BELOW
    assert hardware.after.low < hardware.before.value < hardware.after.high
    assert "invented" in (HALL / "history.csv").read_text().splitlines()[0].casefold()
