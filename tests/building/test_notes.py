"""What a reader says first of a site: each note beside a site that does not call for it."""

import pytest

from resilience.assumptions.catalogue import default, settings

DRAWN = "building: {{levels: [{{id: ground}}, {{id: upper}}]{more}}}\n"
QUIET = "radio: {environment: quiet}\n"
WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,5,20,5,brick_120\n"
SHARE = default("hazards.obstacles.blockage_share")
BOX = "x_m: 9, y_m: 9, width_m: 1, depth_m: 1"
TRUCK = f", obstacles: [{{id: V, level: ground, kind: vehicle, {BOX}}}]"
UNDRAWN = "No wall, pillar or shaft is drawn, so links are predicted by the site-general model."
BUSY = "Nothing is said about radio.environment, so a busy band is assumed."
NO_LINKS = "Prediction is off and no link is given, so no sensor ever has a route."
NO_BLOCKAGE = "The hazard link_blockage has nothing to strike: there is no link."
NO_CELLS = "The hazard battery has nothing to strike: no device runs on a battery."
MAINS = ("mains_outage", "circuit_outage")
COUNTED = (
    "The general rate of blocked links counts doors and vehicles too. What is drawn and changes is "
    "taken out of it on the links that pass it, which keep at least "
    f"{100 * SHARE:g} % of that rate (hazards.obstacles.blockage_share)."
)


def page(more="", radio=QUIET, rest=""):
    return "format: 1\n" + DRAWN.format(more=more) + radio + rest


@pytest.mark.parametrize(
    ("radio", "is_told"),
    [
        *(("", True), ("radio: {swing_db: 3}\n", True), (QUIET, False)),
        *(("radio: {environment: busy}\n", False), ("radio: {environment: }\n", True)),
    ],
)
def test_a_busy_band_is_told_where_the_site_leaves_it_open(folder, radio, is_told):
    site = folder.write(site_yaml=page(radio=radio), walls_csv=WALLS).read()
    assert (BUSY in site.notes) is is_told
    assert site.radio.environment == ("quiet" if radio == QUIET else "busy")


@pytest.mark.parametrize(
    ("table", "is_told"),
    [("G1,S1,0.9,\n", False), ("G1,S1,0.9,-70\n", False), ("G1,S1,,-70\n", True)],
)
def test_without_prediction_the_band_counts_only_for_links_without_a_ratio(
    linked_folder, table, is_told
):
    linked_folder.write(layouts__a__links_csv=f"a,b,prr,rssi_dbm\n{table}S1,S2,1,\n")
    assert (BUSY in linked_folder.read().notes) is is_told


@pytest.mark.parametrize(
    ("more", "walls", "is_told"),
    [
        ("", "", True),
        ("", WALLS, False),
        (TRUCK, "", True),  # what comes and goes is no building
        (", openings: [{id: O, level: upper, outline: [[1, 1], [2, 1], [2, 2]]}]", "", False),
        (
            ", shafts: [{id: T, level: upper, lining: open, outline: [[1, 1], [2, 1], [2, 2]]}]",
            "",
            False,
        ),
        (
            ", plates: [{id: P, level: upper, construction: open, "
            "corners: [[1, 1, 1], [2, 1, 1], [2, 2, 1]]}]",
            "",
            False,
        ),
    ],
)
def test_the_site_general_model_is_told_as_long_as_nothing_fixed_is_drawn(
    folder, more, walls, is_told
):
    folder.write(site_yaml=page(more), walls_csv=walls or WALLS.splitlines()[0])
    assert (UNDRAWN in folder.read().notes) is is_told


def test_without_links_and_prediction_nobody_has_a_route(linked_folder):
    linked_folder.write(layouts__a__links_csv="a,b,prr\n")
    notes = linked_folder.read().notes
    assert NO_LINKS in notes
    assert NO_BLOCKAGE in notes
    linked_folder.write(layouts__a__links_csv="a,b,prr\nG1,S1,0\n")
    assert not {NO_LINKS, NO_BLOCKAGE} & set(linked_folder.read().notes)


