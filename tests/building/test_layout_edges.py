"""Devices and layouts at the edges of what they may say, and sites from five to 300 devices."""

import csv
import io
import os

import pytest

from resilience.assumptions.catalogue import default
from resilience.assumptions.devices import BATTERY_PROFILES
from resilience.building.files.folder import read_site
from resilience.building.site import Kind, Supply
from resilience.errors import InputError, UsageError

GATEWAY = {"id": "G1", "kind": "gateway", "level": "ground", "x_m": "1", "y_m": "1"}
SENSOR = {"id": "S1", "kind": "sensor", "level": "ground", "x_m": "5", "y_m": "5"}


def table(*rows, columns=None):
    """Return a table of rows given as dictionaries."""
    names = columns or list(dict.fromkeys(name for row in rows for name in row))
    stream = io.StringIO()
    writer = csv.DictWriter(stream, names, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


def faults_of(folder):
    try:
        read_site(folder.path)
    except InputError as error:
        return [str(fault) for fault in error.faults]
    return []


@pytest.fixture
def devices(folder):
    """Write the devices of layout a; more of site.yaml as text."""
    plain = (folder.path / "site.yaml").read_text()

    def write(*rows, more=""):
        return folder.write(site_yaml=plain + more, layouts__a__devices_csv=table(*rows))

    return write


@pytest.mark.parametrize(
    ("cells", "column", "told"),
    [
        ({"id": ""}, "id", "found nothing; expected an id"),
        ({"id": "g1"}, "id", 'found "g1"; expected an id of its own: line 2 has it already'),
        ({"kind": ""}, "kind", "found nothing; expected a kind"),
        ({"kind": "Sensor"}, "kind", 'found "Sensor"; expected a kind; did you mean sensor?'),
        ({"level": ""}, "level", "found nothing; expected a level"),
        ({"level": "roof"}, "level", 'found "roof"; expected a level; known are ground, upper'),
        ({"x_m": ""}, "x_m", "found nothing; expected metres, at least -10000 and at most 10000"),
        ({"y_m": "10001"}, "y_m", "are these millimetres (divide by 1000) or inches"),
        ({"height_m": "3.001"}, "height_m", "expected 0 to 3, within level ground"),
        ({"height_m": "-0.001"}, "height_m", "expected 0 to 3, within level ground"),
        (
            {"model": "strong"},
            "model",
            'found "strong"; expected a model; known are standard, weak',
        ),
        ({"supply": "solar"}, "supply", 'found "solar"; expected mains or battery; known are'),
        ({"battery": "aa"}, "battery", 'found "aa"; expected a battery profile; known are'),
        ({"mounting": "roof"}, "mounting", "expected a mounting; known are free, flush_box, metal"),
        ({"critical": "very"}, "critical", 'found "very"; expected on or off'),
        (
            {"standby": "on"},
            "standby",
            'found "on"; expected a gateway: only a gateway can stand by',
        ),
        ({"note": "a\x07"}, "note", 'found "a\\x07"; expected text without control or invisible'),
        ({"batch": "\u202e1"}, "batch", 'found "\\u202e1"; expected text without control or invis'),
        ({"circuit": "\u200b"}, "circuit", 'found "\\u200b"; expected text without control or in'),
        ({"zone": "a\tb"}, "zone", 'found "a\\tb"; expected text without control or invisible'),
        ({"supply": "mains", "battery": "mine"}, "battery", 'found "mine"; expected no battery on'),
    ],
)
def test_each_mistake_of_a_device_is_told_at_its_column(devices, cells, column, told):
    folder = devices(
        GATEWAY,
        SENSOR,
        SENSOR | {"id": "S2"} | cells,
        more="models: {weak: {forwards: off}}\nbatteries: {mine: {}}\n",
    )
    (fault,) = faults_of(folder)
    assert fault.startswith(f"layouts/a/devices.csv, line 4, column {column}: ")
    assert told in fault


def test_a_repeater_is_of_a_model_that_forwards_and_a_sensor_need_not_be(devices):
    more = "models: {weak: {forwards: off}}\n"
    repeater = SENSOR | {"id": "R1", "kind": "repeater", "model": "weak"}
    folder = devices(GATEWAY, SENSOR | {"model": "weak"}, repeater, more=more)
    assert faults_of(folder) == [
        'layouts/a/devices.csv, line 4, column model: found "weak"; '
        "expected a model that forwards, as a repeater must"
    ]
    folder = devices(GATEWAY, SENSOR | {"model": "weak"}, repeater | {"model": ""}, more=more)
    assert [one.model.forwards for one in folder.read().layouts[0].devices] == [True, True, False]


@pytest.mark.parametrize(
    ("kind", "usual"),
    [("gateway", Supply.MAINS), ("sensor", Supply.BATTERY), ("repeater", Supply.BATTERY)],
)
@pytest.mark.parametrize("stated", ["", "mains", "battery"])
def test_each_kind_has_the_supply_of_the_readme_unless_it_says_otherwise(
    devices, kind, usual, stated
):
    """README: blank is mains for a gateway, battery for all others."""
    one = SENSOR | {"id": "X", "kind": kind, "supply": stated}
    site = devices(GATEWAY, SENSOR, one).read()
    (found,) = [device for device in site.layouts[0].devices if device.id == "X"]
    expected = Supply(stated) if stated else usual
    assert found.supply is expected
    profile = BATTERY_PROFILES[default("models.*.battery")]
    usual_cells = (profile.capacity_mah[0], profile.chemistry)
    cells = found.battery and (found.battery.capacity_mah, found.battery.chemistry)
    assert cells == (usual_cells if expected is Supply.BATTERY else None)


@pytest.mark.parametrize("kind", list(Kind))
def test_a_blank_height_is_the_default_of_the_kind_but_never_above_the_ceiling(devices, kind):
    one = SENSOR | {"id": "X", "kind": kind.value}
    low = SENSOR | {"id": "Y", "kind": kind.value, "level": "low"}
    folder = devices(GATEWAY, SENSOR, one, low)
    text = (folder.path / "site.yaml").read_text()
    folder.write(site_yaml=text.replace("{id: upper}", "{id: low, height_m: 1.2}"))
    found = {device.id: device.place.height_m for device in folder.read().layouts[0].devices}
    assert found["X"] == default(f"building.{kind}_height_m")
    assert found["Y"] == 1.2


@pytest.mark.parametrize("height", ["0", "3"])
def test_a_device_may_lie_on_the_floor_and_hang_from_the_ceiling(devices, height):
    site = devices(GATEWAY, SENSOR | {"height_m": height}).read()
    assert site.layouts[0].sensors[0].place.height_m == float(height)


def test_free_columns_are_kept_as_they_were_written(devices):
    words = {"batch": "2024/05", "circuit": "F3 ", "zone": "Süd", "note": '=cmd() <b>, "x"'}
    (sensor,) = devices(GATEWAY, SENSOR | words).read().layouts[0].sensors
    assert (sensor.batch, sensor.circuit, sensor.zone) == ("2024/05", "F3", "Süd")
    assert sensor.note == '=cmd() <b>, "x"'


def test_a_row_of_blanks_is_no_device_and_comes_between_no_others(devices):
    blank = dict.fromkeys(GATEWAY, "")
    site = devices(GATEWAY, blank, SENSOR, blank, blank).read()
    assert [device.id for device in site.layouts[0].devices] == ["G1", "S1"]


@pytest.mark.parametrize("kind", ["gateway", "repeater"])
def test_a_table_of_sensors_holds_sensors_alone(folder, kind):
    shared = table(SENSOR | {"id": "X1", "kind": kind})
    (fault,) = faults_of(folder.write(sensors_csv=shared))
    assert fault == (
        f'sensors.csv, line 2, column kind: found "{kind}"; expected a kind; known are sensor'
    )


def test_a_shared_sensor_outside_is_told_once_however_many_layouts_there_are(folder):
    folder.write(
        sensors_csv=table({"id": "X1", "level": "ground", "x_m": "99", "y_m": "1"}),
        layouts__b__devices_csv=table(GATEWAY, SENSOR, SENSOR | {"id": "S2", "level": "upper"}),
    )
    assert faults_of(folder) == [
        "sensors.csv, line 2: found (99, 1), outside the outline; expected a place within it"
    ]


@pytest.mark.parametrize(
    ("standby", "told"),
    [
        (("", ""), ""),
        (("", "on"), ""),
        (("on", "on"), "layouts/a/devices.csv: found only gateways that stand by; expected a gate"),
    ],
)
def test_one_gateway_at_least_serves_from_the_start(devices, standby, told):
    gateways = [
        GATEWAY | {"id": f"G{n}", "standby": word, "x_m": str(n)}
        for n, word in enumerate(standby, 1)
    ]
    faults = faults_of(devices(*gateways, SENSOR))
    assert [told in fault for fault in faults] == [True] * bool(told)


@pytest.mark.parametrize(
    ("x_m", "level", "is_told"),
    [
        ("8", "ground", False),
        ("8.001", "ground", True),
        ("5", "upper", True),
        ("5", "ground", False),
    ],
)
def test_a_sensor_is_told_to_hang_elsewhere_beyond_three_metres_or_on_another_level(
    devices, x_m, level, is_told
):
    folder = devices(GATEWAY, SENSOR)
    folder.write(layouts__b__devices_csv=table(GATEWAY, SENSOR | {"x_m": x_m, "level": level}))
    notes = [note for note in folder.read().notes if "apart" in note]
    told = "Between a and b these sensors hang more than 3 m or a level apart: S1."
    assert notes == [told] * is_told


@pytest.mark.parametrize(("x_m", "is_told"), [("5.0099", True), ("5.0101", False)])
def test_two_devices_within_a_centimetre_hang_on_one_spot(devices, x_m, is_told):
    notes = devices(GATEWAY, SENSOR, SENSOR | {"id": "S2", "x_m": x_m}).read().notes
    told = "layouts/a: devices on one spot: S1 and S2."
    assert (told in notes) is is_told


def test_layouts_whose_names_differ_in_case_alone_are_told(folder):
    (folder.path / "layouts/A").mkdir()
    folder.write(layouts__A__devices_csv=(folder.path / "layouts/a/devices.csv").read_bytes())
    assert faults_of(folder) == [
        'layouts/a: found "a"; expected a name that differs from A in letters'
    ]


def test_a_hidden_folder_and_a_file_among_the_layouts_are_no_layouts(folder):
    (folder.path / "layouts/.git").mkdir()
    (folder.path / "layouts/.DS_Store").write_text("x")
    (folder.path / "layouts/notes.txt").write_text("x")
    assert [layout.name for layout in folder.read().layouts] == ["a"]


def test_a_file_in_the_place_of_the_folder_of_layouts_is_told(linked_folder):
    for path in (linked_folder.path / "layouts/a").iterdir():
        path.unlink()
    (linked_folder.path / "layouts/a").rmdir()
    (linked_folder.path / "layouts").rmdir()
    (linked_folder.path / "layouts").write_text("mine")
    assert faults_of(linked_folder) == [
        "layouts: found no layout; expected layouts/<name>/devices.csv"
    ]


def test_a_name_that_is_no_text_is_shown_as_text(folder):
    os.mkdir(os.path.join(os.fsencode(folder.path), b"layouts", b"b\xff"))
    first, second = faults_of(folder)
    assert first == (
        'layouts/b\\udcff: found "b\\udcff"; expected an id without control or invisible characters'
    )
    assert second.startswith("layouts/b\\udcff/devices.csv: found no such file")


def test_a_folder_that_may_not_be_listed_is_told_with_the_systems_own_word(folder, monkeypatch):
    def denied(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(folder.path), "iterdir", denied)
    (fault,) = folder.faults()
    assert fault.endswith("found Permission denied; expected a folder that can be read")


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("a", ""),
        ("A", "Invented annexe has no layout 'A'; it has a; did you mean a?"),
        ("zzz", "Invented annexe has no layout 'zzz'; it has a"),
    ],
)
def test_a_layout_is_found_by_its_name_and_nothing_near_it(folder, name, told):
    site = folder.read()
    if told:
        with pytest.raises(UsageError) as caught:
            site.layout(name)
        assert str(caught.value) == told
    else:
        assert site.layout(name) is site.layouts[0]


