"""Links as a world takes them over, of one possible building or of all."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.table import LinkTable
from resilience.lifetime.mesh import DrawnPath, GivenPath, MeshLink
from resilience.lifetime.state import world as w

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Wires:
    """Links in columns, as a world takes them over.

    Parameters
    ----------
    ids : sequence of str
        In order of their ends. [-]
    ends : Ints
        Shape (links, 2): rows of the two devices. [-]
    columns : dict of str to Ints
        What else is known of each, by field of a link's row. [-]
    """

    ids: Sequence[str]
    ends: Ints
    columns: dict[str, Any]

    @classmethod
    def of_mesh(cls, links: Sequence[MeshLink], devices: dict[str, int]) -> "Wires":
        """Return the links of one possible building."""
        given = [link.path if isinstance(link.path, GivenPath) else None for link in links]
        drawn = [link.path if isinstance(link.path, DrawnPath) else None for link in links]
        heard = [(0, 0) if path is None else path.heard_cdbm for path in drawn]
        heard_cdbm = np.array(heard, np.int64).reshape(-1, 2)
        columns = {
            "given_cost": [-1 if path is None else path.calm_cost for path in given],
            "spare_cdb": [w.OPEN_CDB if path is None else path.spare_cdb for path in drawn],
            "heard_there_cdbm": heard_cdbm[:, 0],
            "heard_back_cdbm": heard_cdbm[:, 1],
        }
        ends = [(devices[link.a], devices[link.b]) for link in links]
        return cls([link.id for link in links], np.array(ends, np.int64).reshape(-1, 2), columns)

    @classmethod
    def of_table(cls, table: LinkTable) -> "Wires":
        """Return the links of every building, whose strengths are still to be drawn."""
        floor_cdbm, shift_cdb = table.floor_cdbm(), table.shift_cdb()
        columns = {
            "given_cost": -1,
            "floor_there_cdbm": floor_cdbm[:, 0],
            "floor_back_cdbm": floor_cdbm[:, 1],
            "shift_there_cdb": shift_cdb[:, 0],
            "shift_back_cdb": shift_cdb[:, 1],
        }
        return cls(table.link_ids, table.ends, columns)
