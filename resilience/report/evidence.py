"""What an answer rests on: links measured, things drawn, numbers taken on trust."""

from collections.abc import Sequence

from resilience.assumptions.catalogue import uncertain
from resilience.building.notes import nothing_to_strike
from resilience.building.site import Site
from resilience.building.structure import Building
from resilience.report.pages import Block, Text, Tone
from resilience.report.words import counted


def played_evidence(site: Site) -> str:
    """Say what an answer rests on for which lifetimes were played, and how old all was then.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    return f"{evidence(site)} {start_words(site)}"


def start_words(site: Site) -> str:
    """Say how old devices and cells are as lifetimes begin.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    standing = site.standing
    if standing.today is None:
        return "Devices and cells start as if new."
    ids = {device.id for layout in site.layouts for device in layout.devices}
    n_down = sum(one.down_since is not None for one in standing.devices)
    down = f", {n_down} of them down" if n_down else ""
    return (
        f"Devices and cells start as of {standing.today.isoformat()} (state.csv): "
        f"{len(standing.devices)} in service{down}, {len(ids) - len(standing.devices)} as if new."
    )


def evidence_block(site: Site, is_played: bool) -> Block:
    """Say what an answer rests on, and what could strike nothing, below an answer.

    Parameters
    ----------
    site : Site
        As read. [-]
    is_played : bool
        Whether lifetimes were played for it. [-]
    """
    told = [played_evidence(site) if is_played else evidence(site), *nothing_to_strike(site)]
    return (Text(" ".join(told), Tone.QUIET),)


def evidence(site: Site) -> str:
    """Say in one line what an answer rests on.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    pairs = {tuple(sorted((one.a, one.b))) for layout in site.layouts for one in layout.links}
    others = "all others predicted" if site.radio.predict else "no others"
    return (
        f"It rests on {counted(len(pairs), 'measured link')}, {others}; "
        f"{drawn_words(site.building)}. {on_trust(site)}"
    )


def on_trust(site: Site) -> str:
    """Say how many of the uncertain defaults a site states itself.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    n_stated = sum(site.states(one.key) for one in uncertain())
    return (
        f"Of {len(uncertain())} uncertain defaults the site states {n_stated} itself "
        "(resilience defaults --site)."
    )


def drawn_words(building: Building) -> str:
    """Everything drawn, each kind counted.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    """
    kinds = drawn_kinds(building).items()
    present = [counted(len(things), kind.removesuffix("s")) for kind, things in kinds if things]
    return ", ".join(present) or "no building drawn"


def drawn_kinds(building: Building) -> dict[str, Sequence[object]]:
    """Everything drawn, by the name of its kind.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    """
    return {
        "levels": building.levels,
        "walls": building.walls,
        "doors": building.doors,
        "windows": building.windows,
        "pillars": building.pillars,
        "shafts": building.shafts,
        "openings": building.openings,
        "plates": building.plates,
        "obstacles": building.obstacles,
        "zones": building.zones,
    }
