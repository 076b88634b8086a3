"""What many lifetimes say of one layout, every figure with its bounds."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from resilience.building.site import Kind, Layout, Site
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.draws import DEFAULT_SEED
from resilience.hazards.causes import counted_columns
from resilience.hazards.cells import usable_mah
from resilience.lifetime.record import USUAL_WATCH, Holder, Watch
from resilience.lifetime.tally import Tally
from resilience.montecarlo.estimates import SHARE, Estimate, Floats, Ints, Limits
from resilience.montecarlo.figures import (
    CellLife,
    SensorFigures,
    SilentHours,
    TypicalYear,
    hours_estimate,
)
from resilience.montecarlo.runs.running import Budget, Progress, Undertaking, no_progress, played
from resilience.montecarlo.sequences import (
    betting_quantile,
    betting_ratio,
    betting_sequence,
    capped_sequence,
    shares_from_sums,
)
from resilience.montecarlo.stopping import Question, Ruling, open_question
from resilience.units import HOURS_PER_YEAR, MS_PER_H, MS_PER_YEAR, NA_PER_MA, h_from_ms

STILL_PLAYED = "it has not stopped"
HOURS_PER_MONTH = HOURS_PER_YEAR / 12
ROOM_MOVES = 20.0  # moves a year that bounds always count in full


@dataclass(frozen=True, slots=True)
class Study:
    """Many lifetimes of one layout.

    Parameters
    ----------
    site, layout : str
        Names. [-]
    sensors : tuple of str
        Installed sensors, in order. [-]
    horizon_ms : int
        Length of one lifetime. [ms]
    seed : int
        Seed of the study. [-]
    count_site_outages : bool
        Whether site outages made orphans. [-]
    stopped_because : str
        Why no more lifetimes were played. [-]
    tally : Tally
        What they add up to. [-]
    n_repeaters : int
        Installed repeaters. [-]
    usable_mah : mapping of str to float
        Usable charge of average cells, by device on cells. [mAh]
    watch : Watch
        What rows of lifetimes tell of many being lost at once. [-]
    """

    site: str
    layout: str
    sensors: tuple[str, ...]
    horizon_ms: int
    seed: int
    count_site_outages: bool
    stopped_because: str
    tally: Tally
    n_repeaters: int = 0
    usable_mah: Mapping[str, float] = field(default_factory=dict)
    watch: Watch = USUAL_WATCH

    @property
    def n_lifetimes(self) -> int:
        """Lifetimes played."""
        return self.tally.n_lifetimes

    @property
    def n_buildings(self) -> int:
        """Building draws played: the unit of statistics."""
        return self.n_lifetimes // LIFETIMES_PER_BUILDING

    @property
    def _sensor_years(self) -> float:
        """Installed sensors times years, of the lifetimes of one building draw."""
        return LIFETIMES_PER_BUILDING * len(self.sensors) * self.horizon_ms / MS_PER_YEAR

    def hours_per_sensor_year(self, column: str) -> Floats:
        """One column as hours per installed sensor and year, shape (buildings,)."""
        return self._per_sensor_year(self.tally.per_building(column))

    def _per_sensor_year(self, times_ms: Ints) -> Floats:
        return times_ms / MS_PER_H / self._sensor_years

    @property
    def orphan_hours(self) -> Estimate:
        """Orphan hours per sensor-year, those before the first route included."""
        return hours_estimate(self.hours_per_sensor_year("orphan_ms"))

    @property
    def service_hours_per_building(self) -> Floats:
        """Orphan hours per sensor-year after a sensor's first route, shape (buildings,)."""
        return self._per_sensor_year(
            self.tally.per_building("orphan_ms") - self.tally.per_building("not_reached_ms")
        )

    @property
    def service_hours(self) -> Estimate:
        """Orphan hours per sensor-year after a sensor's first route: what service is like."""
        return hours_estimate(self.service_hours_per_building)

    @property
    def orphan_hours_with_outages(self) -> Estimate:
        """Orphan hours per sensor-year if every site outage counts."""
        return hours_estimate(self.orphan_hours_per_building(with_outages=True))

    @property
    def orphan_hours_without_outages(self) -> Estimate:
        """Orphan hours per sensor-year if no site outage counts."""
        return hours_estimate(self.orphan_hours_per_building(with_outages=False))

    def orphan_hours_per_building(self, with_outages: bool) -> Floats:
        """Orphan hours per sensor-year if every site outage counts or none, shape (buildings,)."""
        times_ms = self.tally.per_building("orphan_ms")
        if (
            with_outages != self.count_site_outages
        ):  # as whole numbers, so that both ways agree exactly
            cut_off_ms = self.tally.per_building("cut_off_ms")
            times_ms = times_ms + cut_off_ms if with_outages else times_ms - cut_off_ms
        return self._per_sensor_year(times_ms)

    @property
    def dark_hours(self) -> Estimate:
        """Hours per sensor-year for which a sensor is silent for any reason."""
        return hours_estimate(self.hours_per_sensor_year("dark_ms"))

    @property
    def silent_hours(self) -> SilentHours:
        """Where the hours go for which a sensor is silent."""
        names = ("dark_ms", "orphan_ms", "cut_off_ms", "not_reached_ms")
        dark, orphan, cut_off, before = (
            float(self.hours_per_sensor_year(name).mean()) for name in names
        )
        counted = cut_off if self.count_site_outages else 0.0
        return SilentHours(dark - orphan, cut_off, before, orphan - before - counted)

    @property
    def not_reached_hours(self) -> Estimate:
        """Orphan hours per sensor-year before a sensor's first route: found at hand-over."""
        return hours_estimate(self.hours_per_sensor_year("not_reached_ms"))

    @property
    def not_reached(self) -> tuple[str, ...]:
        """Sensors that some lifetime began without a route, the longest without one first."""
        waited_ms = {
            sensor: self.tally.sensors["not_reached_ms", sensor].total for sensor in self.sensors
        }
        found = [sensor for sensor, time_ms in waited_ms.items() if time_ms]
        return tuple(sorted(found, key=lambda sensor: -waited_ms[sensor]))

    @property
    def interrupted_hours(self) -> Estimate:
        """Hours per sensor-year that sensors miss while they move to another parent."""
        return hours_estimate(self.hours_per_sensor_year("interrupted_ms"))

    @property
    def hop_depth(self) -> Estimate:
        """Hop depth of sensors with a route, weighted with time."""
        depth, routed = (
            self.tally.per_building(name).astype(np.float64) for name in ("depth_ms", "routed_ms")
        )
        most_routed_ms = LIFETIMES_PER_BUILDING * len(self.sensors) * self.horizon_ms
        return betting_ratio(depth, routed, most_routed_ms, len(self.sensors) + self.n_repeaters)

    @property
    def mean_hop_depth(self) -> float:
        """The same without its bounds; NaN where no sensor ever had a route."""
        depth, routed = (int(self.tally.column(name).sum()) for name in ("depth_ms", "routed_ms"))
        return depth / routed if routed else math.nan

    @property
    def deepest(self) -> int:
        """Largest hop depth seen."""
        return int(self.tally.column("deepest").max())

    @property
    def most_orphans(self) -> Estimate:
        """Mean over lifetimes of the largest number of orphans at once."""
        counts = self.tally.per_building("most_orphans") / LIFETIMES_PER_BUILDING
        return betting_sequence(counts, self._count_of_sensors)

    @property
    def _count_of_sensors(self) -> Limits:
        return Limits(0.0, float(len(self.sensors)))

    @property
    def most_orphans_p95(self) -> Estimate:
        """Largest number of orphans at once that 95 % of lifetimes do not exceed."""
        counts = self.tally.column("most_orphans").reshape(-1, LIFETIMES_PER_BUILDING)
        return betting_quantile(counts, 0.95, self._count_of_sensors)

    @property
    def reparentings_per_year(self) -> Estimate:
        """Moves from one parent to another, of all devices together."""
        years = LIFETIMES_PER_BUILDING * self.horizon_ms / MS_PER_YEAR
        moves = self.tally.per_building("reparentings") / years
        return capped_sequence(moves, Limits(0.0, math.inf), ROOM_MOVES)

    @property
    def typical_year(self) -> TypicalYear:
        """Return what a year holds on average."""
        years = self.n_lifetimes * self.horizon_ms / MS_PER_YEAR

        def per_year(name: str) -> float:
            return float(self.tally.column(name).sum()) / years

        return TypicalYear(
            {name: per_year(name) for name in counted_columns()},
            per_year("visits"),
            per_year("fruitless"),
            per_year("cells"),
            per_year("worked_ms") / MS_PER_H,
        )

    @property
    def sensor_figures(self) -> tuple[SensorFigures, ...]:
        """Every sensor's shares of the horizon, in order of id."""
        shares = [self._sensor_shares(name) for name in ("orphan_ms", "dark_ms", "down_ms")]
        return tuple(map(SensorFigures, self.sensors, *shares))

    def _sensor_shares(self, figure: str) -> list[Estimate]:
        return shares_from_sums(*self.sensor_sums(figure), self.n_buildings)

    def sensor_sums(self, figure: str) -> tuple[Floats, Floats]:
        """Sums over building draws of each sensor's share of the horizon, and of its square."""
        unit_ms = LIFETIMES_PER_BUILDING * self.horizon_ms
        sums = [self.tally.sensors[figure, sensor] for sensor in self.sensors]
        return (
            np.array([one.total / unit_ms for one in sums]),
            np.array([one.squares / unit_ms**2 for one in sums]),
        )

    @property
    def blame_hours(self) -> Mapping[Holder, float]:
        """Orphan hours per sensor-year by what held them; they add up to the whole."""
        return self._hours_by_holder(self.tally.blame_ms)

    @property
    def service_blame_hours(self) -> Mapping[Holder, float]:
        """The same after a sensor's first route; they add up to ``service_hours``."""
        early_ms = self.tally.early_blame_ms
        return self._hours_by_holder(
            {holder: ms - early_ms[holder] for holder, ms in self.tally.blame_ms.items()}
        )

    def _hours_by_holder(self, times_ms: Mapping[Holder, int]) -> Mapping[Holder, float]:
        sensor_years = self._sensor_years * self.n_buildings
        return {
            holder: h_from_ms(time_ms) / sensor_years
            for holder, time_ms in sorted(times_ms.items())
            if time_ms
        }

    @property
    def strikes_per_year(self) -> Mapping[Holder, float]:
        """How often a year each thing that holds devices is struck, on average."""
        years = self.n_lifetimes * self.horizon_ms / MS_PER_YEAR
        return {holder: n / years for holder, n in sorted(self.tally.struck.items())}

    @property
    def incomplete_share(self) -> Estimate:
        """Share of possible buildings in which some sensor never has a route."""
        is_incomplete = self.tally.per_building("unreached") > 0
        return betting_sequence(is_incomplete.astype(np.float64), SHARE)

    @property
    def cell_lives(self) -> Mapping[str, CellLife]:
        """How long cells last, by device, those that go first first."""
        found = {}
        for device, sums in self.tally.drains.items():
            mean_na = sums.total / sums.n_lifetimes
            most, mean, least = (
                self.usable_mah[device] / (na / NA_PER_MA) / HOURS_PER_MONTH if na else math.inf
                for na in (sums.least, mean_na, sums.most)
            )
            found[device] = CellLife(mean, least, most)
        return dict(sorted(found.items(), key=lambda one: one[1].mean_months))


