"""Changes of doors and obstacles; defaults are compared with the catalogue, means with algebra."""

import math

import pytest

from resilience.assumptions.catalogue import default
from resilience.assumptions.changes import DOORS, OBSTACLES
from resilience.building.sections.changes import mean_h
from resilience.building.settings import Duration
from resilience.building.structure import Change

WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,5,20,5,brick_120\n"
DOOR = "id: D1, wall: W1, at_m: 1, width_m: 1, height_m: 2"
BOX = "id: O1, level: ground, x_m: 5, y_m: 2, width_m: 2, depth_m: 1"


def site(door="", obstacle="", rest=""):
    text = "format: 1\nradio: {environment: quiet}\n" + rest
    text += "building:\n  levels: [{id: ground}, {id: upper}]\n"
    text += f"  doors: [{{{door}}}]\n" if door else ""
    return text + (f"  obstacles: [{{{obstacle}}}]\n" if obstacle else "")


def written(folder, **parts):
    return folder.write(site_yaml=site(**parts), walls_csv=WALLS)


def usual(kind):
    """The change that the catalogue gives a kind."""
    adds_db, per_year, median_h, p90_h = (
        default(f"changes.{kind}.{key}") for key in ("adds_db", "per_year", "median_h", "p90_h")
    )
    return Change(adds_db, per_year, Duration("lognormal", median_h=median_h, p90_h=p90_h))


LEAVES = "id: D1, wall: W1, at_m: 1, width_m: 1, height_m: 2, construction: {}"
EVERY_DOOR = "changes: {all_doors: on}\n"


@pytest.mark.parametrize("kind", sorted(DOORS))
def test_with_one_key_every_door_of_a_known_leaf_changes_as_its_kind(folder, kind):
    parts = {"door": LEAVES.format(kind), "rest": EVERY_DOOR}
    site = written(folder, **parts).read()
    (door,) = site.building.doors
    assert (door.construction, door.change) == ("open", usual(kind))
    assert any("all_doors is on" in note and "kind says: 1." in note for note in site.notes)
    (still,) = written(folder, door=LEAVES.format(kind)).read().building.doors
    assert (still.construction, still.change) == (kind, None)


def test_with_all_doors_a_door_without_a_leaf_and_one_that_says_off_stay_as_they_are(folder):
    for door, made_of in (
        (LEAVES.format("glass_10"), "glass_10"),
        (LEAVES.format("open"), "open"),
        (LEAVES.format("wooden_door") + ", changes: off", "wooden_door"),
    ):
        (found,) = written(folder, door=door, rest=EVERY_DOOR).read().building.doors
        assert (found.construction, found.change) == (made_of, None)


def test_with_all_doors_what_a_door_or_its_kind_says_of_its_changes_counts(folder):
    own = LEAVES.format("open") + ", kind: fire_door, per_year: 7"
    (door,) = written(folder, door=own, rest=EVERY_DOOR).read().building.doors
    assert door.change.per_year == 7
    rest = "changes: {all_doors: on, steel_door: {per_year: 9}}\n"
    (door,) = written(folder, door=LEAVES.format("steel_door"), rest=rest).read().building.doors
    assert door.change.per_year == 9


@pytest.mark.parametrize("kind", sorted(OBSTACLES))
def test_an_obstacle_of_a_known_kind_takes_its_defaults(folder, kind):
    (obstacle,) = written(folder, obstacle=f"{BOX}, kind: {kind}").read().building.obstacles
    assert obstacle.change == usual(kind)


@pytest.mark.parametrize(
    ("text", "kind", "known"),
    [
        ("Lift car", "lift_car", "lift_car"),
        ("lift-car", "lift_car", "lift_car"),
        ("tea trolley", "tea trolley", "other"),
        ("007", "007", "other"),
    ],
)
def test_the_kind_of_an_obstacle_is_free_text_and_known_ones_are_recognised(
    folder, text, kind, known
):
    (obstacle,) = written(folder, obstacle=f"{BOX}, kind: {text}").read().building.obstacles
    assert (obstacle.kind, obstacle.change) == (kind, usual(known))