@pytest.mark.parametrize(
    ("day", "is_read"),
    [
        *(("1970-01-01", True), ("1969-12-31", False), ("2200-01-01", True)),
        *(("2200-01-02", False), ("2030-02-29", False), ("31.01.2030", False), ("today", False)),
    ],
)
def test_a_hand_over_is_a_day_between_1970_and_2200(linked_folder, day, is_read):
    text = f"format: 1\nradio: {{predict: off}}\ncalendar: {{hand_over: {day}}}\n"
    faults = faults_of(linked_folder.write(site_yaml=text))
    assert faults == [
        f'site.yaml, line 3, key calendar.hand_over: found "{day}"; '
        "expected a date such as 2030-01-31"
    ] * (not is_read)
    if is_read:
        assert linked_folder.read().hand_over.isoformat() == day


@pytest.mark.parametrize("name", ["", "~", "null", "''"])
def test_a_site_without_a_name_is_called_as_its_folder(linked_folder, name):
    linked_folder.write(site_yaml=f"format: 1\nname: {name}\nradio: {{predict: off}}\n")
    assert linked_folder.read().name == linked_folder.path.name


@pytest.mark.parametrize("n", [5, 300])
def test_a_site_of_few_and_of_many_devices_is_read_device_by_device(folder, n):
    """A grid over 20 m by 10 m; what the table says is what Python's own reader says."""
    rows = [GATEWAY] + [
        {
            "id": f"S{k:03d}",
            "kind": "sensor",
            "level": "upper" if k % 2 else "ground",
            "x_m": f"{20 * (k % 20 + 0.5) / 20:.2f}",
            "y_m": f"{10 * (k // 20 + 0.5) / 16:.3f}",
        }
        for k in range(n - 1)
    ]
    text = table(*rows)
    (layout,) = folder.write(layouts__a__devices_csv=text).read().layouts
    expected = sorted(
        (row["id"], row["kind"], row["level"], float(row["x_m"]), float(row["y_m"]))
        for row in csv.DictReader(io.StringIO(text))
    )
    assert [
        (one.id, one.kind, one.place.level, one.place.x_m, one.place.y_m) for one in layout.devices
    ] == expected
    assert len(layout.sensors) == n - 1


