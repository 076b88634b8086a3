"""What cells hold and lose: charge by temperature, self-discharge, spread within a batch."""

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from resilience.building.models import BatteryProfile, Chemistry
from resilience.building.settings import Battery
from resilience.building.site import Device, Site
from resilience.hazards.elements import Cells, Course
from resilience.hazards.laws import Law, factor
from resilience.units import (
    HOURS_PER_YEAR,
    MS_PER_DAY,
    MS_PER_MONTH,
    NA_MS_PER_MAH,
    NA_PER_MA,
    NA_PER_UA,
)

ROOM_C = 20.0  # what capacities and self-discharge are stated for
COLD_C, FROST_C = 0.0, -20.0  # where profiles say what is left
LEAST_SHARE = 0.05  # of the charge of 20 C, however cold
ALL_YEAR_20_C = (ROOM_C,) * 12
THOUSAND = 1000


def cells_of(site: Site, devices: tuple[Device, ...], repair: Law) -> Iterator[Cells]:
    """Yield the battery of each device that has one, unless that hazard is off.

    Parameters
    ----------
    site : Site
        States the hazard, and the day that lifetimes begin. [-]
    devices : tuple of Device
        In order of id. [-]
    repair : Law
        From death to new cells. [ms]
    """
    hazard = site.hazards.battery
    if hazard is None:
        return
    alone = factor(hazard.spread)
    within, shared = batch_spreads(hazard)
    first_ms = year_over_ms(site.begins)
    for device in devices:
        if device.battery is not None:
            plain = Cells(
                device.id,
                usable_mah(device, warmest=True) * NA_MS_PER_MAH,
                alone,
                leaf_na=round(device.model.drawn_leaf_ua * NA_PER_UA),
                forwarding_na=round(device.model.drawn_forwarding_ua * NA_PER_UA),
                searching_na=round(device.model.searching_ua * NA_PER_UA),
                repair=repair,
                self_na=self_discharge_na(device.battery, device.by_month_c),
                course=course_of(device.battery, device.by_month_c, first_ms),
                age_ms=site.standing.cells_age_ms(device.id),
                left_share=site.standing.left_share(device.id),
            )
            if device.batch:
                yield replace(plain, spread=within, batch=device.batch, batch_spread=shared)
            else:
                yield plain


def usable_mah(device: Device, warmest: bool = False) -> float:
    """Charge of average cells of a device on cells, in its coldest month or in its warmest.

    Parameters
    ----------
    device : Device
        It has a battery. [-]
    warmest : bool
        Whether the warmest month counts instead of the coldest, in which cells die. [-]
    """
    battery = device.battery
    assert battery is not None
    shares = month_shares(battery, device.by_month_c)
    return battery.capacity_mah * battery.usable_share * (max if warmest else min)(shares)


def month_shares(cells: Chemistry, by_month_c: tuple[float, ...]) -> tuple[float, ...]:
    """Share of the usable charge of 20 C that can be had in each month.

    Parameters
    ----------
    cells : Chemistry
        What they are. [-]
    by_month_c : tuple of float
        Temperatures from January on; empty means 20 C. [C]
    """
    return tuple(share_at(cells, month_c) for month_c in by_month_c or ALL_YEAR_20_C)


def share_at(cells: Chemistry, temperature_c: float) -> float:
    """Share of the usable charge of 20 C that can be had at a temperature.

    Parameters
    ----------
    cells : Chemistry
        What they are. [-]
    temperature_c : float
        At the cells. [C]
    """
    # MODELS.md, "charge in the cold": straight lines through the three points, the colder one
    # drawn on below -20 C.
    cold, frost = cells.at_0_c_share, cells.at_minus_20_c_share
    if temperature_c >= COLD_C:
        share = cold + (1 - cold) * (temperature_c - COLD_C) / (ROOM_C - COLD_C)
    else:
        share = frost + (cold - frost) * (temperature_c - FROST_C) / (COLD_C - FROST_C)
    return max(LEAST_SHARE, min(1.0, share))


def course_of(cells: Chemistry, by_month_c: tuple[float, ...], first_ms: int) -> Course:
    """What stays in the cells in the cold, compared with the warmest month.

    Parameters
    ----------
    cells : Chemistry
        What they are. [-]
    by_month_c : tuple of float
        Temperatures from January on; empty means 20 C. [C]
    first_ms : int
        How much of a year is over at hand-over. [ms]
    """
    shares = month_shares(cells, by_month_c)
    kept = tuple(round(THOUSAND * (1 - share / max(shares))) for share in shares)
    return Course(kept, first_ms) if any(kept) else Course()


def self_discharge_na(battery: BatteryProfile, by_month_c: tuple[float, ...]) -> int:
    """Current that stands for self-discharge, the same all year.

    Parameters
    ----------
    battery : BatteryProfile
        What the cells are. [-]
    by_month_c : tuple of float
        Temperatures from January on; empty means 20 C. [C]
    """
    # MODELS.md, "self-discharge": linear, of the nameplate; the year's mean of its warmth.
    months = [
        2 ** ((month_c - ROOM_C) / battery.doubling_c) for month_c in by_month_c or ALL_YEAR_20_C
    ]
    warmth = math.fsum(months) / len(months)
    per_h = battery.self_discharge_per_year * warmth / HOURS_PER_YEAR
    return round(battery.capacity_mah * NA_PER_MA * per_h)


def batch_spreads(hazard: Battery) -> tuple[Law, Law]:
    """Factors on the charge of cells: within a batch, and of the batch as a whole.

    Parameters
    ----------
    hazard : Battery
        Spread of all cells, and what those of a batch have in common of it. [-]
    """
    # MODELS.md, "cell spread": the product of two independent factors of mean 1 has
    # 1 + CV^2 = (1 + CV within^2) (1 + CV batch^2).
    shared = hazard.batch_share * hazard.spread**2
    within = (1 + hazard.spread**2) / (1 + shared) - 1
    return factor(math.sqrt(max(0.0, within))), factor(math.sqrt(shared))


def year_over_ms(day: date) -> int:
    """How much of a year of twelve months alike is over on a day.

    Parameters
    ----------
    day : date
        Of the calendar. [-]
    """
    into_month_ms = min((day.day - 1) * MS_PER_DAY, MS_PER_MONTH - 1)
    return (day.month - 1) * MS_PER_MONTH + into_month_ms