@pytest.mark.parametrize(
    ("supply", "hazards", "is_told"),
    [("mains", "", True), ("", "", False), ("mains", "hazards: {battery: off}\n", False)],
)
def test_the_hazard_of_batteries_is_told_to_strike_nobody(folder, supply, hazards, is_told):
    devices = "id,kind,level,x_m,y_m,supply\nG1,gateway,ground,1,1,\n"
    devices += f"S1,sensor,ground,5,5,{supply}\n"
    folder.write(site_yaml=page(rest=hazards), layouts__a__devices_csv=devices)
    assert (NO_CELLS in folder.read().notes) is is_told


@pytest.mark.parametrize(
    ("more", "hazards", "is_told"),
    [
        (TRUCK, "", True),
        (TRUCK, "hazards: {obstacles: off}\n", False),
        (TRUCK, "hazards: {link_blockage: off}\n", False),
        ("", "", False),
    ],
)
def test_what_changes_is_told_to_be_taken_out_of_the_general_rate(folder, more, hazards, is_told):
    assert (COUNTED in folder.write(site_yaml=page(more, rest=hazards)).read().notes) is is_told


@pytest.mark.parametrize(
    ("more", "is_told"),
    [
        ("prices: {hour: 60}\n", True),
        ("prices: {visit: 150}\n", False),
        ("prices: {hour: 60}\nupkeep: {response: {mean_h: 48}, repair: {mean_h: 1}}\n", False),
    ],
)
def test_an_hour_that_pays_for_waiting_is_told(folder, more, is_told):
    notes = folder.write(site_yaml=page(rest=more)).read().notes
    assert any(one.startswith("prices.hour pays for the whole") for one in notes) is is_told


@pytest.mark.parametrize(
    ("n", "circuit", "hazards", "is_told"),
    [
        *((1, "", "", False), (2, "", "", True), (2, "C1", "", False)),
        *((2, "", f"hazards: {{{name}: off}}\n", False) for name in MAINS),
    ],
)
def test_devices_on_mains_of_one_level_are_told_to_share_a_circuit_where_nobody_named_it(
    folder, n, circuit, hazards, is_told
):
    devices = "id,kind,level,x_m,y_m,supply,circuit\nG1,gateway,ground,1,1,mains,\n"
    devices += f"S1,sensor,ground,5,5,mains,{circuit}\n"
    devices += f"S2,sensor,ground,8,5,{f'mains,{circuit}' if n == 2 else ','}\n"
    folder.write(
        site_yaml=page(rest=hazards),
        layouts__a__devices_csv=devices,
        layouts__b__devices_csv=devices,
    )
    told = [note for note in folder.read().notes if "name no circuit" in note]
    assert len(told) == is_told
    assert all("(ground)" in note for note in told)


(SWING,) = [one for one in settings() if one.key == "radio.swing_db"]


@pytest.mark.parametrize(
    ("swing_db", "is_asked"),
    [
        *((SWING.low, False), (SWING.low / 4.99, False), (SWING.low / 5.01, True), (0, True)),
        (SWING.most, SWING.most > 5 * SWING.high),
    ],
)
def test_a_value_is_asked_about_from_five_times_outside_its_listed_range_on(
    folder, swing_db, is_asked
):
    text = page(radio=f"radio: {{environment: quiet, swing_db: {swing_db!r}}}\n")
    notes = [note for note in folder.write(site_yaml=text).read().notes if "meant?" in note]
    assert (
        notes
        == [
            f"site.yaml, line 3, key radio.swing_db: is {swing_db:g} meant? It is more than five "
            f"times outside the listed range of {SWING.low:g} to {SWING.high:g} dB "
            f"({SWING.source})."
        ]
        * is_asked
    )


def test_notes_begin_with_what_is_assumed_and_end_with_what_is_not_played(folder):
    site = folder.write(site_yaml=page(radio="")).read()
    assert site.notes == (
        BUSY,
        UNDRAWN,
        "The hazard mains_outage has nothing to strike: at most gateways are on mains.",
        "The hazard circuit_outage has nothing to strike: no device is on a circuit.",
        "The hazard obstacles has nothing to strike: nothing that is drawn changes.",
        "3 of 3 heights are blank; each kind of device takes its default.",
        "Not played unless hazards names them: common_cause, software_release, zone_works, "
        "zone_water, zone_interference, zone_heat, lasting_change, busy_hours, removed, "
        "device_mute.",
    )
