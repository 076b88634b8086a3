"""Upkeep: what is left in the cells of a device, who is called for it, and who sees to it."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import replace

from resilience.draws import LONGEST_MS, MOST_NA_MS, residual, uniform
from resilience.hazards.causes import BATTERY
from resilience.hazards.elements import Cells, Element, Mended
from resilience.hazards.fates import DeviceFate
from resilience.hazards.laws import Law
from resilience.hazards.upkeep import CELLS, DEVICES, Calls, RoundPlan, after_work_ms
from resilience.lifetime.record import Call, Holder
from resilience.lifetime.reference.visits import Scene, Store, Visit


class Battery:
    """The cells of one device.

    Parameters
    ----------
    cells : Cells
        What they are. [-]
    fate : DeviceFate
        Draws of the device. [-]
    """

    def __init__(self, cells: Cells, fate: DeviceFate) -> None:
        self.cells = cells
        self._fate = fate
        self.n_sets = 1
        self._full_na_ms = self._left_na_ms = fate.charge_na_ms(cells, 0)
        if cells.left_share is not None:
            self._left_na_ms = max(1, int(self._full_na_ms * cells.left_share))
        self._drain_na = 0
        self._since, self._fresh_ms = 0, -cells.age_ms
        self._drained_na_ms = 0  # by all sets, and for how long
        self._drained_for_ms = 0

    def death_ms(self) -> int:
        """First millisecond at which the charge is used up, if nothing changes.

        Used up is what the month lets have: it may be the cold of the next one that ends it.
        """
        if not self._drain_na:
            return LONGEST_MS
        if not self.cells.course.kept:
            return self._reaches_ms(0)
        return next(
            dies_ms
            for start_ms, end_ms, kept_na_ms in self._months()
            if (dies_ms := max(start_ms, self._reaches_ms(kept_na_ms))) < end_ms
        )

    def _reaches_ms(self, kept_na_ms: int) -> int:
        """First millisecond at which no more than this is left."""
        return self._since - (-(self._left_na_ms - kept_na_ms) // self._drain_na)

    def _months(self) -> Iterator[tuple[int, int, int]]:
        """Start, end and what stays in the cells of each month from the first that can be last."""
        course = self.cells.course
        shares = [self._full_na_ms // 1000 * kept for kept in course.kept]
        start_ms = max(self._since + 1, self._reaches_ms(max(shares)))
        while True:
            month = (start_ms + course.first_ms) // course.month_ms
            end_ms = (month + 1) * course.month_ms - course.first_ms
            yield start_ms, end_ms, shares[month % 12]
            start_ms = end_ms

    def drain(self, now: int, drain_na: int) -> None:
        """Go on at another rate."""
        drained_na_ms = self._drain_na * (now - self._since)
        self._left_na_ms -= drained_na_ms
        self._drained_na_ms += drained_na_ms
        self._drained_for_ms += (now - self._since) * (self._drain_na > 0)
        self._since, self._drain_na = now, drain_na

    def age(self, n_behind: int) -> None:
        """Take from the first set what its age has, with so many sensors behind its device.

        It has not run out so far, so its charge is drawn among those that are larger; nothing is
        taken where somebody measured what is left.
        """
        cells = self.cells
        if cells.left_share is not None:
            return
        drain_na = cells.leaf_na + cells.self_na + cells.forwarding_na * n_behind
        used_na_ms = int(min(float(drain_na) * cells.age_ms, MOST_NA_MS))
        if used_na_ms > 0:
            shared = cells.batch_spread.drawn(uniform(self._fate.batch, 0))
            usual_na_ms = cells.mean_charge_na_ms * shared
            u, used = uniform(self._fate.cells, 0), used_na_ms / usual_na_ms
            left_na_ms = usual_na_ms * residual(cells.spread.numbers, u, used)
            self._left_na_ms = max(1, int(left_na_ms))
            self._full_na_ms = self._left_na_ms + used_na_ms

    def mean_drain_na(self, now: int) -> int | None:
        """What was lost so far, over the time it was being lost; None if nothing ever was."""
        self.drain(now, 0)
        return self._drained_na_ms // self._drained_for_ms if self._drained_for_ms else None

    def renew(self, now: int) -> None:
        """Put in the next set of cells."""
        self._since = self._fresh_ms = now
        self._full_na_ms = self._left_na_ms = self._fate.charge_na_ms(self.cells, self.n_sets)
        self.n_sets += 1

    def is_due(self, now: int, plan: RoundPlan) -> bool:
        """Whether a planned round puts new cells in."""
        left_na_ms = self._left_na_ms - self._drain_na * (now - self._since)
        is_low = left_na_ms < self._full_na_ms // 1000 * plan.below
        return is_low or now - self._fresh_ms >= plan.older_ms


class Desk:
    """Takes calls for silent devices, sends crews, and knows what they see to.

    Parameters
    ----------
    calls : Calls or None
        How calls are answered; None: every failure has its visit at once. [-]
    devices : iterable of str
        Sensors and repeaters. [-]
    fates : mapping of str to DeviceFate
        Draws of every device. [-]
    stores : mapping of str to Store
        Parts that there are not without end. [-]
    """

    def __init__(
        self,
        calls: Calls | None,
        devices: Iterable[str],
        fates: Mapping[str, DeviceFate],
        stores: Mapping[str, Store],
    ) -> None:
        self._calls = calls
        self._devices = sorted(devices)
        self._fates = fates
        self.stores = stores
        self._silent_since: dict[str, int] = {}
        self._seen_to: set[str] = set()  # silent still, though somebody has been there
        self._left: set[str] = set()  # devices that a visit has left in this step
        self._resurveyed: set[str] = set()  # those among them for which it ended a lasting change
        self._waiting: dict[str, Call] = {}
        self._visits: dict[str, Visit] = {}
        self._n_visits: Counter[str] = Counter()
        self._n_parts: Counter[str] = Counter()
        self._closed: list[Call] = []
        self.n_ended = self.n_fruitless = self.n_resurveys = self.worked_ms = 0
        self.n_devices = self.n_gateways = self.n_rounds = 0

    def takes_calls_for(self, device: str) -> bool:
        """Whether failures of a device wait for a call."""
        return self._calls is not None and device in self._devices

    def calls(self) -> tuple[Call, ...]:
        """Every call so far, in order of (opened, device)."""
        under_way = [visit.call for visit in self._visits.values() if visit.call is not None]
        told = [*self._closed, *self._waiting.values(), *under_way]
        return tuple(sorted(told, key=lambda call: (call.opened_ms, call.device)))

    def visit_at_once(self, now: int, device: str, repair: Law) -> Visit | None:
        """Open a visit to a device that waits for no call; None where one is under way."""
        if self.takes_calls_for(device) or device in self._visits:
            return None
        work_ms = self._fates[device].repair_ms(repair, self._n_visits[device])
        self._n_visits[device] += 1
        is_ours = device in self._devices
        visit = Visit(device, now, now + work_ms, work_ms * is_ours, sees_to={device})
        self._visits[device] = visit
        return visit

    def is_due(self, device: str, since_ms: int) -> bool:
        """Whether the silence that began then still counts."""
        return self._silent_since.get(device) == since_ms

    def new_silences(self, now: int) -> Iterator[tuple[str, int]]:
        """Yield device and time of each alarm that began to be waited for in this step."""
        assert self._calls is not None
        for device, since_ms in self._silent_since.items():
            if since_ms == now and self._calls.alarm_ms:
                yield device, now + self._calls.alarm_ms

    def settle(self, now: int, scene: Scene) -> list[Visit]:
        """Listen to every device after a step, take calls, and return the visits that set out.

        Parameters
        ----------
        now : int
            Time of the step. [ms]
        scene : Scene
            What is heard. [-]
        """
        assert self._calls is not None
        for device in self._devices:
            self._listen(now, device, scene)
            self._take_call(now, device)
        self._left.clear()
        self._resurveyed.clear()
        for _, visit in sorted(self._visits.items()):
            if visit.starts_ms == now and visit.call is not None:
                self._take_stock(now, visit, scene)
        sent = []
        while self._can_send(now) and (ready := self._ready(scene)):
            device = min(ready, key=lambda one: (self._waiting[one].opened_ms, one))
            visit = self._sent(now, device)
            self._takes_part(visit, device, scene)
            if visit.starts_ms == now:
                self._take_stock(now, visit, scene)
            sent.append(visit)
        return sent

    def _listen(self, now: int, device: str, scene: Scene) -> None:
        """Begin or end the silence of a device."""
        if device in scene.heard:
            self._silent_since.pop(device, None)
            self._seen_to.discard(device)
            if device in self._waiting:
                self._close(now, device)
        elif device in self._left:
            self._silent_since.pop(device, None)
            self._seen_to.add(device)
            if scene.failures[device] or device in self._resurveyed:
                self._begin_silence(now, device)
        elif device not in scene.silent:
            self._silent_since.pop(device, None)
        elif device in scene.struck or device not in self._seen_to:
            self._begin_silence(now, device)

    def _begin_silence(self, now: int, device: str) -> None:
        self._seen_to.discard(device)
        self._silent_since.setdefault(device, now)

    def _take_call(self, now: int, device: str) -> None:
        """Open a call for a device that has been silent for long, unless there is one."""
        assert self._calls is not None
        since_ms = self._silent_since.get(device)
        if since_ms is None or device in self._waiting or now < since_ms + self._calls.alarm_ms:
            return
        if not any(device in visit.sees_to for visit in self._visits.values()):
            self._waiting[device] = Call(device, since_ms, now)

    def _close(self, now: int, device: str, seen_to_by: str = "") -> None:
        """Strike a call off the list that nobody has set out for."""
        call = self._waiting.pop(device)
        self._closed.append(replace(call, closed_ms=now, seen_to_by=seen_to_by))

    def _can_send(self, now: int) -> bool:
        """Whether a crew is free; who is on its way to the site will see to all of it."""
        assert self._calls is not None
        visits = [visit for visit in self._visits.values() if visit.call is not None]
        if self._calls.mends_site and any(visit.starts_ms > now for visit in visits):
            return False
        return self._calls.crews == 0 or len(visits) < self._calls.crews

    def _needs(self, device: str, scene: Scene) -> str | None:
        """Kind of the part that a visit to a device takes from the shelf; None for none."""
        causes = {cause for cause, _ in scene.failures[device]}
        part = DEVICES if causes - {BATTERY.name} else CELLS
        return part if causes and part in self.stores else None

    def _ready(self, scene: Scene) -> list[str]:
        """Devices whose calls wait for nothing but a crew."""
        needs = {device: self._needs(device, scene) for device in self._waiting}
        return [one for one, part in needs.items() if part is None or self.stores[part].here]

    def _takes_part(self, visit: Visit, device: str, scene: Scene) -> bool:
        """Take the part that a device needs; False if there is none."""
        part = self._needs(device, scene)
        if part is None or device in visit.brought:
            return True
        if not self.stores[part].here:
            return False
        self.stores[part].here -= 1
        visit.brought[device] = part
        return True

    def deliveries_ms(self, scene: Scene) -> Iterator[tuple[str, int]]:
        """Order parts after a step; yield the kind of each and how long it takes."""
        needs = Counter(self._needs(device, scene) for device in self._waiting)
        for part, store in self.stores.items():
            yield from ((part, lasts_ms) for lasts_ms in store.deliveries_ms(needs[part]))

    def _sent(self, now: int, device: str) -> Visit:
        """Send a crew to a device."""
        assert self._calls is not None
        n = self._n_visits[device]
        self._n_visits[device] += 1
        travel_ms = self._fates[device].response_ms(self._calls.response, n)
        worked_ms = travel_ms + self._fates[device].repair_ms(self._calls.repair, n)
        hours = self._calls.hours
        arrives_ms = after_work_ms(now, travel_ms, *hours) if travel_ms else now
        visit = Visit(
            device,
            after_work_ms(arrives_ms, 0, *hours),
            after_work_ms(now, worked_ms, *hours),
            worked_ms,
            replace(self._waiting.pop(device), left_ms=now),
            {device},
        )
        self._visits[device] = visit
        return visit

    def _take_stock(self, now: int, visit: Visit, scene: Scene) -> None:
        """Note what is down as the work begins, where a visit mends the site."""
        assert self._calls is not None
        if not self._calls.mends_site:
            return
        self._takes_part(visit, visit.device, scene)
        others = {device for one in self._visits.values() for device in one.sees_to}
        for device in self._devices:
            is_new = scene.failures[device] and device not in others
            if (device in self._waiting or is_new) and self._takes_part(visit, device, scene):
                visit.sees_to.add(device)
                if device in self._waiting:
                    self._close(now, device, visit.device)
        visit.noted = {
            name
            for device in visit.sees_to
            for name in scene.failures[device]
            if self._can_end(visit, device, name)
        }

    def _can_end(self, visit: Visit, device: str, name: Holder) -> bool:
        """Whether a visit has what it takes to end a failure of a device."""
        if visit.noted is not None:
            return name in visit.noted
        brought = visit.brought.get(device)
        if name[0] == BATTERY.name:
            return CELLS not in self.stores or brought is not None
        return DEVICES not in self.stores or brought == DEVICES

    def _is_dead(self, device: str) -> bool:
        """Whether the next part that is put into a device is dead."""
        assert self._calls is not None
        n = self._n_parts[device]
        self._n_parts[device] += 1
        return self._fates[device].is_dead(self._calls.shelf.dead_share, n)

    def take_note(self, ended: Iterable[Element]) -> None:
        """Count the devices that are new because of what ended in a step.

        What a visit has noted and somebody else ended, it does not end should it strike anew.
        """
        mended = [one for one in ended if isinstance(one.clock, Mended)]
        for visit in self._visits.values():
            if visit.noted is not None:
                visit.noted.difference_update(one.name for one in mended)
        replaced = {one.targets[0] for one in mended if one.cause != BATTERY.name}
        n_devices = len(replaced.intersection(self._devices))
        self.n_devices += n_devices
        self.n_gateways += len(replaced) - n_devices

    def finish(
        self,
        now: int,
        visit: Visit,
        failures: Mapping[str, Set[Holder]],
        lasting: Mapping[str, Holder],
    ) -> list[Holder]:
        """End a visit and return what it ends.

        Parameters
        ----------
        now : int
            Time of its end. [ms]
        visit : Visit
            The visit. [-]
        failures : mapping of str to set of Holder
            What a visit would mend, by device. [-]
        lasting : mapping of str to Holder
            Lasting changes that a visit would end, by the orphan that is put down to it. [-]
        """
        del self._visits[visit.device]
        self.n_ended += 1
        self.worked_ms += visit.worked_ms
        if visit.call is None:
            return sorted(failures[visit.device])
        mended: set[Holder] = set()
        n_dead = 0
        for device in visit.sees_to:
            names = {one for one in failures[device] if self._can_end(visit, device, one)}
            is_dead = bool(names) and self._is_dead(device)
            mended |= set() if is_dead else names
            n_dead += is_dead
        resurveyed = visit.sees_to & lasting.keys()
        mended |= {lasting[device] for device in resurveyed}
        self._left |= visit.sees_to
        self._resurveyed |= resurveyed
        self.n_fruitless += not mended
        self.n_resurveys += bool(resurveyed)
        told = tuple(sorted(mended))
        self._closed.append(replace(visit.call, closed_ms=now, mended=told, n_dead=n_dead))
        return list(told)