def test_of_300_bad_devices_200_mistakes_are_told_and_the_rest_counted(folder):
    rows = [SENSOR | {"id": f"S{k}", "level": "cellar"} for k in range(300)]
    faults = faults_of(folder.write(layouts__a__devices_csv=table(GATEWAY, *rows)))
    assert [fault.split(", column")[0] for fault in faults[:200]] == [
        f"layouts/a/devices.csv, line {line}" for line in range(3, 203)
    ]
    assert faults[200:] == [
        "layouts/a/devices.csv: found 100 more mistakes; mend those above first"
    ]


HOSTILE = [
    "<b onclick=x>",
    '=HYPERLINK("x")',
    "+1",
    "@SUM(1)",
    "-2+3",
    "{{7*7}}",
    "%s%n",
    "$(id)",
    "`id`",
    "'; DROP TABLE x",
    "[link](x)",
    "号",
    "🙂",
    "a b",
    "a #1",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_visible_name_is_text_wherever_it_stands(folder, name):
    quoted = "'" + name.replace("'", "''") + "'"
    folder.write(
        site_yaml=f"format: 1\nname: {quoted}\nbuilding: {{levels: [{{id: {quoted}}}]}}\n"
        f"models: {{{quoted}: {{transmit_dbm: 4}}}}\nradio: {{environment: quiet}}\n",
        layouts__a__devices_csv=table(
            GATEWAY | {"level": name},
            SENSOR | {"level": name, "model": name, "id": name + "1", "note": name},
        ),
    )
    site = folder.read()
    (sensor,) = site.layouts[0].sensors
    assert (site.name, site.building.levels[0].id) == (name, name)
    assert (sensor.id, sensor.model_name, sensor.note) == (name + "1", name, name)
    assert sensor.model.transmit_dbm == 4
