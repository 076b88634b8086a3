"""A lifetime told again from its history alone, without the engine.

Only what a reader of the law would use: who was away when, and who had which parent. Links, serving
gateways, site outages and all times are worked out here a second time, moment by moment.
"""

from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise

import networkx

from resilience.building.site import Kind
from resilience.hazards.elements import Effect
from resilience.lifetime.mesh import Mesh, MeshLink, Rules
from resilience.lifetime.record import Absence, History


@dataclass(frozen=True)
class Moment:
    """The mesh between two neighbouring times of a history."""

    start_ms: int
    end_ms: int
    up: set[str]
    mute: set[str]
    usable: networkx.Graph
    parent: dict[str, str]
    in_outage: bool
    serving: set[str]

    @property
    def routed(self) -> set[str]:
        """Devices whose chain of parents, over usable links, ends at a serving gateway."""
        return set(self.path_costs())

    def path_costs(self) -> dict[str, int]:
        """Cost of each device's own chain of parents, where it holds together."""
        costs = {}
        for device in self.parent:
            chain = [device]
            while chain[-1] in self.parent and len(chain) <= len(self.parent):
                chain.append(self.parent[chain[-1]])
            if chain[-1] in self.serving and all(
                self.usable.has_edge(*hop) for hop in pairwise(chain)
            ):
                costs[device] = sum(self.usable.edges[hop]["cost"] for hop in pairwise(chain))
        return costs

    def depth(self, device: str) -> int:
        """Number of hops to the gateway."""
        n_hops = 0
        while device in self.parent:
            device, n_hops = self.parent[device], n_hops + 1
        return n_hops


@dataclass
class Times:
    """What a replay measures."""

    orphan_ms: Counter[str] = field(default_factory=Counter)
    down_ms: Counter[str] = field(default_factory=Counter)
    dark_ms: Counter[str] = field(default_factory=Counter)
    cut_off_ms: Counter[str] = field(default_factory=Counter)
    depth_ms: Counter[tuple[str, int]] = field(default_factory=Counter)
    count_ms: Counter[int] = field(default_factory=Counter)
    paused_ms: int = 0


def _is_away(absence: Absence, time_ms: int) -> bool:
    return absence.start_ms <= time_ms and (absence.end_ms is None or time_ms < absence.end_ms)


def _up(mesh: Mesh, history: History, time_ms: int) -> set[str]:
    down = {
        target
        for absence in history.absences
        if absence.element.effect is Effect.DOWN and _is_away(absence, time_ms)
        for target in absence.element.targets
    }
    return {device.id for device in mesh.devices} - down


def _cost(link: MeshLink, history: History, time_ms: int) -> int | None:
    here = [
        absence.element
        for absence in history.absences
        if link.id in absence.element.targets and _is_away(absence, time_ms)
    ]
    if any(element.effect is Effect.CUT for element in here):
        return None
    loss_cdb = sum(element.amount for element in here if element.effect is Effect.LOSS)
    cost = link.path.cost(loss_cdb)
    extra = sum(element.amount for element in here if element.effect is Effect.COST)
    return None if cost is None else cost + extra


def _usable(mesh: Mesh, history: History, time_ms: int) -> networkx.Graph:
    up = _up(mesh, history, time_ms)
    graph = networkx.Graph()
    graph.add_nodes_from(up)
    for link in mesh.links:
        cost = _cost(link, history, time_ms)
        if cost is not None and {link.a, link.b} <= up:
            graph.add_edge(link.a, link.b, cost=cost)
    return graph


def _edges(history: History) -> set[int]:
    """Times at which something was struck or came back."""
    starts = {absence.start_ms for absence in history.absences}
    return starts | {absence.end_ms for absence in history.absences if absence.end_ms is not None}


