"""What a lifetime leaves, kept up to date step by step.

Two clocks run. The wall clock counts down and mute time. The promise clock stands still during an
uncounted site outage; orphan spells, counts of orphans and interruptions are told on it.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass
from typing import TypeVar

import networkx

from resilience.lifetime.mesh import Mesh, Rules
from resilience.lifetime.record import COUNTED, Held, Holder, Record, Spell, joined_held
from resilience.lifetime.reference.blame import Blame, Holding
from resilience.lifetime.reference.holds import Holds
from resilience.lifetime.reference.levels import Levels
from resilience.lifetime.reference.routing import Routes
from resilience.lifetime.reference.upkeep import Desk

Key = TypeVar("Key")
SILENT = COUNTED[2]


@dataclass(slots=True)
class _Sensor:
    """What is open about one sensor; times are None while nothing is."""

    down_since: int | None = None  # wall clock
    dark_since: int | None = None  # wall clock
    cut_off_since: int | None = None  # wall clock
    depth: int | None = None
    depth_since: int = 0  # wall clock
    spell_since: int | None = None  # wall clock
    spell_since_promise: int = 0
    holding: Holding | None = None
    held_since: int = 0  # promise clock
    silent_since: int = 0  # promise clock
    silent_until: int = 0
    has_had_route: bool = False
    counts_as: tuple[bool, ...] = (False,) * len(COUNTED)


class _Longest:
    """For K = 0, 1, ...: how long more than K sensors were lost at once, at the longest."""

    def __init__(self, n_sensors: int) -> None:
        self._since: list[int] = []  # when more than 0, 1, ... were lost, rising
        self._longest_ms = [0] * n_sensors

    def settle(self, now: int, lost: Set[str]) -> None:
        """Go on with other sensors, on the clock that it is told on."""
        self._look(now)
        del self._since[len(lost) :]
        self._since += [now] * (len(lost) - len(self._since))

    def _look(self, now: int) -> None:
        for k, since in enumerate(self._since):
            self._longest_ms[k] = max(self._longest_ms[k], now - since)

    def closed(self, end: int) -> tuple[int, ...]:
        """Close every account at the end and return the longest times by K."""
        self._look(end)
        return tuple(self._longest_ms)


class _LongestEach(_Longest):
    """For K = 0, 1, ...: how long more than K sensors were each lost, none relieving another."""

    def __init__(self, n_sensors: int) -> None:
        super().__init__(n_sensors)
        self._lost_since: dict[str, int] = {}

    def settle(self, now: int, lost: Set[str]) -> None:
        """Go on with other sensors: more than K are lost since the one after the K oldest is."""
        self._look(now)
        self._lost_since = {one: self._lost_since.get(one, now) for one in lost}
        self._since = sorted(self._lost_since.values())


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one step led to.

    Parameters
    ----------
    before, after : Routes
        The tree on both sides of the step. [-]
    interruptions_ms : mapping of str to int
        Silence of the sensors that moved. [ms]
    in_outage : bool
        Whether the site is cut off after the step. [-]
    usable : networkx.Graph
        Devices up and links usable after the step. [-]
    """

    before: Routes
    after: Routes
    interruptions_ms: Mapping[str, int]
    in_outage: bool
    usable: networkx.Graph


