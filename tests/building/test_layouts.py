import pytest

from resilience.building.site import GivenLink, Supply

HEADER = "id,kind,level,x_m,y_m,height_m,standby,model,supply,battery\n"
GATEWAY = "G1,gateway,ground,1,1,2,,,,\n"
SENSORS = "S1,sensor,ground,5,5,2,,,,\nS2,sensor,upper,8,5,2,,,,\n"


def links_of(folder, name="a"):
    return folder.read().layout(name).links


def test_devices_come_in_order_of_id_whatever_the_order_in_the_file(folder):
    before = folder.read()
    folder.write(
        layouts__a__devices_csv=HEADER + "".join(reversed((GATEWAY + SENSORS).splitlines(True)))
    )
    assert [device.id for device in folder.read().layouts[0].devices] == ["G1", "S1", "S2"]
    assert before.layouts[0].sensors[0].place.level == "ground"


def test_gateways_run_on_mains_and_the_rest_on_batteries(folder):
    folder.write(
        layouts__a__devices_csv=HEADER + GATEWAY + SENSORS + "R1,repeater,ground,2,2,,,,,\n"
    )
    supplies = {device.id: device.supply for device in folder.read().layouts[0].devices}
    assert supplies == {
        "G1": Supply.MAINS,
        "R1": Supply.BATTERY,
        "S1": Supply.BATTERY,
        "S2": Supply.BATTERY,
    }


@pytest.mark.parametrize("word", ["mains", "off", "Mains", "none"])
def test_a_battery_called_mains_or_off_points_to_the_column_of_the_supply(folder, word):
    row = f"R1,repeater,ground,2,2,,,,,{word}\n"
    (fault,) = folder.write(layouts__a__devices_csv=HEADER + GATEWAY + SENSORS + row).faults()
    assert fault.startswith("layouts/a/devices.csv, line 5, column battery")
    assert fault.endswith("leave battery blank and write mains in column supply")


def test_a_model_on_mains_points_to_the_column_of_the_supply(folder):
    page = (folder.path / "site.yaml").read_text() + "models: {standard: {battery: mains}}\n"
    (fault,) = folder.write(site_yaml=page).faults()
    assert "models.standard.battery" in fault
    assert "write mains in column supply of sensors.csv or devices.csv" in fault


def test_a_battery_profile_may_be_called_as_anybody_likes(folder):
    page = (folder.path / "site.yaml").read_text() + "batteries: {off: {capacity_mah: 900}}\n"
    row = "R1,repeater,ground,2,2,,,,,off\n"
    folder.write(site_yaml=page, layouts__a__devices_csv=HEADER + GATEWAY + SENSORS + row)
    found = {device.id: device for device in folder.read().layouts[0].devices}
    assert found["R1"].battery.capacity_mah == 900


def test_devices_on_mains_that_name_no_circuit_are_told_to_share_that_of_their_level(folder):
    rows = [f"R{n},repeater,ground,{n},2,,,,mains,\n" for n in (1, 2)]
    notes = {}
    for n in (1, 2):
        table = HEADER + GATEWAY + SENSORS + "".join(rows[:n])
        site = folder.write(layouts__a__devices_csv=table).read()
        assert [one.supply for one in site.layouts[0].devices[1:2]] == [Supply.MAINS]
        notes[n] = [note for note in site.notes if "share one" in note]
    assert notes[1] == []
    assert "(ground): name them in column circuit." in notes[2][0]


