"""One lifetime to be told: its record, its history, and the audit form that others can replay."""

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from resilience.building.site import Layout, Site
from resilience.connectivity.air import Air
from resilience.connectivity.reception import FULL, LOW_CDBM
from resilience.draws import DEFAULT_SEED, STREAM_VERSION, element_key, phase_ms, stream
from resilience.errors import UsageError
from resilience.lifetime.mesh import DrawnPath, Mesh, MeshDevice, MeshLink, Path, Rules
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import SWING, Absence, Call, History, Holder, Record
from resilience.units import h_from_ms

if TYPE_CHECKING:
    import pandas

FORMAT = 2

HOW_LOSSES = (
    "The loss of a link is the sum of all losses in force, less its level; hundredths of a dB.",
    "It is usable if nothing cuts it, both ends are up, and spare_cdb is not below the loss.",
    "Its cost is fixed_cost, or floor(128 / (p q) + 1/2), p and q the reception ratios at its two "
    "heard_cdbm less the loss; extra costs in force are added.",
)
HOW_LEVELS = (
    "At t a link is in hold k = floor((t + phase_ms) / holds_ms).",
    "n is the first 12 of the 64 bits of mix(start + (k + 2) 11400714819323198485); all modulo "
    "2^64.",
    "mix(x): x = (x xor (x >> 30)) 13787848793156543929, then x = (x xor (x >> 27)) "
    "10723151780598845931, then x xor (x >> 31).",
    "The level is floor(100 spread_db z + 1/2) hundredths of a dB, z the standard normal quantile "
    "of (n + 1/2) / 4096. It counts both ways.",
    "Where links have a part in common, the levels of the mesh and of the devices at both ends are "
    "found alike and added.",
)


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
        rules, present, air = self.rules, self._present, self.mesh.air
        return {
            "format": FORMAT,
            "stream_version": STREAM_VERSION,
            "site": self.site.name,
            "begins": self.site.begins.isoformat(),
            "as_if_new": self.site.standing.today is None,
            "layout": self.layout.name,
            "seed": self.seed,
            "lifetime": self.number,
            "horizon_ms": rules.horizon_ms,
            "routing": _routing_json(rules),
            "site_outages_counted": rules.count_site_outages,
            "reception": None if air is None else _reception_json(air),
            "losses": {"how": HOW_LOSSES},
            "levels": None if air is None else self._levels_json(air),
            "devices": [_device_json(device) for device in self.mesh.devices],
            "links": [self._link_json(link) for link in self.mesh.links],
            "routed_at_mean": sorted(self.mesh.routed_at_mean),
            "absences": [_absence_json(absence, present) for absence in self.history.absences],
            "parents": [
                {"t_ms": 0, "device": device, "old": None, "new": parent}
                for device, parent in sorted(self.history.first_parents.items())
            ]
            + [
                {"t_ms": one.time_ms, "device": one.device, "old": one.old, "new": one.new}
                for one in self.history.parents
            ],
            "faded": [{"t_ms": time_ms, "link": id} for time_ms, id in self.history.faded],
            "calls": [_call_json(call) for call in self.history.calls],
            "record": record_json(self.record),
        }

    @property
    def _present(self) -> set[str]:
        """Ids of the devices and links that this building has."""
        return {*(one.id for one in self.mesh.devices), *self.mesh.link}

    def _levels_json(self, air: Air) -> dict[str, object]:
        radio = self.site.radio
        mesh_share, device_share = radio.swing_mesh_share, radio.swing_device_share
        own = {
            "how": HOW_LEVELS,
            "holds_ms": air.holds_ms,
            "spread_db": radio.swing_db * math.sqrt(1 - mesh_share - device_share),
        }
        if not air.common_cdb:
            return own
        return own | {
            "mesh": {
                "spread_db": radio.swing_db * math.sqrt(mesh_share),
                **self._stream_json("mesh", "", air),
            },
            "devices": {
                "spread_db": radio.swing_db * math.sqrt(device_share / 2),
                "of": {
                    one.id: self._stream_json("device", one.id, air) for one in self.mesh.devices
                },
            },
        }

    def _stream_json(self, kind: str, id: str, air: Air) -> dict[str, object]:
        """Return where the levels of a link, a device or the mesh are drawn from."""
        start = self._start(kind, id)
        return {"start": str(start), "phase_ms": phase_ms(start, air.holds_ms)}

    def _start(self, kind: str, id: str) -> int:
        return stream(self.seed, self.number, element_key(kind, id, SWING))

    def _link_json(self, link: MeshLink) -> dict[str, object]:
        air, path = self.mesh.air, link.path
        drawn = path if isinstance(path, DrawnPath) else None
        return {
            "id": link.id,
            "a": link.a,
            "b": link.b,
            "cost": path.cost(0),
            "fixed_cost": path.dearest if _costs_the_same(path) else None,
            "spare_cdb": drawn and drawn.spare_cdb,
            "heard_cdbm": drawn and list(drawn.heard_cdbm),
            "rssi_cdbm": drawn and list(drawn.rssi_cdbm),
            "start": str(self._start("link", link.id)),  # beyond what a float holds
            "phase_ms": None
            if air is None
            else phase_ms(self._start("link", link.id), air.holds_ms),
        }

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
        "look_around_ms": rules.look_around_ms,
    }


def _reception_json(air: Air) -> dict[str, object]:
    """Reception by the strength of a moment, without the ends where it stays as it is."""
    table = air.curve.table
    first, last = table.searchsorted(table[0], "right"), table.searchsorted(table[-1])
    return {
        "unit": f"1/{FULL}",
        "min_prr": air.min_prr,
        "first_cdbm": LOW_CDBM + int(first) - 1,
        "prr": table[first - 1 : last + 1].tolist(),
    }


def _device_json(device: MeshDevice) -> dict[str, object]:
    return {
        "id": device.id,
        "kind": device.kind.value,
        "forwards": device.forwards,
        "standby": device.standby,
    }


def _costs_the_same(path: Path) -> bool:
    """Whether a link costs the same whenever it is usable."""
    return not isinstance(path, DrawnPath) or path.air.counts_hops


def _absence_json(absence: Absence, present: set[str]) -> dict[str, object]:
    return {
        "cause": absence.element.cause,
        "id": absence.element.id,
        "effect": absence.element.effect.value,
        "target": [target for target in absence.element.targets if target in present],
        "amount": absence.element.amount,
        "amounts": {id: n for id, n in absence.element.loads.items() if id in present}
        if absence.element.amounts
        else None,
        "start_ms": absence.start_ms,
        "end_ms": absence.end_ms,
    }


def _call_json(call: Call) -> dict[str, object]:
    return asdict(call) | {"mended": [list(name) for name in call.mended]}


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
        "longest_dark_ms": list(record.longest_dark_ms),
        "longest_silent_ms": list(record.longest_silent_ms),
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
        "early_blame_ms": _by_holder(record.early_blame_ms),
        "site_outage_ms": record.site_outage_ms,
        "site_outages": record.site_outages,
        "strikes": record.strikes,
        "unreached": list(record.unreached),
        "drain_na": record.drain_na,
        "visits": record.visits,
        "cells": record.cells,
        "fruitless_visits": record.fruitless,
        "worked_ms": record.worked_ms,
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
