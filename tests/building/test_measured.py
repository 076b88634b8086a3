"""Tables of links against means by hand over any rows; constructions at their edges."""

import json
import statistics

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resilience.building.site import GivenLink, Share

GATE = settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
HEADER = "a,b,prr,rssi_dbm,measured_h,share\n"
SHARES = st.integers(1, 100).map(lambda percent: percent / 100)
STRENGTHS = st.integers(-130, 0)


def links_of(folder):
    return {(link.a, link.b): link for link in folder.read().layouts[0].links}


@GATE
@given(rows=st.lists(st.tuples(SHARES, STRENGTHS, st.integers(1, 1000)), min_size=1, max_size=6))
def test_rows_of_a_direction_become_their_means_by_hours(linked_folder, rows):
    table = "".join(f"G1,S1,{prr},{rssi},{hours},\n" for prr, rssi, hours in rows)
    found = links_of(linked_folder.write(layouts__a__links_csv=HEADER + table))["G1", "S1"]
    ratios, strengths, hours = zip(*rows, strict=True)
    assert found.prr == pytest.approx(statistics.fmean(ratios, hours))
    assert found.rssi_dbm == pytest.approx(statistics.fmean(strengths, hours))
    assert found.measured_h == pytest.approx(sum(hours))


@GATE
@given(back=SHARES, product=SHARES)
def test_acknowledged_and_one_way_ratios_multiply_to_what_was_counted(linked_folder, back, product):
    """p q is what comes back of what was sent, where the way back q is heard for itself."""
    table = f"G1,S1,{product},,,acknowledged\nS1,G1,{back},,,one_way\n"
    found = links_of(linked_folder.write(layouts__a__links_csv=HEADER + table))
    assert found["S1", "G1"].prr == back
    assert found["G1", "S1"].prr == pytest.approx(min(1.0, product / back))
    alone = links_of(linked_folder.write(layouts__a__links_csv=HEADER + table.splitlines()[0]))
    assert alone["G1", "S1"].prr * alone["S1", "G1"].prr == pytest.approx(product)


def test_every_direction_is_filled_in_and_sorted(linked_folder):
    table = "S2,S1,0.5,,,\nS1,G1,0.25,-70,2.5,acknowledged\n"
    site = linked_folder.write(layouts__a__links_csv=HEADER + table).read()
    acknowledged = {"measured_h": 2.5, "share": Share.ACKNOWLEDGED}
    assert site.layouts[0].links == (
        GivenLink("G1", "S1", 0.5, -70.0, **acknowledged),
        GivenLink("S1", "G1", 0.5, -70.0, **acknowledged),
        GivenLink("S1", "S2", 0.5, None),
        GivenLink("S2", "S1", 0.5, None),
    )


@pytest.mark.parametrize(
    ("row", "column", "told"),
    [
        (",S1,1,,,", "a", "found nothing; expected an id"),
        ("G1,,1,,,", "b", "found nothing; expected an id"),
        ("G/1,S1,1,,,", "a", 'found "G/1"; expected an id without ~, / or \\'),
        ("G1,G1,1,,,", "b", 'found "G1"; expected another device than a'),
        ("G1,g1,1,,,", "b", 'found "g1"; expected a device here; did you mean G1?'),
        ("X9,S1,1,,,", "a", 'found "X9"; expected a device here; known are G1, S1, S2'),
        ("G1,S1,,,4,", "prr", "found nothing; expected prr, rssi_dbm or both; 0 is tried and not"),
        ("G1,S1,1.0000001,,,", "prr", "expected a number, at least 0 and at most 1"),
        ("G1,S1,-0.0000001,,,", "prr", "expected a number, at least 0 and at most 1"),
        ("G1,S1,,-130.1,,", "rssi_dbm", "expected a number in dBm, at least -130 and at most 20"),
        ("G1,S1,,20.1,,", "rssi_dbm", "expected a number in dBm, at least -130 and at most 20"),
        ("G1,S1,0,-90,,", "rssi_dbm", 'found "-90"; expected nothing beside prr 0: what is not'),
        ("G1,S1,1,,0,", "measured_h", "expected hours, above 0 and at most 1e+06"),
        ("G1,S1,1,,1000001,", "measured_h", "expected hours, above 0 and at most 1e+06"),
        ("G1,S1,1,,,acked", "share", 'found "acked"; expected one_way (heard of sent) or acknow'),
    ],
)
def test_each_mistake_of_a_link_is_told_at_its_column(linked_folder, row, column, told):
    faults = linked_folder.write(layouts__a__links_csv=f"{HEADER}{row}\n").faults()
    assert len(faults) == 1
    assert faults[0].startswith(f"layouts/a/links.csv, line 2, column {column}: ")
    assert told in faults[0]


