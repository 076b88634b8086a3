"""What a user should know of a site before anything else."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import fields

from resilience.assumptions.hazards import ON_REQUEST
from resilience.building.site import Device, Kind, Site, Supply
from resilience.building.text.entries import listed


def first_notes(site: Site, environment_stated: bool) -> Iterator[str]:
    """Yield what is assumed of a site, or cannot strike there.

    Parameters
    ----------
    site : Site
        As read. [-]
    environment_stated : bool
        Whether the site says how crowded its band is. [-]
    """
    links = [link for layout in site.layouts for link in layout.links]
    curve_used = site.radio.predict or any(link.prr is None for link in links)
    if not environment_stated and curve_used:
        yield "Nothing is said about radio.environment, so a busy band is assumed."
    if site.radio.predict and not site.building.is_drawn:
        yield "No wall, pillar or shaft is drawn, so links are predicted by the site-general model."
    if site.calibration:
        n_links = site.calibration.n_links
        yield (
            f"Predictions are corrected by calibration.yaml, fitted to {n_links} measured links."
            if site.radio.predict
            else "calibration.yaml is not used: prediction is off."
        )
    if site.learnt:
        names = sorted({one.key.rpartition(".")[0] for one in site.learnt.values})
        yield (
            f"Of {', '.join(names)} rates and durations are as own history taught (learnt.yaml), "
            "in the place of what site.yaml or the catalogue says."
        )
    if not site.radio.predict and not links:
        yield "Prediction is off and no link is given, so no sensor ever has a route."
    if site.prices.hour is not None and site.upkeep.response is None:
        yield (
            "prices.hour pays for the whole of upkeep.repair, waiting included, because no "
            "upkeep.response is stated: state it, and upkeep.repair as work alone."
        )
    yield from nothing_to_strike(site)
    yield from _default_circuits(site)
    yield from _uneven_columns(site)
    if site.hazards.link_blockage and site.hazards.obstacles and site.building.changing:
        share = site.hazards.obstacles.blockage_share
        yield (
            "The general rate of blocked links counts doors and vehicles too. What is drawn and "
            "changes is taken out of it on the links that pass it, which keep at least "
            f"{100 * share:g} % of that rate (hazards.obstacles.blockage_share)."
        )


def nothing_to_strike(site: Site) -> Iterator[str]:
    """Yield which hazards of a site can strike nothing in any of its layouts.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    devices = [device for layout in site.layouts for device in layout.devices]
    if site.hazards.battery and not any(device.supply is Supply.BATTERY for device in devices):
        yield "The hazard battery has nothing to strike: no device runs on a battery."
    if site.hazards.mains_outage and not any(_is_plugged(device) for device in devices):
        yield "The hazard mains_outage has nothing to strike: at most gateways are on mains."
    is_fed = site.hazards.mains_outage and site.hazards.circuit_outage
    if is_fed and not any(device.circuit_id for device in devices):
        yield "The hazard circuit_outage has nothing to strike: no device is on a circuit."
    if site.hazards.obstacles and not site.building.changing:
        yield "The hazard obstacles has nothing to strike: nothing that is drawn changes."
    has_links = site.radio.predict or any(layout.links for layout in site.layouts)
    if site.hazards.link_blockage and not has_links:
        yield "The hazard link_blockage has nothing to strike: there is no link."


def _default_circuits(site: Site) -> Iterator[str]:
    """Yield what is assumed to hang on one circuit because nobody said on which."""
    if site.hazards.circuit_outage is None or site.hazards.mains_outage is None:
        return
    levels: dict[str, int] = {}
    for layout in site.layouts:
        unnamed = Counter(one.circuit_id for one in layout.devices if not one.circuit)
        for level, n in unnamed.items():
            levels[level] = max(n, levels.get(level, 0))
    shared = sorted(level for level, n in levels.items() if level and n > 1)
    if shared:
        yield (
            "Several devices on mains name no circuit, so those of a level are taken to share one "
            f"and lose it together ({listed(shared)}): name them in column circuit."
        )


def _uneven_columns(site: Site) -> Iterator[str]:
    """Yield which column some layouts fill in for what is theirs and others leave blank."""
    drawn = {zone.id for zone in site.building.zones if zone.outline}
    for column, could_name in (("circuit", _is_plugged), ("zone", _is_own)):
        named = {
            layout.name: any(
                getattr(one, column) not in {"", *drawn}
                for one in layout.devices
                if could_name(one)
            )
            for layout in site.layouts
            if any(map(could_name, layout.devices))
        }
        blank = [name for name, is_named in named.items() if not is_named]
        if 0 < len(blank) < len(named):
            yield (
                f"Column {column} is blank in layout {listed(blank)} and filled in elsewhere: part "
                "of a difference may be what somebody wrote down."
            )


def _is_own(device: Device) -> bool:
    """Whether a device is of its layout alone; sensors are the same in all of them."""
    return device.kind is not Kind.SENSOR


def _is_plugged(device: Device) -> bool:
    return device.supply is Supply.MAINS and device.kind is not Kind.GATEWAY


def last_notes(site: Site) -> Iterator[str]:
    """Yield what is not played.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    absent = [one.name for one in fields(site.hazards) if getattr(site.hazards, one.name) is None]
    unasked = [name for name in absent if name in ON_REQUEST]
    switched_off = [name for name in absent if name not in ON_REQUEST]
    if switched_off:
        yield f"Switched off: {', '.join(switched_off)}."
    if unasked:
        yield f"Not played unless hazards names them: {', '.join(unasked)}."
