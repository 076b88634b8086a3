"""What a user should know of a site before anything else."""

from collections.abc import Iterator

from resilience.building.site import Kind, Site, Supply


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
    devices = [device for layout in site.layouts for device in layout.devices]
    if site.hazards.battery and not any(device.supply is Supply.BATTERY for device in devices):
        yield "The hazard battery has nothing to strike: no device runs on a battery."
    others = [device for device in devices if device.kind is not Kind.GATEWAY]
    plugged = {device.id for device in others if device.supply is Supply.MAINS}
    if site.hazards.mains_outage and len(plugged) > 1:
        yield (
            f"{len(plugged)} sensors or repeaters run on mains and lose it one by one "
            "(hazards.mains_outage): a circuit that takes several at once is not simulated."
        )
    if site.hazards.link_blockage and not site.radio.predict and not links:
        yield "The hazard link_blockage has nothing to strike: there is no link."
    if site.hazards.link_blockage and site.hazards.obstacles and site.building.changing:
        share = site.hazards.obstacles.blockage_share
        yield (
            "The general rate of blocked links counts doors and vehicles too. What is drawn and "
            "changes is taken out of it on the links that pass it, which keep at least "
            f"{100 * share:g} % of that rate (hazards.obstacles.blockage_share)."
        )
