"""What the packed keys of the compiled engine can hold."""

from resilience.hazards.elements import Effect
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import Mesh

MOST_DEVICES = 1 << 16
MOST_ELEMENTS = 1 << 20
LARGEST_COST = 1 << 31


def fits(mesh: Mesh, hazards: HazardTable) -> bool:
    """Whether a mesh and its hazards fit, path costs in the worst state of every link included.

    Parameters
    ----------
    mesh : Mesh
        The layout in one possible building. [-]
    hazards : HazardTable
        What can strike it. [-]
    """
    n_elements = len(hazards.elements) + len(hazards.cells)
    if len(mesh.devices) >= MOST_DEVICES or n_elements >= MOST_ELEMENTS - 1:
        return False
    extra = sum(one.amount for one in hazards.elements if one.effect is Effect.COST)
    dearest = max((link.path.dearest for link in mesh.links), default=0)
    return len(mesh.devices) * (dearest + extra) < LARGEST_COST
