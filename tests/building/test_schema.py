"""The schema is judged by the jsonschema library (JSON Schema draft 2020-12), not by ourselves."""

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from resilience.assumptions.catalogue import settings
from resilience.building.files.schema import site_schema
from resilience.building.files.template import Answers, new_site

EXAMPLE = """\
format: 1
name: Closed-form case
horizon_years: 5
radio: {predict: false, environment: quiet}
routing: {objective: hops, hysteresis: 0}
models: {standard: {transmit_dbm: 4, battery: mine}}
batteries: {mine: {capacity_mah: 1200, usable_share: 0.7}}
building:
  outline: [[0, 0], [9, 0], [9, 9]]
  levels: [{id: ground, slab: lead}]
  doors: [{id: D1, wall: W1, at_m: 1, width_m: 1, height_m: 2, construction: steel_door}]
  pillars: [{id: P, level: ground, x_m: 1, y_m: 1, width_m: 1, depth_m: 1, construction: lead}]
  shafts: [{id: T, lowest: ground, highest: ground, outline: [[1, 1], [2, 1], [2, 2]],
            lining: open}]
  constructions: {lead: {loss_db: 60}, clay: {layers: [[brick, 0.1], [air, 0.05]]}}
  sensor_height_m: 2.5
hazards:
  hardware: {mttf_h: 8760, shape: 1.0}
  link_blockage: {per_year: 12, mean_h: 4}
  battery: off
  all_others: off
upkeep:
  repair: {mean_h: 240, distribution: exponential, crews: unlimited}
  gateway_repair: off
calendar: {hand_over: "2030-01-01"}
"""


def errors(text):
    document = YAML(typ="safe", pure=True).load(text)
    return [error.message for error in Draft202012Validator(site_schema()).iter_errors(document)]


def test_the_schema_is_a_schema():
    Draft202012Validator.check_schema(site_schema())


def test_a_document_with_every_section_is_valid():
    assert errors(EXAMPLE) == []


def test_the_pages_of_a_new_site_are_valid(tmp_path):
    page = new_site(tmp_path / "new", Answers("New", 2, 20, 10, 5, "centre")) / "site.yaml"
    text = page.read_text(encoding="utf-8").replace("2030-01-01", "'2030-01-01'")
    assert errors(text) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("format: 1", "format: 2"),
        ("format: 1\n", ""),
        ("horizon_years: 5", "horizn_years: 5"),
        ("horizon_years: 5", "horizon_years: 0"),
        ("objective: hops", "objective: hop"),
        ("hysteresis: 0", "hysteresis: 0.5"),
        ("mttf_h: 8760,", "mttf_h: 8760, per_year: 1,"),
        ("battery: off", "battery: maybe"),
        ("crews: unlimited", "crews: 2"),
        ("[brick, 0.1]", "[brik, 0.1]"),
        ("{loss_db: 60}", "{loss_db: 60, layers: [[air, 1]]}"),
        ("usable_share: 0.7", "usable_share: 1.7"),
        ("lining: open", "linning: open"),
    ],
)
def test_what_the_reader_refuses_the_schema_refuses_too(old, new):
    assert old in EXAMPLE
    assert errors(EXAMPLE.replace(old, new, 1))


def test_every_setting_is_described_with_unit_default_and_source():
    text = str(site_schema())
    for setting in settings():
        assert f"[{setting.unit}]" in text
        assert setting.meaning in text
        assert setting.source in text or repr(setting.source)[1:-1] in text