Play = Callable[[Question[Study]], Sequence[Study]]  # plays all layouts until a question is settled


def studies(
    undertaking: Undertaking,
    budget: Budget,
    question: "Question[Study]" = open_question,
    workers: int = 1,
    progress: Progress = no_progress,
) -> tuple[Study, ...]:
    """Study every layout of an undertaking on the same lifetimes.

    Parameters
    ----------
    undertaking : Undertaking
        What to play. [-]
    budget : Budget
        When to stop. [-]
    question : callable
        Asked at every look of the studies so far, one for each layout. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    progress : callable
        Told the lifetimes done and to do, over all layouts. [-]
    """

    def asked(tallies: Sequence[Tally]) -> Ruling:
        return question(as_studies(undertaking, tallies, STILL_PLAYED))

    outcome = played(undertaking, budget, asked, workers, progress)
    return as_studies(undertaking, outcome.tallies, outcome.stopped_because)


def as_studies(
    undertaking: Undertaking, tallies: Sequence[Tally], stopped_because: str
) -> tuple[Study, ...]:
    """Return a study of each layout from what its lifetimes add up to.

    Parameters
    ----------
    undertaking : Undertaking
        What was played. [-]
    tallies : sequence of Tally
        One for each layout. [-]
    stopped_because : str
        Why no more lifetimes were played. [-]
    """
    return tuple(
        Study(
            undertaking.site.name,
            layout.name,
            tuple(sorted(sensor.id for sensor in layout.sensors)),
            round(undertaking.site.horizon_years * MS_PER_YEAR),
            undertaking.seed,
            undertaking.count_site_outages,
            stopped_because,
            tally,
            len(layout.of_kind(Kind.REPEATER)),
            {
                device.id: usable_mah(device)
                for device in layout.devices
                if device.battery is not None
            },
            undertaking.watch,
        )
        for layout, tally in zip(undertaking.layouts, tallies, strict=True)
    )


def study(
    site: Site,
    layout: Layout | str,
    seed: int = DEFAULT_SEED,
    budget: Budget | None = None,
    workers: int = 1,
) -> Study:
    """Study one layout by itself; site outages are not counted as orphan time.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : Layout or str
        One of its layouts, or its name. [-]
    seed : int
        Seed, from 0. [-]
    budget : Budget or None
        When to stop; None takes the default. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]

    Raises
    ------
    UsageError
        The site has no layout of that name, or the seed is negative.
    """
    chosen = site.layout(layout) if isinstance(layout, str) else layout
    undertaking = Undertaking(site, (chosen,), seed, count_site_outages=False)
    return studies(undertaking, budget or Budget(), workers=workers)[0]
