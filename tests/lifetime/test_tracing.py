"""The audit form of a lifetime: enough for others to check it, without our engine."""

import json
import math
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from resilience.draws import DEFAULT_SEED, STREAM_VERSION
from resilience.errors import UsageError
from resilience.lifetime.mesh import Luck
from resilience.lifetime.playing import Stage
from resilience.lifetime.reference.levels import Levels
from resilience.lifetime.tracing import trace

HORIZON_MS = 157_788_000 * 10  # 0.05 years of 8766 h


@pytest.fixture(scope="module")
def site(busy_site):
    return replace(busy_site, layouts=busy_site.layouts[:1], horizon_years=0.05)


@pytest.fixture(scope="module", params=[(0, False), (1, False), (4, True)])
def told(request, site):
    """The audit form as it comes back from a file, with the trace that wrote it."""
    number, counted = request.param
    found = trace(site, "a", number, seed=11, count_site_outages=counted)
    return json.loads(json.dumps(found.to_json(), allow_nan=False)), found


def test_the_lifetimes_told_here_have_orphans_and_site_outages(site):
    """Guards the tests below against lifetimes in which nothing happens."""
    for number, counted in ((0, False), (4, True)):
        record = trace(site, "a", number, seed=11, count_site_outages=counted).record
        assert record.spells
        assert record.site_outages > 0
    assert trace(site, "a", 0, seed=11).history.faded


def test_the_head_says_which_lifetime_of_what_this_is(told):
    form, found = told
    assert (form["format"], form["stream_version"]) == (2, STREAM_VERSION)
    assert (form["site"], form["layout"], form["seed"]) == ("Made up", "a", 11)
    assert (form["lifetime"], form["horizon_ms"]) == (found.number, HORIZON_MS)
    assert form["site_outages_counted"] is found.rules.count_site_outages
    assert [(one["id"], one["kind"]) for one in form["devices"]] == [
        ("g1", "gateway"),
        *((f"s{n}", "sensor") for n in range(1, 6)),
    ]


def test_absences_of_one_element_follow_each_other_within_the_horizon(told):
    form, _ = told
    assert len(form["absences"]) > 20
    back_ms = defaultdict(lambda: -1)
    for absence in form["absences"]:
        name = (absence["cause"], absence["id"])
        end_ms = HORIZON_MS if absence["end_ms"] is None else absence["end_ms"]
        assert back_ms[name] < absence["start_ms"] < end_ms <= HORIZON_MS
        back_ms[name] = end_ms
    order = [(one["start_ms"], one["cause"], one["id"]) for one in form["absences"]]
    assert order == sorted(order)


def test_parents_change_from_what_they_were_over_links_that_are_listed(told):
    form, _ = told
    pairs = {frozenset((link["a"], link["b"])) for link in form["links"]}
    parent = {}
    for change in form["parents"]:
        assert 0 <= change["t_ms"] < HORIZON_MS
        assert parent.get(change["device"]) == change["old"]
        assert change["t_ms"] == 0 or change["old"] != change["new"]
        assert change["new"] is None or frozenset((change["device"], change["new"])) in pairs
        parent[change["device"]] = change["new"]
    assert set(parent) == {one["id"] for one in form["devices"] if one["kind"] != "gateway"}
    times_ms = [change["t_ms"] for change in form["parents"]]
    assert times_ms == sorted(times_ms)


def test_moves_from_parent_to_parent_are_the_re_parentings_of_the_record(told):
    form, _ = told
    moves = defaultdict(int)
    for change in form["parents"]:
        if change["old"] is not None and change["new"] is not None:
            moves[change["device"]] += 1
    assert {device: n for device, n in form["record"]["reparentings"].items() if n} == moves


def test_down_time_follows_from_the_absences(told):
    """The union of the intervals for which something holds a sensor down."""
    form, _ = told
    for sensor, down_ms in form["record"]["down_ms"].items():
        held = sorted(
            (one["start_ms"], HORIZON_MS if one["end_ms"] is None else one["end_ms"])
            for one in form["absences"]
            if one["effect"] == "down" and sensor in one["target"]
        )
        total_ms = reached_ms = 0
        for start_ms, end_ms in held:
            total_ms += max(0, end_ms - max(start_ms, reached_ms))
            reached_ms = max(reached_ms, end_ms)
        assert down_ms == total_ms


