"""Every number of the catalogue and of everything drawn, at its limits and just beyond them."""

import json
import math
import re

import pytest

from resilience.assumptions.catalogue import section, settings
from resilience.building.parts import LISTED, OBSTACLES, WALLS
from resilience.building.text.entries import Span

NAMED = {
    "models.*": "models.own",
    "batteries.*": "batteries.own",
    "circuits.*": "circuits.C1",
    "temperatures.*": "temperatures.everywhere",
}
REPORTS = {"sleep_ua": 2, "report_uc": 50, "reports_per_h": 60}  # stated together
NUMBERS = [
    one
    for one in settings()
    if isinstance(one.default, int | float) and not isinstance(one.default, bool)
]
SECTIONS = sorted({one.section for one in NUMBERS})
MEANS = [one for one in settings() if one.instead_of]


@pytest.fixture
def linked_folder(linked_folder):
    """A site of given links with a sensor on the circuit that is stated."""
    devices = "id,kind,supply,circuit\nG1,gateway,,\nS1,sensor,mains,C1\nS2,sensor,,\n"
    return linked_folder.write(layouts__a__devices_csv=devices)


def page(path, stated):
    """Return a site that states these keys of one section."""
    text = "format: 1\nradio: {predict: off}\n"
    if path == "radio":
        stated, text = {"predict": False, **stated}, "format: 1\n"
    if path == "building":
        stated = {"levels": [{"id": "ground"}], **stated}
    if path == "models.*" and stated.keys() & {*REPORTS, "forwarded_uc"}:
        stated = REPORTS | stated
    if "by_month_c" in stated:
        stated = {"by_month_c": [stated["by_month_c"], *[20] * 11]}
    for name in reversed(NAMED.get(path, path).split(".") if path else []):
        stated = {name: stated}
    return text + "".join(f"{key}: {json.dumps(value)}\n" for key, value in stated.items())


def beyond(setting):
    """Yield values just outside the limits of a setting, the bound that each of them breaks."""
    whole = isinstance(setting.default, int)
    if setting.least is not None:
        below = setting.least - 1 if whole else math.nextafter(setting.least, -math.inf)
        yield setting.least if setting.above else below, f"least {setting.least}"
    if setting.most is not None:
        yield (
            setting.most + 1 if whole else math.nextafter(setting.most, math.inf),
            f"most {setting.most}",
        )


def inside(setting):
    """Return the least and the greatest value that a setting may have."""
    least = setting.least
    if least is not None and setting.above:
        least = least + 1 if isinstance(setting.default, int) else math.nextafter(least, math.inf)
    return least, setting.most


def test_every_number_of_the_catalogue_is_bounded_on_both_sides():
    for setting in (*NUMBERS, *MEANS):
        assert setting.least is not None, setting.key
        assert setting.most is not None, setting.key


@pytest.mark.parametrize("path", SECTIONS)
@pytest.mark.parametrize("end", [0, 1])
def test_a_section_with_every_number_at_its_limit_is_read(linked_folder, path, end):
    stated = {one.name: inside(one)[end] for one in NUMBERS if one.section == path}
    linked_folder.write(site_yaml=page(path, stated))
    if {"median_h", "p90_h"} <= stated.keys():
        assert stated["median_h"] <= stated["p90_h"]
    linked_folder.read()


@pytest.mark.parametrize("path", SECTIONS)
@pytest.mark.parametrize("end", [0, 1])
def test_just_beyond_its_limit_every_number_of_a_section_is_told_by_its_key(
    linked_folder, path, end
):
    stated = {one.name: list(beyond(one))[end][0] for one in NUMBERS if one.section == path}
    faults = linked_folder.write(site_yaml=page(path, stated)).faults()
    prefix = f"{NAMED.get(path, path)}." if path else ""
    told = {}
    for fault in faults:
        key, found, wanted = re.fullmatch(
            r'site\.yaml, line \d+, key (\S+): found "(\S+)"; (expected .+)', fault
        ).groups()
        told[key] = float(found), wanted
    assert told.keys() == {prefix + name for name in stated}
    for one in NUMBERS:
        if one.section == path:
            value, wanted = told[prefix + one.name]
            assert value == stated[one.name]
            bound = ("above" if one.above else "at least", one.least)
            assert f"{bound[0]} {bound[1]:g} and at most {one.most:g}" in wanted


@pytest.mark.parametrize("setting", MEANS, ids=lambda one: one.key)
def test_what_stands_for_another_number_has_limits_of_its_own(linked_folder, setting):
    for value in inside(setting):
        linked_folder.write(site_yaml=page(setting.section, {setting.name: value})).read()
    for value, _ in beyond(setting):
        linked_folder.write(site_yaml=page(setting.section, {setting.name: value}))
        (fault,) = linked_folder.faults()
        first = "[1]" if setting.name == "by_month_c" else ""  # of a list
        assert f'{setting.name}{first}: found "{value!r}"; expected' in fault


WORDS = [one for one in settings() if isinstance(one.default, str) and one.choices]