@pytest.mark.parametrize(
    ("prr", "rssi", "hours"),
    [("0", "", "1e6"), ("1", "20", "0.001"), ("0.5", "-130", ""), ("", "0", ""), ("1e-9", "", "")],
)
def test_what_lies_at_the_limits_of_a_measurement_is_taken(linked_folder, prr, rssi, hours):
    row = f"G1,S1,{prr},{rssi},{hours},\n"
    found = links_of(linked_folder.write(layouts__a__links_csv=HEADER + row))["G1", "S1"]
    assert [found.prr, found.rssi_dbm, found.measured_h] == [
        float(cell) if cell else None for cell in (prr, rssi, hours)
    ]


def test_a_semicolon_table_holds_measured_values_with_a_decimal_comma(linked_folder):
    table = "a;b;prr;rssi_dbm\nG1;S1;0,75;-70,5\n"
    found = links_of(linked_folder.write(layouts__a__links_csv=table))["G1", "S1"]
    assert (found.prr, found.rssi_dbm) == (0.75, -70.5)


def test_sites_links_count_in_every_layout_that_has_both_ends(linked_folder):
    linked_folder.write(
        links_csv="a,b,prr\nG1,R1,0.5\nR1,S2,0.25\n",
        layouts__b__devices_csv="id,kind\nG1,gateway\nS1,sensor\nS2,sensor\nR1,repeater\n",
    )
    found = {layout.name: len(layout.links) for layout in linked_folder.read().layouts}
    assert found == {"a": 4, "b": 4}  # two links each, both ways: a's own, and the site's in b


CONSTRUCTIONS = [
    ({"loss_db": 0}, ""),
    ({"loss_db": 1000}, ""),
    ({"loss_db": 1000.1}, 'loss_db: found "1000.1"; expected a number in dB, at least 0 and'),
    ({"loss_db": -0.1}, 'loss_db: found "-0.1"; expected a number in dB'),
    ({"loss_db": "much"}, 'loss_db: found "much"; expected a number in dB'),
    ({"loss_db": 3, "spread_db": -1}, 'spread_db: found "-1"; expected a number in dB'),
    ({"loss_db": 3, "spread": 1}, "did you mean spread_db?"),
    ({"loss_db": 3, "source": "a\x07"}, "expected text without control or invisible characters"),
    ({"layers": [["brick", 5]]}, ""),
    ({"layers": [["brick", 5.001]]}, 'layers[1][2]: found "5.001"; expected metres, above 0 and'),
    ({"layers": [["air", 0.1], ["brick", 0]]}, 'layers[2][2]: found "0"; expected metres, above'),
    ({"layers": [["brik", 0.1]]}, 'layers[1][1]: found "brik"; expected a material; did you mean'),
    ({"layers": [["brick"]]}, "layers[1]: found a list; expected a layer [material, thickness_m]"),
    ({"layers": ["brick"]}, 'layers[1]: found "brick"; expected a layer [material, thickness_m]'),
    ({"layers": [[["brick"], 1]]}, "layers[1]: found a list; expected a layer [material, thick"),
    ({"layers": []}, "found a mapping; expected either layers or loss_db"),
    ({"layers": "brick"}, 'layers: found "brick"; expected a list'),
    ({}, "found a mapping; expected either layers or loss_db"),
    ({"layers": [["brick", 0.1]], "loss_db": 3}, "expected either layers or loss_db"),
]


@pytest.mark.parametrize(("body", "told"), CONSTRUCTIONS)
def test_a_construction_of_the_site_is_of_layers_or_of_one_loss(folder, body, told):
    building = {"levels": [{"id": "ground"}, {"id": "upper"}], "constructions": {"own": body}}
    folder.write(site_yaml=json.dumps({"format": 1, "building": building}))
    if told:
        faults = folder.faults()
        assert any("constructions.own" in fault and told in fault for fault in faults), faults
    else:
        own = folder.read().building.construction("own")
        assert own.loss_db == body.get("loss_db")
        assert [list(layer) for layer in own.layers] == body.get("layers", [])


@pytest.mark.parametrize("name", ["a/b", "a~b", "..", "x" * 65, "a\u202eb"])
def test_a_construction_has_a_name_that_can_be_an_id(folder, name):
    building = {"levels": [{"id": "ground"}], "constructions": {name: {"loss_db": 3}}}
    folder.write(site_yaml=json.dumps({"format": 1, "building": building}))
    assert any(
        "expected an id" in fault and "building.constructions" in fault for fault in folder.faults()
    )


def test_a_construction_of_the_site_takes_the_place_of_one_of_the_catalogue(folder):
    building = {
        "levels": [{"id": "ground", "slab": "brick_120"}, {"id": "upper"}],
        "constructions": {"brick_120": {"loss_db": 77, "spread_db": 0}},
    }
    site = folder.write(site_yaml=json.dumps({"format": 1, "building": building})).read()
    own = site.building.construction("brick_120")
    assert (own.loss_db, own.spread_db) == (77, 0)
