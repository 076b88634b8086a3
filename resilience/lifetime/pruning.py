"""What need not be played: elements that can change nothing, left out without moving a result."""

from collections import Counter

from resilience.hazards.causes import Effect
from resilience.hazards.elements import HOLDS_DEVICES, Element
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import Mesh


def pruned(mesh: Mesh, hazards: HazardTable) -> HazardTable:
    """Hazard table without the elements that no combination of states lets matter.

    A loss cannot matter on a link that this building has not, nor on one whose cost at the highest
    level of its swing without loss is that at the lowest with all its losses together: cost never
    falls as loss grows.

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
            worst_cdb.update(element.loads)

    best_cdb, lowest_cdb = (0, 0) if mesh.air is None else (mesh.air.best_cdb, mesh.air.worst_cdb)
    present = {device.id for device in mesh.devices}

    def matters(element: Element) -> bool:
        if element.effect in HOLDS_DEVICES:
            return not present.isdisjoint(element.targets)
        links = [mesh.link[target] for target in element.targets if target in mesh.link]
        if element.effect is not Effect.LOSS:
            return bool(links)
        return any(
            link.path.cost(-best_cdb) != link.path.cost(worst_cdb[link.id] - lowest_cdb)
            for link in links
        )

    cells = tuple(one for one in hazards.cells if one.device in present)
    return HazardTable(tuple(filter(matters, hazards.elements)), cells)
