"""A layout made ready to be played: lifetime after lifetime, two to a possible building."""

from copy import copy

from resilience.building.site import Layout, Site
from resilience.connectivity.links import link_table
from resilience.hazards.buildings import (
    LIFETIMES_PER_BUILDING,
    mean_paths,
    paths_in,
    prospect,
)
from resilience.hazards.table import HazardTable, hazard_table
from resilience.lifetime.engines import COMPILED, Player, player
from resilience.lifetime.mesh import Luck, Mesh, Rules, mesh_of
from resilience.lifetime.pruning import pruned
from resilience.lifetime.record import Lifetime, Record


class Stage:
    """One layout of a site with everything that its lifetimes share.

    Parameters
    ----------
    site : Site
        States hazards, routing and horizon. [-]
    layout : Layout
        The layout to play. [-]
    seed : int
        Seed of the study. [-]
    count_site_outages : bool
        Whether a site outage makes orphans or is counted by itself. [-]
    engine : str
        Which engine plays; both tell the same story. [-]
    """

    def __init__(
        self,
        site: Site,
        layout: Layout,
        seed: int,
        count_site_outages: bool,
        engine: str = COMPILED,
    ) -> None:
        self.layout = layout
        self.seed = seed
        self.rules = Rules.of(site.routing, site.horizon_years, count_site_outages)
        self._links = link_table(site, layout)
        self._prospect = prospect(self._links)
        self._mean_paths = mean_paths(self._links)
        self._hazards = hazard_table(site, self._links)
        self._engine = engine
        self._ready: tuple[int, Player] | None = None  # the building played last
        self._drawn: tuple[int, Mesh, HazardTable] | None = None  # the building drawn last

    def twin(self) -> "Stage":
        """Return a stage that shares all but the building at hand, for another thread."""
        twin = copy(self)
        twin._drawn = twin._ready = None
        return twin

    def building(self, lifetime: int) -> tuple[Mesh, HazardTable]:
        """Return mesh and pruned hazard table of the building that a lifetime is played in.

        Parameters
        ----------
        lifetime : int
            Number of the lifetime, from 0. [-]
        """
        draw = lifetime // LIFETIMES_PER_BUILDING
        if self._drawn is None or self._drawn[0] != draw:
            paths = paths_in(self._prospect, self.seed, draw)
            mesh = mesh_of(self.layout, paths, self._mean_paths)
            self._drawn = (draw, mesh, pruned(mesh, self._hazards))
        return self._drawn[1], self._drawn[2]

    def _player(self, lifetime: int) -> Player:
        draw = lifetime // LIFETIMES_PER_BUILDING
        if self._ready is None or self._ready[0] != draw:
            mesh, hazards = self.building(lifetime)
            self._ready = (draw, player(self._engine, mesh, hazards, self.rules))
        return self._ready[1]

    def record(self, lifetime: int) -> Record:
        """Play one lifetime and return its record.

        Parameters
        ----------
        lifetime : int
            Number of the lifetime, from 0. [-]
        """
        return self._player(lifetime).record(Luck(self.seed, lifetime))

    def play(self, lifetime: int) -> Lifetime:
        """Play one lifetime and return its record and its history.

        Parameters
        ----------
        lifetime : int
            Number of the lifetime, from 0. [-]
        """
        return self._player(lifetime).lifetime(Luck(self.seed, lifetime))
