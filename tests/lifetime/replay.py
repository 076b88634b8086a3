"""A lifetime told again from its history alone, without the engine.

Only what a reader of the law would use: who was away when, who had which parent, and the numbers
from which levels are drawn. Links, serving gateways, site outages and all times are worked out here
a second time, moment by moment.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import blake2b
from itertools import pairwise

import networkx

from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element
from resilience.lifetime.mesh import Luck, Mesh, MeshLink, Rules
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Absence, History, Holder, Spell

WORD = 1 << 64
GOLDEN = 11400714819323198485  # 2^64 over the golden ratio, odd: the step of SplitMix64


def scattered(word: int) -> int:
    """SplitMix64's output function with the constants of Stafford's mix 13 (from memory)."""
    word = (word ^ word >> 30) * 13787848793156543929 % WORD
    word = (word ^ word >> 27) * 10723151780598845931 % WORD
    return word ^ word >> 31


@dataclass(frozen=True)
class Held:
    """Levels held one after the other, from the numbers that stand in the audit form."""

    start: int
    phase_ms: int
    holds_ms: int
    levels_cdb: Sequence[int]

    def level_cdb(self, time_ms: int) -> int:
        """Level at a moment: the first 12 bits of the draw choose it."""
        hold = (time_ms + self.phase_ms) // self.holds_ms
        return self.levels_cdb[scattered((self.start + (hold + 2) * GOLDEN) % WORD) >> 52]

    def changes_ms(self, horizon_ms: int) -> Iterator[int]:
        """Times at which the next level begins."""
        yield from range(self.holds_ms - self.phase_ms, horizon_ms, self.holds_ms)


@dataclass(frozen=True)
class Swing:
    """The levels of one link: the sum of its own and of those that it shares, if any."""

    parts: tuple[Held, ...]

    def level_cdb(self, time_ms: int) -> int:
        """Level at a moment."""
        return sum(part.level_cdb(time_ms) for part in self.parts)

    def changes_ms(self, horizon_ms: int) -> list[int]:
        """Times at which another level begins, in order."""
        return sorted({ms for part in self.parts for ms in part.changes_ms(horizon_ms)})


def swings(mesh: Mesh, luck: Luck) -> dict[str, Swing]:
    """Swing of every link, from names and the numbers of the lifetime."""
    air = mesh.air
    if air is None:
        return {link.id: Swing((Held(0, 0, 1 << 60, [0] * 4096),)) for link in mesh.links}
    lifetime = scattered((scattered(luck.seed) + (luck.lifetime + 1) * GOLDEN) % WORD)

    def held(kind: str, id: str, levels_cdb: Sequence[int]) -> Held:
        name = blake2b(f"{kind}\x1f{id}\x1fswing".encode(), digest_size=8).digest()
        start = scattered(lifetime ^ int.from_bytes(name, "big"))
        share = (scattered((start + GOLDEN) % WORD) >> 11) / (1 << 53)
        return Held(start, int(share * air.holds_ms), air.holds_ms, levels_cdb)

    def parts(link: MeshLink) -> tuple[Held, ...]:
        own = held("link", link.id, air.levels_cdb.tolist())
        if not air.common_cdb:
            return (own,)
        mesh_cdb, device_cdb = (levels.tolist() for levels in air.common_cdb)
        ends = (held("device", end, device_cdb) for end in (link.a, link.b))
        return (own, held("mesh", "", mesh_cdb), *ends)

    return {link.id: Swing(parts(link)) for link in mesh.links}


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


def load(element: Element, target: str) -> int:
    """What an element adds to one of its targets."""
    if not element.amounts:
        return element.amount
    return element.amounts[element.targets.index(target)]


@dataclass(frozen=True)
class Told:
    """A history with what it happened to."""

    mesh: Mesh
    rules: Rules
    history: History
    swing: Mapping[str, Swing]

    def cost(self, link: MeshLink, time_ms: int, level_at_ms: int | None = None) -> int | None:
        """Cost of a link under the losses of a time, at the level of that or of another time."""
        here = [
            absence.element
            for absence in self.history.absences
            if link.id in absence.element.targets and _is_away(absence, time_ms)
        ]
        if any(element.effect is Effect.CUT for element in here):
            return None
        loss_cdb = sum(load(one, link.id) for one in here if one.effect is Effect.LOSS)
        level_cdb = self.swing[link.id].level_cdb(time_ms if level_at_ms is None else level_at_ms)
        cost = link.path.cost(loss_cdb - level_cdb)
        extra = sum(load(one, link.id) for one in here if one.effect is Effect.COST)
        return None if cost is None else cost + extra

    def usable(self, time_ms: int) -> networkx.Graph:
        """Devices that are up and links that are usable at a time."""
        up = _up(self.mesh, self.history, time_ms)
        graph = networkx.Graph()
        graph.add_nodes_from(up)
        for link in self.mesh.links:
            cost = self.cost(link, time_ms)
            if cost is not None and {link.a, link.b} <= up:
                graph.add_edge(link.a, link.b, cost=cost)
        return graph

    def times_ms(self) -> list[int]:
        """Every time at which anything may have changed, the horizon last."""
        horizon_ms, every_ms = self.rules.horizon_ms, self.rules.look_around_ms
        outages = site_outages(self.mesh, self.rules, self.history)
        switches = _switches(self.mesh, self.rules, self.history)
        times = {0, *_edges(self.history), *(change.time_ms for change in self.history.parents)}
        times |= {time_ms for span in (*outages, *switches) for time_ms in span}
        times |= {ms for one in self.swing.values() for ms in one.changes_ms(horizon_ms)}
        times |= set(range(0, horizon_ms, every_ms)) if every_ms else set()
        return [*sorted(time_ms for time_ms in times if time_ms < horizon_ms), horizon_ms]


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


def moments(told: Told) -> list[Moment]:
    """Every stretch of time in which nothing changes, in order."""
    mesh, rules, history = told.mesh, told.rules, told.history
    outages = site_outages(mesh, rules, history)
    switches = _switches(mesh, rules, history)
    primaries = {device.id for device in mesh.devices if not device.standby} & set(mesh.gateways)
    parent = {device: one for device, one in history.first_parents.items() if one is not None}
    found = []
    for time_ms, next_ms in pairwise(told.times_ms()):
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
        found.append(
            Moment(
                time_ms,
                next_ms,
                up,
                mute,
                told.usable(time_ms),
                dict(parent),
                in_outage,
                set() if in_outage else serving,
            )
        )
    return found


def faded(told: Told, found: list[Moment]) -> list[tuple[int, str]]:
    """Time and id of each branch that its level closed, in order."""
    links = {frozenset((link.a, link.b)): link for link in told.mesh.links}
    gone = []
    for before, after in pairwise(found):
        for hop in before.parent.items():
            link, time_ms = links[frozenset(hop)], after.start_ms
            is_closed = after.up.issuperset(hop) and told.cost(link, time_ms) is None
            if is_closed and told.cost(link, time_ms, time_ms - 1) is not None:
                gone.append((time_ms, link.id))
    return sorted(gone)


@dataclass(frozen=True)
class Blamed:
    """One absence that a spell is put down to; what stays has no start."""

    holder: Holder
    start_ms: int | None


@dataclass(frozen=True)
class Blaming:
    """Works out what each spell is put down to."""

    told: Told
    found: list[Moment]

    def shares(self, spells: Sequence[Spell]) -> tuple[Counter[Holder], Counter[Holder]]:
        """Orphan time by what held it, and spells by what began them."""
        blame_ms: Counter[Holder] = Counter()
        began: Counter[Holder] = Counter()
        for spell in spells:
            here = [one for one in self.found if spell.start_ms <= one.start_ms < spell.end_ms]
            held = self._holding(spell.sensor, here[0])
            began[held.holder] += 1
            for moment in here:
                if not moment.in_outage and self._is_over(held, moment.start_ms):
                    held = self._holding(spell.sensor, moment)
                if not moment.in_outage or self.told.rules.count_site_outages:
                    blame_ms[held.holder] += moment.end_ms - moment.start_ms
        return blame_ms, began

    def _holding(self, sensor: str, moment: Moment) -> Blamed:
        island = networkx.node_connected_component(moment.usable, sensor)
        at_border = [link for link in self.told.mesh.links if {link.a, link.b} & island]
        now = moment.start_ms
        away = [
            (absence.start_ms, absence.element.name)
            for absence in self.told.history.absences
            if _is_away(absence, now) and any(self._shuts(absence, at_border, now))
        ]
        for link in at_border:
            since = now + 1
            while since > 0 and self._is_faded(link, since - 1):
                since -= 1
            if since <= now:
                away.append((since, ("swing", link.id)))
        if not away:
            is_drawn = sensor in self.told.mesh.routed_at_mean
            return Blamed(RADIO_DRAW if is_drawn else LAYOUT, None)
        start_ms, holder = max(away)
        return Blamed(holder, start_ms)

    def _shuts(self, absence: Absence, at_border: list[MeshLink], now: int) -> Iterator[bool]:
        element = absence.element
        for link in at_border:
            level_cdb = self.told.swing[link.id].level_cdb(now)
            if element.effect is Effect.DOWN:
                yield bool({link.a, link.b} & set(element.targets))
            elif link.id in element.targets and element.effect is Effect.LOSS:
                yield link.path.cost(load(element, link.id) - level_cdb) is None
            elif link.id in element.targets:
                yield element.effect is Effect.CUT

    def _is_faded(self, link: MeshLink, time_ms: int) -> bool:
        level_cdb = self.told.swing[link.id].level_cdb(time_ms)
        return link.path.cost(0) is not None and link.path.cost(-level_cdb) is None

    def _is_over(self, held: Blamed, now: int) -> bool:
        if held.start_ms is None:
            return False
        cause, id = held.holder
        if cause == "swing":
            link = self.told.mesh.link[id]
            return not all(self._is_faded(link, t) for t in range(held.start_ms, now + 1))
        return not any(
            one.element.name == held.holder and one.start_ms == held.start_ms and _is_away(one, now)
            for one in self.told.history.absences
        )


def times(mesh: Mesh, rules: Rules, found: list[Moment]) -> Times:
    """Orphan, down, dark and depth times, added up moment by moment."""
    sums = Times()
    for moment in found:
        lasts_ms = moment.end_ms - moment.start_ms
        is_paused = moment.in_outage and not rules.count_site_outages
        orphans = set() if is_paused else (moment.up & set(mesh.sensors)) - moment.routed
        sums.paused_ms += lasts_ms * is_paused
        sums.count_ms[len(orphans)] += lasts_ms * (not is_paused)
        for sensor in mesh.sensors:
            is_down = sensor not in moment.up
            sums.orphan_ms[sensor] += lasts_ms * (sensor in orphans)
            sums.down_ms[sensor] += lasts_ms * is_down
            sums.cut_off_ms[sensor] += lasts_ms * (moment.in_outage and not is_down)
            is_dark = is_down or sensor in moment.mute or sensor in orphans
            sums.dark_ms[sensor] += lasts_ms * is_dark
            if sensor in moment.parent:
                sums.depth_ms[sensor, moment.depth(sensor)] += lasts_ms
    return sums
