"""One lifetime to be told: its record, its history, and the audit form that others can replay."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resilience.building.site import Layout, Site
from resilience.draws import DEFAULT_SEED, STREAM_VERSION
from resilience.errors import UsageError
from resilience.lifetime.mesh import Mesh, MeshLink, Rules
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import Absence, History, Holder, Record
from resilience.units import h_from_ms

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True)
class Trace:
    """One lifetime of one layout.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : Layout
        The layout that was played. [-]
    seed, number : int
        Seed of the study and number of the lifetime, from 0. [-]
    mesh : Mesh
        The layout in the building that this lifetime drew. [-]
    rules : Rules
        Horizon and routing. [-]
    record : Record
        Its figures. [-]
    history : History
        What happened. [-]
    """

    site: Site
    layout: Layout
    seed: int
    number: int
    mesh: Mesh
    rules: Rules
    record: Record
    history: History

    def to_json(self) -> dict[str, object]:
        """Return the audit form: enough to replay the lifetime elsewhere and to check it."""
        rules, present = self.rules, self._present
        return {
            "format": 1,
            "stream_version": STREAM_VERSION,
            "site": self.site.name,
            "layout": self.layout.name,
            "seed": self.seed,
            "lifetime": self.number,
            "horizon_ms": rules.horizon_ms,
            "routing": _routing_json(rules),
            "site_outages_counted": rules.count_site_outages,
            "devices": [{"id": one.id, "kind": one.kind.value} for one in self.mesh.devices],
            "links": [_link_json(link) for link in self.mesh.links],
            "absences": [_absence_json(absence, present) for absence in self.history.absences],
            "parents": [
                {"t_ms": 0, "device": device, "old": None, "new": parent}
                for device, parent in sorted(self.history.first_parents.items())
            ]
            + [
                {"t_ms": one.time_ms, "device": one.device, "old": one.old, "new": one.new}
                for one in self.history.parents
            ],
            "record": record_json(self.record),
        }

    @property
    def _present(self) -> set[str]:
        """Ids of the devices and links that this building has."""
        return {*(one.id for one in self.mesh.devices), *self.mesh.link}

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per absence, times in hours from hand-over."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "cause": absence.element.cause,
                    "id": absence.element.id,
                    "start_h": h_from_ms(absence.start_ms),
                    "end_h": None if absence.end_ms is None else h_from_ms(absence.end_ms),
                }
                for absence in self.history.absences
            ]
        )


def _routing_json(rules: Rules) -> dict[str, int]:
    return {
        "hysteresis": rules.hysteresis,
        "backups": rules.backups,
        "rejoin_short_ms": rules.rejoin_short_ms,
        "rejoin_long_ms": rules.rejoin_long_ms,
        "reformation_ms": rules.reformation_ms,
        "standby_switch_ms": rules.standby_switch_ms,
    }


def _link_json(link: MeshLink) -> dict[str, object]:
    return {
        "id": link.id,
        "a": link.a,
        "b": link.b,
        "cost": link.path.cost(0),
        "rssi_cdbm": None if link.rssi_cdbm is None else list(link.rssi_cdbm),
    }


def _absence_json(absence: Absence, present: set[str]) -> dict[str, object]:
    return {
        "cause": absence.element.cause,
        "id": absence.element.id,
        "effect": absence.element.effect.value,
        "target": [target for target in absence.element.targets if target in present],
        "amount": absence.element.amount,
        "start_ms": absence.start_ms,
        "end_ms": absence.end_ms,
    }


def record_json(record: Record) -> dict[str, object]:
    """Record of a lifetime under stable keys, times in milliseconds.

    Parameters
    ----------
    record : Record
        What the lifetime left. [-]
    """
    return {
        "orphan_ms": record.orphan_ms,
        "dark_ms": record.dark_ms,
        "down_ms": record.down_ms,
        "interrupted_ms": record.interrupted_ms,
        "not_reached_ms": record.not_reached_ms,
        "cut_off_ms": record.cut_off_ms,
        "depth_ms": {
            sensor: {str(depth): time_ms for depth, time_ms in sorted(times.items())}
            for sensor, times in record.depth_ms.items()
        },
        "count_ms": {str(n): time_ms for n, time_ms in sorted(record.count_ms.items())},
        "longest_above_ms": list(record.longest_above_ms),
        "reparentings": record.reparentings,
        "spells": [
            {
                "sensor": spell.sensor,
                "start_ms": spell.start_ms,
                "end_ms": spell.end_ms,
                "orphan_ms": spell.orphan_ms,
                "cut_by_horizon": spell.is_cut,
            }
            for spell in record.spells
        ],
        "blame_ms": _by_holder(record.blame_ms),
        "began": _by_holder(record.began),
        "site_outage_ms": record.site_outage_ms,
        "site_outages": record.site_outages,
        "strikes": record.strikes,
        "visits": record.visits,
        "cells": record.cells,
    }


def _by_holder(values: dict[Holder, int]) -> list[dict[str, object]]:
    return [
        {"cause": cause, "id": id, "value": value} for (cause, id), value in sorted(values.items())
    ]


def trace(
    site: Site,
    layout: Layout | str,
    number: int,
    seed: int = DEFAULT_SEED,
    count_site_outages: bool = False,
) -> Trace:
    """Play one lifetime and keep all that happened in it.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : Layout or str
        One of its layouts, or its name. [-]
    number : int
        Number of the lifetime, from 0. [-]
    seed : int
        Seed of the study, from 0. [-]
    count_site_outages : bool
        Whether a site outage makes orphans or is counted by itself. [-]

    Raises
    ------
    UsageError
        The site has no layout of that name, or seed or number are negative.
    """
    if seed < 0 or number < 0:
        raise UsageError("seed and lifetime number must be 0 or above")
    chosen = site.layout(layout) if isinstance(layout, str) else layout
    return told(site, Stage(site, chosen, seed, count_site_outages), number)


def told(site: Site, stage: Stage, number: int) -> Trace:
    """Play one lifetime of a layout that is ready, and keep all that happened in it.

    Parameters
    ----------
    site : Site
        The site. [-]
    stage : Stage
        One of its layouts, made ready. [-]
    number : int
        Number of the lifetime, from 0. [-]
    """
    mesh, _ = stage.building(number)
    lived = stage.play(number)
    return Trace(
        site, stage.layout, stage.seed, number, mesh, stage.rules, lived.record, lived.history
    )
