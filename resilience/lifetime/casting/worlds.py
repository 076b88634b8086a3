"""From devices, links and hazards to a world, and what a world is named by."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience.building.site import Kind
from resilience.connectivity.air import Air
from resilience.connectivity.reception import LOW_CDBM
from resilience.connectivity.table import LinkTable
from resilience.draws import element_key
from resilience.hazards.causes import Effect, described
from resilience.hazards.elements import (
    HOLDS_DEVICES,
    Cells,
    Drawn,
    Element,
    Mended,
    Reach,
    Scripted,
)
from resilience.hazards.fates import batch_luck
from resilience.hazards.table import HazardTable
from resilience.lifetime.casting.burdens import burdens_of, times_of, weights_of
from resilience.lifetime.casting.upkeep import coming, keys, put_down, silences, stocks
from resilience.lifetime.casting.wires import Wires
from resilience.lifetime.mesh import Mesh, Rules
from resilience.lifetime.record import SWING, Holder
from resilience.lifetime.state import books
from resilience.lifetime.state import world as w
from resilience.lifetime.state.compiled import rows
from resilience.lifetime.state.world import World
from resilience.lifetime.tally import COLUMNS

Ints = NDArray[np.int64]
Name = tuple[str, str]

EFFECTS = {
    Effect.DOWN: w.IS_DOWN,
    Effect.MUTE: w.IS_MUTE,
    Effect.CUT: w.IS_CUT,
    Effect.LOSS: w.IS_LOSS,
    Effect.COST: w.IS_COST,
}
MOST_DEVICES = 1 << 16
MOST_SLOTS = 1 << 20
LARGEST_COST = 1 << 31
LONGEST_MS = 1 << 42  # 139 years: a time and its slot stay below NEVER


@dataclass(frozen=True, eq=False)
class Cast:
    """A world, and the names of its rows.

    Parameters
    ----------
    world : World
        What is played on. [-]
    devices, links : tuple of str
        Ids by row. [-]
    elements : tuple of Holder
        Cause and id by row. [-]
    played : tuple of Element
        What strikes, batteries' deaths among it, by row; the swing of links stands between. [-]
    """

    world: World
    devices: tuple[str, ...]
    links: tuple[str, ...]
    elements: tuple[Holder, ...]
    played: dict[int, Element]

    def with_world(self, world: World) -> "Cast":
        """Return the same names for another world."""
        return replace(self, world=world)


def cast_of(mesh: Mesh, hazards: HazardTable, rules: Rules, table: LinkTable | None = None) -> Cast:
    """World of a layout: in one possible building, or ready for all of them.

    Parameters
    ----------
    mesh : Mesh
        Devices, and the links of one building. [-]
    hazards : HazardTable
        What can strike. [-]
    rules : Rules
        Horizon and routing. [-]
    table : LinkTable or None
        Links of every building, in the place of the mesh's. [-]
    """
    air = mesh.air
    swings = air is not None and air.best_cdb > air.worst_cdb
    if swings and rules.look_around_ms == 0:
        raise ValueError("look_around_ms 0 is for links that do not swing")
    ids = [device.id for device in mesh.devices] if table is None else table.ids
    devices = {id: row for row, id in enumerate(ids)}
    wires = Wires.of_mesh(mesh.links, devices) if table is None else Wires.of_table(table)
    roster = _roster(_acted(hazards, rules), devices, wires, swings)
    world = _world(mesh, roster, wires, rules)
    for row, cells in enumerate(sorted(hazards.cells, key=lambda one: one.device)):
        element = roster.place[cells.death.name]
        world.devices["cells"][devices[cells.device]] = row
        world.elements["cells"][element] = row
        if rules.rounds is not None:
            world.elements["is_service"][roster.place[cells.service.name]] = 1
    cells, courses = _cells(hazards.cells, roster.place)
    world = world._replace(cells=cells, courses=courses)
    return Cast(world, tuple(devices), tuple(wires.ids), roster.order, roster.played)


@dataclass(frozen=True)
class _Roster:
    """Which row is whose.

    Parameters
    ----------
    devices : dict of str to int
        Rows of devices by id. [-]
    order : tuple of Name
        Names of elements by row, the swing of links among them. [-]
    place : dict of Name to int
        The same the other way round. [-]
    played : dict of int to Element
        Elements but for the swing of links, by row. [-]
    targets : list of list of int
        Rows that each element holds. [-]
    """

    devices: dict[str, int]
    order: tuple[Name, ...]
    place: dict[Name, int]
    played: dict[int, Element]
    targets: list[list[int]]

    @property
    def slots(self) -> list[int]:
        """Elements that hold devices: each has a slot in the calendar."""
        return [row for row, one in sorted(self.played.items()) if one.effect in HOLDS_DEVICES]


def _acted(hazards: HazardTable, rules: Rules) -> list[Element]:
    """Everything that strikes, flat batteries and the services of rounds among it."""
    services = hazards.cells if rules.rounds is not None else ()
    deaths = (cells.death for cells in hazards.cells)
    return [*hazards.elements, *deaths, *(cells.service for cells in services)]


def _roster(acted: list[Element], devices: dict[str, int], wires: Wires, swings: bool) -> _Roster:
    links = {id: row for row, id in enumerate(wires.ids)}
    swung = {(SWING, id): link for id, link in links.items()} if swings else {}
    order = tuple(sorted([*(one.name for one in acted), *swung]))
    place = {name: row for row, name in enumerate(order)}
    played = {place[one.name]: one for one in acted}
    targets = []
    for row, name in enumerate(order):
        if row in played:
            known = devices if played[row].effect in HOLDS_DEVICES else links
            targets.append([known[target] for target in played[row].targets if target in known])
        else:
            targets.append([swung[name]])
    return _Roster(devices, order, place, played, targets)


def _world(mesh: Mesh, roster: _Roster, wires: Wires, rules: Rules) -> World:
    """World of these rows, its batteries left out."""
    air, n_devices, n_links, slots = mesh.air, len(roster.devices), len(wires.ids), roster.slots
    n_held = sum(map(len, roster.targets))
    burdens = burdens_of(roster.targets, roster.played, n_links)
    elements, script = _elements(roster)
    elements["slot"][slots] = range(len(slots))
    longest = max(len(roster.order), n_devices, n_links, w.TOLD_COSTS) + 2
    lists = np.zeros((w.N_LISTS, longest), np.int64)
    lists[w.ELEMENT_OF, : len(slots)] = slots
    return World(
        rules=_rules(rules, air, len(slots), n_devices),
        now=rows("now", 1),
        devices=_devices(mesh, roster.devices),
        accounts=rows("accounts", n_devices),
        silences=silences(rules.calls, roster.devices),
        stocks=stocks(rules.calls),
        coming=coming(rules.calls, n_devices),
        links=_links(wires, burdens, elements, roster.place),
        neighbours=rows("neighbours", 2 * n_links),
        elements=elements,
        cells=rows("cells", 0),
        courses=np.zeros((0, 12), np.int64),
        counts=rows("counts", books.CROWDS * (1 + len(mesh.sensors))),
        crowds=np.zeros(2 * books.CROWDS, np.int64),
        durations=_plain(rules.watch.durations_ms),
        lost_since=np.full((books.CROWDS, n_devices * rules.watch.by_sensor), -1, np.int64),
        places=np.array([*chain(*roster.targets), *chain(*burdens)], np.int64),
        weights=_plain([0] * n_held + weights_of(burdens, roster.played, wires.ids)),
        script=script,
        levels=_plain([[0]] if air is None else [air.levels_cdb, *air.common_cdb]),
        curve=_plain([0] if air is None else air.curve.table),
        calendar=np.zeros(2 << _n_slots(len(slots), n_devices, rules).bit_length(), np.int64),
        heap=np.zeros(64 + 4 * n_links + n_devices, np.int64),
        lists=lists,
        depths=np.zeros((n_devices + 1, n_devices), np.int64),
        spells=rows("spells", 256),
        log=rows("log", 0),
    )


def _n_slots(n_elements: int, n_devices: int, rules: Rules) -> int:
    """Number of the calendar's slots: of elements, devices, all else, and of visits and alarms."""
    return n_elements + n_devices + 6 + (0 if rules.calls is None else 2 * n_devices)


