"""The schema is judged by the jsonschema library (JSON Schema draft 2020-12), not by ourselves."""

import json

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from resilience.assumptions.catalogue import section, settings
from resilience.building.files.folder import SECTIONS
from resilience.building.files.policies import read_policy
from resilience.building.files.schema import policy_schema, site_schema
from resilience.building.files.template import Answers, new_site
from resilience.building.parts import LISTED
from resilience.building.sections.drawn import PARTS
from resilience.errors import InputError

EXAMPLE = """\
format: 1
name: Closed-form case
horizon_years: 5
radio: {predict: false, environment: quiet}
routing: {objective: hops, hysteresis: 0}
models: {standard: {transmit_dbm: 4, battery: mine}}
mountings: {flush_box_db: 4, metal_behind_db: 6, cabinet_db: 15}
changes: {all_doors: on, lift_car: {adds_db: 25, per_year: 300, median_h: 3, p90_h: 12}}
batteries: {mine: {capacity_mah: 1200, usable_share: 0.7, chemistry: alkaline, doubling_c: 15}}
chemistries: {alkaline: {self_discharge_per_year: 0.03, at_0_c_share: 0.8}}
temperatures:
  everywhere: {all_year_c: 21}
  ground: {by_month_c: [-1, 0, 4, 9, 14, 17, 19, 18, 15, 10, 4, 1]}
building:
  outline: [[0, 0], [9, 0], [9, 9]]
  levels:
    - {id: ground, slab: lead, floor_m: 0, height_m: 4, outline: [[0, 0], [9, 0], [9, 9]]}
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
    - {id: T, lowest: ground, highest: ground, outline: [[3, 1], [4, 1], [4, 2]], lining: open}
  openings:
    - {id: O, level: ground, outline: [[6, 1], [7, 1], [7, 2]], construction: glass_10}
  plates:
    - {id: S, level: ground, corners: [[6, 3, 0], [7, 3, 1], [7, 4, 1]], construction: lead}
  obstacles:
    - {id: V, kind: vehicle, level: ground, x_m: 8, y_m: 4, width_m: 1, depth_m: 1, foot_m: 0,
       height_m: 2, loss_db: 0, changes: on, median_h: 4, p90_h: 9}
    - {id: W, level: ground, x_m: 8, y_m: 6, width_m: 1, depth_m: 1, hours: 08:00-17:00,
       weekdays: mon-fri, months: oct-mar}
  zones:
    - {id: hall, level: ground, outline: [[0, 0], [4, 0], [4, 4]], works_per_year: 0.5}
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


WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,0,9,0,brick_120\n"
DEVICES = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,0.5\nS1,sensor,ground,2,0.5\n"


def test_what_the_schema_allows_the_reader_reads(folder):
    text = EXAMPLE.replace("predict: false", "predict: true")
    folder.write(site_yaml=text, walls_csv=WALLS, layouts__a__devices_csv=DEVICES)
    building = folder.read().building
    kinds = ("doors", "windows", "pillars", "shafts", "openings", "plates", "obstacles", "zones")
    assert [len(getattr(building, kind)) for kind in kinds] == [3, 1, 1, 1, 1, 1, 2, 1]


def test_the_schema_knows_the_keys_of_everything_drawn():
    building = site_schema()["properties"]["building"]["properties"]
    lists = {key: part for key, part in building.items() if "properties" in part.get("items", {})}
    assert lists.keys() == {part.name for part in LISTED}
    for part in LISTED:
        known = lists[part.name]["items"]["properties"]
        assert set(known) == {*part.single, *part.nested}, part.name
    assert set(PARTS) <= set(building)


@pytest.mark.parametrize("part", LISTED, ids=lambda part: part.name)
def test_the_reader_misses_every_key_that_is_declared_as_needed(folder, part):
    drawn = YAML(typ="safe", pure=True).load(EXAMPLE)["building"][part.name]
    for key in set(part.needed) - {"id"}:
        lines = [{name: one[name] for name in one if name != key} for one in drawn[:1]]
        faults = folder.write(
            site_yaml=json.dumps(
                {"format": 1, "building": {"levels": [{"id": "ground"}], part.name: lines}}
            ),
            walls_csv=WALLS,
        ).faults()
        assert any(key in fault for fault in faults), (part.name, key)


def test_reader_and_schema_know_the_same_sections():
    top = {setting.name for setting in section("")} | {"format", "name"}
    top |= {"client", "drawing_revision", "author", "tags"}
    assert set(site_schema()["properties"]) == {*SECTIONS, *top}


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
        ("crews: unlimited", "crews: 0"),
        ("[brick, 0.1]", "[brik, 0.1]"),
        ("{loss_db: 60}", "{loss_db: 60, layers: [[air, 1]]}"),
        ("usable_share: 0.7", "usable_share: 1.7"),
        ("chemistry: alkaline", "chemistry: alkalin"),
        ("15, 10, 4, 1]", "15, 10, 4]"),
        ("all_year_c: 21", "all_year_c: 121"),
        ("lining: open", "linning: open"),
        ("mean_h: 8", "mean_h: 8, median_h: 8"),
        (", kind: fire_door, changes: on", ""),
        ("kind: fire_door", "kind: firedoor"),
        ("sill_m: 1, ", ""),
        ("adds_db: 6", "adds_db: 0"),
        ("[6, 3, 0]", "[6, 3]"),
        ("x_m: 5, y_m: 1, width_m: 1", "x_m: 5, y_m: 1, width_m: 0"),
        ("foot_m: 0", "foot_m: -1"),
        ("cabinet_db: 15", "cabinet_db: 99"),
        ("lift_car: {", "liftcar: {"),
        ("all_doors: on", "all_doors: fire_door"),
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


@pytest.mark.parametrize(
    ("text", "is_valid"),
    [
        ("max_orphans: 1\nlonger_than_h: 24\nkept_with_probability: 0.95", True),
        ("max_orphan_share: 0.1\nlonger_than_h: 0\nkept_with_probability: 0.5\ncount: dark", True),
        ("max_orphans: 1\nlonger_than_h: 24\nkept_with_probability: 0.95\nfrom: first_route", True),
        ("max_orphans: 1\nlonger_than_h: 24\nkept_with_probability: 1", False),
        (
            "max_orphans: 1\nmax_orphan_share: 0.1\nlonger_than_h: 1\nkept_with_probability: 0.9",
            False,
        ),
        ("max_orphans: 1\nlonger_than_h: -1\nkept_with_probability: 0.9", False),
        ("max_orphan: 1\nlonger_than_h: 1\nkept_with_probability: 0.9", False),
        ("longer_than_h: 1\nkept_with_probability: 0.9", False),
        ("max_orphans: 1.5\nlonger_than_h: 1\nkept_with_probability: 0.9", False),
    ],
)
def test_the_schema_of_a_policy_takes_what_the_reader_takes(tmp_path, small_site, text, is_valid):
    site = small_site.linked("g1~s1=0.9 s1~s2=0.9")
    (tmp_path / "policy.yaml").write_text(f"format: 1\n{text}\n")
    try:
        is_read = read_policy(tmp_path, site) is not None
    except InputError:
        is_read = False
    document = YAML(typ="safe").load(f"format: 1\n{text}\n")
    is_allowed = Draft202012Validator(policy_schema()).is_valid(document)
    assert is_read == is_allowed == is_valid