def site_outages(mesh: Mesh, rules: Rules, history: History) -> list[tuple[int, int]]:
    """Start and end of each site outage, from the absences of the gateways alone."""
    times = sorted({0, *_edges(history), rules.horizon_ms})
    outages, since, back = [], None, None
    for time_ms, next_ms in pairwise(times):
        if not _up(mesh, history, time_ms) & set(mesh.gateways):
            since, back = time_ms if since is None else since, None
            continue
        if since is not None:
            back = time_ms if back is None else back
            if back + rules.reformation_ms < next_ms:
                outages.append((since, back + rules.reformation_ms))
                since = back = None
            elif back + rules.reformation_ms == next_ms < rules.horizon_ms and (
                # The changes of that last millisecond come first: another gateway may hold on.
                _up(mesh, history, next_ms) & set(mesh.gateways)
            ):
                outages.append((since, next_ms))
                since = back = None
    return outages if since is None else [*outages, (since, rules.horizon_ms)]


def _switches(mesh: Mesh, rules: Rules, history: History) -> list[tuple[int, int]]:
    """Times from which a standby may serve, each with the return of a primary that ends it."""
    primaries = {
        device.id for device in mesh.devices if device.kind is Kind.GATEWAY and not device.standby
    }
    spans: list[tuple[int, int]] = []
    since = None
    for time_ms in sorted({0, *_edges(history)}):
        is_there = bool(_up(mesh, history, time_ms) & primaries)
        if is_there and since is not None:
            spans.append((since, time_ms))
            since = None
        elif not is_there and since is None:
            since = time_ms
    if since is not None:
        spans.append((since, rules.horizon_ms))
    outages = site_outages(mesh, rules, history)
    over = [end for _, end in outages]
    return [
        (
            min([start + rules.standby_switch_ms, *(end for end in over if start <= end < stop)]),
            stop,
        )
        for start, stop in spans
    ]


def moments(mesh: Mesh, rules: Rules, history: History) -> list[Moment]:
    """Every stretch of time in which nothing changes, in order."""
    outages = site_outages(mesh, rules, history)
    switches = _switches(mesh, rules, history)
    primaries = {device.id for device in mesh.devices if not device.standby} & set(mesh.gateways)
    changes = {change.time_ms for change in history.parents}
    more = {time_ms for span in (*outages, *switches) for time_ms in span}
    times = sorted({0, *_edges(history), *changes, *more, rules.horizon_ms})
    times = [time_ms for time_ms in times if time_ms <= rules.horizon_ms]
    parent = {device: one for device, one in history.first_parents.items() if one is not None}
    told = []
    for time_ms, next_ms in pairwise(times):
        for change in history.parents:
            if change.time_ms == time_ms:
                assert parent.pop(change.device, None) == change.old
                if change.new is not None:
                    parent[change.device] = change.new
        up = _up(mesh, history, time_ms)
        in_outage = any(start <= time_ms < end for start, end in outages)
        serving = up & primaries
        if not serving and any(start <= time_ms < stop for start, stop in switches):
            serving = up & set(mesh.gateways)
        mute = {
            target
            for absence in history.absences
            if absence.element.effect is Effect.MUTE and _is_away(absence, time_ms)
            for target in absence.element.targets
        }
        told.append(
            Moment(
                time_ms,
                next_ms,
                up,
                mute,
                _usable(mesh, history, time_ms),
                dict(parent),
                in_outage,
                set() if in_outage else serving,
            )
        )
    return told


def times(mesh: Mesh, rules: Rules, told: list[Moment]) -> Times:
    """Orphan, down, dark and depth times, added up moment by moment."""
    found = Times()
    for moment in told:
        lasts_ms = moment.end_ms - moment.start_ms
        is_paused = moment.in_outage and not rules.count_site_outages
        orphans = set() if is_paused else (moment.up & set(mesh.sensors)) - moment.routed
        found.paused_ms += lasts_ms * is_paused
        found.count_ms[len(orphans)] += lasts_ms * (not is_paused)
        for sensor in mesh.sensors:
            is_down = sensor not in moment.up
            found.orphan_ms[sensor] += lasts_ms * (sensor in orphans)
            found.down_ms[sensor] += lasts_ms * is_down
            found.cut_off_ms[sensor] += lasts_ms * (moment.in_outage and not is_down)
            is_dark = is_down or sensor in moment.mute or sensor in orphans
            found.dark_ms[sensor] += lasts_ms * is_dark
            if sensor in moment.parent:
                found.depth_ms[sensor, moment.depth(sensor)] += lasts_ms
    return found
