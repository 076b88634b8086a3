"""From a mesh and its hazards to arrays, and from the kernel's log back to a record."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from resilience.building.site import Kind
from resilience.connectivity.luck.prospect import DrawnPath
from resilience.connectivity.reception import LOW_CDBM
from resilience.draws import MASK, element_key
from resilience.hazards.elements import Effect, Element
from resilience.hazards.table import HazardTable
from resilience.lifetime.fast import story
from resilience.lifetime.mesh import GivenPath, Luck, Mesh, MeshLink, Rules
from resilience.lifetime.record import (
    LAYOUT,
    RADIO_DRAW,
    Absence,
    History,
    Holder,
    Lifetime,
    ParentChange,
    Record,
    Spell,
)
from resilience.lifetime.state import cells as laws
from resilience.lifetime.state import columns as c

Ints = NDArray[np.int64]

EFFECTS = (Effect.DOWN, Effect.MUTE, Effect.CUT, Effect.LOSS, Effect.COST)
MOST_DEVICES = 1 << 16
LARGEST_COST = 1 << 31
NO_LOG = np.zeros((0, c.LOG_COLUMNS), np.int64)


@dataclass
class Arrays:
    """Everything that the kernel works on, for one layout.

    Names and shapes are those of the kernel; what a column means stands in ``columns``.
    """

    devices: tuple[str, ...]
    links: tuple[str, ...]
    elements: tuple[Element, ...]
    dev: Ints
    acc: Ints
    lnk: Ints
    rad: Ints
    ele: Ints
    bat: Ints
    laws: NDArray[np.float64]
    charges: NDArray[np.float64]
    element_keys: NDArray[np.uint64]
    repair_keys: NDArray[np.uint64]
    cell_keys: NDArray[np.uint64]
    tgt_start: Ints
    tgt: Ints
    script_start: Ints
    script: Ints
    adj_start: Ints
    adj: Ints
    active: Ints
    at_mean: Ints
    curve: Ints
    rules: Ints
    lists: Ints = field(init=False)

    def __post_init__(self) -> None:
        n_sensors = int(self.dev[:, c.SENSOR].sum())
        longest = max(len(self.devices), len(self.links), len(self.elements)) + 1
        self.lists = np.zeros((c.N_LISTS, longest), np.int64)
        self.now = np.zeros(c.NOW_COLUMNS, np.int64)
        self.above_since = np.zeros(n_sensors + 1, np.int64)
        self.longest_ms = np.zeros(n_sensors + 1, np.int64)
        self.count_ms = np.zeros(n_sensors + 1, np.int64)
        self.depths = np.zeros((len(self.devices) + 1, len(self.devices)), np.int64)
        self.spells = np.zeros((256, 5), np.int64)
        slots = 1 << len(self.active).bit_length()
        self.calendar = np.zeros(2 * slots, np.int64)
        self.heap = np.zeros(64 + 4 * len(self.adj), np.int64)
        self.starts = np.zeros(len(self.elements), np.uint64)
        self.repair_starts = np.zeros(len(self.devices), np.uint64)
        self.cell_starts = np.zeros(len(self.bat), np.uint64)


def arrays_of(mesh: Mesh, hazards: HazardTable, rules: Rules) -> Arrays:
    """Arrays of a mesh and of what can strike it."""
    devices = {
        device.id: row for row, device in enumerate(sorted(mesh.devices, key=lambda d: d.id))
    }
    links = sorted(mesh.links, key=lambda link: (link.a, link.b))
    link_rows = {link.id: row for row, link in enumerate(links)}
    deaths = [cells.death for cells in hazards.cells]
    elements = tuple(sorted((*hazards.elements, *deaths), key=lambda element: element.name))
    targets = [_targets(element, devices, link_rows) for element in elements]
    acc = np.zeros((len(devices), c.ACC_COLUMNS), np.int64)
    acc[:, c.CELLS] = -1
    ele, bat = _element_rows(elements), np.zeros((len(hazards.cells), c.BAT_COLUMNS), np.int64)
    charges = np.zeros((len(hazards.cells), laws.CHARGE_COLUMNS))
    for row, cells in enumerate(sorted(hazards.cells, key=lambda one: one.device)):
        device = devices[cells.device]
        element = next(k for k, one in enumerate(elements) if one.name == ("battery", cells.device))
        acc[device, c.CELLS], ele[element, c.CELLS_OF] = row, row
        bat[row, c.LEAF : c.BAT_ELEMENT + 1] = (
            cells.leaf_na,
            cells.forwarding_na,
            cells.searching_na,
            device,
            element,
        )
        charges[row] = (cells.mean_charge_na_ms, *cells.spread.numbers, *cells.repair.numbers)
    adj_start, adj = _adjacency(len(devices), links, devices)
    return Arrays(
        devices=tuple(devices),
        links=tuple(link_rows),
        elements=elements,
        dev=_device_rows(mesh, devices),
        acc=acc,
        lnk=_link_rows(links, devices),
        rad=_radio_rows(links),
        ele=ele,
        bat=bat,
        laws=_law_rows(elements),
        charges=charges,
        element_keys=_keys([element.luck for element in elements]),
        repair_keys=_keys([("device", device, "repair") for device in devices]),
        cell_keys=_keys(
            [
                ("device", one.device, "cells")
                for one in sorted(hazards.cells, key=lambda one: one.device)
            ]
        ),
        tgt_start=_starts(targets),
        tgt=np.array([target for row in targets for target in row], np.int64),
        script_start=_starts([element.away_ms or () for element in elements]),
        script=np.array(
            [times for element in elements for times in element.away_ms or ()], np.int64
        ).reshape(-1, 2),
        adj_start=adj_start,
        adj=adj,
        active=np.arange(len(elements), dtype=np.int64),
        at_mean=np.array([device in mesh.routed_at_mean for device in devices], np.int64),
        curve=_curve(links),
        rules=_rule_row(rules, links),
    )


def _starts(rows: Sequence[Sequence[object]]) -> Ints:
    return np.cumsum([0, *(len(row) for row in rows)], dtype=np.int64)


def _keys(names: list[tuple[str, str, str]]) -> NDArray[np.uint64]:
    return np.array([element_key(*name) for name in names], np.uint64)


def _targets(element: Element, devices: dict[str, int], links: dict[str, int]) -> tuple[int, ...]:
    rows = devices if element.effect in (Effect.DOWN, Effect.MUTE) else links
    return tuple(rows[target] for target in element.targets if target in rows)


def _device_rows(mesh: Mesh, devices: dict[str, int]) -> Ints:
    dev = np.zeros((len(devices), c.DEV_COLUMNS), np.int64)
    for device in mesh.devices:
        row = devices[device.id]
        dev[row, c.SENSOR] = device.kind is Kind.SENSOR
        dev[row, c.GATEWAY] = device.kind is Kind.GATEWAY
        dev[row, c.RELAY] = device.id in mesh.relays
        dev[row, c.STANDBY] = device.standby
    return dev


def _link_rows(links: list[MeshLink], devices: dict[str, int]) -> Ints:
    lnk = np.zeros((len(links), c.LNK_COLUMNS), np.int64)
    for row, link in enumerate(links):
        lnk[row, c.END_A], lnk[row, c.END_B] = devices[link.a], devices[link.b]
        cost = link.path.cost(0)
        lnk[row, c.CALM_COST] = -1 if cost is None else cost
    return lnk


def _radio_rows(links: list[MeshLink]) -> Ints:
    rad = np.zeros((len(links), c.RAD_COLUMNS), np.int64)
    for row, link in enumerate(links):
        if isinstance(link.path, GivenPath):
            rad[row, c.FIXED] = link.path.calm_cost
            continue
        assert isinstance(link.path, DrawnPath)
        rad[row, c.FIXED] = -1
        for k, direction in enumerate((link.path.there, link.path.back)):
            rad[row, c.RSSI_THERE + k] = direction.rssi_cdbm
            rad[row, c.FLOOR_THERE + k] = direction.floor_cdbm
            measured = direction.measured or (-1, 1)
            rad[row, c.MEASURED_THERE + k], rad[row, c.EXPECTED_THERE + k] = measured
    return rad


def _element_rows(elements: tuple[Element, ...]) -> Ints:
    ele = np.zeros((len(elements), c.ELE_COLUMNS), np.int64)
    for row, element in enumerate(elements):
        ele[row, c.EFFECT] = EFFECTS.index(element.effect)
        ele[row, c.AMOUNT] = element.amount
        ele[row, c.MENDED] = element.is_mended and element.away_ms is None
        ele[row, c.RENEWS] = element.renews
        ele[row, c.CELLS_OF] = -1
        ele[row, c.SCRIPTED] = element.away_ms is not None
    return ele


def _law_rows(elements: tuple[Element, ...]) -> NDArray[np.float64]:
    return np.array(
        [
            (*one.strikes.numbers, *one.lasts.numbers, one.weak_share, one.weak_ms)
            for one in elements
        ],
        np.float64,
    ).reshape(-1, laws.LAW_COLUMNS)


def _adjacency(n_devices: int, links: list[MeshLink], devices: dict[str, int]) -> tuple[Ints, Ints]:
    rows: list[list[tuple[int, int]]] = [[] for _ in range(n_devices)]
    for row, link in enumerate(links):
        a, b = devices[link.a], devices[link.b]
        rows[a].append((b, row))
        rows[b].append((a, row))
    adj = np.array([pair for row in rows for pair in sorted(row)], np.int64).reshape(-1, 2)
    return _starts([tuple(row) for row in rows]), adj


def _curve(links: list[MeshLink]) -> Ints:
    for link in links:
        if isinstance(link.path, DrawnPath):
            return link.path.curve.table
    nothing = np.zeros(1, np.int64)
    nothing.flags.writeable = False  # as a curve's table is, or everything would compile twice
    return nothing


def _rule_row(rules: Rules, links: list[MeshLink]) -> Ints:
    drawn = [link.path for link in links if isinstance(link.path, DrawnPath)]
    return np.array(
        [
            rules.horizon_ms,
            rules.hysteresis,
            rules.backups,
            rules.rejoin_short_ms,
            rules.rejoin_long_ms,
            rules.reformation_ms,
            rules.standby_switch_ms,
            rules.count_site_outages,
            drawn[0].min_prr if drawn else 0,
            drawn[0].counts_hops if drawn else 0,
            LOW_CDBM,
        ],
        np.int64,
    )


def play(arrays: Arrays, luck: Luck, log: Ints | None = None) -> Ints:
    """Play one lifetime in place and return its log, of no lines where none is given."""
    a, log = arrays, NO_LOG if log is None else log
    a.ele[:, [c.BLAME_MS, c.BEGAN]] = 0
    story.play(
        np.uint64(luck.seed & MASK), luck.lifetime, a.rules, a.element_keys, a.repair_keys,
        a.cell_keys, a.starts, a.repair_starts, a.cell_starts, a.laws, a.charges, a.active,
        len(a.active), a.tgt_start, a.tgt, a.script_start, a.script, a.adj_start, a.adj, a.dev,
        a.acc, a.lnk, a.rad, a.curve, a.ele, a.bat, a.lists, a.now, a.at_mean, a.above_since,
        a.longest_ms, a.count_ms, a.calendar, a.heap, a.depths, a.spells, log,
    )  # fmt: skip
    n_lines, n_spells = int(a.now[c.LOGGED]), int(a.now[c.N_SPELLS])
    if n_lines <= len(log) and n_spells <= len(a.spells) and not a.now[c.HEAP_IS_FULL]:
        return log[:n_lines]
    # Something was too small to hold this lifetime: play it again with room for it.
    a.spells = np.zeros((max(len(a.spells), 2 * n_spells), 5), np.int64)
    if a.now[c.HEAP_IS_FULL]:
        a.heap = np.zeros(2 * len(a.heap), np.int64)
    return play(a, luck, np.zeros((max(len(log), n_lines), c.LOG_COLUMNS), np.int64))


def record_of(arrays: Arrays, luck: Luck) -> Record:
    """Play one lifetime and return its record."""
    play(arrays, luck)
    return _record(arrays)


def lifetime_of(arrays: Arrays, luck: Luck) -> Lifetime:
    """Play one lifetime and return its record and its history."""
    log = play(arrays, luck, np.zeros((4096, c.LOG_COLUMNS), np.int64))
    lines = [tuple(map(int, line)) for line in log]
    return Lifetime(_record(arrays), _history(arrays, lines))


Lines = list[tuple[int, ...]]


def _record(arrays: Arrays) -> Record:
    sensors = [(row, id) for row, id in enumerate(arrays.devices) if arrays.dev[row, c.SENSOR]]

    def times(column: int) -> dict[str, int]:
        return {id: int(arrays.acc[row, column]) for row, id in sensors}

    def by_holder(column: int, layout: int, radio_draw: int) -> dict[Holder, int]:
        held = {
            element.name: int(arrays.ele[row, column])
            for row, element in enumerate(arrays.elements)
        }
        held[LAYOUT], held[RADIO_DRAW] = int(arrays.now[layout]), int(arrays.now[radio_draw])
        return {holder: value for holder, value in held.items() if value}

    strikes: Counter[str] = Counter()
    for row, element in enumerate(arrays.elements):
        strikes[element.cause] += int(arrays.ele[row, c.STRIKES])
    reparentings = arrays.acc[:, c.REPARENTINGS]
    return Record(
        orphan_ms=times(c.ORPHAN_MS),
        dark_ms=times(c.DARK_MS),
        down_ms=times(c.DOWN_MS),
        interrupted_ms=times(c.INTERRUPTED_MS),
        not_reached_ms=times(c.NOT_REACHED_MS),
        cut_off_ms=times(c.CUT_OFF_MS),
        depth_ms=_depths(arrays),
        count_ms={n: int(ms) for n, ms in enumerate(arrays.count_ms) if ms},
        longest_above_ms=tuple(map(int, arrays.longest_ms[: len(sensors)])),
        reparentings={id: int(n) for id, n in zip(arrays.devices, reparentings, strict=True) if n},
        spells=_spells(arrays),
        blame_ms=by_holder(c.BLAME_MS, c.LAYOUT_MS, c.RADIO_DRAW_MS),
        began=by_holder(c.BEGAN, c.LAYOUT_BEGAN, c.RADIO_DRAW_BEGAN),
        site_outage_ms=int(arrays.now[c.OUTAGE_MS]),
        strikes={cause: n for cause, n in strikes.items() if n},
        site_outages=int(arrays.now[c.OUTAGES]),
        visits=int(arrays.now[c.N_VISITS]),
        cells=int(arrays.now[c.N_CELLS]),
    )


def _depths(arrays: Arrays) -> dict[str, dict[int, int]]:
    return {
        id: {
            int(depth): int(arrays.depths[depth, row])
            for depth in arrays.depths[:, row].nonzero()[0]
        }
        for row, id in enumerate(arrays.devices)
        if arrays.dev[row, c.SENSOR]
    }


def _spells(arrays: Arrays) -> tuple[Spell, ...]:
    spells = [
        Spell(arrays.devices[sensor], start_ms, end_ms, orphan_ms, bool(is_cut))
        for sensor, start_ms, end_ms, orphan_ms, is_cut in arrays.spells[
            : arrays.now[c.N_SPELLS]
        ].tolist()
    ]
    return tuple(sorted(spells, key=lambda spell: (spell.sensor, spell.start_ms)))


def _history(arrays: Arrays, lines: Lines) -> History:
    def id_of(row: int) -> str | None:
        return None if row < 0 else arrays.devices[row]

    first: dict[str, str | None] = {
        id: None for row, id in enumerate(arrays.devices) if not arrays.dev[row, c.GATEWAY]
    }
    parents, absences, outages, struck = [], [], [], {}
    for time_ms, code, one, two, three in lines:
        if code == c.LOG_STRIKE:
            struck[one] = time_ms
        elif code == c.LOG_END:
            absences.append(Absence(arrays.elements[one], struck.pop(one), time_ms))
        elif code == c.LOG_OUTAGE:
            outages.append((one, time_ms))
        elif code == c.LOG_PARENT and time_ms == 0:
            first[arrays.devices[one]] = id_of(three)
        elif code == c.LOG_PARENT:
            parents.append(ParentChange(time_ms, arrays.devices[one], id_of(two), id_of(three)))
    absences.extend(
        Absence(arrays.elements[element], start_ms, None) for element, start_ms in struck.items()
    )
    return History(
        first,
        tuple(sorted(absences, key=lambda one: (one.start_ms, one.element.name))),
        tuple(sorted(parents, key=lambda one: (one.time_ms, one.device))),
        tuple(outages),
    )
