"""What could hang where, if nothing but sensors hung yet."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from resilience.building.service.places import CandidatePlace
from resilience.building.site import Device, Kind, Layout, Site
from resilience.building.text.entries import alternatives, shown
from resilience.errors import UsageError
from resilience.remedies.groundwork.spots import NO_PLACE, free, grid, hung

BARE = "sensors alone"
NO_GATEWAY = (
    "no place for a gateway: {why}; list some in places.csv with kind gateway, or name places by "
    "--gateway"
)


@dataclass(frozen=True, slots=True)
class Allowed:
    """What stays, and what could hang.

    Parameters
    ----------
    bare : Layout
        The sensors, with what was measured between devices that stay or could come back. [-]
    gateways, repeaters : tuple of Device
        What could hang, in order of id. [-]
    n_forbidden : int
        Stated places where nothing can hang. [-]
    """

    bare: Layout
    gateways: tuple[Device, ...]
    repeaters: tuple[Device, ...]
    n_forbidden: int

    @property
    def could(self) -> tuple[Device, ...]:
        """All that could hang."""
        return (*self.gateways, *self.repeaters)

    def made(self, name: str, devices: Iterable[Device]) -> Layout:
        """Return the sensors with some devices.

        Parameters
        ----------
        name : str
            Of the layout. [-]
        devices : iterable of Device
            Of those that could hang. [-]
        """
        whole = tuple(sorted((*self.bare.devices, *devices), key=lambda one: one.id))
        ids = {one.id for one in whole}
        links = tuple(one for one in self.bare.links if {one.a, one.b} <= ids)
        return Layout(name, whole, links)


def allowed_of(
    site: Site,
    layout: Layout,
    places: Sequence[CandidatePlace] | None,
    named: Sequence[str] = (),
) -> Allowed:
    """Return what could hang: repeaters at places or on a grid, gateways where they are allowed.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : Layout
        Its sensors are asked for; what else it has serves as a pattern. [-]
    places : sequence of CandidatePlace or None
        Where devices could hang; None takes a grid for repeaters. [-]
    named : sequence of str
        Places, or gateways of the layout, where a gateway may hang; none of them means all. [-]

    Raises
    ------
    UsageError
        There is no place for a gateway, a name is unknown, or links are given.
    """
    if not site.radio.predict:
        raise UsageError(NO_PLACE.format(why="links here are given, none can be predicted"))
    kept, forbidden = (grid(site, layout), ()) if places is None else free(site.building, places)
    gateways = _gateways(site, layout, kept, (named, {one.id for one in forbidden}))
    taken = {one.id for one in gateways}
    repeaters = [
        hung(site, layout, one) for one in kept if one.kind is Kind.REPEATER and one.id not in taken
    ]
    ids = {one.id for one in (*layout.sensors, *gateways)}
    links = tuple(one for one in layout.links if {one.a, one.b} <= ids)
    bare = Layout(BARE, layout.sensors, links)
    return Allowed(bare, gateways, tuple(repeaters), len(forbidden))


def _gateways(
    site: Site,
    layout: Layout,
    kept: Sequence[CandidatePlace],
    asked: tuple[Sequence[str], set[str]],
) -> tuple[Device, ...]:
    named, forbidden = asked
    here = {one.id: one for one in layout.gateways if not one.standby and one.place is not None}
    spots = {one.id: one for one in kept}
    if not named:
        found = [one for one in spots.values() if one.kind is Kind.GATEWAY]
        known = {**here, **{one.id: hung(site, layout, one) for one in found}}
        if not known:
            raise UsageError(NO_GATEWAY.format(why=f"{layout.name} has none with a place"))
        return tuple(known[id] for id in sorted(known))
    chosen = dict[str, Device]()
    for name in named:
        if name in here:
            chosen[name] = here[name]
        elif name in spots:
            chosen[name] = hung(site, layout, replace(spots[name], kind=Kind.GATEWAY))
        elif name in forbidden:
            why = f"{shown(name)} is outside the outline, in a shaft or in a solid thing"
            raise UsageError(NO_GATEWAY.format(why=why))
        else:
            way_out = alternatives(name, [*here, *spots])
            raise UsageError(f"--gateway {shown(name)} is neither a place nor a gateway; {way_out}")
    return tuple(chosen[id] for id in sorted(chosen))
