"""What can be supposed of a site: each change makes another site of the same sensors."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Protocol

from resilience.building.settings import Duration
from resilience.building.site import Device, Kind, Layout, Site, Supply
from resilience.building.text.entries import alternatives
from resilience.errors import UsageError


class Change(Protocol):
    """Something that is supposed to be otherwise."""

    def made(self, site: Site) -> Site:
        """Return a site of one layout as it would be.

        Raises
        ------
        UsageError
            The site has no room for it.
        """
        ...


@dataclass(frozen=True, slots=True)
class Without:
    """Some repeaters or gateways are not there.

    Parameters
    ----------
    ids : tuple of str
        Which; case does not matter. [-]
    """

    ids: tuple[str, ...]

    def made(self, site: Site) -> Site:
        """Return the site without them."""
        layout = site.layouts[0]
        gone = {one.id for one in _devices(layout, self.ids)}
        for one in layout.sensors:
            if one.id in gone:
                raise UsageError(
                    f"{one.id} is a sensor, and what-ifs leave every sensor where it is; repeaters "
                    "and gateways can go"
                )
        if gone >= {one.id for one in layout.gateways}:
            raise UsageError(f"{layout.name} would have no gateway left")
        devices = tuple(one for one in layout.devices if one.id not in gone)
        links = tuple(one for one in layout.links if not {one.a, one.b} & gone)
        return replace(site, layouts=(replace(layout, devices=devices, links=links),))


@dataclass(frozen=True, slots=True)
class OnMains:
    """Some devices run on mains instead of cells.

    Parameters
    ----------
    ids : tuple of str
        Which; case does not matter. [-]
    """

    ids: tuple[str, ...]

    def made(self, site: Site) -> Site:
        """Return the site with them on mains, each on the circuit of its level."""
        layout = site.layouts[0]
        plugged = {one.id for one in _devices(layout, self.ids)}
        for one in layout.devices:
            if one.id in plugged and one.supply is Supply.MAINS:
                raise UsageError(f"{one.id} of {layout.name} is on mains already")
        devices = tuple(
            replace(one, battery=None) if one.id in plugged else one for one in layout.devices
        )
        return replace(site, layouts=(replace(layout, devices=devices),))


@dataclass(frozen=True, slots=True)
class StandbyFor:
    """Gateways have another beside them that stands by, and hears and is supplied as they are.

    Parameters
    ----------
    ids : tuple of str
        Which; case does not matter. [-]
    """

    ids: tuple[str, ...]

    def made(self, site: Site) -> Site:
        """Return the site with a standby beside each; what was measured of one holds of both."""
        layout = site.layouts[0]
        devices, links = list(layout.devices), list(layout.links)
        for one in _devices(layout, self.ids):
            if one.kind is not Kind.GATEWAY or one.standby:
                raise UsageError(f"{one.id} of {layout.name} is no gateway that serves")
            beside = replace(one, id=_free_id(f"{one.id}-standby", layout), standby=True)
            devices.append(beside)
            links += [replace(link, a=beside.id) for link in layout.links if link.a == one.id]
            links += [replace(link, b=beside.id) for link in layout.links if link.b == one.id]
        ordered = tuple(sorted(devices, key=lambda one: one.id))
        made = replace(layout, devices=ordered, links=tuple(links))
        return replace(site, layouts=(made,))


@dataclass(frozen=True, slots=True)
class CrewIn:
    """Somebody comes sooner or later; how widely that varies stays.

    That is the response, where the site states one, else all of the time until a repair is done.

    Parameters
    ----------
    hours : float
        Median, or mean where the site states a mean. [h]
    """

    hours: float

    def made(self, site: Site) -> Site:
        """Return the site with that response, or that repair."""
        upkeep = site.upkeep
        if upkeep.repair is None:
            raise UsageError("nothing is ever repaired here (upkeep.repair is off): no crew comes")
        if upkeep.response is not None:
            response = _lasting(upkeep.response, self.hours)
            return replace(site, upkeep=replace(upkeep, response=response))
        return replace(site, upkeep=replace(upkeep, repair=_lasting(upkeep.repair, self.hours)))


@dataclass(frozen=True, slots=True)
class Stating:
    """The folder states another value of one setting, or switches a hazard off.

    Parameters
    ----------
    key : str
        As in ``site.yaml``. [-]
    value : float, str or bool
        Its value. [unit]
    """

    key: str
    value: float | str | bool

    def made(self, site: Site) -> Site:
        """Return the site that states it."""
        return site.with_setting(self.key, self.value)


def _lasting(held: Duration, hours: float) -> Duration:
    if held.median_h is None or held.p90_h is None:
        return replace(held, mean_h=hours)
    return replace(held, median_h=hours, p90_h=hours * held.p90_h / held.median_h)


def _free_id(wanted: str, layout: Layout) -> str:
    taken = {one.id.casefold() for one in layout.devices}
    while wanted.casefold() in taken:
        wanted += "-2"
    return wanted


def _devices(layout: Layout, ids: Iterable[str]) -> tuple[Device, ...]:
    known = {one.id.casefold(): one for one in layout.devices}
    for id in ids:
        if id.casefold() not in known:
            raise UsageError(f"{layout.name} has no device {id!r}; {way_out(id, [layout])}")
    return tuple(known[id.casefold()] for id in ids)


def way_out(id: str, layouts: Collection[Layout]) -> str:
    """Return what may have been meant by an id that no device has.

    Parameters
    ----------
    id : str
        As given. [-]
    layouts : collection of Layout
        Where devices are looked for. [-]
    """
    known = {one.id for layout in layouts for one in layout.devices if one.kind is not Kind.SENSOR}
    return alternatives(id, sorted(known))