def _plain(values: Any) -> Ints:
    return np.array(values, np.int64)  # a copy that may be written, so that types are one


def _elements(roster: _Roster) -> tuple[Any, Ints]:
    """Rows of elements, and their scripted absences and windows end to end."""
    elements = rows("elements", len(roster.order))
    for name in ("slot", "cells", "column", "held", "noted_by"):
        elements[name] = -1
    elements["effect"] = w.IS_SWING
    starts = np.cumsum([0, *map(len, roster.targets)])
    elements["targets_first"], elements["targets_beyond"] = starts[:-1], starts[1:]
    script: list[tuple[int, ...]] = []
    places: dict[int, tuple[int, int]] = {}  # many share the times of one timetable
    for row, one in roster.played.items():
        elements[row] = _element(elements[row], one)
        times = times_of(one.clock)
        if id(times) not in places:
            first = len(script)
            script.extend((*time, 0)[:3] for time in times)
            places[id(times)] = (first, len(script))
        elements["script_first"][row], elements["script_beyond"][row] = places[id(times)]
        elements["is_scripted"][row] = isinstance(one.clock, Scripted)
    for row, (cause, name) in enumerate(roster.order):
        if row not in roster.played:
            elements["key"][row] = element_key("link", name, cause)
    return elements, np.array(script, np.int64).reshape(-1, 3)