def test_blank_heights_take_the_default_of_their_kind_and_are_counted(folder):
    table = HEADER + "G1,gateway,ground,1,1,,,,,\nR1,repeater,ground,2,2,,,,,\n" + SENSORS
    table += "S3,sensor,ground,6,5,,,,,\n"
    site = folder.write(layouts__a__devices_csv=table).read()
    heights = {device.id: device.place.height_m for device in site.layouts[0].devices}
    assert heights == {"G1": 2.0, "R1": 2.8, "S1": 2.0, "S2": 2.0, "S3": 2.2}
    assert "3 of 5 heights are blank; each kind of device takes its default." in site.notes


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (SENSORS, "layouts/a/devices.csv: found no gateway; expected one or more"),
        (GATEWAY, "layouts/a/devices.csv: found no sensor; expected one or more"),
        (GATEWAY.replace("2,,", "2,yes,") + SENSORS, "found only gateways that stand by"),
        (GATEWAY + SENSORS.replace("5,5,2,", "5,5,2,yes"), "only a gateway can stand by"),
        (GATEWAY.replace("gateway", "gatway") + SENSORS, "did you mean gateway?"),
        (
            GATEWAY.replace("1,1,2", "-1,1,2") + SENSORS,
            "found (-1, 1), outside the outline; expected a place",
        ),
        (GATEWAY.replace("1,1,2", "1,1,3.5") + SENSORS, "expected 0 to 3, within level ground"),
        (GATEWAY.replace("1,1,2", "1,1,-1") + SENSORS, "expected 0 to 3, within level ground"),
        (GATEWAY.replace("ground", "grund") + SENSORS, "did you mean ground?"),
        (GATEWAY.replace("2,,,", "2,,standrd,") + SENSORS, "did you mean standard?"),
        (GATEWAY.replace("2,,,,", "2,,,solar,") + SENSORS, "expected mains or battery"),
        (GATEWAY.replace("2,,,,", "2,,,,aa_thionyl") + SENSORS, "expected no battery on mains"),
        (GATEWAY + SENSORS.replace("5,5,2,,,,", "5,5,2,,,,a_thionyl"), "did you mean aa_thionyl?"),
    ],
)
def test_a_bad_list_of_devices_is_told(folder, rows, message):
    faults = folder.write(layouts__a__devices_csv=HEADER + rows).faults()
    assert any(message in fault for fault in faults), faults


def test_a_device_on_the_outline_belongs_to_the_building(folder):
    table = HEADER + GATEWAY.replace("1,1,2", "0,0,2") + SENSORS
    assert folder.write(layouts__a__devices_csv=table).read().layouts[0].gateways[0].place.x_m == 0


def test_shared_sensors_stand_in_every_layout(folder):
    folder.write(
        sensors_csv="id,level,x_m,y_m\nS2,ground,3,3\nS1,ground,2,2\n",
        layouts__a__devices_csv="id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\n",
        layouts__b__devices_csv="id,kind,level,x_m,y_m\nG1,gateway,ground,9,9\ns1,sensor,ground,1,1\n",
    )
    assert folder.faults() == [
        'layouts/b/devices.csv, line 3, column id: found "s1"; '
        "expected an id of its own: sensors.csv, line 3 has it already"
    ]
    folder.write(layouts__b__devices_csv="id,kind,level,x_m,y_m\nG1,gateway,ground,9,9\n")
    assert [[s.id for s in layout.sensors] for layout in folder.read().layouts] == [
        ["S1", "S2"]
    ] * 2


def test_layouts_of_different_sensors_are_refused_with_the_ids(folder):
    folder.write(layouts__b__devices_csv=HEADER + GATEWAY + SENSORS.replace("S2", "S3"))
    assert folder.faults() == [
        "layouts/a/devices.csv: found no sensor S3; expected the same sensors in every layout",
        "layouts/b/devices.csv: found no sensor S2; expected the same sensors in every layout",
    ]


def test_a_sensor_that_hangs_elsewhere_in_another_layout_is_told(folder):
    # S1 moves by (3, 4): 5 m; S2 stays within 3 m
    moved = SENSORS.replace("5,5,2", "8,9,2").replace("8,5,2", "8,7.9,2")
    notes = folder.write(layouts__b__devices_csv=HEADER + GATEWAY + moved).read().notes
    told = [note for note in notes if "apart" in note]
    assert told == ["Between a and b these sensors hang more than 3 m or a level apart: S1."]


def test_a_row_holds_both_ways_where_its_opposite_is_missing(linked_folder):
    linked_folder.write(
        layouts__a__links_csv="a,b,prr,rssi_dbm\nS1,G1,0.9,-70\nS2,S1,0.8,\nS1,S2,,-80\n"
    )
    assert links_of(linked_folder) == (
        GivenLink("G1", "S1", 0.9, -70.0),
        GivenLink("S1", "G1", 0.9, -70.0),
        GivenLink("S1", "S2", None, -80.0),
        GivenLink("S2", "S1", 0.8, None),
    )