class Accounts:
    """The open and closed accounts of one lifetime."""

    def __init__(self, mesh: Mesh, rules: Rules, holds: Holds, levels: Levels) -> None:
        self._mesh = mesh
        self._rules = rules
        self._holds = holds
        self._blame = Blame(mesh, holds, levels)
        self._sensors = {sensor: _Sensor() for sensor in mesh.sensors}
        self._outage_since: int | None = None
        self._paused_ms = 0
        self._outages: list[tuple[int, int]] = []
        self._n_orphans = 0
        self._count_since = 0  # promise clock
        longest = _LongestEach if rules.watch.by_sensor else _Longest
        self._longest = {counted: longest(len(mesh.sensors)) for counted in COUNTED}
        self._held: list[Held] = []
        self._count_ms: Counter[int] = Counter()
        self._spells: list[Spell] = []
        self._blame_ms: Counter[Holder] = Counter()
        self._early_blame_ms: Counter[Holder] = Counter()
        self._began: Counter[Holder] = Counter()
        self._reparentings: Counter[str] = Counter()
        self._orphan_ms = dict.fromkeys(mesh.sensors, 0)
        self._dark_ms = dict.fromkeys(mesh.sensors, 0)
        self._down_ms = dict.fromkeys(mesh.sensors, 0)
        self._interrupted_ms = dict.fromkeys(mesh.sensors, 0)
        self._not_reached_ms = dict.fromkeys(mesh.sensors, 0)
        self._cut_off_ms = dict.fromkeys(mesh.sensors, 0)
        self._depth_ms: dict[str, Counter[int]] = {sensor: Counter() for sensor in mesh.sensors}

    @property
    def outages_ms(self) -> tuple[tuple[int, int], ...]:
        """Start and end of each site outage."""
        return tuple(self._outages)

    @property
    def held(self) -> tuple[Held, ...]:
        """Orphan time by what it is put down to, of the spells that are over."""
        return joined_held(self._held)

    def is_blamed(self, holder: Holder) -> bool:
        """Whether an open spell is put down to this."""
        holdings = (account.holding for account in self._sensors.values())
        return any(holding is not None and holding.holder == holder for holding in holdings)

    def holders(self) -> Iterator[tuple[str, Holder]]:
        """Yield sensors with an open spell, and what it is put down to."""
        for sensor, account in self._sensors.items():
            if account.holding is not None:
                yield sensor, account.holding.holder

    def _promise(self, now: int) -> int:
        """Wall time less the uncounted site outages so far."""
        if self._outage_since is not None and not self._rules.count_site_outages:
            now = self._outage_since
        return now - self._paused_ms

    def settle(self, now: int, outcome: Outcome) -> None:
        """Take in what a step led to.

        Parameters
        ----------
        now : int
            Time of the step. [ms]
        outcome : Outcome
            What changed. [-]
        """
        self._turn_outage(now, outcome.in_outage)
        self._count_reparentings(outcome)
        depths = outcome.after.depths()
        for sensor in self._mesh.sensors:
            self._settle_depth(now, sensor, depths.get(sensor))
            self._settle_sensor(now, sensor, outcome)
        self._settle_count(now)
        self._settle_longest(now)
        if not outcome.in_outage:
            self._blame_again(now, outcome.usable)

    def _turn_outage(self, now: int, in_outage: bool) -> None:
        if in_outage and self._outage_since is None:
            self._outage_since = now
        elif not in_outage and self._outage_since is not None:
            if not self._rules.count_site_outages:
                self._paused_ms += now - self._outage_since
            self._outages.append((self._outage_since, now))
            self._outage_since = None

    def _is_paused(self) -> bool:
        return self._outage_since is not None and not self._rules.count_site_outages

    def _count_reparentings(self, outcome: Outcome) -> None:
        for device, new in outcome.after.parent.items():
            old = outcome.before.parent[device]
            if old is not None and new is not None and old != new:
                self._reparentings[device] += 1

    def _settle_depth(self, now: int, sensor: str, depth: int | None) -> None:
        account = self._sensors[sensor]
        if depth == account.depth:
            return
        if account.depth is not None:
            self._depth_ms[sensor][account.depth] += now - account.depth_since
        account.depth, account.depth_since = depth, now

    def _settle_sensor(self, now: int, sensor: str, outcome: Outcome) -> None:
        account = self._sensors[sensor]
        is_up = self._holds.is_up(sensor)
        has_route = sensor in outcome.after.cost
        if not is_up:
            self._cut_silence(now, sensor)
        if not self._is_paused():
            if is_up and not has_route:
                self._begin_spell(now, sensor, outcome.usable)
            elif account.spell_since is not None:
                self._end_spell(now, sensor)
                if has_route:
                    self._interrupt(now, sensor, self._rules.rejoin_long_ms)
            else:
                self._interrupt(now, sensor, outcome.interruptions_ms.get(sensor, 0))
        account.has_had_route |= has_route
        self._settle_wall_times(now, sensor, is_up)

    def _settle_wall_times(self, now: int, sensor: str, is_up: bool) -> None:
        """Begin or end what is told on the wall clock: down, dark and cut off."""
        account = self._sensors[sensor]
        is_orphan = account.spell_since is not None and not self._is_paused()
        is_dark = is_orphan or not is_up or self._holds.is_mute(sensor)
        is_cut_off = is_up and self._outage_since is not None
        account.down_since = _turned(now, not is_up, account.down_since, self._down_ms, sensor)
        account.dark_since = _turned(now, is_dark, account.dark_since, self._dark_ms, sensor)
        account.cut_off_since = _turned(
            now, is_cut_off, account.cut_off_since, self._cut_off_ms, sensor
        )
        counts = account.has_had_route or not self._rules.watch.from_first_route
        states = (account.spell_since is not None, is_dark, is_dark or is_cut_off)
        account.counts_as = tuple(counts and state for state in states)

    def _begin_spell(self, now: int, sensor: str, usable: networkx.Graph) -> None:
        account = self._sensors[sensor]
        if account.spell_since is not None:
            return
        self._cut_silence(now, sensor)
        account.spell_since = now
        account.spell_since_promise = account.held_since = self._promise(now)
        account.holding = self._blame.holding(sensor, now, usable)
        self._began[account.holding.holder] += 1

    def _end_spell(self, now: int, sensor: str, is_cut: bool = False) -> None:
        account = self._sensors[sensor]
        assert account.spell_since is not None
        self._close_holding(now, sensor)
        orphan_ms = self._promise(now) - account.spell_since_promise
        self._spells.append(Spell(sensor, account.spell_since, now, orphan_ms, is_cut))
        self._orphan_ms[sensor] += orphan_ms
        if not account.has_had_route:
            self._not_reached_ms[sensor] += orphan_ms
        account.spell_since = account.holding = None

    def _close_holding(self, now: int, sensor: str) -> None:
        account, promise = self._sensors[sensor], self._promise(now)
        assert account.holding is not None
        holder, held_ms = account.holding.holder, promise - account.held_since
        self._blame_ms[holder] += held_ms
        if not account.has_had_route:
            self._early_blame_ms[holder] += held_ms
        is_early = not account.has_had_route
        self._held.append(Held(sensor, holder, account.held_since, promise, is_early))
        account.held_since = promise

    def _blame_again(self, now: int, usable: networkx.Graph) -> None:
        """Put down anew every open spell whose holder has returned."""
        for sensor, account in self._sensors.items():
            if account.holding is not None and self._blame.is_over(account.holding, now):
                self._close_holding(now, sensor)
                account.holding = self._blame.holding(sensor, now, usable)

    def _interrupt(self, now: int, sensor: str, duration_ms: int) -> None:
        """Silence a sensor while it moves; of two that overlap, the later end holds."""
        account, promise = self._sensors[sensor], self._promise(now)
        if account.silent_until <= promise:
            self._cut_silence(now, sensor)
            account.silent_since = account.silent_until = promise
        account.silent_until = max(account.silent_until, promise + duration_ms)

    def _cut_silence(self, now: int, sensor: str) -> None:
        account = self._sensors[sensor]
        end = min(account.silent_until, self._promise(now))
        self._interrupted_ms[sensor] += end - account.silent_since
        account.silent_since = account.silent_until = end

    def _settle_count(self, now: int) -> None:
        n_orphans = sum(account.spell_since is not None for account in self._sensors.values())
        if n_orphans == self._n_orphans or self._is_paused():
            return
        promise = self._promise(now)
        self._count_ms[self._n_orphans] += promise - self._count_since
        self._n_orphans, self._count_since = n_orphans, promise

    def _settle_longest(self, now: int) -> None:
        """Go on with what is lost now; only what is silent knows no pause."""
        for way, counted in enumerate(COUNTED):
            lost = {id for id, account in self._sensors.items() if account.counts_as[way]}
            if counted == SILENT:
                self._longest[counted].settle(now, lost)
            elif not self._is_paused():
                self._longest[counted].settle(self._promise(now), lost)

    def _never_routed(self) -> Iterator[str]:
        """Sensors that have not had a route at all."""
        return (id for id, account in self._sensors.items() if not account.has_had_route)

    def close(
        self, struck: Mapping[Holder, int], drain_na: Mapping[str, int], desk: Desk, cells: int
    ) -> Record:
        """Close every account at the horizon and return the record.

        Parameters
        ----------
        struck : mapping of Holder to int
            Strikes of each element that holds devices. [-]
        drain_na : mapping of str to int
            What each device on cells drew while it was up. [nA]
        desk : Desk
            Counts the visits. [-]
        cells : int
            Sets of cells put in. [-]
        """
        end = self._rules.horizon_ms
        self._count_ms[self._n_orphans] += self._promise(end) - self._count_since
        longest = {
            counted: one.closed(end if counted == SILENT else self._promise(end))
            for counted, one in self._longest.items()
        }
        self._close_sensors(end)
        self._turn_outage(end, in_outage=False)
        return Record(
            orphan_ms=self._orphan_ms,
            dark_ms=self._dark_ms,
            down_ms=self._down_ms,
            interrupted_ms=self._interrupted_ms,
            not_reached_ms=self._not_reached_ms,
            cut_off_ms=self._cut_off_ms,
            depth_ms={sensor: _not_zero(times) for sensor, times in self._depth_ms.items()},
            count_ms=_not_zero(self._count_ms),
            longest_above_ms=longest["orphans"],
            longest_dark_ms=longest["dark"],
            longest_silent_ms=longest[SILENT],
            reparentings=dict(self._reparentings),
            spells=tuple(sorted(self._spells, key=lambda spell: (spell.sensor, spell.start_ms))),
            blame_ms=_not_zero(self._blame_ms),
            began=dict(self._began),
            early_blame_ms=_not_zero(self._early_blame_ms),
            site_outage_ms=sum(stop - start for start, stop in self._outages),
            struck=dict(struck),
            unreached=tuple(sorted(self._never_routed())),
            drain_na=dict(drain_na),
            site_outages=len(self._outages),
            visits=desk.n_ended,
            cells=cells,
            fruitless=desk.n_fruitless,
            worked_ms=desk.worked_ms,
            resurveys=desk.n_resurveys,
            devices=desk.n_devices,
            gateways=desk.n_gateways,
            rounds=desk.n_rounds,
        )

    def _close_sensors(self, end: int) -> None:
        """Close what is open of each sensor."""
        for sensor, account in self._sensors.items():
            self._settle_depth(end, sensor, None)
            self._cut_silence(end, sensor)
            if account.spell_since is not None:
                self._end_spell(end, sensor, is_cut=True)
            _turned(end, False, account.down_since, self._down_ms, sensor)
            _turned(end, False, account.dark_since, self._dark_ms, sensor)
            _turned(end, False, account.cut_off_since, self._cut_off_ms, sensor)


def _turned(
    now: int, is_on: bool, since: int | None, sums_ms: dict[str, int], sensor: str
) -> int | None:
    """Turn a condition on or off, add what it lasted, and return since when it is on."""
    if is_on:
        return now if since is None else since
    if since is not None:
        sums_ms[sensor] += now - since
    return None


def _not_zero(values: Mapping[Key, int]) -> dict[Key, int]:
    return {key: value for key, value in values.items() if value}
