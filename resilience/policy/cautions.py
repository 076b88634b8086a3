"""What somebody should know of a promise before signing it."""

from collections.abc import Iterator, Sequence

from resilience.building.service.policy import Policy
from resilience.building.site import Kind, Site, Supply
from resilience.montecarlo.study import Study

JUST_SHORT = 1.25  # of the horizon: cells that last no longer than this go flat soon after it
MONTHS_PER_YEAR = 12


def cautions_of(site: Site, policy: Policy, found: Sequence[Study]) -> tuple[str, ...]:
    """Return one sentence for each thing that makes a verdict say less than it seems to.

    Parameters
    ----------
    site : Site
        The site. [-]
    policy : Policy
        What is promised. [-]
    found : sequence of Study
        What lifetimes say of each layout. [-]
    """
    return (*_of_the_policy(site, policy), *_cells(site, found), *_unstruck(site))


def _of_the_policy(site: Site, policy: Policy) -> Iterator[str]:
    n_sensors = len(site.layouts[0].sensors)
    if policy.max_count(n_sensors) >= n_sensors:
        yield (
            f"This promise cannot be broken: it lets {policy.max_count(n_sensors)} sensors be "
            f"lost, and there are {n_sensors}."
        )
    rejoin_h = site.routing.rejoin_long_h
    if policy.longer_than_h < rejoin_h:
        yield (
            f"A device takes up to {rejoin_h:g} h to move to another parent "
            f"(routing.rejoin_long_h), longer than the {policy.longer_than_h:g} h of the promise. "
            "Such silence is told as an interruption and breaks no promise here; an owner would "
            "see it."
        )
    alarm_h = site.upkeep.alarm_h
    if alarm_h > 0 and policy.longer_than_h < alarm_h + rejoin_h:
        yield (
            f"Nobody is called before {alarm_h:g} h of silence (upkeep.alarm_h), so no repair can "
            f"come in time for a promise of {policy.longer_than_h:g} h: the mesh keeps it by "
            "itself, or not at all."
        )


def _cells(site: Site, found: Sequence[Study]) -> Iterator[str]:
    """Yield where the horizon ends just before cells go flat."""
    horizon_months = MONTHS_PER_YEAR * site.horizon_years
    if site.hazards.battery is None:
        return
    for study in found:
        first = next(iter(study.cell_lives.items()), None)
        if first and horizon_months < first[1].mean_months <= JUST_SHORT * horizon_months:
            years = first[1].mean_months / MONTHS_PER_YEAR
            yield (
                f"The horizon of {site.horizon_years:g} years ends just before cells go flat: "
                f"those of {first[0]} in {study.layout} last {years:.1f} years. A promise for "
                "longer is another promise."
            )


def _unstruck(site: Site) -> Iterator[str]:
    """Yield which hazards are on and have nothing that they could strike."""
    devices = [device for layout in site.layouts for device in layout.devices]
    on_mains = [one for one in devices if one.supply is Supply.MAINS and one.kind != Kind.GATEWAY]
    having = {
        "battery": ("cells go flat", any(one.battery is not None for one in devices)),
        "mains_outage": ("sensors and repeaters lose their mains", bool(on_mains)),
        "obstacles": ("doors and obstacles change", bool(site.building.changing)),
    }
    idle = [
        words
        for name, (words, has_any) in having.items()
        if getattr(site.hazards, name) is not None and not has_any
    ]
    if idle:
        yield f"Nothing here for a hazard to strike, so it broke no promise: {'; '.join(idle)}."
