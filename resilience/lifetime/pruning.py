"""What need not be played: elements that can change nothing, left out without moving a result."""

from collections import Counter

from resilience.hazards.elements import Effect, Element
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import Mesh


def pruned(mesh: Mesh, hazards: HazardTable) -> HazardTable:
    """Hazard table without the elements that no combination of states lets matter.

    A loss cannot matter on a link that is not usable when calm, nor on one whose cost stays the
    same when all its losses come together: cost never falls as loss grows.

    Parameters
    ----------
    mesh : Mesh
        The layout in one possible building. [-]
    hazards : HazardTable
        Everything that can strike it. [-]
    """
    worst_cdb: Counter[str] = Counter()
    for element in hazards.elements:
        if element.effect is Effect.LOSS:
            worst_cdb.update(dict.fromkeys(element.targets, element.amount))

    def matters(element: Element) -> bool:
        if element.effect in (Effect.DOWN, Effect.MUTE):
            return True
        links = [mesh.link[target] for target in element.targets if target in mesh.link]
        if element.effect is not Effect.LOSS:
            return bool(links)
        return any(link.path.cost(0) != link.path.cost(worst_cdb[link.id]) for link in links)

    return HazardTable(tuple(filter(matters, hazards.elements)), hazards.cells)