def test_time_at_a_depth_follows_from_the_parents(told):
    """Depth is the number of parents up to a gateway."""
    form, _ = told
    sensors = [one["id"] for one in form["devices"] if one["kind"] == "sensor"]
    found = {sensor: defaultdict(int) for sensor in sensors}
    parent, since_ms = {}, 0

    def count(until_ms):
        for sensor in sensors:
            depth, here = 0, sensor
            while parent.get(here) is not None:
                depth, here = depth + 1, parent[here]
            if here == "g1":
                found[sensor][str(depth)] += until_ms - since_ms

    for change in form["parents"]:
        if change["t_ms"] > since_ms:
            count(change["t_ms"])
            since_ms = change["t_ms"]
        parent[change["device"]] = change["new"]
    count(HORIZON_MS)
    stated = form["record"]["depth_ms"]
    assert {
        sensor: {d: ms for d, ms in depths.items() if ms} for sensor, depths in stated.items()
    } == {sensor: {d: ms for d, ms in depths.items() if ms} for sensor, depths in found.items()}


def test_the_record_of_the_audit_form_adds_up(told):
    record = told[0]["record"]
    orphan_ms = sum(record["orphan_ms"].values())
    assert sum(one["value"] for one in record["blame_ms"]) == orphan_ms
    assert sum(one["orphan_ms"] for one in record["spells"]) == orphan_ms
    assert sum(int(n) * ms for n, ms in record["count_ms"].items()) == orphan_ms
    assert sum(one["value"] for one in record["began"]) == len(record["spells"])


def test_a_told_lifetime_is_the_one_that_a_study_counts(told, site):
    _, found = told
    stage = Stage(site, site.layouts[0], 11, found.rules.count_site_outages)
    lifetime = stage.play(found.number)
    assert (found.record, found.history) == (lifetime.record, lifetime.history)
    assert found.mesh.links == stage.building(found.number)[0].links


def test_the_frame_has_one_row_per_absence_in_hours(told):
    form, found = told
    frame = found.to_frame()
    assert list(frame.columns) == ["cause", "id", "start_h", "end_h"]
    assert len(frame) == len(form["absences"])
    for row, absence in zip(frame.to_dict("records"), form["absences"], strict=True):
        assert (row["cause"], row["id"]) == (absence["cause"], absence["id"])
        assert row["start_h"] == pytest.approx(absence["start_ms"] / 3_600_000)
        if absence["end_ms"] is not None:
            assert row["end_h"] == pytest.approx(absence["end_ms"] / 3_600_000)


def test_a_layout_is_named_or_handed_over(site):
    assert trace(site, "a", 0).record == trace(site, site.layouts[0], 0).record
    assert trace(site, "a", 0).seed == DEFAULT_SEED


def test_what_does_not_exist_cannot_be_told(site):
    with pytest.raises(UsageError, match="has no layout 'b'; it has a"):
        trace(site, "b", 0)
    for number, seed in ((-1, 0), (0, -1)):
        with pytest.raises(UsageError, match="0 or above"):
            trace(site, "a", number, seed)


def test_links_that_are_only_given_have_their_strength_told_too(small_site):
    """A reception ratio stands for the strength at which the curve reaches it."""
    form = trace(small_site.linked("g1~s1=0.9"), "a", 0).to_json()
    (link,) = form["links"]
    assert (link["id"], link["a"], link["b"]) == ("g1~s1", "g1", "s1")
    for key in ("rssi_cdbm", "heard_cdbm"):
        assert all(-10_000 <= strength <= -1_000 for strength in link[key])


def test_where_hops_count_every_link_has_a_fixed_cost(busy_site):
    hops = trace(busy_site.with_setting("routing.objective", "hops"), "a", 0).to_json()
    assert {link["fixed_cost"] for link in hops["links"]} == {128}
    etx = trace(busy_site, "a", 0).to_json()
    assert {link["fixed_cost"] for link in etx["links"]} == {None}


def _table_cdb(spread_db):
    """Levels by the words of the audit form, with the normal quantile of scipy."""
    z = stats.norm.ppf((np.arange(4096) + 0.5) / 4096)
    return np.floor(100 * spread_db * z + 0.5).astype(int).tolist()


