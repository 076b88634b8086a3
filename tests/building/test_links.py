"""Column ``state`` of measured links, and values that cannot have been measured."""

import math

import pytest

from resilience.building.site import GivenLink, Share

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
LONG = "a,b,prr,rssi_dbm,state,measured_h,share\n"


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
        ("G1,S1,,,D1", "0 is tried and not heard"),
    ],
)
def test_what_cannot_have_been_measured_is_told(surveyed, row, message):
    for file in ("links_csv", "layouts__a__links_csv"):
        faults = surveyed.write(**{file: HEADER + row + "\n"}).faults()
        assert any(message in fault for fault in faults), faults
        surveyed.write(**{file: HEADER})


def test_rows_of_a_survey_sheet_that_are_not_filled_in_are_left_out(surveyed):
    site = surveyed.write(links_csv=HEADER + "G1,S1,,-71,\nG1,S2,,,\nS1,S2,,,\n").read()
    assert {(one.a, one.b) for one in site.layouts[0].links} == {
        ("G1", "S1"),
        ("S1", "G1"),
    }  # both ways, as measured
    assert "links.csv: 2 rows in which nothing was measured were left out." in site.notes


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


def test_a_mistake_in_the_sites_links_is_told_once_however_many_layouts_there_are(surveyed):
    surveyed.write(links_csv=HEADER + "G1,G2,1,,\n")
    for layout in "abc":
        table = MOVED.format("1,1") + "G2,gateway,upper,9,9\n"
        surveyed.write(**{f"layouts__{layout}__devices_csv": table})
    assert surveyed.faults() == [
        'links.csv, line 2, column b: found "G2"; '
        "expected no link between gateways: they do not relay"
    ]


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


def one_way(site, a, b):
    """The link of that direction."""
    (found,) = [link for link in site.layouts[0].links if (link.a, link.b) == (a, b)]
    return found


def test_a_link_remembers_for_how_long_it_was_measured_and_what_was_counted(surveyed):
    surveyed.write(links_csv=LONG + "G1,S1,0.81,-70,,36.5,one_way\nS1,S2,1,,,,\n")
    site = surveyed.read()
    there = GivenLink("G1", "S1", 0.81, -70.0, measured_h=36.5)
    assert one_way(site, "G1", "S1") == there
    assert one_way(site, "S1", "G1").measured_h == 36.5
    assert one_way(site, "S1", "S2").measured_h is None
    assert {link.share for link in site.layouts[0].links} == {Share.ONE_WAY}


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("G1,S1,1,,,0,", 'column measured_h: found "0"; expected hours, above 0'),
        ("G1,S1,1,,,-1,", 'links.csv, line 2, column measured_h: found "-1"; expected hours'),
        ("G1,S1,1,,,inf,", 'column measured_h: found "inf"; expected hours'),
        ("G1,S1,1,,,nan,", 'column measured_h: found "nan"; expected hours'),
        ("G1,S1,1,,,1 day,", 'column measured_h: found "1 day"; expected hours'),
        ("G1,S1,1,,,,acked", 'column share: found "acked"; expected one_way (heard of sent) or'),
        ("G1,S1,1,,,,Acknowledged", "did you mean acknowledged?"),
        ("G1,S1,1.2,,,,acknowledged", 'column prr: found "1.2"; expected a number, at least 0 and'),
    ],
)
def test_how_a_link_was_measured_is_checked(surveyed, row, message):
    faults = surveyed.write(links_csv=LONG + row + "\n").faults()
    assert any(message in fault for fault in faults), faults


def test_an_acknowledged_ratio_is_there_and_back_in_one(surveyed):
    """0.9 x 0.9 = 0.81: each way has the root, so that their product is what was counted."""
    surveyed.write(links_csv=LONG + "G1,S1,0.81,,,,acknowledged\nS1,S2,0.81,,,,\n")
    site = surveyed.read()
    for ends in (("G1", "S1"), ("S1", "G1")):
        assert one_way(site, *ends).prr == pytest.approx(0.9)
        assert one_way(site, *ends).share is Share.ACKNOWLEDGED
    assert one_way(site, "S1", "S2").prr == 0.81


@pytest.mark.parametrize(
    ("hours", "together"),
    [(("", ""), 0.65), (("30", "10"), 0.73), (("30", ""), 0.65)],  # (3 x 0.81 + 0.49) / 4
)
def test_two_acknowledged_ratios_of_a_pair_are_two_looks_at_one_product(surveyed, hours, together):
    there, back = hours
    surveyed.write(
        links_csv=f"{LONG}G1,S1,0.81,,,{there},acknowledged\nS1,G1,0.49,,,{back},acknowledged\n"
    )
    site = surveyed.read()
    for ends in (("G1", "S1"), ("S1", "G1")):
        assert one_way(site, *ends).prr == pytest.approx(math.sqrt(together))