def test_a_layouts_own_row_wins_over_the_sites(linked_folder):
    linked_folder.write(
        links_csv="a,b,prr\nG1,S1,0.5\nS2,S1,0.4\nG1,R1,0.3\n",
        layouts__a__links_csv="a,b,prr\nG1,S1,0.9\n",
        layouts__b__devices_csv="id,kind\nG1,gateway\nS1,sensor\nS2,sensor\nR1,repeater\n",
    )
    assert [(link.a, link.b, link.prr) for link in links_of(linked_folder)] == [
        *[("G1", "S1", 0.9), ("S1", "G1", 0.9), ("S1", "S2", 0.4), ("S2", "S1", 0.4)]
    ]
    assert len(links_of(linked_folder, "b")) == 6


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("G1,S1,1.1,\n", 'line 2, column prr: found "1.1"; expected a number, at least 0'),
        ("G1,S1,90%,\n", 'column prr: found "90%"'),
        ("G1,S1,,21\n", 'column rssi_dbm: found "21"; expected a number in dBm, at least -130'),
        ("G1,S9,1,\n", 'column b: found "S9"; expected a device here'),
        ("G1,s1,1,\n", "did you mean S1?"),
        ("S1,S1,1,\n", "expected another device than a"),
        ("G1,G2,1,\n", "expected no link between gateways"),
    ],
)
def test_a_bad_link_is_told(linked_folder, rows, message):
    linked_folder.write(
        layouts__a__devices_csv="id,kind\nG1,gateway\nG2,gateway\nS1,sensor\n",
        layouts__a__links_csv="a,b,prr,rssi_dbm\n" + rows,
    )
    faults = linked_folder.faults()
    assert any(message in fault for fault in faults), faults


def test_a_site_wide_link_to_a_device_of_no_layout_is_told(linked_folder):
    (fault,) = linked_folder.write(links_csv="a,b,prr\nG1,R7,1\n").faults()
    assert fault.startswith('links.csv, line 2, column b: found "R7"; expected a device of some')


MOUNTED = "id,kind,level,x_m,y_m,mounting,model\nG1,gateway,ground,1,1,cabinet,\n"


@pytest.mark.parametrize(
    ("word", "rest", "expected_db"),
    [
        # 3, 5 and 12 dB: common practice; the row wins over the model's 7 dB
        *[("flush_box", "", 3.0), ("metal_behind", "", 5.0), ("cabinet", "", 12.0)],
        *[("free", "", 0.0), ("", "", 7.0)],
        ("cabinet", "mountings: {cabinet_db: 15}\n", 15.0),
    ],
)
def test_a_device_loses_what_its_own_mounting_takes(folder, word, rest, expected_db):
    text = (folder.path / "site.yaml").read_text() + "models: {standard: {mounting_loss_db: 7}}\n"
    row = f"S1,sensor,ground,5,5,{word},\n"
    site = folder.write(site_yaml=text + rest, layouts__a__devices_csv=MOUNTED + row).read()
    assert site.layouts[0].sensors[0].model.mounting_loss_db == expected_db


def test_an_unknown_mounting_is_told(folder):
    row = "S1,sensor,ground,5,5,flushbox,\n"
    (fault,) = folder.write(layouts__a__devices_csv=MOUNTED + row).faults()
    assert (
        'column mounting: found "flushbox"; expected a mounting; did you mean flush_box?' in fault
    )


def test_devices_on_one_spot_are_told(folder):
    """S2 hangs 5 mm from S1, S3 two centimetres off, S4 on the level above."""
    places = [("G1", "ground", 1), ("S1", "ground", 5), ("S2", "ground", 5.005)]
    places += [("S3", "ground", 5.025), ("S4", "upper", 5)]
    rows = [
        f"{name},{'gateway' if name == 'G1' else 'sensor'},{level},{x},5"
        for name, level, x in places
    ]
    table = "\n".join(["id,kind,level,x_m,y_m", *rows, ""])
    notes = folder.write(layouts__a__devices_csv=table).read().notes
    assert "layouts/a: devices on one spot: S1 and S2." in notes


def test_a_device_outside_everything_drawn_is_told_where_there_is_no_outline(folder):
    """Walls along two sides of 20 m by 10 m; S1 hangs on the outer face of one of them."""
    text = (folder.path / "site.yaml").read_text()
    bare = "\n".join(line for line in text.splitlines() if "outline" not in line)
    walls = "W1,ground,0,0,20,0,brick_120\nW2,ground,0,0,0,10,brick_120\n"
    folder.write(
        site_yaml=bare,
        walls_csv="id,level,x1_m,y1_m,x2_m,y2_m,construction\n" + walls,
        layouts__a__devices_csv="id,kind,level,x_m,y_m\nG1,gateway,ground,50,5\n"
        "S1,sensor,ground,5,-0.2\nS2,sensor,upper,50,5\n",
    )
    notes = folder.read().notes
    told = "layouts/a/devices.csv: outside everything drawn: G1 at (50, 5) (line 2)."
    assert [note for note in notes if "outside" in note] == [told]
