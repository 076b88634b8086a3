"""The aim of a layout: what is looked for, and how near its lifetimes are to that."""

from resilience.hazards.causes import Effect
from resilience.hazards.table import HazardTable
from resilience.lifetime.branching.aims import Aim
from resilience.lifetime.mesh import Mesh
from resilience.montecarlo.splitting.cuts import Loss, minimal_cuts

FURTHEST = 6  # losses of sensors one by one


def aim_of(mesh: Mesh, hazards: HazardTable, loss: Loss, longer_than_ms: int) -> Aim:
    """What branching looks for on a layout.

    Parameters
    ----------
    mesh : Mesh
        The layout, its links at their calm strength. [-]
    hazards : HazardTable
        What can strike it. [-]
    loss : Loss
        What is too much. [-]
    longer_than_ms : int
        For longer than this. [ms]
    """
    fallible = {
        id for one in hazards.elements if one.effect is Effect.DOWN for id in one.targets
    } | {cells.device for cells in hazards.cells}
    cuts = minimal_cuts(mesh, fallible, loss)
    counted = "dark" if loss.counts_down else "orphans"
    by_sensors = FURTHEST if loss.counts_down or not cuts else 0
    return Aim(counted, loss.max_count, longer_than_ms, cuts, by_sensors)
