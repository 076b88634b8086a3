"""A site on which the number of crews alone decides which layout is better, and its story."""

import math
from dataclasses import replace

import numpy as np
import pytest

from resilience.building.files.folder import read_site
from resilience.building.upkeep import WorkingHours
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.lifetime.playing import Stage
from resilience.lifetime.tracing import trace
from resilience.report.told.story import story_page
from resilience.units import MS_PER_YEAR

# Cells of repeaters last 1,500 h on average and every crew is bound for 300 h a visit. One repeater
# in the corridor hears all rooms; the other layout has two for every room, so ten sets of cells.
SITE = """\
format: 1
name: Five rooms
horizon_years: 4
radio: {predict: off, swing_db: 0}
models:
  relay: {leaf_ua: 100, forwarding_ua: 0, searching_ua: 100, battery: small}
batteries:
  small: {capacity_mah: 150, usable_share: 1}
  large: {capacity_mah: 90000, usable_share: 1}
hazards: {battery: {spread: 0.5}, all_others: off}
upkeep:
  alarm_h: 24
  repair: {mean_h: 300, distribution: exponential}
calendar: {hand_over: 2030-01-01}
"""
ROOMS = range(1, 6)
SENSORS = "id,kind,battery\n" + "".join(f"S{room},sensor,large\n" for room in ROOMS)
CORRIDOR = "id,kind,model,supply\nG1,gateway,,\nR1,repeater,relay,battery\n"
PAIRS = "id,kind,model,supply\nG1,gateway,,\n" + "".join(
    f"R{room}{side},repeater,relay,battery\n" for room in ROOMS for side in "ab"
)
CORRIDOR_LINKS = "a,b,prr\nG1,R1,1\n" + "".join(f"R1,S{room},1\n" for room in ROOMS)
PAIRS_LINKS = "a,b,prr\n" + "".join(
    f"G1,R{room}{side},1\nR{room}{side},S{room},1\n" for room in ROOMS for side in "ab"
)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("rooms")
    (folder / "site.yaml").write_text(SITE)
    (folder / "sensors.csv").write_text(SENSORS)
    tables = {"corridor": (CORRIDOR, CORRIDOR_LINKS), "pairs": (PAIRS, PAIRS_LINKS)}
    for name, (devices, links) in tables.items():
        layout = folder / "layouts" / name
        layout.mkdir(parents=True)
        (layout / "devices.csv").write_text(devices)
        (layout / "links.csv").write_text(links)
    return read_site(folder)


def _lost_share(site, name: str) -> np.ndarray:
    """Share of time that sensors are cut off, by lifetime."""
    played = Stage(site, site.layout(name), 1, False).tally(0, 60)
    return played.column("orphan_ms") / len(ROOMS) / (site.horizon_years * MS_PER_YEAR)


@pytest.mark.parametrize(("crews", "better"), [("unlimited", "pairs"), (1, "corridor")])
def test_how_many_crews_there_are_decides_which_layout_is_better(site, crews, better):
    """Machine repair, roughly: a repeater that is seen to at once is away for 0.18 of the time.

    Of two, both are for 0.03. One crew of 300 h a visit keeps 5 of 10 repeaters with cells of
    1,500 h alive: then both of a room are away for about 0.25, one of one still for 0.18.
    """
    changed = site.with_setting("upkeep.crews", crews)
    lost = {name: _lost_share(changed, name) for name in ("corridor", "pairs")}
    worse = {"pairs": "corridor", "corridor": "pairs"}[better]
    difference = lost[worse] - lost[better]
    error = np.std(difference, ddof=1) / math.sqrt(len(difference))
    assert np.mean(difference) > 4 * error > 0, {name: np.mean(one) for name, one in lost.items()}


def test_its_story_tells_who_was_called_for_and_who_waited(site, shown):
    busy = site.with_setting("upkeep.crews", 1)
    lived = trace(busy, "pairs", 0)
    page = " ".join(shown(story_page(lived, is_full=True)).split())
    assert "A call is opened for R1a, 24.0 h after it fell silent." in page
    assert "A crew sets out for" in page
    assert "for it." in page, "somebody waited"
    assert "of working time" in page
    first = min(lived.history.calls, key=lambda call: call.opened_ms)
    assert f"A crew sets out for {first.device}." in page, "the first waits for nobody"


@pytest.mark.parametrize("mends", ["device", "site"])
def test_both_engines_add_up_the_same_visits_also_without_some_repeater(site, mends):
    busy = site.with_setting("upkeep.crews", 1).with_setting("upkeep.mends", mends)
    busy = replace(busy, horizon_years=1, working_hours=WorkingHours(8, 17, (0, 1, 2, 3, 4)))
    whole = [
        Stage(busy, busy.layout("pairs"), 1, False, engine) for engine in (COMPILED, REFERENCE)
    ]
    for one, other in (whole, [stage.without({"R1a", "R3b"}) for stage in whole]):
        compiled, reference = one.tally(0, 2), other.tally(0, 2)
        assert np.array_equal(compiled.rows, reference.rows)
        for field in ("sensors", "blame_ms", "struck", "drains"):
            assert getattr(compiled, field) == getattr(reference, field)
