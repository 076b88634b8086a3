"""A whole site folder: the worked example, a folder full of mistakes, and hostile input."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resilience.building.files.folder import read_site
from resilience.building.parts import (
    DOORS,
    LEVELS,
    OBSTACLES,
    OPENINGS,
    PLATES,
    SHAFTS,
    WINDOWS,
)
from resilience.building.settings import Blockage, Duration, Hardware
from resilience.errors import InputError

GOLDEN = Path(__file__).parent / "golden"

EXAMPLE = """\
format: 1
name: Closed-form case
horizon_years: 5
radio: {predict: false}
routing: {objective: hops}
hazards:
  hardware: {mttf_h: 8760, shape: 1.0}
  link_blockage: {per_year: 12, mean_h: 4}
  battery: off
  all_others: off
upkeep:
  repair: {mean_h: 240, distribution: exponential, crews: unlimited}
"""

BROKEN = {
    "site_yaml": """\
format: 1
name: Invented wreck
horizon_years: -5
radio: {environment: noisy, predct: on}
building:
  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]
  levels:
    - {id: ground, slab: concret_200}
    - {id: Ground}
hazards:
  hardware: {mttf_h: 8760, per_year: 0.1}
  link_blockage: {mean_h: .nan}
upkeep:
  repair: {mean_h: 240, crews: 0}
""",
    "walls_csv": """\
id,level,x1_m,y1_m,x2_m,y2_m,construction
W1,ground,0,5,20,5,brik_120
W2,cellar,0,5,20,x,brick_120
""",
    "sensors_csv": """\
id;level;x_m;y_m
S1;ground;4,5;5
s1;ground;6;5
S2;ground;60;5
""",
    "layouts__a__devices_csv": """\
id,kind,level,x_m,y_m
G1,gateway,ground,"1,5",1
R1,repeter,ground,3,1
R~2,repeater,ground,3,1
""",
    "layouts__a__links_csv": """\
a,b,prr,measured_h
G1,S1,1.5,
S1,S7,,9
""",
    "layouts__b__devices_csv": """\
