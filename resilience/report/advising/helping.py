"""What would help, by what is weak: words that begin a search, not a plan that was tried."""

from collections.abc import Mapping

from resilience.building.site import Kind, Supply
from resilience.connectivity.rows import link_ends
from resilience.hazards.causes import BATTERY, CIRCUIT_OUTAGE, MAINS_OUTAGE
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Holder
from resilience.remedies.fragile.bottlenecks import Point, SinglePoint
from resilience.remedies.fragile.loads import Draining, Hub
from resilience.remedies.fragile.together import Together
from resilience.remedies.weakest import Culprit, Weakness
from resilience.report.words import listed, visible

MUCH_PASSED = 0.3  # of what a device draws
ANOTHER_GATEWAY = "a second gateway, or a standby gateway on a supply of its own"


def help_for_device(weakness: Weakness, id: str) -> str:
    """What would help where much hangs on one device.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    id : str
        The device. [-]
    """
    gateways = {one.id for one in weakness.layout.of_kind(Kind.GATEWAY)}
    if id in gateways:
        further = f"a further gateway, or a backup supply for {visible(id)}"
        return ANOTHER_GATEWAY if len(gateways) == 1 else further
    near = weakness.next_hops.get(id)
    return f"a second device within reach of {visible(near or id)}"


def help_for_link(id: str) -> str:
    """What would help where much hangs on one path.

    Parameters
    ----------
    id : str
        Of the link. [-]
    """
    a, b = (visible(end) for end in link_ends(id) or (id, id))
    return f"a device that hears {a} and {b}, or one of the two moved"


def help_for_point(weakness: Weakness, point: SinglePoint) -> str:
    """What would help with a single point of failure.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    point : SinglePoint
        One of its single points. [-]
    """
    match point.kind:
        case Point.DEVICE:
            return help_for_device(weakness, point.id)
        case Point.LINK:
            return help_for_link(point.id)
        case Point.CIRCUIT:
            return f"some of its devices on another circuit than {visible(point.id)}"
        case _:
            return f"a device on the other side of {visible(point.id)}"


def help_for_culprit(weakness: Weakness, culprit: Culprit) -> str:
    """What would help with a thing to which hours are put down, by what takes it most.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    culprit : Culprit
        The thing. [-]
    """
    id = culprit.subject[1]
    if (heaviest := heaviest_of(culprit.by_holder)) is None:
        return ""
    if heaviest == RADIO_DRAW:
        return "measured links: see what to survey first"
    if heaviest == LAYOUT:
        return "a repeater on the way of those that have none"
    if id in {one.id for one in weakness.layout.devices}:
        return f"{help_for_device(weakness, id)}{_against(weakness, culprit, heaviest[0])}"
    if link_ends(id):
        return help_for_link(id)
    if heaviest[0] == CIRCUIT_OUTAGE.name:
        return f"some of its devices on another circuit than {visible(id)}, or a backup supply"
    return f"a way that does not pass {visible(id)}"


def heaviest_of(by_holder: Mapping[Holder, float]) -> Holder | None:
    """Return the cause that holds most hours; None where there is none.

    Parameters
    ----------
    by_holder : mapping of Holder to float
        Hours by cause. [h/year]
    """
    return max(by_holder, key=lambda one: by_holder[one], default=None)


def _against(weakness: Weakness, culprit: Culprit, cause: str) -> str:
    """What would keep a device from being away so often, where its supply is what takes it."""
    id = culprit.subject[1]
    if cause == BATTERY.name:
        year = next((one.life.least_months / 12 for one in weakness.cells if one.device == id), 0.0)
        return f"; {visible(id)} on mains, or new cells before year {max(1, int(year)):d} is over"
    return f"; cells or a backup supply for {visible(id)}" if cause == MAINS_OUTAGE.name else ""


def help_for_pair(weakness: Weakness, pair: Together) -> str:
    """What would help where two devices stand in for each other.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    pair : Together
        The two. [-]
    """
    if {pair.first, pair.second} <= {one.id for one in weakness.layout.of_kind(Kind.GATEWAY)}:
        return "a further gateway"
    both = {weakness.next_hops.get(id) for id in (pair.first, pair.second)}
    near = both.pop() if len(both) == 1 else None
    where = visible(near) if near else listed((pair.first, pair.second)).replace(" and ", " or ")
    return f"a third device within reach of {where}"


def help_for_hub(weakness: Weakness, hub: Hub) -> str:
    """What would help a sensor that carries much.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    hub : Hub
        The sensor. [-]
    """
    near = visible(weakness.next_hops.get(hub.sensor, hub.sensor))
    return f"a repeater within reach of {near}, so that {visible(hub.sensor)} need not carry"


def help_for_cells(weakness: Weakness, one: Draining) -> str:
    """What would help a device whose cells go first.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    one : Draining
        The device. [-]
    """
    supplies = {device.id: device.supply for device in weakness.layout.devices}
    if supplies.get(one.device) is not Supply.BATTERY:
        return ""
    if one.passing_share >= MUCH_PASSED:
        return "mains, or another device to share what it carries"
    return "larger cells"
