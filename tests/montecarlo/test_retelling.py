"""What lifetimes show from within, against histories written by hand and against their records."""

from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import History, ParentChange
from resilience.montecarlo.retelling import carried_ms, retold
from resilience.montecarlo.runs.running import Undertaking
from resilience.units import MS_PER_H, MS_PER_YEAR

SITE = """\
format: 1
name: Invented chain
horizon_years: 1.5
radio: {predict: off, swing_db: 0}
routing: {objective: hops}
hazards:
  hardware: {mttf_h: 2000}
  all_others: off
upkeep: {repair: {mean_h: 240}}
"""


def test_a_link_carries_from_the_moment_it_is_taken_until_it_is_left():
    history = History(
        {"R1": "G1", "S1": "R1", "S2": None},
        (),
        (
            ParentChange(10, "S1", "R1", None),
            ParentChange(30, "S1", None, "R1"),
            ParentChange(40, "S2", None, "S1"),
            ParentChange(60, "S1", "R1", "G1"),
        ),
        (),
    )
    assert carried_ms(history, 100) == {
        ("R1", "G1"): 100,
        ("S1", "R1"): 10 + 30,
        ("S1", "G1"): 40,
        ("S2", "S1"): 60,
    }


@pytest.fixture(scope="module")
def stage(tmp_path_factory) -> Stage:
    folder = tmp_path_factory.mktemp("sites")
    files = {
        "site.yaml": SITE,
        "links.csv": "a,b,prr\nG1,R1,1\nR1,S1,1\nR1,S2,1\n",
        "layouts/one/devices.csv": "id,kind\nG1,gateway\nR1,repeater\nS1,sensor\nS2,sensor\n",
    }
    for name, text in files.items():
        path = Path(folder) / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    site = read_site(folder)
    return Undertaking(site, site.layouts, 3, False, "reference").stage(site.layouts[0])


def test_years_add_up_to_the_hours_of_the_records_and_shares_to_all_of_the_time(stage):
    n = 8
    found = retold(stage, n, lambda: False)
    records = [stage.play(number).record for number in range(n)]
    hours = sum(sum(one.orphan_ms.values()) for one in records) / MS_PER_H
    assert hours > 0
    first, last = (one.mean for one in found.hours_by_year)
    per_sensor = hours / (n * 2)  # the second year is half a one, told as if it were whole
    assert first + last / 2 == pytest.approx(per_sensor)
    assert sum(found.at_once_share.values()) == pytest.approx(1)
    both = sum(one.count_ms.get(2, 0) for one in records)
    horizon_ms = round(1.5 * MS_PER_YEAR)
    assert found.above_share(2) == pytest.approx(both / (n * horizon_ms))
    assert found.n_lifetimes == n


def test_a_device_has_a_parent_for_as_long_as_it_has_a_depth(stage):
    found = retold(stage, 4, lambda: False)
    routed = sum(share for (id, _), share in found.carried_share.items() if id.startswith("S"))
    assert routed == pytest.approx(2 * sum(found.depth_share.values()))


def test_telling_ends_with_the_building_at_hand_once_it_is_late(stage):
    assert retold(stage, 8, lambda: True).n_lifetimes == 2
