"""What could be changed in a layout: each option takes devices away, puts one there, or both."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from resilience.building.site import Device, Kind, Layout, Supply


class Move(StrEnum):
    """What is done."""

    ADD = "add"
    MOVE = "move"
    MAINS = "mains"
    REMOVE = "remove"


@dataclass(frozen=True, slots=True)
class Option:
    """One change of a layout; sensors stay where they are.

    Parameters
    ----------
    move : Move
        What is done. [-]
    device : str
        Id of the device that is there afterwards, or that goes. [-]
    kind : Kind
        What it is. [-]
    before, after : Device or None
        As it hangs before and after. [-]
    spot : str
        Name of the place it goes to; empty where it stays or goes away. [-]
    """

    move: Move
    device: str
    kind: Kind
    before: Device | None
    after: Device | None
    spot: str = ""

    def made(self, layout: Layout) -> Layout:
        """Return the layout with that change; links measured of what goes elsewhere are void.

        Parameters
        ----------
        layout : Layout
            In which it can be made. [-]
        """
        gone = {self.before.id} if self.before else set()
        devices = [one for one in layout.devices if one.id not in gone]
        if self.after is not None:
            devices.append(self.after)
        void = gone if self.move is not Move.MAINS else set()
        links = tuple(one for one in layout.links if not {one.a, one.b} & void)
        ordered = tuple(sorted(devices, key=lambda one: one.id))
        return replace(layout, devices=ordered, links=links)

    @property
    def devices_more(self) -> int:
        """By how many devices the layout grows."""
        return (self.after is not None) - (self.before is not None)

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        place = self.after.place if self.after and self.move is not Move.MAINS else None
        return {
            "change": self.move.value,
            "device": self.device,
            "kind": self.kind.value,
            "place": self.spot or None,
            "level": place and place.level,
            "x_m": place and place.x_m,
            "y_m": place and place.y_m,
            "height_m": place and place.height_m,
        }


def options(layout: Layout, hung: Sequence[Device]) -> Iterator[Option]:
    """Yield all that could be done to make a layout more robust.

    Parameters
    ----------
    layout : Layout
        As it is. [-]
    hung : sequence of Device
        What could hang at each place, a repeater or a gateway. [-]
    """
    ids = {one.id for one in layout.devices}
    new = [one for one in hung if one.id not in ids]
    for one in new:
        yield Option(Move.ADD, one.id, one.kind, None, one, one.id)
    for there in layout.devices:
        if there.kind is Kind.SENSOR:
            continue
        for one in new:
            if one.kind is there.kind and there.place is not None:
                moved = replace(there, place=one.place, zone=one.zone, by_month_c=one.by_month_c)
                yield Option(Move.MOVE, there.id, there.kind, there, moved, one.id)
        if there.kind is Kind.REPEATER and there.supply is Supply.BATTERY:
            plugged = replace(there, battery=None)
            yield Option(Move.MAINS, there.id, there.kind, there, plugged)


def removals(layout: Layout) -> Iterator[Option]:
    """Yield what could be left out: each repeater, and each gateway but the last that serves.

    Parameters
    ----------
    layout : Layout
        As it is. [-]
    """
    serving = [one for one in layout.gateways if not one.standby]
    for one in layout.devices:
        is_needed = one.kind is Kind.GATEWAY and [one] == serving
        if one.kind is not Kind.SENSOR and not is_needed:
            yield Option(Move.REMOVE, one.id, one.kind, one, None)
