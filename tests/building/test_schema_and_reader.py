"""Editors that know the schema and the reader say the same of a document.

The schema is judged by the jsonschema library on what ruamel loads, the reader by its own faults;
what is right stands beside each case, from the catalogue and the README.
"""

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from resilience.building.files.schema import site_schema
from resilience.errors import InputError

BASE = """\
format: 1
building:
  levels: [{id: ground}, {id: upper}]
"""
WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,5,20,5,brick_120\n"
DEVICES = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,upper,5,5\n"
BLOCK = "x_m: 3, y_m: 3, width_m: 1, depth_m: 1"
SQUARE = "outline: [[1, 1], [2, 1], [2, 2], [1, 2]]"
DOOR = "id: D, wall: W1, at_m: 1, width_m: 1, height_m: 2"


@pytest.fixture(scope="module")
def validator():
    return Draft202012Validator(site_schema())


def read(folder, text):
    """Return the faults of a document as lines."""
    folder.write(site_yaml=text, walls_csv=WALLS, layouts__a__devices_csv=DEVICES)
    try:
        folder.read()
    except InputError as error:
        return [str(fault) for fault in error.faults]
    return []


def agree(folder, validator, text):
    """Return whether reader and schema take a document; fails where they differ."""
    faults = read(folder, text)
    document = YAML(typ="safe", pure=True).load(text)
    errors = [error.message for error in validator.iter_errors(document)]
    assert bool(faults) == bool(errors), (faults, errors)
    return not faults


@pytest.mark.parametrize(
    "text",
    [
        "",
        "name: 2030",
        "name: '=1+1 <b>'",
        "name:",
        "horizon_years: 0.5",
        "horizon_years:",
        "radio:",
        "radio: {}",
        "radio: {swing_db: }",
        "radio: {environment: }",
        "radio: {predict: }",
        "radio: {predict: on}",
        "radio: {predict: ON}",
        "radio: {predict: Yes}",
        "routing: {objective: hops, hysteresis: 0}",
        "models: {a: }",
        "models: {a: {forwards: Off}}",
        "models:",
        "mountings:",
        "batteries: {b: {capacity_mah: 900}}",
        "batteries: {b: }",
        "hazards: {hardware: }",
        "hazards: {hardware: OFF}",
        "hazards: {hardware: on, all_others: off}",
        "hazards: {all_others: }",
        "hazards:",
        "hazards: {hardware: {per_year: 0}}",
        "hazards: {gateway_outage: {mean_h: 4, distribution: fixed}}",
        "hazards: {gateway_outage: {median_h: 4, distribution: lognormal}}",
        "hazards: {gateway_outage: {median_h: 4, p90_h: 4}}",
        "hazards: {gateway_outage: {distribution: lognormal}}",
        "upkeep: {repair: off}",
        "upkeep: {repair: }",
        "upkeep: {repair: {mean_h: 240, crews: unlimited}}",
        "changes: {all_doors: on, fire_door: {per_year: 0}}",
        "changes: {lift_car: }",
        "changes:",
        "calendar: {hand_over: '2030-01-31'}",
        "calendar:",
    ],
)
def test_both_take_what_may_be_stated(folder, validator, text):
    assert agree(folder, validator, f"{BASE}{text}\n")


@pytest.mark.parametrize(
    "text",
    [
        "nam: X",
        "name: [X]",
        "levels: [{id: a}]",
        "horizon_years: 101",
        "horizon_years: '5'",
        "radio: off",
        "radio: [1]",
        "radio: {environment: Quiet}",
        "radio: {predict: 1}",
        "radio: {predict: maybe}",
        "radio: {swing_db: on}",
        "routing: {hysteresis: 1.5}",
        "models: {'': {}}",
        "models: {a~b: {}}",
        f"models: {{{'x' * 65}: {{}}}}",
        "models: {a: {battery: [1]}}",
        "models: {a: off}",
        "hazards: off",
        "hazards: {hardware: 1}",
        "hazards: {floods: off}",
        "hazards: {hardware: {mttf_h: 9, per_year: 1}}",
        "hazards: {gateway_outage: {mean_h: 4, median_h: 4}}",
        "hazards: {gateway_outage: {p90_h: 4}}",
        "hazards: {gateway_outage: {distribution: fixed}}",
        "hazards: {gateway_outage: {median_h: 4, distribution: exponential}}",
        "hazards: {gateway_outage: {mean_h: 4, distribution: lognormal}}",
        "upkeep: {repair: on}",
        "upkeep: off",
        "changes: {all_doors: fire_door}",
        "changes: {fire_door: off}",
        "changes: {other: {p90_h: 4}}",
    ],
)
def test_both_refuse_what_may_not(folder, validator, text):
    assert not agree(folder, validator, f"{BASE}{text}\n")