@pytest.mark.parametrize("kind", sorted(DOORS))
def test_a_door_that_changes_stands_open_and_takes_the_defaults_of_its_kind(folder, kind):
    site = written(folder, door=f"{DOOR}, kind: {kind}, changes: on").read()
    (door,) = site.building.doors
    assert (door.construction, door.change) == ("open", usual(kind))
    assert site.building.construction("open").loss_db == 0
    assert any(note.startswith("1 of 1 doors and obstacles that change") for note in site.notes)


def test_what_a_closed_leaf_adds_is_that_of_its_material():
    """Wood 3 dB, wired glass 8 dB, steel or cold room 18 dB; a lift car or vehicle 20 dB.

    A compilation of measured doors, second hand, and single readings: low confidence.
    """
    losses = {kind: default(f"changes.{kind}.adds_db") for kind in DOORS | OBSTACLES}
    assert losses == {
        "wooden_door": 3,
        "fire_door": 8,
        "steel_door": 18,
        "shutter": 18,
        "lift_car": 20,
        "vehicle": 20,
        "racking": 6,
        "furniture": 6,
        "other": 10,
    }


def test_a_door_says_itself_how_it_changes(folder):
    own = "construction: glass_10, adds_db: 12, per_year: 300, mean_h: 14, distribution: fixed"
    site = written(folder, door=f"{DOOR}, {own}").read()
    (door,) = site.building.doors
    assert door.construction == "glass_10"
    assert door.change == Change(12.0, 300.0, Duration("fixed", mean_h=14.0))
    assert site.building.changing == {"D1": door.change}
    assert not any("that change" in note for note in site.notes)


def test_what_a_row_leaves_out_its_kind_says_and_a_duration_is_stated_as_a_whole(folder):
    rest = "changes: {lift_car: {per_year: 100, mean_h: 3}}\n"
    by_site = written(folder, obstacle=f"{BOX}, kind: lift_car", rest=rest).read()
    (obstacle,) = by_site.building.obstacles
    assert obstacle.change == Change(20.0, 100.0, Duration("exponential", mean_h=3.0))
    own = f"{BOX}, kind: lift_car, median_h: 5, p90_h: 6"
    (obstacle,) = written(folder, obstacle=own, rest=rest).read().building.obstacles
    assert obstacle.change == Change(20.0, 100.0, Duration("lognormal", median_h=5.0, p90_h=6.0))


@pytest.mark.parametrize(
    "words", ["construction: wooden_door", "construction: wooden_door, changes: off"]
)
def test_a_door_that_says_nothing_never_changes(folder, words):
    (door,) = written(folder, door=f"{DOOR}, {words}").read().building.doors
    assert door.change is None


def test_a_rate_of_zero_is_never(folder):
    parts = {"door": f"{DOOR}, construction: open, per_year: 0", "obstacle": f"{BOX}, per_year: 0"}
    building = written(folder, **parts).read().building
    assert building.doors[0].change is None
    assert building.obstacles[0].change.per_year == 0


@pytest.mark.parametrize(
    ("words", "rest"),
    [("per_year: 0", ""), ("changes: on", "changes: {fire_door: {per_year: 0}}\n")],
)
def test_a_door_whose_leaf_never_shuts_is_read_as_one_that_stands_open(folder, words, rest):
    """The catalogue of ``changes`` says of the rate: 0 is never."""
    site = written(folder, door=f"{DOOR}, kind: fire_door, {words}", rest=rest).read()
    (door,) = site.building.doors
    assert (door.construction, door.change, site.building.changing) == ("open", None, {})


def test_a_leaf_that_is_drawn_shut_and_shuts_again_is_told(folder):
    notes = written(folder, door=f"{DOOR}, construction: steel_door, changes: on").read().notes
    (told,) = [note for note in notes if "drawn shut" in note]
    assert "takes another 18 dB while it is changed" in told
    assert "say construction: open and kind: steel_door" in told