@pytest.fixture(scope="module")
def replayed(told, replay):
    """Links of the audit form at a moment, from nothing but the form."""
    form, _ = told
    table_cdb, holds_ms = _table_cdb(form["levels"]["spread_db"]), form["levels"]["holds_ms"]
    swings = {
        link["id"]: replay.Swing(
            (replay.Held(int(link["start"]), link["phase_ms"], holds_ms, table_cdb),)
        )
        for link in form["links"]
    }

    def down(time_ms):
        return {
            target
            for one in _away(form, time_ms)
            if one["effect"] == "down"
            for target in one["target"]
        }

    def loss_cdb(link, time_ms, level_at_ms):
        losses = (
            one["amount"]
            for one in _away(form, time_ms)
            if one["effect"] == "loss" and link["id"] in one["target"]
        )
        return sum(losses) - swings[link["id"]].level_cdb(level_at_ms)

    def cost(link, time_ms, level_at_ms=None):
        loss = loss_cdb(link, time_ms, time_ms if level_at_ms is None else level_at_ms)
        if {link["a"], link["b"]} & down(time_ms) or link["spare_cdb"] < loss:
            return None
        curve = form["reception"]
        places = (heard - loss - curve["first_cdbm"] for heard in link["heard_cdbm"])
        prrs = [curve["prr"][min(max(place, 0), len(curve["prr"]) - 1)] for place in places]
        assert min(prrs) >= curve["min_prr"]
        return math.floor(Fraction(128 * 65536**2, math.prod(prrs)) + Fraction(1, 2))

    return SimpleNamespace(swings=swings, cost=cost)


def _away(form, time_ms):
    return [
        one
        for one in form["absences"]
        if one["start_ms"] <= time_ms and (one["end_ms"] is None or time_ms < one["end_ms"])
    ]


def _parents_at(form, time_ms):
    parent = {}
    for change in form["parents"]:
        if change["t_ms"] <= time_ms:
            parent[change["device"]] = change["new"]
    return {device: one for device, one in parent.items() if one is not None}


def test_levels_follow_from_the_words_of_the_form(told, replayed):
    _, found = told
    levels = Levels(found.mesh, Luck(found.seed, found.number))
    seen = set()
    for link in found.mesh.links:
        for time_ms in range(0, HORIZON_MS, 1_234_567):
            level_cdb = replayed.swings[link.id].level_cdb(time_ms)
            assert levels.level_cdb(link, time_ms) == level_cdb
            seen.add(level_cdb)
    assert len(seen) > 100


def test_a_branch_is_usable_for_as_long_as_the_form_has_it(told, replayed):
    form, _ = told
    links = {frozenset((link["a"], link["b"])): link for link in form["links"]}
    changes = {ms for one in replayed.swings.values() for ms in one.changes_ms(HORIZON_MS)}
    changes |= {one[edge] for one in form["absences"] for edge in ("start_ms", "end_ms")}
    changes |= {change["t_ms"] for change in form["parents"]}
    n_branches = 0
    for time_ms in sorted(changes - {None}):
        for hop in _parents_at(form, time_ms).items():
            assert replayed.cost(links[frozenset(hop)], time_ms) is not None
            n_branches += 1
    assert n_branches > 1000


def test_a_faded_branch_closed_at_a_change_of_its_level(told, replayed):
    form, _ = told
    links = {link["id"]: link for link in form["links"]}
    for one in form["faded"]:
        link, time_ms = links[one["link"]], one["t_ms"]
        assert (time_ms + link["phase_ms"]) % form["levels"]["holds_ms"] == 0
        assert _parents_at(form, time_ms - 1).items() & {
            (link["a"], link["b"]),
            (link["b"], link["a"]),
        }
        assert replayed.cost(link, time_ms) is None
        assert replayed.cost(link, time_ms, time_ms - 1) is not None


def _path_cost(device, parent, costs):
    if device not in parent:
        return 0
    return costs[device, parent[device]] + _path_cost(parent[device], parent, costs)


def test_having_looked_around_no_device_of_the_form_could_save_more_than_the_hysteresis(
    told, replayed
):
    form, _ = told
    n_choices = 0
    for time_ms in range(0, HORIZON_MS, form["routing"]["look_around_ms"]):
        costs, parent = {}, _parents_at(form, time_ms)
        for link in form["links"]:
            for hop in ((link["a"], link["b"]), (link["b"], link["a"])):
                costs[hop] = replayed.cost(link, time_ms)
        for (device, other), cost in costs.items():
            if cost is not None and device in parent and (other in parent or other == "g1"):
                now, then = (_path_cost(one, parent, costs) for one in (device, other))
                assert now - (then + cost) <= form["routing"]["hysteresis"]
                n_choices += 1
    assert n_choices > 100
