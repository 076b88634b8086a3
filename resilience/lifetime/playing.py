"""A layout made ready to be played: lifetime after lifetime, two to a possible building."""

from collections.abc import Set
from copy import copy
from dataclasses import replace
from typing import TYPE_CHECKING

from resilience.building.site import Layout, Site
from resilience.connectivity.air import Air
from resilience.connectivity.links import link_table
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING, prospect
from resilience.connectivity.table import LinkTable
from resilience.hazards.table import HazardTable, hazard_table
from resilience.hazards.upkeep import calls_of
from resilience.lifetime.engines import COMPILED, Player, Tallier, player, splitter, tallier
from resilience.lifetime.mesh import Luck, Mesh, Rules, mesh_of
from resilience.lifetime.pruning import pruned
from resilience.lifetime.record import USUAL_WATCH, Lifetime, Watch
from resilience.lifetime.tally import Tally, tallied

if TYPE_CHECKING:
    from resilience.lifetime.branching.aims import Aim
    from resilience.lifetime.branching.splitter import Splitter


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
    table : LinkTable or None
        Its links, where somebody has predicted them already. [-]
    watch : Watch
        What rows tell of many being lost at once. [-]
    """

    def __init__(  # noqa: PLR0913, PLR0917 - a site's layout, and how it is played
        self,
        site: Site,
        layout: Layout,
        seed: int,
        count_site_outages: bool,
        engine: str = COMPILED,
        table: LinkTable | None = None,
        watch: Watch = USUAL_WATCH,
    ) -> None:
        self.layout = layout
        self.seed = seed
        rules = Rules.of(site.routing, site.horizon_years, count_site_outages, watch)
        self.rules = replace(rules, calls=calls_of(site))
        self._links = link_table(site, layout) if table is None else table
        self._prospect = prospect(self._links)
        self._hazards = hazard_table(site, self._links)
        self._engine = engine
        self._absent: frozenset[str] = frozenset()
        self._tallier: Tallier | None = None  # the compiled engine's, made when first asked for
        self._ready: tuple[int, Player] | None = None  # the building played last
        self._drawn: tuple[int, Mesh, HazardTable] | None = None  # the building drawn last

    def twin(self) -> "Stage":
        """Return a stage that shares all but the building at hand, for another thread."""
        twin = copy(self)
        twin._drawn = twin._ready = twin._tallier = None
        return twin

    def without(self, ids: Set[str]) -> "Stage":
        """Return a stage of the same layout without some repeaters or gateways.

        It shares what was prepared: a hundred such variants cost little more than one layout.

        Parameters
        ----------
        ids : set of str
            Ids of the devices; sensors stay. [-]
        """
        fewer = self.twin()
        fewer._absent = self._absent | frozenset(ids)
        devices = tuple(one for one in self.layout.devices if one.id not in fewer._absent)
        fewer.layout = Layout(self.layout.name, devices, self.layout.links)
        return fewer

    def loses_like(self, other: "Stage") -> bool:
        """Whether every lifetime loses the same hours as on another stage, by all it rests on.

        How long a move to another parent takes is no part of that: interruptions are not counted.

        Parameters
        ----------
        other : Stage
            Of the same seed. [-]
        """
        return self._hazards == other._hazards and self._footing() == other._footing()

    def _footing(self) -> tuple[object, ...]:
        """All that lost hours rest on beside what strikes."""
        table, lots = self._links, self._prospect.lots.apart()
        air = Air.of(table.radio, table.routing)
        columns = (table.shift_cdb(), table.floor_cdbm(), table.calm_cdbm(), air.levels_cdb)
        arrays = (*columns, air.curve.table, *lots[2:])
        rules = replace(self.rules, backups=0, rejoin_short_ms=0, rejoin_long_ms=0)
        if not any(one.standby for one in table.devices):
            rules = replace(rules, standby_switch_ms=0)
        return (
            rules,
            (air.min_prr, air.counts_hops, air.holds_ms, lots.decorrelation_m, lots.power_spread),
            [(one.id, one.kind, one.model.forwards, one.standby) for one in table.devices],
            table.link_ids,
            [(array.shape, array.tobytes()) for array in arrays],
        )

    def building(self, lifetime: int) -> tuple[Mesh, HazardTable]:
        """Return mesh and pruned hazard table of the building that a lifetime is played in.

        Parameters
        ----------
        lifetime : int
            Number of the lifetime, from 0. [-]
        """
        draw = lifetime // LIFETIMES_PER_BUILDING
        if self._drawn is None or self._drawn[0] != draw:
            strengths_cdbm = self._prospect.strengths_cdbm(self.seed, draw)
            mesh = mesh_of(self._links, strengths_cdbm, self._absent)
            self._drawn = (draw, mesh, pruned(mesh, self._hazards))
        return self._drawn[1], self._drawn[2]

    def _player(self, lifetime: int) -> Player:
        draw = lifetime // LIFETIMES_PER_BUILDING
        if self._ready is None or self._ready[0] != draw:
            mesh, hazards = self.building(lifetime)
            self._ready = (draw, player(self._engine, mesh, hazards, self.rules))
        return self._ready[1]

    def make_ready(self) -> None:
        """Prepare everything that the first lifetime would wait for, the compiler among it."""
        if (compiled := self._compiled()) is not None:
            compiled.tally(self.seed, 0, 0)

    def _compiled(self) -> Tallier | None:
        """Return what plays many lifetimes; None where the compiled engine is not to, or cannot."""
        if self._tallier is None and self._engine == COMPILED:
            calm, hazards = self.calm()
            self._tallier = tallier(self._prospect, calm, hazards, self.rules)
        return self._tallier

    def calm(self) -> tuple[Mesh, HazardTable]:
        """Return the mesh at mean shadowing, and all that can strike it."""
        return mesh_of(self._links, self._links.calm_cdbm(), self._absent), self._hazards

    def splitter(self, aim: "Aim") -> "Splitter | None":
        """Return what plays lifetimes that branch; None where the compiled engine cannot.

        Parameters
        ----------
        aim : Aim
            What is looked for. [-]
        """
        if self._engine != COMPILED:
            return None
        return splitter(aim, self._prospect, *self.calm(), self.rules)

    def tally(self, first: int, n: int) -> Tally:
        """Play lifetimes in a row and add them up.

        Parameters
        ----------
        first : int
            Number of the first lifetime; begins a building draw. [-]
        n : int
            Lifetimes, of whole building draws. [-]
        """
        if (compiled := self._compiled()) is not None:
            return compiled.tally(self.seed, first, n)
        records = [self.play(number).record for number in range(first, first + n)]
        return tallied(first, records, self.rules.watch)

    def play(self, lifetime: int) -> Lifetime:
        """Play one lifetime and return its record and its history.

        Parameters
        ----------
        lifetime : int
            Number of the lifetime, from 0. [-]
        """
        return self._player(lifetime).lifetime(Luck(self.seed, lifetime))
