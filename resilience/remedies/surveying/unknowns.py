"""What nobody knows of a building and somebody could measure, with what played buildings had of it.

What is told of each building is what a measurement would show, its error included.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from resilience.connectivity.luck.buildings import luck_in_buildings
from resilience.connectivity.luck.prospect import DISTANCE_KEY, constructions_met, prospect
from resilience.connectivity.luck.routes import Flags, Ints, forwards, spares_in_buildings
from resilience.connectivity.luck.spreads import spreads_db
from resilience.connectivity.reception import FULL
from resilience.connectivity.table import Floats, LinkTable
from resilience.draws import element_key

MOST_LINKS = 300  # candidates, those nearest to the limit first
REACH = 2.5  # spreads from the limit, beyond which hardly a building makes a difference
PATHS_MEASURED = 5  # through a construction, before its loss is told from the luck of each path
CDB_PER_DB = 100
FIRST_DB = 6.0  # margin below which the swing closes a link at times


class Kind(StrEnum):
    """What could be measured."""

    LINK = "link"
    CONSTRUCTION = "construction"
    DISTANCE = "distance"


@dataclass(frozen=True, slots=True)
class Expected:
    """What whoever measures a link will probably find, in the weaker direction.

    Parameters
    ----------
    rssi_dbm, spread_db : float
        Strength, and one standard deviation. [dBm, dB]
    prr, low_prr, high_prr : float
        Reception ratio there, and a standard deviation below and above. [-]
    """

    rssi_dbm: float
    spread_db: float
    prr: float
    low_prr: float
    high_prr: float


@dataclass(frozen=True, slots=True)
class Unknown:
    """Something that could be measured.

    Parameters
    ----------
    kind : Kind
        What it is. [-]
    id : str
        Of the link; name of the construction; empty for the distance law. [-]
    levels : tuple of str
        Levels of the two ends, the same once; empty for what is no link. [-]
    expected : Expected or None
        What will probably be found; None for what is no link. [-]
    """

    kind: Kind
    id: str
    levels: tuple[str, ...] = ()
    expected: Expected | None = None


@dataclass(frozen=True, eq=False)
class Told:
    """An unknown, and what each building would show of it.

    Parameters
    ----------
    unknown : Unknown
        What it is. [-]
    values_db : Floats
        Margin of the link, or extra loss, as measured in each building, shape (buildings,). [dB]
    limits_db : tuple of float
        Where what follows from it bends; none where it is straight. [dB]
    """

    unknown: Unknown
    values_db: Floats
    limits_db: tuple[float, ...]


def told_of(table: LinkTable, seed: int, n_buildings: int) -> Iterator[Told]:
    """Yield what could be measured of a layout.

    Parameters
    ----------
    table : LinkTable
        Its links. [-]
    seed : int
        Seed of the study. [-]
    n_buildings : int
        Building draws from the first on. [-]
    """
    yield from _links(table, seed, n_buildings)
    radio, lots = table.radio, prospect(table).lots
    error_db = np.hypot(radio.shadowing_drawn_db, radio.survey_spread_db) / PATHS_MEASURED**0.5
    names = constructions_met(table)
    offsets_db = lots.construction_spread_db * luck_in_buildings(
        seed, n_buildings, lots.construction_keys
    )
    for place, name in enumerate(names):
        if lots.construction_spread_db[place] > 0:
            error = error_db * _errors(seed, n_buildings, [f"through {name}"])[:, 0]
            yield Told(Unknown(Kind.CONSTRUCTION, name), offsets_db[:, place] + error, ())
    if lots.power_spread > 0 and not table.is_measured.all():
        key = np.array([DISTANCE_KEY], np.uint64)
        power = lots.power_spread * luck_in_buildings(seed, n_buildings, key)[:, 0]
        yield Told(Unknown(Kind.DISTANCE, ""), power, ())


def _errors(seed: int, n_buildings: int, names: list[str]) -> Floats:
    """Errors of measuring, in standard deviations, shape (buildings, names)."""
    keys = np.array([element_key("survey", name, "error") for name in names], np.uint64)
    found: Floats = luck_in_buildings(seed, n_buildings, keys)
    return found


def _links(table: LinkTable, seed: int, n_buildings: int) -> Iterator[Told]:
    spread_db = spreads_db(table)
    rows = _candidates(table, spread_db)
    if not len(rows):
        return
    few = table.taken(rows)
    margins_db = spares_in_buildings(few, seed, n_buildings) / CDB_PER_DB
    errors = _errors(seed, n_buildings, list(few.link_ids))
    measured_db = margins_db + table.radio.survey_spread_db * errors
    for place, row in enumerate(rows.tolist()):
        unknown = Unknown(
            Kind.LINK,
            few.link_ids[place],
            _levels(few, place),
            _expected(table, row, float(spread_db[row])),
        )
        yield Told(unknown, measured_db[:, place], (0.0, FIRST_DB))


def _candidates(table: LinkTable, spread_db: Floats) -> Ints:
    """Rows of predicted links that some buildings have and others lack, in order."""
    passes = forwards(table)
    serves: Flags = ~table.is_measured & passes[table.ends].any(axis=1) & (spread_db > 0)
    apart = np.abs(table.margins_db) / np.maximum(spread_db, 1e-9)
    rows = np.flatnonzero(serves & (apart <= REACH))
    kept: Ints = np.sort(rows[np.argsort(apart[rows], kind="stable")[:MOST_LINKS]])
    return kept


def _levels(table: LinkTable, row: int) -> tuple[str, ...]:
    places = [table.devices[end].place for end in table.ends[row].tolist()]
    order = [level.id for level in table.building.levels]
    names = {place.level for place in places if place is not None}
    return tuple(sorted(names, key=order.index))


def _expected(table: LinkTable, row: int, spread_db: float) -> Expected:
    heard_dbm = float(table.heard_dbm[row].min())
    around_dbm = (heard_dbm, heard_dbm - spread_db, heard_dbm + spread_db)
    shares = (table.curve.prr(round(CDB_PER_DB * one)) / FULL for one in around_dbm)
    return Expected(float(table.rssi_dbm[row].min()), spread_db, *shares)