@pytest.mark.parametrize(
    ("back", "expected"),
    [
        ("0.75,,,,one_way", 0.6),  # 0.45 / 0.75
        ("0.4,,,,one_way", 1.0),  # more came back than is ever heard that way: chance
        ("0,,,,one_way", math.sqrt(0.45)),
        ("0.75,,lift,,one_way", math.sqrt(0.45)),  # another state of the building
        (",-70,,,one_way", math.sqrt(0.45)),
    ],
)
def test_a_known_way_back_is_taken_out_of_an_acknowledged_ratio(surveyed, back, expected):
    surveyed.write(links_csv=f"{LONG}G1,S1,0.45,,,,acknowledged\nS1,G1,{back}\n")
    assert one_way(surveyed.read(), "G1", "S1").prr == pytest.approx(expected)


def test_repeated_rows_of_a_direction_are_averaged_and_told(surveyed):
    """By hours 0.8 x 3/4 + 0.4 x 1/4 = 0.7 and -70 x 3/4 - 78 x 1/4 = -72 dBm."""
    rows = "G1,S1,0.8,-70,,30,\nS1,S2,1,,,,\nG1,S1,0.4,-78,,10,\nS1,G1,0.5,,,,\n"
    site = surveyed.write(links_csv=LONG + rows).read()
    link = one_way(site, "G1", "S1")
    assert (link.prr, link.rssi_dbm, link.measured_h) == pytest.approx((0.7, -72.0, 40.0))
    assert one_way(site, "S1", "G1").prr == 0.5
    (note,) = [note for note in site.notes if "became" in note]
    assert note.startswith("links.csv: 2 rows became 1, since rows of the same a, b and state")
    assert "(lines 2, 4)" in note
    assert "prr 0 as 0" in note


@pytest.mark.parametrize(
    ("rows", "prr", "rssi_dbm", "measured_h"),
    [
        (("0.8,-70,,30,", "0.4,-78,,,"), 0.6, -74.0, 30.0),  # one spot: all count alike
        (("0.8,-70,,,", "0.4,-78,,,"), 0.6, -74.0, None),
        (("0.9,-80,,,", "0,,,,", "0.6,-90,,,"), 0.5, -85.0, None),  # heard in two of three
        (("0,,,5,", "0,,,5,"), 0.0, None, 10.0),
        ((",-80,,,", "0,,,,"), None, -80.0, None),  # heard, but nobody counted how often
        (("0.9,-80,,,", ",-90,,,"), 0.9, -85.0, None),
        (("0.5,,,,acknowledged", "0.22,,,,acknowledged"), 0.6, None, None),  # root of 0.36
        (("0.5,,lift D1,,", "0.3,,D1 lift,,"), 0.4, None, None),
    ],
)
def test_rows_are_averaged_over_what_each_of_them_has(surveyed, rows, prr, rssi_dbm, measured_h):
    surveyed.write(links_csv=LONG + "".join(f"G1,S1,{row}\n" for row in rows))
    link = one_way(surveyed.read(), "G1", "S1")
    assert link.prr == (None if prr is None else pytest.approx(prr))
    assert link.rssi_dbm == (None if rssi_dbm is None else pytest.approx(rssi_dbm))
    assert link.measured_h == measured_h


@pytest.mark.parametrize(
    ("second", "message"),
    [
        ("0.5,,lift,,", 'line 3, column state: found "lift"; expected each direction in one'),
        ("0.5,,,,acknowledged", "expected the share of line 2, to be averaged with it"),
    ],
)
def test_rows_that_do_not_measure_the_same_are_not_averaged(surveyed, second, message):
    faults = surveyed.write(links_csv=f"{LONG}G1,S1,0.9,,,,\nG1,S1,{second}\n").faults()
    assert any(message in fault for fault in faults), faults


def test_what_the_reader_does_not_know_stays_a_mistake_unless_it_is_marked(surveyed):
    surveyed.write(links_csv="# by: initials\na,b,prr,#mood,by\nG1,S1,0.9,good,X\n#G1,S2,0,,\n")
    site = surveyed.read()
    assert one_way(site, "G1", "S1").prr == 0.9
    assert "links.csv: columns #mood, by left out, as # asks for." in site.notes
    (fault,) = surveyed.write(links_csv="a,b,prr,mood\nG1,S1,0.9,good\n").faults()
    assert 'column 4: found "mood"; expected a known column, or #' in fault
