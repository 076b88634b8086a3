"""The demo sites are sound, small and invented."""

import csv
from pathlib import Path

from resilience.building.stated.sections import hazards_of, routing_of
from resilience.building.stated.upkeep import upkeep_of
from resilience.building.text.entries import Findings

SITES = Path(__file__).parent.parent.parent / "sites"
MOST_DEVICES = 26


DEFAULTS_TAKEN = (
    *("heights are blank", "do not say how much", "hazards.obstacles.blockage_share"),
    *("nothing is learnt from it yet", "has nothing to strike"),
    *("Not played unless", "links measured"),
)


def test_a_demo_site_reads_without_faults_and_tells_of_defaults_alone(demo, site_name):
    for note in demo(site_name).notes:
        assert any(phrase in note for phrase in DEFAULTS_TAKEN), note


def test_every_layout_has_the_sensors_of_the_file_at_the_same_places(demo, site_name):
    with (SITES / site_name / "sensors.csv").open(encoding="utf-8", newline="") as stream:
        written = {
            row["id"]: (row["level"], float(row["x_m"]), float(row["y_m"]))
            for row in csv.DictReader(stream)
        }
    site = demo(site_name)
    assert len(site.layouts) >= 3
    for layout in site.layouts:
        read = {one.id: (one.place.level, one.place.x_m, one.place.y_m) for one in layout.sensors}
        assert read == written, layout.name


def test_a_demo_site_stays_small_and_looks_five_years_ahead(demo, site_name):
    site = demo(site_name)
    assert all(len(layout.devices) <= MOST_DEVICES for layout in site.layouts)
    assert site.horizon_years == 5


def test_a_demo_site_keeps_every_hazard_and_rule_at_its_default(demo, site_name):
    site = demo(site_name)
    assert site.hazards == hazards_of(None, Findings())
    assert site.upkeep == upkeep_of(None, Findings())
    assert site.routing == routing_of(None, Findings())


def test_a_demo_site_says_that_it_is_invented_and_which_band_it_assumes(demo, readme, site_name):
    text = readme(site_name)
    assert "invented" in text
    assert demo(site_name).name in text
    assert f"`radio: {{environment: {demo(site_name).radio.environment}}}`" in text


def test_a_demo_site_names_each_of_its_layouts(demo, readme, site_name):
    for layout in demo(site_name).layouts:
        assert f"`{layout.name}`" in readme(site_name)


def test_the_list_of_sites_names_every_site(site_name):
    assert f"`{site_name}`" in (SITES / "README.md").read_text(encoding="utf-8")
