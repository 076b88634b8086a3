"""What can take something away: each cause described once, for all who draw, count or tell it.

A sentence is a pattern. It may name ``{id}``, ``{cause}``, the two ends of a link as ``{ends}`` (A
and B) or ``{path}`` (A to B), and of a door or obstacle its name and what it does: ``{thing}``,
``{Thing}``, ``{begins}``, ``{stops}``, ``{state}``. Where it strikes and ends, ``{devices}`` are
all that is held; a sentence with that and without ``{id}`` is told once of all that it fits.
"""

from dataclasses import dataclass
from enum import StrEnum


class Effect(StrEnum):
    """What an absence does while it lasts."""

    DOWN = "down"  # the device has failed
    MUTE = "mute"  # the device forwards but does not measure
    CUT = "cut"  # the link carries nothing
    LOSS = "loss"  # the link loses strength, in hundredths of a dB
    COST = "cost"  # the link's cost rises, in 1/128 transmission


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause. Nothing but its name is needed: it then gets plain words and is not counted.

    Parameters
    ----------
    name : str
        As in rows of hazards, in blame and in the keys of draws. [-]
    effect : Effect
        What an absence does while it lasts. [-]
    struck, ended : str
        Sentences for when it strikes and when that is over. [-]
    noun, nouns : str
        One strike and several, to be counted; an ``s`` is added where nouns is empty. [-]
    reason : str
        What hours are put down to, in a table; causes with equal patterns are one reason. [-]
    occasion : str
        The same in a sentence: when such hours come. [-]
    thing : str
        Name of what is then away, whatever the cause. [-]
    state : str
        What is then said of the thing, before ``times a year``. [-]
    column : str or None
        Column of a lifetime's row that counts strikes; only what holds devices is counted. [-]
    luck : str or None
        Kind of the key of its draws; None: ``link`` or ``device``, as the id says. [-]
    """

    name: str
    effect: Effect = Effect.DOWN
    struck: str = "{id} went away ({cause})."
    ended: str = "{id} is back ({cause})."
    noun: str = "{cause}"
    nouns: str = ""
    reason: str = "{id} away"
    occasion: str = "while {id} is away"
    thing: str = "{id}"
    state: str = "{cause}"
    column: str | None = None
    luck: str | None = None


HARDWARE = Cause(
    "hardware",
    struck="{id} failed (hardware).",
    ended="{id} was replaced.",
    noun="device failure",
    state="fails",
    column="device_failures",
)
BATTERY = Cause(
    "battery",
    struck="The battery of {id} is flat.",
    ended="{id} has new cells.",
    noun="flat battery",
    nouns="flat batteries",
    state="cells flat",
    column="battery_deaths",
)
GATEWAY_OUTAGE = Cause(
    "gateway_outage",
    struck="{id} went down (supply, network or computer).",
    ended="{id} is back.",
    noun="gateway outage",
    state="no supply, network or computer",
    column="gateway_outages",
)
MAINS_OUTAGE = Cause(
    "mains_outage",
    struck="{id} lost its mains supply.",
    ended="{id} has its mains supply back.",
    noun="loss of mains supply",
    nouns="losses of mains supply",
    reason="{id} without mains",
    occasion="while {id} is without mains",
)
GATEWAY_HARDWARE = Cause(
    "gateway_hardware",
    struck="{id} failed (hardware).",
    ended="{id} was replaced.",
    noun="gateway hardware failure",
    state="fails",
    column="gateway_outages",
)
LINK_BLOCKAGE = Cause(
    "link_blockage",
    Effect.LOSS,
    struck="Something came between {ends}.",
    ended="The path between {ends} is free again.",
    noun="blocked path",
    reason="path {path} blocked",
    occasion="while path {path} is blocked",
    thing="path {path}",
    state="blocked",
)
OBSTACLE = Cause(
    "obstacle",
    Effect.LOSS,
    struck="{Thing} {begins}.",
    ended="{Thing} {stops}.",
    noun="change of a door or obstacle",
    nouns="changes of doors or obstacles",
    reason="{thing} {state}",
    occasion="while {thing} {state}",
    thing="{thing}",
    state="{state}",
    luck="obstacle",  # its id may also be that of a device
)
TIMETABLE = Cause(
    "timetable",
    Effect.LOSS,
    struck="Doors and obstacles have changed ({id}).",
    ended="Doors and obstacles are as drawn again ({id}).",
    noun="change by timetable",
    nouns="changes by timetable",
    reason="doors and obstacles changed ({id})",
    occasion="while doors and obstacles are changed ({id})",
    thing="timetable {id}",
    state="in force",
    luck="timetable",
)
BUSY_HOURS = Cause(
    "busy_hours",
    Effect.LOSS,
    struck="Busy hours have begun: people weaken every path.",
    ended="Busy hours are over.",
    noun="time of busy hours",
    nouns="times of busy hours",
    reason="busy hours",
    occasion="in busy hours",
    thing="busy hours",
    state="on",
    luck="site",
)
CIRCUIT_OUTAGE = Cause(
    "circuit_outage",
    struck="Circuit {id} lost its supply: {devices} went down.",
    ended="Circuit {id} has its supply back.",
    noun="loss of a circuit",
    nouns="losses of a circuit",
    reason="circuit {id} without supply",
    occasion="while circuit {id} is without supply",
    thing="circuit {id}",
    state="without supply",
    luck="circuit",
)
COMMON_CAUSE = Cause(
    "common_cause",
    struck="{devices} failed with all of one model.",
    ended="{id} was replaced.",
    noun="failure with all of a model",
    nouns="failures with all of a model",
    state="fails with all of its model",
    column="device_failures",
)
SOFTWARE_RELEASE = Cause(
    "software_release",
    struck="A faulty release took {devices} down.",
    ended="Sound software is back on {devices}.",
    noun="device taken down by a release",
    nouns="devices taken down by a release",
    state="faulty release",
)
ZONE_WORKS = Cause(
    "zone_works",
    struck="Building works took {devices} down.",
    ended="The works around {devices} are over.",
    noun="device taken down by works",
    nouns="devices taken down by works",
    state="taken down by works",
)
ZONE_WATER = Cause(
    "zone_water",
    struck="Water got into {devices}.",
    ended="{id} was replaced.",
    noun="device lost to water",
    nouns="devices lost to water",
    state="lost to water",
    column="device_failures",
)
ZONE_INTERFERENCE = Cause(
    "zone_interference",
    Effect.LOSS,
    struck="A new source of interference disturbs zone {id}.",
    ended="The interference in zone {id} is gone.",
    noun="source of interference",
    nouns="sources of interference",
    reason="interference in zone {id}",
    occasion="while zone {id} is disturbed",
    thing="zone {id}",
    state="disturbed",
    luck="zone",
)
ZONE_HEAT = Cause(
    "zone_heat",
    Effect.LOSS,
    struck="Heat weakens the radios in zone {id}.",
    ended="Zone {id} has cooled down.",
    noun="hot spell",
    reason="heat in zone {id}",
    occasion="while zone {id} is hot",
    thing="zone {id}",
    state="hot",
    luck="zone",
)
LASTING_CHANGE = Cause(
    "lasting_change",
    Effect.LOSS,
    struck="Furniture or partitions of zone {id} changed: all its paths are weaker.",
    ended="Zone {id} was surveyed anew, and its paths are as planned.",
    noun="lasting change of a zone",
    nouns="lasting changes of a zone",
    reason="zone {id} changed",
    occasion="while zone {id} is changed",
    thing="zone {id}",
    state="changed",
    luck="zone",
)
REMOVED = Cause(
    "removed",
    struck="Somebody took {id} away, covered or broke it.",
    ended="{id} is in its place again.",
    noun="device taken away",
    nouns="devices taken away",
    state="taken away",
    column="device_failures",
)
DEVICE_MUTE = Cause(
    "device_mute",
    Effect.MUTE,
    struck="{id} stopped measuring and goes on relaying.",
    ended="{id} was replaced.",
    noun="sensor that stopped measuring",
    nouns="sensors that stopped measuring",
    state="stops measuring",
)
# No row of the hazard table: planned rounds strike it.
SERVICE = Cause(
    "service",
    struck="{id} is off the mesh while a planned round puts new cells in.",
    ended="{id} is back with new cells.",
    noun="service of a planned round",
    nouns="services of planned rounds",
    reason="{id} in service",
    occasion="while {id} is in service",
    state="in service",
    column="services",
)
# No row of the hazard table, so nothing ends or is counted: a link whose level alone closes it.
SWING = Cause(
    "swing",
    Effect.LOSS,
    struck="The path {path} faded.",
    reason="path {path} faded",
    occasion="while path {path} has faded",
    thing="path {path}",
    state="fades",
    luck="link",
)

CAUSES = {
    cause.name: cause
    for cause in (
        HARDWARE,
        BATTERY,
        GATEWAY_OUTAGE,
        MAINS_OUTAGE,
        GATEWAY_HARDWARE,
        LINK_BLOCKAGE,
        OBSTACLE,
        TIMETABLE,
        BUSY_HOURS,
        CIRCUIT_OUTAGE,
        COMMON_CAUSE,
        SOFTWARE_RELEASE,
        ZONE_WORKS,
        ZONE_WATER,
        ZONE_INTERFERENCE,
        ZONE_HEAT,
        LASTING_CHANGE,
        REMOVED,
        DEVICE_MUTE,
        SERVICE,
        SWING,
    )
}


def described(name: str) -> Cause:
    """Return the cause of a name, in plain words where nobody described it.

    Parameters
    ----------
    name : str
        Name of the cause. [-]
    """
    return CAUSES.get(name) or Cause(name)


def counted_columns() -> dict[str, Cause]:
    """Columns that count strikes, each with the cause whose noun says what it counts.

    That is the first cause of the column.
    """
    columns: dict[str, Cause] = {}
    for cause in CAUSES.values():
        if cause.column is not None:
            columns.setdefault(cause.column, cause)
    return columns