@pytest.mark.parametrize("setting", WORDS, ids=lambda one: one.key)
def test_a_word_is_one_of_its_choices_as_it_is_written(linked_folder, setting):
    for choice in setting.choices:
        beside = {"mean_h": 9} if choice in {"exponential", "fixed"} else {}
        linked_folder.write(
            site_yaml=page(setting.section, {setting.name: choice, **beside})
        ).read()
    shouted = str(setting.choices[0]).upper()
    linked_folder.write(site_yaml=page(setting.section, {setting.name: shouted}))
    (fault,) = [one for one in linked_folder.faults() if setting.name in one]
    assert f'found "{shouted}"; expected {setting.choices[0]}' in fault
    assert setting.meaning.rstrip(".") in fault


SWITCHES = [one for one in settings() if isinstance(one.default, bool)]


@pytest.mark.parametrize("setting", SWITCHES, ids=lambda one: one.key)
def test_a_switch_takes_no_number(linked_folder, setting):
    faults = linked_folder.write(site_yaml=page(setting.section, {setting.name: 1})).faults()
    assert any(f'{setting.name}: found "1"; expected on or off' in fault for fault in faults)


WALL = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,5,20,5,brick_120\n"
DRAWN = {
    "levels": {"id": "roof"},
    "doors": {
        "id": "D",
        "wall": "W1",
        "at_m": 1,
        "width_m": 1,
        "height_m": 2,
        "construction": "open",
    },
    "windows": {"id": "F", "wall": "W1", "at_m": 1, "sill_m": 1, "width_m": 1, "height_m": 1},
    "pillars": {
        "id": "P",
        "level": "ground",
        "x_m": 1,
        "y_m": 1,
        "width_m": 1,
        "depth_m": 1,
        "construction": "brick_120",
    },
    "obstacles": {"id": "O", "level": "ground", "x_m": 1, "y_m": 1, "width_m": 1, "depth_m": 1},
    "zones": {"id": "Z", "level": "ground", "outline": [[0, 0], [1, 0], [1, 1]]},
}
SPANS = [
    (part, key.name, key.holds)
    for part in LISTED
    for key in part.keys
    if isinstance(key.holds, Span)
]


@pytest.mark.parametrize(
    ("part", "key", "limits"), SPANS, ids=[f"{part.name}.{key}" for part, key, _ in SPANS]
)
def test_no_length_of_anything_drawn_lies_beyond_its_limits(folder, part, key, limits):
    """Lengths are at most 10 km, sizes above 0, losses at most 100 dB, rates 100,000 a year."""
    low = 0 if limits.above else math.nextafter(limits.least, -math.inf)
    for value in (low, math.nextafter(limits.most, math.inf)):
        one = DRAWN[part.name] | {key: value}
        parts = {"levels": [{"id": "ground"}, {"id": "upper"}]}
        parts[part.name] = [*parts.get(part.name, ()), one]
        folder.write(site_yaml=json.dumps({"format": 1, "building": parts}), walls_csv=WALL)
        faults = [fault for fault in folder.faults() if f'.{key}: found "{value!r}"' in fault]
        assert len(faults) == 1
        n = len(parts[part.name])
        start = f"site.yaml, line 1, key building.{part.name}[{n}].{key}: found"
        assert faults[0].startswith(start)
        assert limits.wanted in faults[0]


@pytest.mark.parametrize("part", [WALLS, OBSTACLES], ids=lambda part: part.name)
def test_a_table_holds_its_numbers_to_the_same_limits_and_names_the_column(folder, part):
    cells = DRAWN.get(part.name) or {
        "id": "W",
        "level": "ground",
        "x1_m": 1,
        "y1_m": 1,
        "x2_m": 2,
        "y2_m": 2,
        "construction": "brick_120",
    }
    spans = [key for key in part.keys if isinstance(key.holds, Span)]
    columns = list(cells) + [key.name for key in spans if key.name not in cells]
    rows = [cells | {key.name: key.holds.most + 1} for key in spans]
    lines = [",".join(str(row.get(name, "")) for name in columns) for row in rows]
    lines = [
        line.replace(f"{cells['id']},", f"{cells['id']}{n},", 1) for n, line in enumerate(lines)
    ]
    table = "\n".join([",".join(columns), *lines, ""])
    faults = folder.write(**{part.table.replace(".", "_"): table}).faults()
    for line, key in enumerate(spans, 2):
        start = f'{part.table}, line {line}, column {key.name}: found "{key.holds.most + 1}"'
        assert any(fault.startswith(start) for fault in faults), (start, faults)


def test_the_catalogue_lists_no_range_outside_its_own_limits():
    for one in settings():
        if one.low is not None and one.high is not None:
            assert one.least <= one.low <= one.high <= one.most, one.key


def test_every_default_lies_within_its_own_limits_and_its_listed_range():
    for one in NUMBERS:
        assert inside(one)[0] <= one.default <= one.most, one.key
        if one.low is not None:
            assert one.low <= one.default <= one.high, one.key


def test_every_section_that_states_a_median_has_the_other_keys_of_a_duration_too():
    for path in SECTIONS:
        names = {one.name for one in section(path)}
        if "median_h" in names:
            assert {"p90_h", "mean_h", "distribution"} <= names, path