id,kind,level,x_m,y_m
R1,repeater,ground,3,1
S3,sensor,ground,3,4,5
""",
}


def test_the_worked_example_reads_to_what_it_says(linked_folder):
    site = linked_folder.write(site_yaml=EXAMPLE).read()
    assert (site.name, site.horizon_years) == ("Closed-form case", 5.0)
    assert site.radio.predict is False
    assert (site.routing.objective, site.routing.hysteresis) == ("hops", 0)
    assert site.hazards.hardware == Hardware(8760.0, 1.0)
    assert site.hazards.link_blockage == Blockage(
        12.0, 0.5, 20.0, 10.0, Duration("exponential", mean_h=4.0)
    )
    others = (
        site.hazards.early_failure,
        site.hazards.battery,
        site.hazards.gateway_outage,
        site.hazards.gateway_hardware,
    )
    assert others == (None, None, None, None)
    assert site.upkeep.repair == Duration("exponential", mean_h=240.0)
    note, off, unasked = site.notes  # a failure a year is far more than anybody has listed
    assert "hardware.mttf_h: is 8,760 meant?" in note
    assert off.startswith("Switched off: early_failure, battery, obstacles, gateway_outage")
    assert unasked.startswith("Not played unless hazards names them: common_cause, software_")


def test_every_mistake_of_a_broken_site_is_told_at_once(empty_folder):
    told = empty_folder.write(**BROKEN).faults()
    assert told == (GOLDEN / "broken_site.txt").read_text(encoding="utf-8").splitlines()


def test_a_busy_band_is_assumed_first_where_nothing_is_said(folder):
    text = "format: 1\nbuilding: {levels: [{id: ground}, {id: upper}]}\n"
    site = folder.write(site_yaml=text).read()
    assert site.radio.environment == "busy"
    assert site.notes[0] == "Nothing is said about radio.environment, so a busy band is assumed."
    assert site.notes[1].startswith("No wall, pillar or shaft is drawn")


def test_prediction_without_a_building_says_what_to_do(linked_folder):
    assert linked_folder.write(site_yaml="format: 1\n").faults() == [
        "site.yaml: found no section building; "
        "add building with its levels, or say radio: {predict: off} and give links.csv"
    ]


def test_a_battery_hazard_without_batteries_has_nothing_to_strike(linked_folder):
    mains = "id,kind,supply\nG1,gateway,\nS1,sensor,mains\nS2,sensor,mains\n"
    notes = linked_folder.write(layouts__a__devices_csv=mains).read().notes
    assert any(note.startswith("The hazard battery has nothing to strike") for note in notes)
    fed = mains.replace("mains", "battery")
    notes = linked_folder.write(layouts__a__devices_csv=fed).read().notes
    assert not any(note.startswith("The hazard battery has nothing") for note in notes)


def test_mains_and_obstacles_have_nothing_to_strike_where_there_are_none(linked_folder):
    mains = "id,kind,supply\nG1,gateway,\nS1,sensor,mains\nS2,sensor,battery\n"
    for table, named in (
        (None, {"mains_outage", "circuit_outage", "obstacles"}),
        (mains, {"obstacles"}),
    ):
        if table:
            linked_folder.write(layouts__a__devices_csv=table)
        notes = linked_folder.read().notes
        assert {note.split()[2] for note in notes if "has nothing to strike" in note} == named


def test_the_last_note_says_what_is_not_played(linked_folder):
    page = "format: 1\nradio: {predict: off}\nhazards: {zone_works: {per_year: 0.2}, removed: on}\n"
    notes = linked_folder.write(site_yaml=page).read().notes
    assert notes[-1] == (
        "Not played unless hazards names them: common_cause, software_release, zone_water, "
        "zone_interference, zone_heat, lasting_change, busy_hours, device_mute."
    )


def test_a_site_without_layouts_is_refused(empty_folder):
    empty_folder.write(site_yaml="format: 1\nradio: {predict: off}\n")
    assert empty_folder.faults() == [
        "layouts: found no layout; expected layouts/<name>/devices.csv"
    ]
    (empty_folder.path / "layouts" / "a").mkdir(parents=True)
    assert empty_folder.faults() == [
        "layouts/a/devices.csv: found no such file; expected the layout's devices"
    ]


@pytest.mark.parametrize("name", ["a~b", "a\x1b[31m", "\u202eevil", "x" * 65, "a\\b"])
def test_a_hostile_layout_name_is_refused_and_shown_as_text(folder, name):
    os.rename(folder.path / "layouts" / "a", folder.path / "layouts" / name)
    (fault,) = folder.faults()
    assert fault.isprintable()
    assert "expected an id" in fault


def test_a_misspelt_file_is_a_mistake(linked_folder):
    (fault,) = linked_folder.write(link_csv="a,b,prr\n").faults()
    assert fault == (
        "link.csv: found an unknown file; expected a file that is read; did you mean links.csv?"
    )


@pytest.mark.parametrize(
    ("file", "told"),
    [
        ("link.csv", "; did you mean links.csv?"),
        ("Links.csv", "; did you mean links.csv?"),
        ("device.csv", "; did you mean devices.csv?"),
    ],
)
def test_a_misspelt_file_of_a_layout_is_a_mistake_too(linked_folder, file, told):
    (linked_folder.path / "layouts/a" / file).write_text("a,b,prr\nG1,S1,0.1\n")
    found = f"layouts/a/{file}: found an unknown file; expected a file that is read"
    assert linked_folder.faults() == [found + told]


def test_a_table_of_another_name_beside_a_layout_is_told_to_be_unread(linked_folder):
    linked_folder.write(layouts__a__backup_yaml="id: 1\n", layouts__a__notes_txt="mine\n")
    (note,) = [note for note in linked_folder.read().notes if "layouts/" in note]
    assert note == "layouts/a/backup.yaml is not a file that is read."


NAMES = st.sampled_from(
    ["site.yaml", "sensors.csv", "walls.csv", "links.csv", "layouts/a/devices.csv"]
)
FUZZ = settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def read_or_refuse(path):
    """Read a site; anything but a site or faults that are safe to print is a failure."""
    faults = None
    try:
        read_site(path)
    except InputError as error:
        faults = error.faults
    assert faults is None or faults
    assert all(str(fault).isprintable() for fault in faults or ())


@FUZZ
@given(file=NAMES, raw=st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
def test_no_bytes_escape_as_anything_but_faults(folder, file, raw):
    path = folder.path / file
    before = path.read_bytes() if path.exists() else None
    path.write_bytes(raw)
    read_or_refuse(folder.path)
    path.unlink()
    if before is not None:
        path.write_bytes(before)


WORDS = st.sampled_from(
    [
        *("format", "name", "building", "levels", "outline", "doors", "pillars", "shafts", "id"),
        *("constructions", "layers", "loss_db", "radio", "predict", "routing", "models", "battery"),
        *("hazards", "hardware", "mttf_h", "per_year", "mean_h", "median_h", "p90_h", "upkeep"),
        *("repair", "crews", "calendar", "hand_over", "off", "all_others", "lining", "height_m"),
        *("slab", "link_blockage", "distribution", "floor_m", "lowest", "highest", "batteries"),
        *("windows", "openings", "plates", "obstacles", "corners", "changes", "adds_db", "kind"),
        *("wall", "at_m", "width_m", "depth_m", "sill_m", "foot_m", "x_m", "y_m", "level"),
        *("lift_car", "wooden_door", "mountings", "cabinet_db", "construction", "open"),
    ]
)
ATOMS = (
    WORDS
    | st.sampled_from(["1", "-1", ".nan", ".inf", "1e400", "~", "''", "'5'", "1e-320", "ground"])
    | st.text(alphabet="ab\u202e\x07\u00e9\U0001f600\\/~:# ", max_size=4).map(ascii)
)
TREES = st.recursive(
    ATOMS,
    lambda inner: (
        st.lists(inner, max_size=4).map(lambda items: f"[{', '.join(items)}]")
        | st.dictionaries(WORDS, inner, max_size=5).map(
            lambda entries: (
                "{" + ", ".join(f"{key}: {value}" for key, value in entries.items()) + "}"
            )
        )
    ),
    max_leaves=25,
)


@FUZZ
@given(entries=st.dictionaries(WORDS, TREES, max_size=6))
def test_no_structured_document_escapes_as_anything_but_faults(folder, entries):
    text = "format: 1\n" + "".join(
        f"{key}: {value}\n" for key, value in entries.items() if key != "format"
    )
    folder.write(site_yaml=text)
    read_or_refuse(folder.path)


SECTION_NAMES = [
    *("building", "changes", "radio", "routing", "models", "mountings", "hazards", "upkeep"),
    "calendar",
]


@FUZZ
@given(section=st.sampled_from(SECTION_NAMES), entries=st.dictionaries(WORDS, TREES, max_size=4))
def test_no_section_escapes_as_anything_but_faults(folder, section, entries):
    body = ", ".join(f"{key}: {value}" for key, value in entries.items())
    folder.write(site_yaml=f"format: 1\n{section}: {{{body}}}\n")
    read_or_refuse(folder.path)


PARTS = {
    LEVELS: "id: a",
    DOORS: "id: a, wall: W1",
    WINDOWS: "id: a, wall: W1",
    SHAFTS: "id: a, level: ground",
    OPENINGS: "id: a, level: ground",
    PLATES: "id: a, level: ground, construction: open",
    OBSTACLES: "id: a, level: ground",
}
NUMBERS = st.sampled_from(["0", "1", "2.5", "-1", "1e-320", "1e308", "10000"])
CORNERS = st.lists(st.lists(NUMBERS, min_size=2, max_size=3), max_size=5).map(
    lambda corners: str(corners).replace("'", "")
)


@FUZZ
@given(part=st.sampled_from(list(PARTS)), data=st.data())
def test_nothing_drawn_escapes_as_anything_but_faults(folder, part, data):
    start = PARTS[part]
    free = [key.name for key in part.keys if f"{key.name}:" not in start]
    values = data.draw(st.dictionaries(st.sampled_from(free), NUMBERS | CORNERS | ATOMS))
    body = ", ".join([start, *(f"{key}: {value}" for key, value in values.items())])
    levels = "" if part is LEVELS else "  levels: [{id: ground}]\n"
    folder.write(
        site_yaml=f"format: 1\nbuilding:\n{levels}  {part.name}: [{{{body}}}]\n",
        walls_csv="id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,5,20,5,brick_120\n",
    )
    read_or_refuse(folder.path)


CELLS = st.sampled_from(
    [
        "",
        "G1",
        "S1",
        "s1",
        "gateway",
        "sensor",
        "repeater",
        "ground",
        "1",
        "-1",
        "1e9",
        "nan",
        "yes",
    ]
) | st.text(max_size=5)


@FUZZ
@given(rows=st.lists(st.lists(CELLS, min_size=5, max_size=5), max_size=6))
def test_no_table_escapes_as_anything_but_faults(folder, rows):
    quoted = [",".join('"' + cell.replace('"', '""') + '"' for cell in row) for row in rows]
    table = "\n".join(["id,kind,level,x_m,y_m", *quoted, ""])
    folder.write(layouts__a__devices_csv=table.encode("utf-8", "surrogatepass"))
    read_or_refuse(folder.path)