@pytest.mark.parametrize(
    ("part", "is_right"),
    [
        (f"doors: [{{{DOOR}, construction: open}}]", True),
        (f"doors: [{{{DOOR}, changes: on}}]", True),
        (f"doors: [{{{DOOR}, changes: on, kind: fire_door, construction: }}]", True),
        (f"doors: [{{{DOOR}, kind: fire_door}}]", False),
        (f"doors: [{{{DOOR}, construction: [open]}}]", False),
        (f"doors: [{{{DOOR}, construction: open, swings: on}}]", False),
        (f"doors: [{{{DOOR}, construction: open, p90_h: 3}}]", False),
        (f"doors: [{{{DOOR.replace('id: D, ', '')}, construction: open}}]", False),
        (f"doors: [{{{DOOR.replace('id: D', 'id: a~b')}, construction: open}}]", False),
        (f"doors: {{{DOOR}, construction: open}}", False),
        ("doors:", True),
        ("doors: []", True),
        ("doors: [D]", False),
        (f"pillars: [{{id: 007, level: ground, {BLOCK}, construction: brick_120}}]", True),
        (
            f"pillars: [{{id: P, lowest: ground, highest: upper, {BLOCK}, construction: open}}]",
            True,
        ),
        (f"pillars: [{{id: P, {BLOCK}, construction: open}}]", False),
        (f"pillars: [{{id: P, lowest: ground, {BLOCK}, construction: open}}]", False),
        (
            f"pillars: [{{id: P, level: ground, highest: upper, {BLOCK}, construction: open}}]",
            False,
        ),
        (f"pillars: [{{id: {'x' * 65}, level: ground, {BLOCK}, construction: open}}]", False),
        (f"shafts: [{{id: T, level: upper, lining: open, {SQUARE}}}]", True),
        (f"shafts: [{{id: T, lining: open, {SQUARE}}}]", False),
        ("shafts: [{id: T, level: upper, lining: open, outline: }]", False),
        (f"openings: [{{id: O, level: upper, {SQUARE}, construction: }}]", True),
        ("openings: [{id: O, level: upper, outline: [[1, 1], [2, 1]]}]", False),
        ("openings: [{id: O, level: upper, outline: [[1, 1], [2, 1], [2, 20000]]}]", False),
        (
            "plates: [{id: S, level: upper, construction: open, "
            "corners: [[1, 1, 0], [2, 1, 1], [2, 2, 1]]}]",
            True,
        ),
        (
            "plates: [{id: S, level: upper, construction: open, "
            "corners: [[1, 1], [2, 1], [2, 2]]}]",
            False,
        ),
        (f"obstacles: [{{id: V, level: ground, {BLOCK}}}]", True),
        (f"obstacles: [{{id: V, level: ground, {BLOCK}, loss_db: 101}}]", False),
        (f"obstacles: [{{id: V, level: ground, {BLOCK}, mean_h: 3, median_h: 3}}]", False),
        (f"obstacles: [{{id: V, level: ground, {BLOCK}, p90_h: 30}}]", False),
        (f"obstacles: [{{id: V, level: ground, {BLOCK}, distribution: fixed}}]", False),
        ("constructions: {own: {loss_db: 1000}}", True),
        ("constructions: {own: {loss_db: 1001}}", False),
        ("constructions: {own: {loss_db: 9, spread_db: 1001}}", False),
        ("constructions: {own: {layers: [[brick, 5]]}}", True),
        ("constructions: {own: {layers: [[brick, 5.1]]}}", False),
        ("constructions: {own: {layers: [[brick, 0]]}}", False),
        ("constructions: {own: {layers: []}}", False),
        ("constructions: {own: {loss_db: 3, source: 2024}}", True),
        ("constructions: {own: }", False),
        ("constructions: {own: {}}", False),
        ("constructions:", True),
        ("windows:\n  outline:", True),
        ("sensor_height_m: ", True),
        ("sensor_height_m: 2", True),
        ("sensor_height_m: -1", False),
        ("sensor_height: 2", False),
    ],
)
def test_both_say_the_same_of_what_is_drawn(folder, validator, part, is_right):
    assert agree(folder, validator, f"{BASE}  {part}\n") is is_right


@pytest.mark.parametrize(
    ("levels", "is_right"),
    [
        ("[{id: ground}, {id: upper, height_m: , slab: , floor_m: , outline: }]", True),
        ("[{id: ground}, {id: upper, height_m: 0}]", False),
        ("[{id: ground}, {id: upper, height: 3}]", False),
        ("[{id: ground}, {height_m: 3}, {id: upper}]", False),
        ("", False),
    ],
)
def test_both_say_the_same_of_levels(folder, validator, levels, is_right):
    text = f"format: 1\nbuilding: {{levels: {levels}}}\n"
    assert agree(folder, validator, text) is is_right


@pytest.mark.parametrize("first", ["format: 2", "format: '1'", "format:", "name: X"])
def test_both_want_the_format(folder, validator, first):
    assert not agree(folder, validator, BASE.replace("format: 1", first))