def _element(row: Any, one: Element) -> Any:
    row["effect"] = EFFECTS[one.effect]
    clock = one.clock
    if not isinstance(clock, Scripted):
        lasts = clock.lasts if isinstance(clock, Drawn) else clock.repair
        row["strike_shape"], row["strike_scale"], row["strike_slope"] = clock.strikes.numbers
        row["last_shape"], row["last_scale"], row["last_slope"] = lasts.numbers
        row = _reached(row, clock.reach)
    if isinstance(clock, Mended):
        row["is_mended"], row["weak_share"], row["weak_ms"] = 1, clock.weak_share, clock.weak_ms
        row["lived_ms"], row["is_found_down"] = clock.lived_ms, clock.is_found_down
    row["is_lasting"] = one.is_lasting
    row["key"] = element_key(*one.luck)
    column = described(one.cause).column
    if column is not None:
        row["column"] = COLUMNS.index(column)
    return row


def _reached(row: Any, reach: Reach | None) -> Any:
    if reach is not None:
        row["is_shared"], row["event_key"] = 1, element_key(*reach.luck)
        row["event_share"] = reach.share
        row["after_ms"], row["spread_ms"] = reach.after_ms, reach.spread_ms
    return row


def _rules(rules: Rules, air: Air | None, n_slots: int, n_devices: int) -> Any:
    row = rows("rules", 1)
    for name in (
        "horizon_ms", "hysteresis", "look_around_ms", "backups", "rejoin_short_ms",
        "rejoin_long_ms", "reformation_ms", "standby_switch_ms",
    ):  # fmt: skip
        row[name] = getattr(rules, name)
    row["counts_outages"] = rules.count_site_outages
    row["from_first_route"] = rules.watch.from_first_route
    row["by_sensor"] = rules.watch.by_sensor
    row["first_cdbm"] = LOW_CDBM
    row["device_slots"] = n_slots
    first = n_slots + n_devices
    row["gateway_slot"], row["look_slot"], row["link_slot"] = first, first + 1, first + 2
    row["round_slot"], row["stock_slot"] = first + 3, first + 4
    row["visit_slot"], row["alarm_slot"] = first + 6, first + 6 + n_devices
    put_down(row, rules)
    if air is not None:
        row["counts_hops"], row["holds_ms"] = air.counts_hops, air.holds_ms
        row["has_common"], row["mesh_key"] = bool(air.common_cdb), element_key("mesh", "", SWING)
        row["best_cdb"], row["worst_cdb"] = air.best_cdb, air.worst_cdb
        row["swings"], row["least_cdbm"] = air.best_cdb > air.worst_cdb, air.least_cdbm
    return row


