"""The writer knows every kind of part, and what it writes reads back as it was."""

import pytest

from resilience.building.files.folder import read_site
from resilience.building.parts import LISTED
from resilience.drawings.adopting.pages import site_page, with_parts

PARTS = """\
  levels:
    - {id: ground, slab: lead, height_m: 4, outline: [[0, 0], [9, 0], [9, 9]]}
    - {id: upper, floor_m: 5}
  doors:
    - {id: D1, wall: W1, at_m: 1, width_m: 1, height_m: 2, construction: steel_door}
    - {id: D2, wall: W1, at_m: 3, width_m: 1, height_m: 2, kind: fire_door, changes: on}
    - {id: D3, wall: W1, at_m: 5, width_m: 1, height_m: 2, adds_db: 6, per_year: 9, mean_h: 8,
       distribution: fixed}
  windows:
    - {id: F, wall: W1, at_m: 7, width_m: 1, sill_m: 1, height_m: 1, construction: glass_10}
  pillars:
    - {id: P, level: ground, x_m: 5, y_m: 1, width_m: 1, depth_m: 1, construction: lead}
  shafts:
    - {id: T, lowest: ground, highest: upper, outline: [[3, 1], [4, 1], [4, 2]], lining: open}
    - {id: U, level: upper, outline: [[6, 1], [7, 1], [7, 2]], lining: brick_120}
  openings:
    - {id: O, level: ground, outline: [[6, 1], [7, 1], [7, 2]], construction: glass_10}
  plates:
    - {id: S, level: ground, corners: [[6, 3, 0], [7, 3, 1], [7, 4, 1]], construction: lead}
  obstacles:
    - {id: V, kind: vehicle, level: ground, x_m: 8, y_m: 4, width_m: 1, depth_m: 1, foot_m: 0.5,
       height_m: 2, loss_db: 3, changes: on, median_h: 4, p90_h: 9}
    - {id: W, level: ground, x_m: 8, y_m: 6, width_m: 1, depth_m: 1, hours: 22-6, months: oct-mar}
    - {id: X, level: ground, x_m: 8, y_m: 7, width_m: 1, depth_m: 1, weekdays: mon-fri,
       per_year: 9}
  zones:
    - {id: Z, level: ground, outline: [[6, 3], [7, 3], [7, 4]], works_per_year: 2}
    - {id: upper, removed_per_year: 0}
"""
OWN = "  constructions: {lead: {loss_db: 60}}\n"
WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,0,9,0,brick_120\n"
DEVICES = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,0.5\nS1,sensor,ground,2,0.5\n"


@pytest.fixture
def site(tmp_path):
    (tmp_path / "layouts/a").mkdir(parents=True)
    (tmp_path / "walls.csv").write_text(WALLS)
    (tmp_path / "layouts/a/devices.csv").write_text(DEVICES)
    (tmp_path / "site.yaml").write_text(f"format: 1\nbuilding:\n{PARTS}{OWN}")
    return tmp_path


def test_everything_drawn_reads_back_as_it_was_written(site):
    drawn = read_site(site).building
    assert all(getattr(drawn, part.name) for part in LISTED)
    page = site_page("copy").replace("  levels: []\n", f"  levels: []\n{OWN}")
    (site / "site.yaml").write_text(with_parts(page, drawn, ()))
    assert read_site(site).building == drawn
