"""300 small random lifetimes whose every figure is known.

They were worked out from the law of the simulation by a program written apart from this one and
confirmed by a second.
"""

import gzip
import json
from pathlib import Path

import pytest

from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element, Scripted
from resilience.hazards.table import HazardTable
from resilience.lifetime.engines import COMPILED, REFERENCE, player
from resilience.lifetime.mesh import GivenPath, Luck, Mesh, MeshDevice, MeshLink, Rules
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, History, Holder, Lifetime, Record
from resilience.lifetime.reference.simulator import simulate

ORACLE = Path(__file__).parents[1] / "oracles" / "scripted-lifetimes.json.gz"
LIFETIMES = json.loads(gzip.decompress(ORACLE.read_bytes()))


def _mesh(case: dict) -> Mesh:
    devices = [MeshDevice(device["id"], Kind(device["kind"])) for device in case["devices"]]
    links = [
        MeshLink(link["id"], link["a"], link["b"], GivenPath(link["cost"]))
        for link in case["links"]
    ]
    return Mesh(
        tuple(sorted(devices, key=lambda device: device.id)),
        tuple(sorted(links, key=lambda link: (link.a, link.b))),
        frozenset(),
    )


def _elements(case: dict) -> tuple[Element, ...]:
    return tuple(
        Element(
            one["cause"],
            one["id"],
            Effect(one["effect"]),
            (one["target"],),
            one["extra"],
            Scripted(tuple((start, end) for start, end in one["away"])),
        )
        for one in case["elements"]
    )


def _rules(case: dict) -> Rules:
    names = "horizon_ms hysteresis backups rejoin_short_ms rejoin_long_ms reformation_ms"
    return Rules(
        **{name: case[name] for name in names.split()},
        count_site_outages=case["count_site_outages"],
    )


def _without_zeros(figures: dict) -> dict:
    return {str(key): value for key, value in figures.items() if value}


def _by_holder(figures: dict[Holder, int]) -> dict[str, int]:
    named: dict[str, int] = {}
    for holder, value in figures.items():
        name = "layout" if holder in (LAYOUT, RADIO_DRAW) else "/".join(holder)
        named[name] = named.get(name, 0) + value
    return _without_zeros(named)


def _times(record: Record) -> dict:
    figures = {
        name: _without_zeros(getattr(record, name))
        for name in ("orphan_ms", "dark_ms", "down_ms", "count_ms", "interrupted_ms")
    }
    return figures | {
        "not_reached_ms": _without_zeros(record.not_reached_ms),
        "depth_ms": _without_zeros(
            {sensor: _without_zeros(depths) for sensor, depths in record.depth_ms.items()}
        ),
        "site_outage_ms": record.site_outage_ms,
    }


def _events(record: Record, history: History) -> dict:
    return {
        "reparentings": _without_zeros(record.reparentings),
        "spells": [
            [spell.sensor, spell.start_ms, spell.end_ms, int(spell.is_cut)]
            for spell in record.spells
        ],
        "longest_above": (list(record.longest_above_ms) + [0] * 4)[:4],
        "blame_ms": _by_holder(record.blame_ms),
        "began": _by_holder(record.began),
        "history": [
            [change.time_ms, change.device, change.old or "", change.new or ""]
            for change in history.parents
        ],
    }


def _told(lifetime: Lifetime) -> dict:
    return _times(lifetime.record) | _events(lifetime.record, lifetime.history)


def test_there_are_300_of_them_and_no_figure_is_left_untested():
    assert len(LIFETIMES) == 300
    case = LIFETIMES[0]["case"]
    told = _told(simulate(_mesh(case), HazardTable(_elements(case), ()), _rules(case), Luck(1, 0)))
    assert all(set(lifetime["expected"]) == set(told) for lifetime in LIFETIMES)


@pytest.mark.parametrize("engine", [COMPILED, REFERENCE])
@pytest.mark.parametrize("number", range(len(LIFETIMES)))
def test_every_figure_of_a_scripted_lifetime_is_the_known_one(number, engine):
    case, expected = LIFETIMES[number]["case"], LIFETIMES[number]["expected"]
    played = player(engine, _mesh(case), HazardTable(_elements(case), ()), _rules(case))
    assert _told(played.lifetime(Luck(1, 0))) == expected
