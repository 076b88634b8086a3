"""Column ``state`` of measured links, and values that cannot have been measured."""

import pytest

from resilience.building.site import GivenLink

SITE = """\
format: 1
radio: {environment: quiet}
building:
  levels: [{id: ground}, {id: upper}]
  doors:
    - {id: D1, wall: W1, at_m: 1, width_m: 1, height_m: 2, kind: fire_door, changes: on}
    - {id: D2, wall: W1, at_m: 3, width_m: 1, height_m: 2, construction: wooden_door}
  obstacles:
    - {id: lift, kind: lift_car, level: ground, x_m: 9, y_m: 2, width_m: 2, depth_m: 2}
"""
WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,5,20,5,brick_120\n"
HEADER = "a,b,prr,rssi_dbm,state\n"


@pytest.fixture
def surveyed(folder):
    return folder.write(site_yaml=SITE, walls_csv=WALLS)


def test_a_link_remembers_what_was_changed_while_it_was_measured(surveyed):
    surveyed.write(links_csv=HEADER + "G1,S1,0.9,-70,lift  D1 lift\nS1,S2,1,,\n")
    links = surveyed.read().layouts[0].links
    assert links == (
        GivenLink("G1", "S1", 0.9, -70.0, ("D1", "lift")),
        GivenLink("S1", "G1", 0.9, -70.0, ("D1", "lift")),
        GivenLink("S1", "S2", 1.0, None),
        GivenLink("S2", "S1", 1.0, None),
    )


def test_tried_and_not_heard_is_not_the_same_as_not_measured(surveyed):
    surveyed.write(links_csv=HEADER + "G1,S1,0,,\nS1,S2,,-90,\n")
    links = surveyed.read().layouts[0].links
    assert [link.prr for link in links] == [0.0, 0.0, None, None]


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("G1,S1,1,,D7", 'column state: found "D7"; expected ids of doors and obstacles'),
        ("G1,S1,1,,lft", "did you mean lift?"),
        ("G1,S1,1,,LIFT", "did you mean lift?"),
        ("G1,S1,1,,D1 D7 D8", 'found "D8"; expected ids of doors'),
        ("G1,S1,1,,D2", 'found "D2"; expected one that changes: the drawing gives this door no'),
        ('G1,S1,1,,"D1;lift"', 'column state: found "D1;lift"'),
        ("G1,S1,1,,D1\x1b[2J", "invisible characters"),
        ("G1,S1,0,-80,", 'rssi_dbm: found "-80"; expected nothing beside prr 0'),
        ("G1,S1,1.0001,,", 'column prr: found "1.0001"; expected a number, at least 0 and at most'),
        ("G1,S1,-0.1,,", 'column prr: found "-0.1"'),
        ("G1,S1,nan,,", 'column prr: found "nan"'),
        ("G1,S1,,20.5,", 'found "20.5"; expected a number in dBm, at least -130 and at most 20'),
        ("G1,S1,,-131,", 'column rssi_dbm: found "-131"'),
        ("G1,G1,1,,", "expected another device than a"),
        ("G1,s2,1,,", "did you mean S2?"),
        ("G1,S1,,,", "0 is tried and not heard"),
    ],
)
def test_what_cannot_have_been_measured_is_told(surveyed, row, message):
    for file in ("links_csv", "layouts__a__links_csv"):
        faults = surveyed.write(**{file: HEADER + row + "\n"}).faults()
        assert any(message in fault for fault in faults), faults
        surveyed.write(**{file: HEADER})


def test_without_a_building_there_is_nothing_to_be_changed(linked_folder):
    linked_folder.write(layouts__a__links_csv="a,b,prr,state\nG1,S1,1,D1\n")
    (fault,) = linked_folder.faults()
    assert fault.endswith("separated by blanks; there is none")


@pytest.mark.parametrize("rssi_dbm", [-130.0, 20.0])
def test_strengths_at_the_limits_are_taken(surveyed, rssi_dbm):
    surveyed.write(links_csv=HEADER + f"G1,S1,,{rssi_dbm},\n")
    assert surveyed.read().layouts[0].links[0].rssi_dbm == rssi_dbm


MOVED = "id,kind,level,x_m,y_m\nG1,gateway,ground,{}\nS1,sensor,ground,5,5\nS2,sensor,upper,8,5\n"


@pytest.mark.parametrize(
    ("place", "is_moved"),
    [("1,1", False), ("1,3.9", False), ("1,4.1", True), ("19,9", True)],  # 0, 2.9, 3.1 and 20 m
)
def test_a_link_cannot_count_in_layouts_where_its_end_hangs_elsewhere(surveyed, place, is_moved):
    surveyed.write(
        links_csv=HEADER + "S1,S2,0.9,,\nS1,G1,0.9,-70,\n",
        layouts__b__devices_csv=MOVED.format(place),
    )
    if is_moved:
        assert surveyed.faults() == [
            "links.csv, line 3, column b: found G1 at different places in a and b; "
            "expected its links in layouts/<layout>/links.csv"
        ]
    else:
        assert [len(layout.links) for layout in surveyed.read().layouts] == [4, 4]


def test_another_level_is_another_place(surveyed):
    surveyed.write(
        links_csv=HEADER + "G1,S1,0.9,,\n",
        layouts__b__devices_csv=MOVED.format("1,1").replace(
            "G1,gateway,ground", "G1,gateway,upper"
        ),
    )
    assert "found G1 at different places in a and b" in surveyed.faults()[0]


def test_a_layout_that_measured_the_link_itself_needs_no_other(surveyed):
    surveyed.write(
        links_csv=HEADER + "G1,S1,0.9,,\n",
        layouts__b__devices_csv=MOVED.format("19,9"),
        layouts__b__links_csv=HEADER + "G1,S1,0.3,,\n",
    )
    ratios = [[link.prr for link in layout.links] for layout in surveyed.read().layouts]
    assert ratios == [[0.9, 0.9], [0.3, 0.3]]


def test_a_strength_above_0_dbm_is_told(surveyed):
    """Received strengths of such radios lie far below 1 mW, which is 0 dBm: common practice."""
    surveyed.write(links_csv=HEADER + "G1,S1,,7,\nS1,G1,,0,\nS1,S2,,-70,\n")
    notes = surveyed.read().notes
    told = "links.csv, line 2: rssi_dbm above 0 is stronger than any receiver here would report"
    assert [note for note in notes if "rssi_dbm" in note] == [f"{told}; is the sign missing?"]
