"""The specification: one lifetime told by simpy processes on a networkx graph.

Every element, repair visit and battery is a process. All that happens within one millisecond is
gathered and settled as one step, because simpy orders equal times by insertion and luck must not.
"""

from collections import Counter
from collections.abc import Generator, Set
from itertools import count

import simpy

from resilience.building.site import Kind
from resilience.hazards.causes import SERVICE
from resilience.hazards.elements import HOLDS_DEVICES, Cells, Element, Mended
from resilience.hazards.fates import DeviceFate, Fate
from resilience.hazards.table import HazardTable
from resilience.hazards.upkeep import RoundPlan
from resilience.lifetime.mesh import Luck, Mesh, MeshLink, Rules
from resilience.lifetime.record import SWING, Absence, History, Holder, Lifetime, ParentChange
from resilience.lifetime.reference.accounts import Accounts, Outcome
from resilience.lifetime.reference.holds import Holds
from resilience.lifetime.reference.levels import Levels
from resilience.lifetime.reference.routing import Gateways, Rejoining, Routes, RoutingTree
from resilience.lifetime.reference.upkeep import Battery, Desk
from resilience.lifetime.reference.visits import Lookout, Visit, going_round, stores_of

AFTER_ALL_ELSE = 2  # simpy runs lower numbers first; its own are 0 and 1

Process = Generator[simpy.Event, object, None]


def simulate(mesh: Mesh, hazards: HazardTable, rules: Rules, luck: Luck) -> Lifetime:
    """Play one lifetime.

    Parameters
    ----------
    mesh : Mesh
        The layout in one possible building. [-]
    hazards : HazardTable
        What can strike it. [-]
    rules : Rules
        Horizon and routing. [-]
    luck : Luck
        Seed and number of the lifetime. [-]

    Raises
    ------
    ValueError
        Links swing, and devices are to compare their neighbours at every change.
    """
    return _Simulation(mesh, hazards, rules, luck).run()


class _Step(simpy.Event):
    """The end of this millisecond: comes after everything else that happens in it."""

    def __init__(self, env: simpy.Environment) -> None:
        super().__init__(env)
        self._ok, self._value = True, None
        env.schedule(self, priority=AFTER_ALL_ELSE)  # type: ignore[arg-type]  # its type is too narrow


class _Battery(Battery):
    """Cells with the process that waits for their end."""

    def __init__(self, cells: Cells, fate: DeviceFate) -> None:
        super().__init__(cells, fate)
        self.death = cells.death
        self.process: simpy.Process | None = None
        self.wakes_ms = 0  # until when the process sleeps; 0 while the cells are dead


