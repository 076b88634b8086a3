"""What strikes each link and how hard, and the times that are written down beforehand."""

from collections.abc import Sequence

from resilience.hazards.causes import Effect
from resilience.hazards.elements import HOLDS_DEVICES, Clock, Drawn, Element, Scripted
from resilience.lifetime.state.world import CLOSED_CDB


def burdens_of(
    targets: list[list[int]], played: dict[int, Element], n_links: int
) -> list[list[int]]:
    """Elements that strike each link, in order of name.

    Parameters
    ----------
    targets : list of list of int
        Rows that each element holds. [-]
    played : dict of int to Element
        Elements by row. [-]
    n_links : int
        Number of links. [-]
    """
    found: list[list[int]] = [[] for _ in range(n_links)]
    for row, one in played.items():
        if one.effect not in HOLDS_DEVICES:
            for link in targets[row]:
                found[link].append(row)
    return [sorted(one) for one in found]


def weights_of(
    burdens: list[list[int]], played: dict[int, Element], links: Sequence[str]
) -> list[int]:
    """What each of its burdens adds to each link, end to end.

    Parameters
    ----------
    burdens : list of list of int
        Elements that strike each link. [-]
    played : dict of int to Element
        Elements by row. [-]
    links : sequence of str
        Ids of the links. [-]
    """
    struck = {row for rows in burdens for row in rows}
    loads = {row: played[row].loads for row in struck}
    cuts = {row for row in struck if played[row].effect is Effect.CUT}
    return [
        CLOSED_CDB if row in cuts else loads[row][id]
        for id, rows in zip(links, burdens, strict=True)
        for row in rows
    ]


def times_of(clock: Clock) -> Sequence[tuple[int, ...]]:
    """Scripted absences, or the windows in which something may strike; none if always.

    Parameters
    ----------
    clock : Drawn, Mended or Scripted
        When something strikes. [-]
    """
    if isinstance(clock, Scripted):
        return clock.away_ms
    if isinstance(clock, Drawn) and clock.within is not None:
        return clock.within.rows
    return ()
