"""What holds in every lifetime, whatever strikes: audited from the history alone."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import networkx
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from resilience import draws
from resilience.building.site import Kind
from resilience.connectivity.air import Air
from resilience.connectivity.reception import (
    FULL,
    HIGH_CDBM,
    LOW_CDBM,
    ReceptionCurve,
    prr_units,
)
from resilience.connectivity.swing import N_LEVELS
from resilience.hazards.causes import SERVICE, Effect
from resilience.hazards.elements import Cells, Clock, Drawn, Element, Mended, Reach, Scripted
from resilience.hazards.laws import Law, Windows
from resilience.hazards.table import HazardTable
from resilience.hazards.upkeep import (
    ALWAYS,
    EVERY_DAY,
    NEVER_DONE_MS,
    UNLIMITED,
    Calls,
    RoundPlan,
    Shelf,
)
from resilience.lifetime.branching.blocks import STATE
from resilience.lifetime.branching.journeys import Journey
from resilience.lifetime.casting.records import Recorder
from resilience.lifetime.casting.worlds import cast_of
from resilience.lifetime.engines import COMPILED, player
from resilience.lifetime.mesh import DrawnPath, GivenPath, Luck, Mesh, MeshDevice, MeshLink, Rules
from resilience.lifetime.record import Call, Lifetime, Watch
from resilience.lifetime.reference.simulator import simulate
from resilience.lifetime.state.queues import SLOT_BITS
from resilience.units import MS_PER_H

HORIZON_MS = 120
IDS = {Kind.GATEWAY: "g1 g2", Kind.REPEATER: "r1 r2", Kind.SENSOR: "s1 s2 s3 s4 s5"}


# Reception that rises evenly with strength: at least 0.30 from about -94 dBm up.
EVEN = ReceptionCurve(np.linspace(0, FULL, HIGH_CDBM - LOW_CDBM + 1).astype(np.int64))
SWINGS_CDB = ((-300, 300), (-900, -200, 200, 900), (-400, 0, 0, 0))  # levels, equally likely
# Of a link by itself, of the mesh, of each device.
IN_COMMON_CDB = (((-300, 300), (-400, 0, 0, 0), (-200, 200)), ((0,), (-300, 300), (0,)))


@dataclass(frozen=True)
class Play:
    """Everything that one lifetime is made of."""

    mesh: Mesh
    hazards: HazardTable
    rules: Rules
    luck: Luck

    def told(self) -> Lifetime:
        return simulate(self.mesh, self.hazards, self.rules, self.luck)


def _air(levels_cdb: tuple[tuple[int, ...], ...], holds_ms: int, *, counts_hops: bool) -> Air:
    """Levels of a link by itself, and perhaps those of the mesh and of each device."""
    own, *common = (np.repeat(np.array(one), N_LEVELS // len(one)) for one in levels_cdb)
    return Air(EVEN, prr_units(0.30), counts_hops, own, holds_ms, tuple(common))


@st.composite
def _paths(draw: st.DrawFn, air: Air) -> DrawnPath:
    """A link near the least that is usable, at the best level at least."""
    spare_cdb = draw(st.one_of(st.integers(-air.best_cdb, 900), st.integers(-air.best_cdb, 6000)))
    least = air.least_cdbm + spare_cdb
    heard_cdbm = (least + draw(st.integers(0, 500)), least + draw(st.integers(0, 500)))
    return DrawnPath(air, spare_cdb, heard_cdbm, heard_cdbm)


@st.composite
def _devices(draw: st.DrawFn) -> list[MeshDevice]:
    n_most = {Kind.GATEWAY: 2, Kind.REPEATER: 2, Kind.SENSOR: 5}
    return [
        MeshDevice(
            id,
            kind,
            forwards=kind is not Kind.SENSOR or draw(st.integers(0, 4)) > 0,
            standby=id == "g2" and draw(st.booleans()),
        )
        for kind, n in n_most.items()
        for id in IDS[kind].split()[: draw(st.integers(kind is not Kind.REPEATER, n))]
    ]


@st.composite
def _meshes(draw: st.DrawFn) -> Mesh:
    devices = draw(_devices())
    ids = sorted(device.id for device in devices)
    relays = {device.id for device in devices if device.forwards}
    levels_cdb = draw(st.sampled_from((((0,),), *((one,) for one in SWINGS_CDB), *IN_COMMON_CDB)))
    air = _air(levels_cdb, draw(st.sampled_from((3, 10, 25))), counts_hops=draw(st.booleans()))
    given = st.builds(GivenPath, st.sampled_from((128, 128, 171, 256, 320, 512)))
    paths = st.one_of(given, _paths(air), _paths(air))
    links = [
        MeshLink(f"{a}~{b}", a, b, draw(paths))
        for n, a in enumerate(ids)
        for b in ids[n + 1 :]
        if not relays.isdisjoint((a, b)) and draw(st.integers(0, 9)) < 6
    ]
    return Mesh(
        tuple(sorted(devices, key=lambda device: device.id)),
        tuple(sorted(links, key=lambda link: (link.a, link.b))),
        frozenset(draw(st.sets(st.sampled_from(ids)))),
        air,
    )


@st.composite
def _scripts(draw: st.DrawFn) -> tuple[tuple[int, int], ...]:
    """Absences that often fall on the same milliseconds as those of others."""
    edges = sorted(draw(st.sets(st.integers(0, 14), min_size=2, max_size=6)))
    pairs = zip(edges[::2], edges[1::2], strict=False)
    return tuple((start * 10, end * 10) for start, end in pairs)


@st.composite
def _worn(draw: st.DrawFn, repairs: st.SearchStrategy[Law]) -> Mended:
    """What is new as a lifetime begins, has served for a while, or is down already."""
    law = Law(draws.WEIBULL, draw(st.sampled_from((8.0, 30.0))), draw(st.sampled_from((1.0, 2.5))))
    return Mended(
        law,
        draw(repairs),
        weak_share=draw(st.sampled_from((0.0, 0.5))),
        weak_ms=10.0,
        lived_ms=draw(st.sampled_from((0.0, 0.0, 15.0, 90.0))),
        is_found_down=draw(st.booleans()),
    )


@st.composite
def _cells(draw: st.DrawFn, device: str) -> Cells:
    """Cells of which some have been used before a lifetime begins."""
    return Cells(
        device,
        draw(st.sampled_from((300.0, 900.0))),
        Law(draws.WEIBULL, 1.0, 4.0),
        5,
        3,
        12,
        Law(draws.FIXED, 10.0),
        self_na=draw(st.sampled_from((0, 2))),
        age_ms=draw(st.sampled_from((0, 0, 40, 1000))),
        left_share=draw(st.sampled_from((None, None, 1.0, 0.3, 0.0))),
    )


@st.composite
def _clocks(draw: st.DrawFn, effect: str) -> Clock:
    laws = st.builds(Law, st.just(draws.WEIBULL), st.sampled_from((8.0, 30.0)), st.just(1.0))
    if draw(st.booleans()):
        return Scripted(draw(_scripts()))
    is_mended = effect == "down" and draw(st.booleans())
    shared = st.builds(
        Reach,
        st.just(("event", "x", "shared")),
        st.sampled_from((0.5, 1.0)),
        st.sampled_from((0, 5)),
        st.just(0) if is_mended else st.sampled_from((0, 20)),
    )
    reach = draw(st.one_of(st.none(), shared))
    if is_mended and reach is None:
        return draw(_worn(laws))
    if is_mended:
        return Mended(draw(laws), draw(laws), reach=reach)
    spans = st.one_of(st.none(), _scripts().filter(bool).map(Windows.of))
    return Drawn(draw(laws), draw(laws), reach, draw(spans))


@st.composite
def _elements(draw: st.DrawFn, mesh: Mesh) -> tuple[Element, ...]:
    on_devices = [(effect, device.id) for device in mesh.devices for effect in ("down", "mute")]
    on_links = [(effect, link.id) for link in mesh.links for effect in ("cut", "loss", "cost")]
    gateways = [("down", gateway) for gateway in mesh.gateways]  # often: outages, standby
    crowded = draw(st.sampled_from(mesh.links)).id if mesh.links else None
    losses = [("loss", crowded)] if crowded else []  # often: several that count only together
    often = 5 * (gateways + losses) + on_devices + on_links
    chosen = draw(
        st.lists(
            st.tuples(st.sampled_from("abcd"), st.sampled_from(often)),
            max_size=10,
            unique_by=lambda one: (one[0], *one[1]),
        )
    )
    found = []
    for letter, (effect, target) in chosen:
        cause, amount = f"{letter} {effect}", draw(st.sampled_from((150, 200, 700, 1000)))
        clock = draw(_clocks(effect))
        more = {id for one, id in on_devices + on_links if one == effect}
        if not isinstance(clock, Mended):  # what is mended has a visit to its one device
            more = draw(st.sets(st.sampled_from(sorted(more)), max_size=3))
        else:
            more = set()
        targets = (target, *sorted(more - {target}))
        sums = st.tuples(*(st.sampled_from((amount, amount // 2)) for _ in targets))
        amounts = draw(st.one_of(st.just(()), sums))
        is_lasting = effect in {"cut", "loss"} and draw(st.booleans())
        found.append(
            Element(cause, target, Effect(effect), targets, amount, clock, amounts, is_lasting)
        )
    return tuple(found)


@st.composite
def _calls(draw: st.DrawFn) -> Calls:
    """Alarms, crews and working hours on a scale at which they meet within a lifetime."""
    laws = st.builds(
        Law, st.sampled_from((draws.WEIBULL, draws.FIXED)), st.sampled_from((4.0, 15.0)), st.just(1)
    )
    shelves = st.builds(
        Shelf,
        st.sampled_from((UNLIMITED, 0, 1, 2)),
        st.sampled_from((UNLIMITED, 0, 1)),
        st.sampled_from((0.0, 0.5)),
        laws,
    )
    opens_ms = draw(st.sampled_from((0, 0, 5, 40)))
    return Calls(
        alarm_ms=draw(st.sampled_from((0, 0, 1, 10, 30))),
        repair=draw(laws),
        response=draw(st.one_of(st.none(), laws)),
        hears_orphans=draw(st.booleans()),
        crews=draw(st.integers(0, 2)),
        mends_site=draw(st.booleans()),
        opens_ms=opens_ms,
        closes_ms=draw(st.sampled_from((opens_ms + 30, 24 * MS_PER_H))),
        days=draw(st.sampled_from((EVERY_DAY, 1))),
        resurveys=draw(st.booleans()),
        shelf=draw(st.one_of(st.just(Shelf()), shelves)),
    )


@st.composite
def _rounds(draw: st.DrawFn) -> RoundPlan:
    return RoundPlan(
        every_ms=draw(st.sampled_from((10, 30, 50))),
        older_ms=draw(st.sampled_from((0, 30, NEVER_DONE_MS))),
        below=draw(st.sampled_from((0, 500))),
        service_ms=draw(st.sampled_from((1, 5, 10))),
        hours=draw(st.sampled_from((ALWAYS, (5, 35, EVERY_DAY), (40, 50, 1)))),
    )


@st.composite
def _plays(draw: st.DrawFn) -> Play:
    mesh = draw(_meshes())
    looks_always = (0,) if mesh.air.best_cdb == mesh.air.worst_cdb else ()
    rules = Rules(
        horizon_ms=HORIZON_MS,
        hysteresis=draw(st.sampled_from((0, 0, 64, 192))),
        backups=draw(st.integers(0, 2)),
        rejoin_short_ms=draw(st.integers(0, 10)),
        rejoin_long_ms=draw(st.integers(10, 40)),
        reformation_ms=draw(st.sampled_from((0, 10, 15, 30))),
        standby_switch_ms=draw(st.sampled_from((0, 10, 25))),
        count_site_outages=draw(st.booleans()),
        look_around_ms=draw(st.sampled_from((*looks_always, 1, 10, 40, 1000))),
        calls=draw(st.one_of(st.none(), _calls())),
        rounds=draw(st.one_of(st.none(), _rounds())),
    )
    cells = tuple(draw(_cells(device.id)) for device in mesh.devices if draw(st.booleans()))
    luck = Luck(draw(st.integers(0, 2**64 - 1)), draw(st.integers(0, 999)))
    return Play(mesh, HazardTable(draw(_elements(mesh)), cells), rules, luck)


@pytest.fixture(scope="module")
def audit(replay):
    def told(play: Play, lifetime: Lifetime) -> tuple:
        """A lifetime as its history tells it, and every moment of it."""
        swings = replay.swings(play.mesh, play.luck)
        history = replay.Told(play.mesh, play.rules, lifetime.history, swings)
        return history, replay.moments(history)

    return told


@pytest.fixture(scope="module")
def moments(audit):
    def played(play: Play) -> list:
        return audit(play, play.told())[1]

    return played


def _after_looking_around(play: Play, moments: list) -> list:
    """Moments that begin with a step in which devices compared their neighbours."""
    every_ms = play.rules.look_around_ms
    return [one for one in moments if not every_ms or one.start_ms % every_ms == 0]


@given(play=_plays())
def test_no_loop_and_no_broken_chain_ever_stands_in_the_tree(moments, play):
    for moment in moments(play):
        assert moment.routed == set(moment.parent), moment


@given(play=_plays())
def test_only_relays_that_are_up_are_parents(moments, play):
    for moment in moments(play):
        assert set(moment.parent.values()) <= play.mesh.relays & moment.up


@given(play=_plays())
def test_a_device_without_parent_has_no_way_to_a_serving_gateway(moments, play):
    for moment in moments(play):
        reached, to_do = set(moment.serving), list(moment.serving)
        while to_do:
            if (here := to_do.pop()) in play.mesh.relays:
                new = set(moment.usable.adj[here]) - reached - set(play.mesh.gateways)
                reached |= new
                to_do.extend(new)
        assert reached - set(play.mesh.gateways) == set(moment.parent), moment


@given(play=_plays())
def test_having_looked_around_no_device_could_save_more_than_the_hysteresis(moments, play):
    for moment in _after_looking_around(play, moments(play)):
        costs = moment.path_costs()
        ready = costs | dict.fromkeys(moment.serving, 0)
        for device, cost in costs.items():
            for other, link in moment.usable.adj[device].items():
                if other in ready and other in play.mesh.relays:
                    assert cost - (ready[other] + link["cost"]) <= play.rules.hysteresis


def _least_costs(play: Play, moment) -> dict[str, int]:
    ways = networkx.DiGraph()
    ways.add_nodes_from(moment.serving)
    for a, b, cost in moment.usable.edges(data="cost"):
        for child, parent in ((a, b), (b, a)):
            is_gateway = {child, parent} & set(play.mesh.gateways) - moment.serving
            if parent in play.mesh.relays and not is_gateway:
                ways.add_edge(parent, child, weight=cost)
    return networkx.multi_source_dijkstra_path_length(ways, moment.serving)


@given(play=_plays())
def test_having_looked_around_without_hysteresis_paths_are_as_cheap_as_dijkstra_finds(
    moments, play
):
    found = moments(play)
    settled = {id(moment) for moment in _after_looking_around(play, found)}
    for moment in found:
        if not moment.serving:
            assert not moment.parent
            continue
        least = _least_costs(play, moment)
        for device, cost in moment.path_costs().items():
            assert cost >= least[device]
            if id(moment) in settled and play.rules.hysteresis == 0:
                assert cost == least[device]


@given(play=_plays())
def test_a_device_that_keeps_its_route_changes_its_parent_only_on_looking_around(moments, play):
    """What was cut off in between had no choice: its branch, or one above it, had closed."""
    found = moments(play)
    settled = {id(moment) for moment in _after_looking_around(play, found)}
    for before, after in pairwise(found):
        if id(after) in settled:
            continue
        for device, parent in before.parent.items():
            chain = [device]
            while chain[-1] in before.parent:
                chain.append(before.parent[chain[-1]])
            hops = pairwise(chain)
            is_intact = chain[-1] in after.serving and all(
                after.usable.has_edge(*hop) for hop in hops
            )
            assert not is_intact or after.parent.get(device) == parent


@given(play=_plays())
def test_anyone_can_replay_the_times_of_a_lifetime(replay, audit, play):
    lifetime = play.told()
    record = lifetime.record
    found = replay.times(play.mesh, play.rules, audit(play, lifetime)[1])
    assert record.orphan_ms == {sensor: found.orphan_ms[sensor] for sensor in play.mesh.sensors}
    assert record.down_ms == {sensor: found.down_ms[sensor] for sensor in play.mesh.sensors}
    assert record.dark_ms == {sensor: found.dark_ms[sensor] for sensor in play.mesh.sensors}
    assert record.cut_off_ms == {sensor: found.cut_off_ms[sensor] for sensor in play.mesh.sensors}
    assert +Counter(record.count_ms) == +found.count_ms
    depth_ms = {
        (sensor, depth): time_ms
        for sensor, depths in record.depth_ms.items()
        for depth, time_ms in depths.items()
        if time_ms
    }
    assert depth_ms == +found.depth_ms


@given(play=_plays())
def test_anyone_can_replay_the_blame_and_what_faded(replay, audit, play):
    lifetime = play.told()
    told, found = audit(play, lifetime)
    blame_ms, began = replay.Blaming(told, found).shares(lifetime.record.spells)
    assert +Counter(lifetime.record.blame_ms) == +blame_ms
    assert +Counter(lifetime.record.began) == +began
    assert list(lifetime.history.faded) == replay.faded(told, found)


@given(play=_plays())
def test_anyone_can_replay_the_site_outages(replay, play):
    lifetime = play.told()
    outages = replay.site_outages(play.mesh, play.rules, lifetime.history)
    assert list(lifetime.history.outages_ms) == outages
    assert lifetime.record.site_outage_ms == sum(end - start for start, end in outages)
    assert lifetime.record.site_outages == len(outages)


@given(play=_plays())
def test_re_parentings_are_the_moves_from_one_parent_to_another(play):
    lifetime = play.told()
    moves = Counter(
        change.device
        for change in lifetime.history.parents
        if change.old is not None and change.new is not None
    )
    assert +Counter(lifetime.record.reparentings) == moves


@given(play=_plays())
def test_routed_orphan_down_and_cut_off_time_fill_the_horizon(play):
    record = play.told().record
    for sensor in play.mesh.sensors:
        times_ms = [*record.depth_ms[sensor].values(), record.orphan_ms[sensor]]
        times_ms.append(record.down_ms[sensor])
        if not play.rules.count_site_outages:  # else it is orphan time already
            times_ms.append(record.cut_off_ms[sensor])
        assert sum(times_ms) == HORIZON_MS


@given(play=_plays())
def test_every_share_of_time_lies_between_none_and_all(play):
    record = play.told().record
    for sensor in play.mesh.sensors:
        assert 0 <= record.not_reached_ms[sensor] <= record.orphan_ms[sensor]
        assert record.orphan_ms[sensor] <= record.dark_ms[sensor] <= HORIZON_MS
        assert record.down_ms[sensor] <= record.dark_ms[sensor]
        assert 0 <= record.interrupted_ms[sensor] <= sum(record.depth_ms[sensor].values())


@given(play=_plays())
def test_blame_and_spells_and_counts_each_add_up_to_the_orphan_time(play):
    record = play.told().record
    orphan_ms = sum(record.orphan_ms.values())
    assert sum(record.blame_ms.values()) == orphan_ms
    assert sum(spell.orphan_ms for spell in record.spells) == orphan_ms
    assert sum(n * time_ms for n, time_ms in record.count_ms.items()) == orphan_ms
    assert sum(record.began.values()) == len(record.spells)


@given(play=_plays())
def test_counts_fill_the_horizon_less_the_uncounted_outages(play):
    record = play.told().record
    paused_ms = 0 if play.rules.count_site_outages else record.site_outage_ms
    assert sum(record.count_ms.values()) == HORIZON_MS - paused_ms


def _longest(play: Play, moments: list, lost: Callable, pauses: bool) -> list[int]:
    """For each K the longest time for which more than K sensors were lost, moment by moment."""
    n_sensors, started = len(play.mesh.sensors), set()
    watch = play.rules.watch
    running, longest = [0] * n_sensors, [0] * n_sensors
    own = dict.fromkeys(play.mesh.sensors, 0)
    for moment in moments:
        routed = moment.routed
        started |= routed
        if pauses and moment.in_outage and not play.rules.count_site_outages:
            continue
        counts = started if watch.from_first_route else set(play.mesh.sensors)
        gone = {one for one in set(play.mesh.sensors) & counts if lost(one, moment, routed)}
        lasts_ms = moment.end_ms - moment.start_ms
        own = {one: (own[one] + lasts_ms) * (one in gone) for one in own}
        running = [(running[k] + lasts_ms) * (len(gone) > k) for k in range(n_sensors)]
        found = sorted(own.values(), reverse=True) if watch.by_sensor else running
        longest = list(map(max, longest, found))
    return longest


@given(play=_plays(), from_first_route=st.booleans(), by_sensor=st.booleans())
def test_anyone_can_replay_for_how_long_many_were_lost(audit, play, from_first_route, by_sensor):
    """Dark and silent are alike but for the clock: whoever is up and has no way is one of both."""
    watch = Watch(from_first_route=from_first_route, by_sensor=by_sensor)
    play = replace(play, rules=replace(play.rules, watch=watch))
    lifetime = play.told()
    moments, record = audit(play, lifetime)[1], lifetime.record

    def is_orphan(sensor, moment, routed):
        return sensor in moment.up and sensor not in routed

    def is_silent(sensor, moment, routed):
        return sensor not in routed or sensor in moment.mute

    assert list(record.longest_above_ms) == _longest(play, moments, is_orphan, pauses=True)
    assert list(record.longest_dark_ms) == _longest(play, moments, is_silent, pauses=True)
    assert list(record.longest_silent_ms) == _longest(play, moments, is_silent, pauses=False)
    compiled = player(COMPILED, play.mesh, play.hazards, play.rules)
    assert compiled.record(play.luck) == record


@given(play=_plays())
def test_what_is_held_adds_up_to_the_blame(play):
    lifetime = play.told()
    blame_ms, early_ms = Counter(), Counter()
    for one in lifetime.history.held:
        blame_ms[one.holder] += one.end_ms - one.start_ms
        early_ms[one.holder] += (one.end_ms - one.start_ms) * one.is_early
    assert +Counter(lifetime.record.blame_ms) == +blame_ms
    assert +Counter(lifetime.record.early_blame_ms) == +early_ms


@given(play=_plays())
def test_the_longest_times_above_a_count_fall_as_the_count_grows(play):
    record = play.told().record
    longest = list(record.longest_above_ms)
    assert longest == sorted(longest, reverse=True)
    for k, longest_ms in enumerate(longest):
        above_ms = sum(time_ms for n, time_ms in record.count_ms.items() if n > k)
        assert longest_ms <= above_ms
        assert (longest_ms > 0) == (above_ms > 0)


@given(play=_plays(), shuffle=st.randoms(use_true_random=False))
def test_the_order_of_devices_links_and_elements_makes_no_difference(play, shuffle):
    def shuffled(things: tuple) -> tuple:
        return tuple(shuffle.sample(things, len(things)))

    mesh = replace(play.mesh, devices=shuffled(play.mesh.devices), links=shuffled(play.mesh.links))
    hazards = HazardTable(shuffled(play.hazards.elements), shuffled(play.hazards.cells))
    assert simulate(mesh, hazards, play.rules, play.luck) == play.told()


@given(play=_plays())
def test_what_ends_by_itself_strikes_alike_in_a_layout_without_links(play):
    """Luck before mechanics: clocks run whatever else the layout does."""

    def own(lifetime: Lifetime) -> list:
        return [
            (absence.element, absence.start_ms, absence.element.is_lasting or absence.end_ms)
            for absence in lifetime.history.absences
            if not isinstance(absence.element.clock, Mended)
            and absence.element.cause != SERVICE.name
        ]

    bare = replace(play.mesh, links=())
    assert own(simulate(bare, play.hazards, play.rules, play.luck)) == own(play.told())


@st.composite
def _called(draw: st.DrawFn) -> Play:
    """A play in which sensors and repeaters wait for a call."""
    play = draw(_plays())
    return replace(play, rules=replace(play.rules, calls=draw(_calls())))


def _has_all(calls: Calls) -> bool:
    return calls.shelf.devices == calls.shelf.cells == UNLIMITED


def _visited(lifetime: Lifetime) -> list[Call]:
    return [call for call in lifetime.history.calls if call.left_ms is not None]


def _answered_ms(call: Call) -> int:
    """When a crew set out for a device, or its call was not needed any more."""
    answered = (time_ms for time_ms in (call.left_ms, call.closed_ms) if time_ms is not None)
    return next(answered, HORIZON_MS)


@given(play=_called())
def test_failures_end_with_the_visits_that_are_said_to_have_mended_them(play):
    """What a planned round has ended nobody else needs to; a lasting change may end by itself."""
    lifetime = play.told()
    absences = [one for one in lifetime.history.absences if one.end_ms is not None]
    by_rounds = {
        (("battery", one.element.id), one.end_ms)
        for one in absences
        if one.element.cause == SERVICE.name
    }
    mended = {(name, call.closed_ms) for call in _visited(lifetime) for name in call.mended}
    ended = {
        (one.element.name, one.end_ms)
        for one in absences
        if isinstance(one.element.clock, Mended)
        and one.element.targets[0] not in play.mesh.gateways
    }
    lasting = {(one.element.name, one.end_ms) for one in absences if one.element.is_lasting}
    assert mended - lasting - by_rounds == ended - by_rounds
    in_vain = [call for call in _visited(lifetime) if call.closed_ms and not call.mended]
    assert lifetime.record.fruitless == len(in_vain)


@given(play=_called())
def test_never_more_crews_are_away_than_there_are_and_none_idles_while_somebody_waits(play):
    lifetime, calls = play.told(), play.rules.calls
    visits = [(call.left_ms, call.closed_ms or HORIZON_MS) for call in _visited(lifetime)]
    for time_ms in range(HORIZON_MS):
        n_away = sum(left <= time_ms < closed for left, closed in visits)
        assert not calls.crews or n_away <= calls.crews
        waits = [one.opened_ms <= time_ms < _answered_ms(one) for one in lifetime.history.calls]
        if any(waits) and not calls.mends_site and _has_all(calls):
            assert n_away == calls.crews > 0


@given(play=_called())
def test_crews_go_to_who_was_called_for_first(play):
    assume(_has_all(play.rules.calls))  # else some wait for a part, and others go first
    visits = sorted(_visited(play.told()), key=lambda call: (call.opened_ms, call.device))
    for first, second in pairwise(visits):
        assert first.left_ms <= second.left_ms


@given(play=_called())
def test_a_call_follows_a_silence_of_the_alarm_time(play):
    for call in play.told().history.calls:
        silent_ms = call.opened_ms - call.silent_ms
        assert silent_ms >= play.rules.calls.alarm_ms
        if call.silent_ms == 0 or not play.rules.calls.alarm_ms:
            assert silent_ms == play.rules.calls.alarm_ms


@given(_called())
def test_both_engines_tell_the_same_story_of_calls(play: Play):
    told = play.told()
    compiled = player(COMPILED, play.mesh, play.hazards, play.rules)
    assert compiled.lifetime(play.luck) == told
    assert compiled.record(play.luck) == told.record


@given(_plays())
def test_both_engines_tell_the_same_story_event_for_event(play: Play):
    compiled = player(COMPILED, play.mesh, play.hazards, play.rules)
    told = play.told()
    assert compiled.lifetime(play.luck) == told
    assert compiled.record(play.luck) == told.record


@given(_plays())
def test_what_was_played_before_leaves_no_trace_in_the_compiled_engine(play: Play):
    compiled = player(COMPILED, play.mesh, play.hazards, play.rules)
    first = compiled.lifetime(play.luck)
    compiled.record(Luck(play.luck.seed, play.luck.lifetime + 1))
    assert compiled.lifetime(play.luck) == first


def _state(world) -> dict[str, bytes]:
    """All that a lifetime leaves, less what is added up over lifetimes."""
    told = {name: getattr(world, name).copy() for name in STATE if name != "now"}
    told["elements"]["struck"] = 0
    return {name: array.tobytes() for name, array in told.items()}


@given(st.one_of(_plays(), _called()), st.integers(0, HORIZON_MS))
def test_a_lifetime_stopped_copied_and_continued_is_that_lifetime_to_the_last_bit(play, stop_ms):
    """Whatever becomes of what it was copied from, which here goes on with another future."""
    cast = cast_of(play.mesh, play.hazards, play.rules)
    Recorder(cast).record(play.luck)  # on the same world, which has to be large enough
    assume(not cast.world.now["heap_is_full"][0])
    whole = _state(cast.world)
    stopped = Journey(cast_of(play.mesh, play.hazards, play.rules), play.luck)
    stopped.go_on(stop_ms)
    copy = stopped.copy()
    stopped.end(branch=1)
    assert _state(copy.end()) == whole


@given(st.one_of(_plays(), _called()), st.integers(1, HORIZON_MS), st.integers(1, 99))
def test_another_future_leaves_the_past_as_it_was(play, stop_ms, branch):
    """Time up to the stop is told alike: what struck by then, and for how long counts lasted."""
    journey = Journey(cast_of(play.mesh, play.hazards, play.rules), play.luck)
    journey.go_on(stop_ms)
    before = journey.world.elements[["away", "cycle", "strikes"]].tolist()
    before += journey.world.accounts.tolist()
    journey.go_on(0, branch)
    after = journey.world.elements[["away", "cycle", "strikes"]].tolist()
    after += journey.world.accounts.tolist()
    assert after == before
    due = journey.world.calendar[1]
    assert due >> SLOT_BITS > journey.world.now["time_ms"][0]
