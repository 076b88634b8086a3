"""One possible building: what the drawing does not show, drawn once for two lifetimes.

Nobody knows how lossy a slab really is or what shadows the paths before somebody measures. Each
building draw is one answer; the same place has the same luck in every layout.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from resilience.building.site import Place
from resilience.building.structure import Building
from resilience.connectivity.links import Heard, Link, LinkTable
from resilience.connectivity.reception import (
    COST_PER_TRANSMISSION,
    ReceptionCurve,
    link_cost,
    prr_units,
)
from resilience.hazards.draws import element_key, normal, stream, uniform
from resilience.units import cdb_from_db

LIFETIMES_PER_BUILDING = 2
N_WAVES = 32  # enough for a field that is close to normal; its correlation is exact at any number


@dataclass(frozen=True, slots=True)
class Direction:
    """One direction of a link in one possible building.

    Parameters
    ----------
    rssi_cdbm : int
        Strength when calm. [cdBm]
    floor_cdbm : int
        Weakest strength at which the receiver keeps the link. [cdBm]
    measured : tuple of (int, int) or None
        Measured reception ratio, and what the curve gives at the strength it was measured at, in
        units of 2^-16; None where reception follows from the curve alone. [-]
    """

    rssi_cdbm: int
    floor_cdbm: int
    measured: tuple[int, int] | None

    def prr(self, curve: ReceptionCurve, loss_cdb: int) -> int:
        """Reception ratio under an added loss, in units of 2^-16; 0 below the receiver's floor."""
        rssi_cdbm = self.rssi_cdbm - loss_cdb
        if rssi_cdbm < self.floor_cdbm:
            return 0
        prr = curve.prr(rssi_cdbm)
        if self.measured is None:
            return prr
        measured, expected = self.measured
        return min(prr_units(1.0), measured * prr // expected)


@dataclass(frozen=True, slots=True)
class DrawnPath:
    """A link in one possible building: its cost under any added loss.

    Parameters
    ----------
    curve : ReceptionCurve
        From strength to reception. [-]
    there, back : Direction
        From a to b, and from b to a. [-]
    min_prr : int
        Least reception ratio of a usable direction, in units of 2^-16. [-]
    counts_hops : bool
        Whether every usable link costs the same. [-]
    """

    curve: ReceptionCurve
    there: Direction
    back: Direction
    min_prr: int
    counts_hops: bool

    def cost(self, loss_cdb: int) -> int | None:
        """Cost under an added loss, None where the link is not usable then.

        Parameters
        ----------
        loss_cdb : int
            Loss added to both directions. [cdB]
        """
        there = self.there.prr(self.curve, loss_cdb)
        back = self.back.prr(self.curve, loss_cdb)
        if min(there, back) < self.min_prr:
            return None
        return COST_PER_TRANSMISSION if self.counts_hops else link_cost(there, back)

    @property
    def dearest(self) -> int:
        """Cost that no loss can exceed while the link is usable."""
        return link_cost(self.min_prr, self.min_prr)


Paths = dict[str, DrawnPath]  # by id of the link


def mean_paths(table: LinkTable) -> Paths:
    """Paths of a layout at mean shadowing: the building as predicted.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    return {link.id: _path(table, link, 0.0, 0.0) for link in table.links}


def drawn_paths(table: LinkTable, seed: int, building_draw: int) -> Paths:
    """Paths of a layout in one possible building.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    seed : int
        Seed of the study. [-]
    building_draw : int
        Number of the building draw, from 0. [-]
    """
    luck = _BuildingLuck(table, seed, building_draw)
    return {
        link.id: _path(table, link, luck.shift_db(link), luck.half_difference_db(link))
        for link in table.links
    }


def _path(table: LinkTable, link: Link, shift_db: float, half_difference_db: float) -> DrawnPath:
    return DrawnPath(
        table.curve,
        _direction(table.curve, link.there, shift_db + half_difference_db),
        _direction(table.curve, link.back, shift_db - half_difference_db),
        prr_units(table.routing.min_prr),
        table.routing.objective == "hops",
    )


def _direction(curve: ReceptionCurve, heard: Heard, shift_db: float) -> Direction:
    measured = None
    if heard.prr_measured is not None:
        expected = curve.prr(cdb_from_db(heard.rssi_dbm))
        measured = (prr_units(heard.prr_measured), max(1, expected))
    return Direction(cdb_from_db(heard.rssi_dbm + shift_db), cdb_from_db(heard.floor_dbm), measured)


class _BuildingLuck:
    """The luck of one building draw: a shift in dB for any link of any layout."""

    def __init__(self, table: LinkTable, seed: int, building_draw: int) -> None:
        self._radio = table.radio
        self._building = table.building
        self._devices = {device.id: device for device in table.layout.devices}
        self._seed = seed
        self._draw = building_draw
        waves = _waves(seed, building_draw, table.radio.decorrelation_m)
        self._field = {
            device.id: _field(waves, point_m(table.building, device.place))
            for device in table.layout.devices
            if device.place is not None
        }

    def shift_db(self, link: Link) -> float:
        """Return what this building adds to both directions of a link."""
        own = self._normal("own", self._spot(link))
        if link.measured:
            return self._radio.survey_spread_db * own
        return self._shadowing_db(link, own) - self._construction_db(link) - self._distance_db(link)

    def half_difference_db(self, link: Link) -> float:
        """Return half of what the direction from a to b is stronger by."""
        if link.measured:
            return 0.0
        first = self._devices[link.a].place
        sign = 1.0 if self._text(first) <= self._text(self._devices[link.b].place) else -1.0
        spread_db = self._radio.direction_difference_db
        return sign * spread_db * self._normal("difference", self._spot(link)) / 2

    def _shadowing_db(self, link: Link, own: float) -> float:
        """Part shared with links close by, part of the two places alone."""
        is_drawn = self._building.is_drawn
        spread_db = self._radio.shadowing_drawn_db if is_drawn else self._radio.shadowing_undrawn_db
        assert link.distance_m is not None
        alike = math.exp(-link.distance_m / self._radio.decorrelation_m)
        shared = (self._field[link.a] + self._field[link.b]) / math.sqrt(2 * (1 + alike))
        share = self._radio.shadowing_shared
        return spread_db * (math.sqrt(share) * shared + math.sqrt(1 - share) * own)

    def _construction_db(self, link: Link) -> float:
        """How much more than predicted the constructions in the way cost, never below nothing."""
        extra_db = 0.0
        for hindrance in link.hindrances:
            spread_db = self._building.construction(hindrance.construction).spread_db
            offset_db = spread_db * self._normal("construction", hindrance.construction)
            extra_db += max(-hindrance.loss_db, offset_db)
        return extra_db

    def _distance_db(self, link: Link) -> float:
        """How much more than predicted the distance costs."""
        assert link.distance_m is not None
        power = self._radio.distance_power_spread * self._normal("distance", "")
        return power * math.log10(max(1.0, link.distance_m))

    def _normal(self, what: str, which: str) -> float:
        key = element_key("building", which, what)
        return normal(uniform(stream(self._seed, self._draw, key), 0))

    def _spot(self, link: Link) -> str:
        """Name the pair of places, or of devices where nobody placed them."""
        ends = (self._devices[link.a], self._devices[link.b])
        return "|".join(sorted(self._text(end.place) or end.id for end in ends))

    @staticmethod
    def _text(place: Place | None) -> str:
        """Name a place to the nearest 0.1 m: what is moved less keeps its luck."""
        if place is None:
            return ""
        x_m, y_m, height_m = (
            round(value_m, 1) + 0.0  # turns -0.0 into 0.0
            for value_m in (place.x_m, place.y_m, place.height_m)
        )
        return f"{place.level}:{x_m},{y_m},{height_m}"


def point_m(building: Building, place: Place) -> tuple[float, float, float]:
    """Position in space, the height counted from the site's zero.

    Parameters
    ----------
    building : Building
        Knows the floors. [-]
    place : Place
        Where something hangs. [-]
    """
    return (place.x_m, place.y_m, building.level(place.level).floor_m + place.height_m)


Wave = tuple[float, float, float, float]


@lru_cache(maxsize=8)
def _waves(seed: int, building_draw: int, decorrelation_m: float) -> tuple[Wave, ...]:
    """Random plane waves whose sum over space has the correlation exp(-d / decorrelation)."""
    # MODELS.md, "shadowing field": Rahimi and Recht 2007, random Fourier features. The spectrum of
    # the exponential correlation is a three-dimensional Cauchy law: a normal vector divided by the
    # size of one more normal number.
    start = stream(seed, building_draw, element_key("building", "", "field"))
    waves = []
    for wave in range(N_WAVES):
        x, y, z, w = (normal(uniform(start, 5 * wave + part)) for part in range(4))
        length = max(abs(w), 1e-9) * decorrelation_m
        phase = 2 * math.pi * uniform(start, 5 * wave + 4)
        waves.append((x / length, y / length, z / length, phase))
    return tuple(waves)


def _field(waves: tuple[Wave, ...], point: tuple[float, float, float]) -> float:
    """Value of the field at a point: mean 0, variance 1 over building draws."""
    x, y, z = point
    total = math.fsum(math.cos(kx * x + ky * y + kz * z + phase) for kx, ky, kz, phase in waves)
    return math.sqrt(2 / len(waves)) * total