class _Simulation:
    """One lifetime while it runs."""

    def __init__(self, mesh: Mesh, hazards: HazardTable, rules: Rules, luck: Luck) -> None:
        self._mesh = mesh
        self._rules = rules
        self._env = simpy.Environment()
        self._levels = Levels(mesh, luck)
        self._holds = Holds(mesh, self._levels)
        self._gateways = Gateways(mesh, rules)
        self._tree = RoutingTree(mesh, rules.hysteresis)
        self._rejoining = Rejoining(mesh, rules)
        self._accounts = Accounts(mesh, rules, self._holds, self._levels)
        self._lookout = Lookout(mesh, rules.calls, self._holds)
        self._step: _Step | None = None  # gathers the changes of this millisecond
        self._looks_again_ms = 0
        self._somebody_waits = False  # up without a route, and no site outage runs
        self._struck: list[Element] = []
        self._ended: list[Element] = []
        self._strikes: Counter[Holder] = Counter()
        self._absences: list[Absence] = []
        self._parents: list[ParentChange] = []
        self._faded: list[tuple[int, str]] = []
        self._first_parents: dict[str, str | None] = {}
        self._mending: dict[Holder, simpy.Event] = {}  # what ends each failure, by its name
        self._fates = {
            device.id: DeviceFate.of(device.id, luck.seed, luck.lifetime) for device in mesh.devices
        }
        self._batteries = {
            cells.device: _Battery(
                cells, DeviceFate.of(cells.device, luck.seed, luck.lifetime, cells.batch)
            )
            for cells in hazards.cells
        }
        answered = (one.id for one in mesh.devices if one.kind is not Kind.GATEWAY)
        self._desk = Desk(rules.calls, answered, self._fates, stores_of(rules.calls, luck))
        self._begin(hazards, luck)

    def _begin(self, hazards: HazardTable, luck: Luck) -> None:
        """Begin every process."""
        if not (self._levels.is_still or self._rules.look_around_ms):
            raise ValueError("links that swing need look_around_ms above 0")
        for element in hazards.elements:
            fate = Fate.of(element, luck.seed, luck.lifetime)
            clock = element.clock
            if isinstance(clock, Mended):
                self._env.process(self._mended(element, clock, fate))
            else:
                absences_ms = fate.absences_ms(clock, self._rules.horizon_ms)
                self._env.process(self._by_itself(element, absences_ms))
        for battery in self._batteries.values():
            battery.process = self._env.process(self._discharging(battery))
        for link in self._levels.links_that_fade(hazards.elements):
            self._env.process(self._swinging(link))
        if self._rules.look_around_ms:
            self._env.process(self._looking_around())
        if self._rules.rounds is not None:
            self._env.process(self._going_round(self._rules.rounds))

    def run(self) -> Lifetime:
        """Run to the horizon and close the accounts."""
        self._wake()
        self._env.run(until=self._rules.horizon_ms)
        for struck_ms, element in self._holds.away.values():
            self._absences.append(Absence(element, struck_ms, None))
        drains_na = {
            device: battery.mean_drain_na(self._rules.horizon_ms)
            for device, battery in self._batteries.items()
        }
        record = self._accounts.close(
            self._strikes,
            {device: drain_na for device, drain_na in drains_na.items() if drain_na is not None},
            self._desk,
            sum(battery.n_sets - 1 for battery in self._batteries.values()),
        )
        history = History(
            self._first_parents,
            tuple(sorted(self._absences, key=lambda one: (one.start_ms, one.element.name))),
            tuple(self._parents),
            self._accounts.outages_ms,
            tuple(self._faded),
            self._desk.calls(),
            self._accounts.held,
        )
        return Lifetime(record, history)

    @property
    def _now(self) -> int:
        return int(self._env.now)

    # What happens to one element, device, battery or link, told as processes.

    def _by_itself(
        self, element: Element, absences_ms: tuple[tuple[int, int | None], ...]
    ) -> Process:
        for start_ms, end_ms in absences_ms:
            yield self._env.timeout(start_ms - self._now)
            self._strike(element)
            if end_ms is not None:
                yield self._env.timeout(end_ms - start_ms)
                if element.name in self._holds.away:  # no visit has ended it before
                    self._end(element)

    def _mended(self, element: Element, clock: Mended, fate: Fate) -> Process:
        for n in count():
            strike_ms = fate.strike_ms(clock, n, self._now, self._rules.horizon_ms)
            yield self._env.timeout(strike_ms - self._now)
            self._strike(element)
            yield self._is_mended(element)
            self._end(element)

    def _discharging(self, battery: _Battery) -> Process:
        death = battery.death
        while True:
            battery.wakes_ms = battery.death_ms()
            try:
                yield self._env.timeout(battery.wakes_ms - self._now)
            except simpy.Interrupt:  # the end has come nearer
                continue
            if battery.death_ms() > self._now:  # the end has moved away
                continue
            battery.wakes_ms = 0
            self._strike(death)
            yield self._is_mended(death)
            self._end(death)
            yield self._wake()  # the step that puts in new cells

    def _is_mended(self, element: Element) -> simpy.Event:
        """Return what happens when a visit ends a failure."""
        event = self._mending[element.name] = self._env.event()
        return event

    def _visiting(self, visit: Visit) -> Process:
        if visit.starts_ms > self._now:
            yield self._env.timeout(visit.starts_ms - self._now)
            self._wake()  # to see what is down as the work begins
        yield self._env.timeout(visit.ends_ms - self._now)
        held = () if self._gateways.in_outage else self._accounts.holders()
        lasting = self._lookout.lasting(held)
        for name in self._desk.finish(self._now, visit, self._lookout.failures(), lasting):
            self._mend(name)
        self._wake()

    def _mend(self, name: Holder) -> None:
        """End a failure, or a lasting change; several may do so at once."""
        if name not in self._mending:
            self._end(self._holds.away[name][1])
        elif not self._mending[name].triggered:
            self._mending[name].succeed()

    def _arriving(self, part: str, lasts_ms: int) -> Process:
        yield self._env.timeout(lasts_ms)
        self._desk.stores[part].arrive()
        self._wake()

    def _going_round(self, plan: RoundPlan) -> Process:
        cells = {id: one for id, one in self._batteries.items() if id not in self._mesh.gateways}

        def begins(device: str, is_first: bool) -> None:
            self._desk.n_rounds += is_first
            self._strike(cells[device].cells.service)

        def ends(device: str) -> None:
            self._desk.worked_ms += plan.service_ms
            self._end(cells[device].cells.service)
            if cells[device].death.name in self._holds.away:
                self._mend(cells[device].death.name)

        for wakes_ms in going_round(plan, cells, begins, ends):
            yield self._env.timeout(wakes_ms - self._now)

    def _silent(self, device: str, alarm_ms: int) -> Process:
        since_ms = self._now
        yield self._env.timeout(alarm_ms - self._now)
        if self._desk.is_due(device, since_ms):
            self._wake()

    def _swinging(self, link: MeshLink) -> Process:
        for time_ms in self._levels.changes_ms(link):
            yield self._env.timeout(time_ms - self._now)
            if self._concerns_somebody(link):
                self._wake()

    def _concerns_somebody(self, link: MeshLink) -> bool:
        """Whether a new level closes a branch, opens a way for who waits, or frees a holder."""
        if not (self._somebody_waits or self._tree.routes.is_branch(link)):
            return False
        was_usable, is_usable = (
            self._holds.cost(link, time_ms) is not None for time_ms in (self._now - 1, self._now)
        )
        return was_usable != is_usable or self._accounts.is_blamed((SWING, link.id))

    def _looking_around(self) -> Process:
        while True:
            yield self._env.timeout(self._rules.look_around_ms)
            self._wake()

    # How the changes of one millisecond become one step.

    def _strike(self, element: Element) -> None:
        self._struck.append(element)
        self._wake()

    def _end(self, element: Element) -> None:
        if element not in self._ended:
            self._ended.append(element)
        self._wake()

    def _wake(self) -> simpy.Event:
        """Make sure that this millisecond ends with a step, and return that end."""
        if self._step is None:
            self._step = _Step(self._env)
            self._step.callbacks.append(lambda _: self._settle())
        return self._step

    def _look_again(self, time_ms: int) -> Process:
        yield self._env.timeout(time_ms - self._now)
        self._wake()

    def _settle(self) -> None:
        """Settle one step: strikes, ends, service, routes, accounts, batteries."""
        now = self._now
        self._step = None
        holds_before, serving_before = self._holds.snapshot(), self._gateways.serving
        struck, renewed = self._apply(now)
        usable = self._holds.usable(now)
        look_again_ms = self._gateways.settle(now, set(usable))
        if look_again_ms is not None and look_again_ms != self._looks_again_ms:
            self._looks_again_ms = look_again_ms
            self._env.process(self._look_again(look_again_ms))
        before = self._tree.routes
        detached = self._tree.settle(
            usable, self._gateways.serving, looks_around=self._looks_around(now)
        )
        after, in_outage = self._tree.routes, self._gateways.in_outage
        self._somebody_waits = not in_outage and not detached <= after.cost.keys()
        moved = [one for one in detached if one in before.cost and one in after.cost]
        interruptions_ms = self._interruptions_ms(holds_before, before, serving_before, moved)
        outcome = Outcome(before, after, interruptions_ms, in_outage, usable)
        self._accounts.settle(now, outcome)
        self._remember(now, before, after)
        self._settle_batteries(now, renewed)
        if self._rules.calls is not None:
            self._settle_calls(now, struck)

    def _looks_around(self, now: int) -> bool:
        return not self._rules.look_around_ms or now % self._rules.look_around_ms == 0

    def _apply(self, now: int) -> tuple[set[str], set[str]]:
        """Apply strikes, then ends; return the devices to be mended, and those with new cells."""
        struck: set[str] = set()
        renewed: set[str] = set()
        for element in sorted(self._struck, key=lambda one: one.name):
            if element.effect in HOLDS_DEVICES:
                self._strikes[element.name] += 1
            self._holds.strike(element, now)
            if isinstance(element.clock, Mended):
                struck.update(element.targets)
                visit = self._desk.visit_at_once(now, element.targets[0], element.clock.repair)
                if visit is not None:
                    self._env.process(self._visiting(visit))
        self._desk.take_note(self._ended)
        for element in sorted(self._ended, key=lambda one: one.name):
            self._absences.append(Absence(element, self._holds.away[element.name][0], now))
            self._holds.end(element)
            if isinstance(element.clock, Mended) or element.cause == SERVICE.name:
                renewed.update(element.targets)
        self._struck, self._ended = [], []
        return struck, renewed

    def _settle_calls(self, now: int, struck: set[str]) -> None:
        """Let the desk hear who is silent, and let crews set out."""
        routed = self._tree.routes.cost.keys()
        scene = self._lookout.scene(struck, routed, self._gateways.in_outage)
        for visit in self._desk.settle(now, scene):
            self._env.process(self._visiting(visit))
        for part, lasts_ms in self._desk.deliveries_ms(scene):
            self._env.process(self._arriving(part, lasts_ms))
        for device, alarm_ms in self._desk.new_silences(now):
            self._env.process(self._silent(device, alarm_ms))

    def _interruptions_ms(
        self, holds_before: Holds, before: Routes, serving_before: Set[str], moved: list[str]
    ) -> dict[str, int]:
        """Silence of who moved; before the step is a millisecond ago, at the costs of then."""
        sensors = [one for one in moved if one in self._mesh.sensors]
        if not sensors:
            return {}
        usable_before = holds_before.usable(self._now - 1)
        then = before.at_costs(usable_before, serving_before)
        return self._rejoining.interruptions_ms(sensors, then, usable_before, self._tree.routes)

    def _remember(self, now: int, before: Routes, after: Routes) -> None:
        """Keep who has another parent, and which branches closed by their level alone."""
        if now == 0:
            self._first_parents = dict(after.parent)
            return
        self._parents.extend(
            ParentChange(now, device, old, after.parent[device])
            for device, old in sorted(before.parent.items())
            if old != after.parent[device]
        )
        branches = (link for link in self._mesh.links if before.is_branch(link))
        faded = sorted(link.id for link in branches if self._holds.has_faded(link, now))
        self._faded.extend((now, id) for id in faded)

    def _settle_batteries(self, now: int, renewed: set[str]) -> None:
        sensors_behind = self._tree.routes.sensors_behind(self._mesh.sensors)
        for device, battery in self._batteries.items():
            if now == 0:
                battery.age(sensors_behind[device])
            is_flat = battery.death.name in self._holds.away
            lost_na = self._load_na(battery.cells, sensors_behind) + battery.cells.self_na
            battery.drain(now, 0 if is_flat else lost_na)
            if device in renewed:
                battery.renew(now)
            assert battery.process is not None
            if battery.death_ms() < battery.wakes_ms:
                battery.process.interrupt()

    def _load_na(self, cells: Cells, sensors_behind: Counter[str | None]) -> int:
        if not self._holds.is_up(cells.device):
            return 0
        may_search = self._gateways.in_outage or cells.device not in self._mesh.gateways
        if may_search and cells.device not in self._tree.routes.cost:
            return cells.searching_na
        return cells.leaf_na + cells.forwarding_na * sensors_behind[cells.device]