def _devices(mesh: Mesh, devices: dict[str, int]) -> Any:
    """Rows of devices; one that the mesh has not is absent."""
    found = rows("devices", len(devices))
    found["cells"] = -1
    found["is_absent"] = 1
    found["repair_key"] = keys(devices, "repair")
    found["swing_key"] = keys(devices, SWING)
    for one in mesh.devices:
        row = found[devices[one.id]]
        row["is_absent"] = 0
        row["is_sensor"] = one.kind is Kind.SENSOR
        row["is_gateway"] = one.kind is Kind.GATEWAY
        row["is_relay"] = one.id in mesh.relays
        row["is_standby"] = one.standby
        row["at_mean"] = one.id in mesh.routed_at_mean
    return found


def _links(wires: Wires, burdens: list[list[int]], elements: Any, place: dict[Name, int]) -> Any:
    found = rows("links", len(wires.ids))
    found["a"], found["b"] = wires.ends.T
    starts = elements["targets_beyond"].max(initial=0) + np.cumsum([0, *map(len, burdens)])
    found["burdens_first"], found["burdens_beyond"] = starts[:-1], starts[1:]
    found["swing"] = [place.get((SWING, id), -1) for id in wires.ids]
    found["key"] = elements["key"][found["swing"]] if len(elements) else 0
    for name, values in wires.columns.items():
        found[name] = values
    return found


def _cells(all_cells: Sequence[Cells], place: dict[Name, int]) -> tuple[Any, Ints]:
    """Rows of batteries, and what stays in the cells in the cold."""
    ordered = sorted(all_cells, key=lambda one: one.device)
    kept = list(dict.fromkeys(one.course.kept for one in ordered if one.course.kept))
    found = rows("cells", len(ordered))
    for row, one in zip(found, ordered, strict=True):
        row["leaf"], row["forwarding"] = one.leaf_na, one.forwarding_na
        row["searching"], row["wastes"] = one.searching_na, one.self_na
        row["course"] = kept.index(one.course.kept) if one.course.kept else -1
        row["course_ms"], row["month_ms"] = one.course.first_ms, one.course.month_ms
        row["element"] = place[one.death.name]
        row["service"] = place.get(one.service.name, -1)
        row["key"] = element_key("device", one.device, "cells")
        row["batch_key"] = element_key(*batch_luck(one.batch))
        row["charge"] = one.mean_charge_na_ms
        row["age_ms"], row["is_measured"] = one.age_ms, one.left_share is not None
        row["left_share"] = one.left_share or 0.0
        row["spread_shape"], row["spread_scale"], row["spread_slope"] = one.spread.numbers
        row["batch_shape"], row["batch_scale"], row["batch_slope"] = one.batch_spread.numbers
    return found, np.array(kept, np.int64).reshape(-1, 12)


def fits(mesh: Mesh, hazards: HazardTable, rules: Rules) -> bool:
    """Whether ids, path costs in the worst state, and times fit into the engine's packed keys.

    Parameters
    ----------
    mesh : Mesh
        The layout in one possible building. [-]
    hazards : HazardTable
        What can strike it. [-]
    rules : Rules
        Horizon and routing. [-]
    """
    n_slots = _n_slots(len(_acted(hazards, rules)), len(mesh.devices), rules)
    if len(mesh.devices) >= MOST_DEVICES or n_slots >= MOST_SLOTS or rules.horizon_ms > LONGEST_MS:
        return False
    extra = sum(one.amount for one in hazards.elements if one.effect is Effect.COST)
    dearest = max((link.path.dearest for link in mesh.links), default=0)
    if mesh.air is not None:
        dearest = max(dearest, mesh.air.dearest)
    return len(mesh.devices) * (dearest + extra) < LARGEST_COST
