"""On what a layout hangs: the things that take most of its hours, how often, and its cells."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from resilience.building.site import Kind, Layout
from resilience.building.structure import Building
from resilience.hazards.causes import described
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Holder
from resilience.montecarlo.figures import CellLife
from resilience.montecarlo.study import Study
from resilience.report.words import times_a_year, worded

NOBODYS = {LAYOUT: "no way as drawn", RADIO_DRAW: "paths weaker than predicted"}
HUB_SHARE = 0.7  # of the months that cells of most sensors last


@dataclass(frozen=True, slots=True)
class Dependence:
    """Something that a layout's hours hang on.

    Parameters
    ----------
    name : str
        The thing, in words. [-]
    happens : str
        What takes it away, and how often a year; empty where nothing does. [-]
    hours : float
        Hours per sensor-year put down to it. [h/year]
    share : float
        Part of all such hours of the layout. [-]
    """

    name: str
    happens: str
    hours: float
    share: float


def dependences(
    study: Study, blame: Mapping[Holder, float], building: Building
) -> tuple[Dependence, ...]:
    """Return what a layout's hours hang on, the heaviest first.

    Parameters
    ----------
    study : Study
        Of the layout. [-]
    blame : mapping of Holder to float
        Hours per sensor-year by what held them. [h/year]
    building : Building
        Where doors and obstacles are drawn. [-]
    """
    things: dict[str, dict[Holder, float]] = defaultdict(dict)
    for holder, hours in blame.items():
        things[told_of(holder, Telling.THING, building)][holder] = hours
    total = sum(blame.values())
    found = [
        Dependence(
            name,
            happens_words(study, holders, building),
            sum(holders.values()),
            sum(holders.values()) / total,
        )
        for name, holders in things.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.hours, one.name)))


class Telling(StrEnum):
    """Which sentence of a cause is told; what no cause takes has the same words in all of them."""

    THING = "thing"
    REASON = "reason"
    OCCASION = "occasion"


def told_of(holder: Holder, telling: Telling, building: Building) -> str:
    """What hours are put down to, as one of the sentences of its cause tells it.

    Parameters
    ----------
    holder : Holder
        Cause and id. [-]
    telling : Telling
        Which sentence. [-]
    building : Building
        Where doors and obstacles are drawn. [-]
    """
    if (holder[0], "") in NOBODYS:
        for_ = "for " * (telling is Telling.OCCASION)
        return f"{for_}{NOBODYS[holder[0], '']}"
    return worded(getattr(described(holder[0]), telling), holder, building)


def state_words(holder: Holder, building: Building) -> str:
    """What takes a thing away that hours are put down to; empty where nothing does.

    Parameters
    ----------
    holder : Holder
        Cause and id. [-]
    building : Building
        Where doors and obstacles are drawn. [-]
    """
    if (holder[0], "") in NOBODYS:
        return ""
    return worded(described(holder[0]).state, holder, building)


def happens_words(study: Study, holders: Mapping[Holder, float], building: Building) -> str:
    """What takes a thing away, the heaviest first, with times a year where that is known.

    Parameters
    ----------
    study : Study
        Of the layout. [-]
    holders : mapping of Holder to float
        Hours by cause. [h/year]
    building : Building
        Where doors and obstacles are drawn. [-]
    """
    told = []
    for holder in sorted(holders, key=lambda one: -holders[one]):
        if not (state := state_words(holder, building)):
            continue
        n = study.strikes_per_year.get(holder)
        told.append(state if n is None else f"{state} {times_a_year(n)}")
    return ", ".join(told)


@dataclass(frozen=True, slots=True)
class FirstCells:
    """Cells that go before others.

    Parameters
    ----------
    device : str
        Id. [-]
    life : CellLife
        How long they last. [-]
    is_hub : bool
        Whether it is a sensor that carries much for others. [-]
    """

    device: str
    life: CellLife
    is_hub: bool


def first_cells(study: Study, layout: Layout, most: int) -> tuple[FirstCells, ...]:
    """Return the devices whose cells go first.

    Parameters
    ----------
    study : Study
        Of the layout. [-]
    layout : Layout
        What is installed. [-]
    most : int
        How many. [-]
    """
    lives = study.cell_lives
    sensors = {device.id for device in layout.of_kind(Kind.SENSOR)} & set(lives)
    usual = median([lives[id].mean_months for id in sensors]) if sensors else 0.0
    return tuple(
        FirstCells(id, life, id in sensors and life.mean_months < HUB_SHARE * usual)
        for id, life in list(lives.items())[:most]
    )
