"""The tree at hand-over, and what moves when one device is off: worked by hand on five devices.

With objective ``hops`` every link costs the same. G1 hears R1 and R2; S1 hears R1 alone, S2 both
repeaters, S3 only S2. Of equal ways the parent of least id is taken, so S2 hangs on R1.
"""

import pytest

from resilience.building.files.folder import read_site
from resilience.connectivity.links import links
from resilience.connectivity.trees import CalmTree
from resilience.lifetime.playing import Stage

SITE = """\
format: 1
name: Five devices
horizon_years: 1
radio: {predict: off, swing_db: 0}
routing: {objective: hops}
hazards: {all_others: off}
"""
LINKS = "a,b,prr\nG1,R1,1\nG1,R2,1\nR1,S1,1\nR1,S2,1\nR2,S2,1\nS2,S3,1\n"
DEVICES = "id,kind\nG1,gateway\nR1,repeater\nR2,repeater\nS1,sensor\nS2,sensor\nS3,sensor\n"


@pytest.fixture
def five(tmp_path):
    (tmp_path / "layouts/one").mkdir(parents=True)
    (tmp_path / "site.yaml").write_text(SITE, encoding="utf-8")
    (tmp_path / "links.csv").write_text(LINKS, encoding="utf-8")
    (tmp_path / "layouts/one/devices.csv").write_text(DEVICES, encoding="utf-8")
    return read_site(tmp_path)


def test_every_device_takes_the_cheapest_way_and_of_equal_ones_the_parent_of_least_id(five):
    tree = CalmTree(links(five, "one"))
    assert tree.parents == {"R1": "G1", "R2": "G1", "S1": "R1", "S2": "R1", "S3": "S2"}
    assert tree.behind("R1") == ("S1", "S2", "S3")


def test_what_is_behind_a_device_that_is_off_moves_or_goes_silent_and_nobody_else(five):
    tree = CalmTree(links(five, "one"))
    off = tree.without("R1")
    assert off.silent == ("S1",)
    assert off.moves == (("S2", "R1", "R2"),)  # S3 follows its parent and does not move
    assert tree.without("S2").silent == ("S3",)
    assert tree.without("R2").silent == tree.without("R2").moves == ()
    assert tree.without("G1").silent == ("S1", "S2", "S3")


def test_the_tree_is_the_one_that_lifetimes_begin_with(five):
    """Where nothing is drawn at random: links of measured ratio 1 that stay usable by far."""
    first = Stage(five, five.layouts[0], 1, False, "reference").play(0).history.first_parents
    parents = {id: parent for id, parent in first.items() if parent is not None}
    assert parents == CalmTree(links(five, "one")).parents
