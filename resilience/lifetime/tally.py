"""What lifetimes add up to: a short row for each, and exact sums for sensors and elements."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.hazards.causes import counted_columns, described
from resilience.lifetime.record import (
    COUNTED,
    DURATIONS_H,
    USUAL_WATCH,
    Holder,
    Record,
    Watch,
)

Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]

COLUMNS = (
    "orphan_ms",
    "dark_ms",
    "down_ms",
    "cut_off_ms",
    "not_reached_ms",
    "interrupted_ms",
    "site_outage_ms",
    "routed_ms",  # over sensors, time with a route
    "depth_ms",  # the same weighted with hop depth
    "deepest",
    "most_orphans",
    "reparentings",
    "unreached",  # sensors that never had a route
    *counted_columns(),  # strikes of what holds devices
    "visits",
    "cells",
    "fruitless",  # visits among them that mended nothing
    "worked_ms",  # by visits to sensors and repeaters, and by services
    "resurveys",  # visits among them that ended a lasting change
    "devices",  # sensors and repeaters replaced, then gateways
    "gateways",
    "rounds",  # that renewed any cells
    *(f"most_{counted}_beyond_{place}" for counted in COUNTED for place in range(len(DURATIONS_H))),
)  # the last ones: largest numbers lost at once for longer than each duration of a watch

BY_HOLDER = ("blame_ms", "began", "early_blame_ms", "struck")
SENSOR_FIGURES = ("orphan_ms", "dark_ms", "down_ms", "not_reached_ms")


def row_of(record: Record, watch: Watch = USUAL_WATCH) -> tuple[int, ...]:
    """Row of one lifetime, in the order of ``COLUMNS``.

    Parameters
    ----------
    record : Record
        What the lifetime left. [-]
    watch : Watch
        Durations that its last columns stand for. [-]
    """
    depths = [
        (depth, time_ms) for times in record.depth_ms.values() for depth, time_ms in times.items()
    ]
    row = {
        "orphan_ms": sum(record.orphan_ms.values()),
        "dark_ms": sum(record.dark_ms.values()),
        "down_ms": sum(record.down_ms.values()),
        "cut_off_ms": sum(record.cut_off_ms.values()),
        "not_reached_ms": sum(record.not_reached_ms.values()),
        "interrupted_ms": sum(record.interrupted_ms.values()),
        "site_outage_ms": record.site_outage_ms,
        "routed_ms": sum(time_ms for _, time_ms in depths),
        "depth_ms": sum(depth * time_ms for depth, time_ms in depths),
        "deepest": max((depth for depth, _ in depths), default=0),
        "most_orphans": record.most_orphans,
        "reparentings": sum(record.reparentings.values()),
        "unreached": len(record.unreached),
        "visits": record.visits,
        "cells": record.cells,
        "fruitless": record.fruitless,
        "worked_ms": record.worked_ms,
        "resurveys": record.resurveys,
        "devices": record.devices,
        "gateways": record.gateways,
        "rounds": record.rounds,
    } | dict.fromkeys(counted_columns(), 0)
    for counted in COUNTED:
        for place, duration_ms in enumerate(watch.durations_ms):
            row[f"most_{counted}_beyond_{place}"] = record.most_beyond(counted, duration_ms)
    for cause, n in record.strikes.items():
        column = described(cause).column
        if column is not None:
            row[column] += n
    return tuple(row[column] for column in COLUMNS)


@dataclass(frozen=True, slots=True)
class SensorSums:
    """Exact sums of one figure of one sensor over building draws.

    Parameters
    ----------
    total : int
        Sum over lifetimes. [ms]
    squares : int
        Sum of the squares of what the two lifetimes of a building add up to. [ms^2]
    """

    total: int
    squares: int

    def __add__(self, other: "SensorSums") -> "SensorSums":
        return SensorSums(self.total + other.total, self.squares + other.squares)


@dataclass(frozen=True, slots=True)
class DrainSums:
    """What a device on cells drew on average in lifetimes in which it was ever up.

    Parameters
    ----------
    n_lifetimes : int
        Number of them. [-]
    total, least, most : int
        Sum, least and largest of their means. [nA]
    """

    n_lifetimes: int
    total: int
    least: int
    most: int

    def __add__(self, other: "DrainSums") -> "DrainSums":
        return DrainSums(
            self.n_lifetimes + other.n_lifetimes,
            self.total + other.total,
            min(self.least, other.least),
            max(self.most, other.most),
        )


class Rows(Protocol):
    """What a table of rows can do, packed or not."""

    def __len__(self) -> int: ...

    def __getitem__(self, where: tuple[slice, int], /) -> Ints: ...


Part = tuple[Bytes, ...]  # one array for each column, shape (lifetimes, bytes of a value)


@dataclass(frozen=True, slots=True)
class PackedRows:
    """Rows of whole numbers, each column of each part in as few bytes as its values need.

    A million lifetimes of one layout take 82 MB instead of 432 (the seed library), and a study
    holds all of its layouts. Joining them round by round takes no longer than it would unpacked.

    Parameters
    ----------
    parts : tuple of Part
        They follow each other. [ms or -]
    """

    parts: tuple[Part, ...]

    def __len__(self) -> int:
        return sum(len(part[0]) for part in self.parts)

    def __getitem__(self, where: tuple[slice, int]) -> Ints:
        lifetimes, column = where
        return np.concatenate([_unpacked(part[column]) for part in self.parts])[lifetimes]

    def tolist(self) -> list[list[int]]:
        """Return the rows as lists, as an array would."""
        columns = [self[:, column] for column in range(len(COLUMNS))]
        whole: list[list[int]] = np.stack(columns, axis=1).tolist()
        return whole


def _packed(values: Ints) -> Bytes:
    """Lowest bytes of whole numbers, as many as the largest needs; all eight if one is below 0."""
    n_bytes = 8 if values.min() < 0 else (int(values.max()).bit_length() + 7) // 8
    return values.astype("<i8").view(np.uint8).reshape(-1, 8)[:, :n_bytes].copy()


def _unpacked(packed: Bytes) -> Ints:
    whole = np.zeros((len(packed), 8), np.uint8)
    whole[:, : packed.shape[1]] = packed
    return whole.view("<i8").reshape(-1).astype(np.int64)


@dataclass(frozen=True, slots=True)
class Tally:
    """Lifetimes first, first + 1, ... of one layout, added up; whole building draws only.

    Parameters
    ----------
    first : int
        Number of the first lifetime. [-]
    rows : Ints or PackedRows
        Shape (lifetimes, columns), columns as in ``COLUMNS``. [ms or -]
    sensors : dict of (str, str) to SensorSums
        By figure of ``SENSOR_FIGURES`` and sensor. [ms]
    blame_ms, began : Counter of Holder
        Orphan time by what held it; spells by what began them. [ms, -]
    early_blame_ms : Counter of Holder
        The part of ``blame_ms`` that came before a sensor's first route. [ms]
    struck : Counter of Holder
        Strikes of each element that holds devices. [-]
    drains : dict of str to DrainSums
        Draws of devices on cells. [nA]
    """

    first: int
    rows: Rows
    sensors: dict[tuple[str, str], SensorSums]
    blame_ms: Counter[Holder]
    began: Counter[Holder]
    early_blame_ms: Counter[Holder] = field(default_factory=Counter)
    struck: Counter[Holder] = field(default_factory=Counter)
    drains: dict[str, DrainSums] = field(default_factory=dict)

    @property
    def n_lifetimes(self) -> int:
        """Number of lifetimes."""
        return len(self.rows)

    def column(self, name: str) -> Ints:
        """One column over lifetimes, shape (lifetimes,)."""
        return self.rows[:, COLUMNS.index(name)]

    def per_building(self, name: str) -> Ints:
        """One column summed over the lifetimes of each building, shape (buildings,)."""
        return self.column(name).reshape(-1, LIFETIMES_PER_BUILDING).sum(axis=1)


def tallied(first: int, records: Sequence[Record], watch: Watch = USUAL_WATCH) -> Tally:
    """Tally of some lifetimes in a row.

    Parameters
    ----------
    first : int
        Number of the first; even. [-]
    records : sequence of Record
        What they left; an even number of them. [-]
    watch : Watch
        Durations that the last columns of rows stand for. [-]
    """
    sensors: dict[tuple[str, str], SensorSums] = {}
    by_holder: dict[str, Counter[Holder]] = {name: Counter() for name in BY_HOLDER}
    drains: dict[str, DrainSums] = {}
    for record in records:
        for name, sums in by_holder.items():
            sums.update(getattr(record, name))
        _add(drains, {id: DrainSums(1, na, na, na) for id, na in record.drain_na.items()})
    for figure in SENSOR_FIGURES:
        by_lifetime: list[dict[str, int]] = [getattr(record, figure) for record in records]
        for sensor in by_lifetime[0]:
            buildings = [
                sum(times[sensor] for times in by_lifetime[start : start + LIFETIMES_PER_BUILDING])
                for start in range(0, len(records), LIFETIMES_PER_BUILDING)
            ]
            squares = sum(time_ms**2 for time_ms in buildings)
            sensors[figure, sensor] = SensorSums(sum(buildings), squares)
    rows = np.array([row_of(record, watch) for record in records], dtype=np.int64)
    return Tally(first, rows, sensors, drains=drains, **by_holder)


def joined(tallies: Iterable[Tally]) -> Tally:
    """One tally of several that follow each other, whatever order they come in.

    Parameters
    ----------
    tallies : iterable of Tally
        At least one. [-]
    """
    ordered = sorted(tallies, key=lambda tally: tally.first)
    sensors: dict[tuple[str, str], SensorSums] = {}
    drains: dict[str, DrainSums] = {}
    by_holder: dict[str, Counter[Holder]] = {name: Counter() for name in BY_HOLDER}
    for tally in ordered:
        _add(sensors, tally.sensors)
        _add(drains, tally.drains)
        for name, counts in by_holder.items():
            counts.update(getattr(tally, name))
    rows = PackedRows(tuple(_parts(tally.rows for tally in ordered)))
    return Tally(ordered[0].first, rows, sensors, drains=drains, **by_holder)


Key = TypeVar("Key")
Value = TypeVar("Value", SensorSums, DrainSums)


def _add(sums: dict[Key, Value], more: Mapping[Key, Value]) -> None:
    """Add to each sum what else there is of it."""
    for key, value in more.items():
        sums[key] = sums[key] + value if key in sums else value


def _parts(tables: Iterable[Rows]) -> Iterator[Part]:
    """Yield parts that are packed already, and what stands between them packed into one each."""
    for is_packed, run in groupby(tables, lambda rows: isinstance(rows, PackedRows)):
        if is_packed:
            yield from (part for rows in run if isinstance(rows, PackedRows) for part in rows.parts)
        else:
            plain = list(run)
            yield tuple(
                _packed(np.concatenate([rows[:, column] for rows in plain]))
                for column in range(len(COLUMNS))
            )