@pytest.mark.parametrize(
    ("duration", "expected_h"),
    [
        (Duration("exponential", mean_h=4.0), 4.0),
        (Duration("fixed", mean_h=4.0), 4.0),
        (Duration("lognormal", median_h=2.0, p90_h=2.0), 2.0),
        # z of 0.9 is 1.28155 (normal tables), so ln(p90 / median) = 1.28155 is a spread of 1
        (Duration("lognormal", median_h=2.0, p90_h=2.0 * math.exp(1.2815515655446004)), 3.2974425),
    ],
)
def test_the_mean_of_a_duration_is_the_one_of_its_law(duration, expected_h):
    """Lognormal mean: median exp(s^2 / 2), here 2 exp(0.5) = 3.29744 (Johnson, Kotz 1994)."""
    assert mean_h(duration) == pytest.approx(expected_h, abs=1e-6)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("per_year: 9000, mean_h: 0.2", 'mean_h: found "0.2"; expected 0.25 h or more on average'),
        ("per_year: 9000, median_h: 0.01, p90_h: 0.02", 'median_h: found "0.01"; expected 0.25 h'),
        ("mean_h: 0.001", "state how long it rests while changed, or leave it out: what moves f"),
        ("mean_h: 2, median_h: 3", "expected either mean_h or median_h"),
        ("p90_h: 3", "expected median_h beside it"),
        ("median_h: 3, p90_h: 2", "expected at least median_h, 3"),
        ("distribution: fixed", "expected mean_h with it"),
        ("adds_db: 0", 'adds_db: found "0"; expected a number in dB, above 0'),
        ("adds_db: -3", 'adds_db: found "-3"'),
        ("adds_db: .nan", 'adds_db: found ".nan"'),
        ("per_year: -1", 'per_year: found "-1"; expected times per year, at least 0'),
        ("per_year: 1e9", 'per_year: found "1e9"'),
        ("changes: maybe", 'changes: found "maybe"; expected on or off'),
        ("changes: [1]", "changes: found a list; expected a single value"),
        ("adds_db: three", 'adds_db: found "three"'),
    ],
)
def test_a_bad_change_is_told(folder, words, message):
    for part in ({"obstacle": f"{BOX}, {words}"}, {"door": f"{DOOR}, construction: open, {words}"}):
        faults = written(folder, **part).faults()
        assert any(message in fault for fault in faults), faults


def test_a_door_without_change_cannot_say_how_often_it_changes(folder):
    own = f"{DOOR}, construction: wooden_door, changes: off, per_year: 3"
    (fault,) = written(folder, door=own).faults()
    assert 'doors[1].changes: found "off"; expected on, or no per_year beside it' in fault


def test_the_rest_that_counts_is_the_rejoin_of_this_site(folder):
    box = f"{BOX}, per_year: 900, mean_h: 0.2"
    faults = written(folder, obstacle=box, rest="routing: {rejoin_long_h: 0.5}\n").faults()
    assert any("expected 0.5 h or more" in fault for fault in faults)
    read = written(folder, obstacle=box, rest="routing: {rejoin_long_h: 0.1}\n").read()
    assert read.building.obstacles[0].change.lasts.mean_h == 0.2


@pytest.mark.parametrize(
    ("rest", "message"),
    [
        ("changes: {liftcar: {per_year: 3}}\n", "did you mean lift_car?"),
        ("changes: {lift_car: {rate: 3}}\n", 'changes.lift_car.rate: found "rate"'),
        ("changes: {lift_car: {mean_h: 1, median_h: 2}}\n", "expected either mean_h or median_h"),
        ("changes: 5\n", 'key changes: found "5"; expected keys and values'),
    ],
)
def test_a_bad_section_of_changes_is_told_once(folder, rest, message):
    (fault,) = written(folder, obstacle=f"{BOX}, kind: lift_car", rest=rest).faults()
    assert message in fault


def test_a_change_far_outside_its_range_is_told_and_kept(folder):
    # listed range of a vehicle's loss: 8 to 40 dB; five times less than 8 is 1.6
    site = written(folder, obstacle=f"{BOX}, kind: vehicle, adds_db: 1.5").read()
    assert site.building.obstacles[0].change.adds_db == 1.5
    assert any(
        "obstacles[1].adds_db: is 1.5 meant? It is more than five" in note for note in site.notes
    )
