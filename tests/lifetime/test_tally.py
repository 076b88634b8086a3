"""Sums over lifetimes are exact, however they are cut into pieces."""

import random
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from resilience.lifetime.playing import Stage
from resilience.lifetime.record import COUNTED, Record
from resilience.lifetime.tally import (
    BY_HOLDER,
    COLUMNS,
    SENSOR_FIGURES,
    Tally,
    joined,
    row_of,
    tallied,
)

N_LIFETIMES = 16


@pytest.fixture(scope="module")
def records(busy_site):
    stage = Stage(busy_site, busy_site.layouts[0], 3, False)
    return [stage.play(number).record for number in range(N_LIFETIMES)]


def as_values(tally):
    by_holder = [getattr(tally, name) for name in BY_HOLDER]
    return (tally.first, tally.rows.tolist(), tally.sensors, by_holder, tally.drains)


def test_the_row_of_a_lifetime_holds_its_sums():
    """By hand, on a made-up record of two sensors and a repeater."""
    record = Record(
        orphan_ms={"s1": 10, "s2": 5},
        dark_ms={"s1": 12, "s2": 9},
        down_ms={"s1": 2, "s2": 4},
        interrupted_ms={"s1": 1, "s2": 0},
        not_reached_ms={"s1": 7, "s2": 0},
        cut_off_ms={"s1": 3, "s2": 6},
        depth_ms={"s1": {1: 50, 3: 20}, "s2": {2: 30}},
        count_ms={0: 80, 1: 15, 2: 0},
        longest_above_ms=(9, 0),
        longest_dark_ms=(11, 0),
        longest_silent_ms=(4 * 3_600_000 + 1, 3_600_000),
        reparentings={"r1": 2, "s1": 1},
        spells=(),
        blame_ms={("layout", ""): 15},
        began={("layout", ""): 2},
        early_blame_ms={("layout", ""): 7},
        site_outage_ms=8,
        struck={
            ("hardware", "s1"): 1,
            ("battery", "s1"): 2,
            ("gateway_outage", "g1"): 3,
            ("gateway_hardware", "g1"): 4,
            ("service", "s1"): 8,
            ("flood", "s2"): 5,
        },
        unreached=("s2",),
        drain_na={"s1": 30_000},
        site_outages=1,
        visits=6,
        cells=7,
        fruitless=2,
        worked_ms=90,
        resurveys=1,
        devices=3,
        gateways=4,
        rounds=5,
    )
    assert dict(zip(COLUMNS, row_of(record), strict=True)) == {
        "orphan_ms": 15,
        "dark_ms": 21,
        "down_ms": 6,
        "cut_off_ms": 9,
        "not_reached_ms": 7,
        "interrupted_ms": 1,
        "site_outage_ms": 8,
        "routed_ms": 100,
        "depth_ms": 50 + 60 + 60,
        "deepest": 3,
        "most_orphans": 1,
        "reparentings": 3,
        "unreached": 1,
        "device_failures": 1,
        "battery_deaths": 2,
        "gateway_outages": 7,
        "visits": 6,
        "cells": 7,
        "fruitless": 2,
        "worked_ms": 90,
        "services": 8,
        "resurveys": 1,
        "devices": 3,
        "gateways": 4,
        "rounds": 5,
        **{f"most_{lost}_beyond_{place}": 0 for lost in COUNTED for place in range(12)},
        **{f"most_silent_beyond_{place}": 1 for place in (0, 1, 2)},  # 1, 2 and 4 h, not 8
    }


def test_a_row_stays_below_64_columns():
    assert len(COLUMNS) <= 64


def test_any_cut_into_pieces_joins_to_the_same_tally(records):
    whole = tallied(0, records)
    chance = random.Random(1)
    for _ in range(30):
        cuts = sorted(chance.sample(range(2, N_LIFETIMES, 2), chance.randint(0, 6)))
        edges = [0, *cuts, N_LIFETIMES]
        pieces = [tallied(start, records[start:end]) for start, end in pairwise(edges)]
        chance.shuffle(pieces)
        assert as_values(joined(pieces)) == as_values(whole)


def test_joining_goes_in_steps_as_well(records):
    pieces = [tallied(start, records[start : start + 4]) for start in range(0, N_LIFETIMES, 4)]
    in_steps = joined([joined(pieces[2:]), joined(pieces[:2])])
    assert as_values(in_steps) == as_values(tallied(0, records))


def test_sensor_sums_are_exact_whole_numbers_over_buildings(records):
    """numpy on integers of unlimited size (object arrays)."""
    tally = tallied(0, records)
    for figure in SENSOR_FIGURES:
        for sensor in ("s1", "s5"):
            values = np.array([getattr(record, figure)[sensor] for record in records], dtype=object)
            buildings = values.reshape(-1, 2).sum(axis=1)
            sums = tally.sensors[figure, sensor]
            assert (sums.total, sums.squares) == (buildings.sum(), (buildings**2).sum())
            assert type(sums.squares) is int


def test_a_building_adds_up_its_two_lifetimes(records):
    tally = tallied(0, records)
    assert tally.n_lifetimes == N_LIFETIMES
    dark_ms = [sum(record.dark_ms.values()) for record in records]
    assert tally.column("dark_ms").tolist() == dark_ms
    assert tally.per_building("dark_ms").tolist() == [
        one + other for one, other in zip(dark_ms[::2], dark_ms[1::2], strict=True)
    ]


def test_blame_and_spells_add_up_over_lifetimes(records):
    tally = tallied(0, records)
    assert sum(tally.blame_ms.values()) == tally.column("orphan_ms").sum() > 0
    assert sum(tally.began.values()) == sum(len(record.spells) for record in records)


def test_joined_rows_are_packed_without_loss_into_the_bytes_that_they_need():
    """Whole numbers around every change of size; a byte holds 0 to 255."""
    edges = [0, *(2 ** (8 * k) + step for k in range(1, 8) for step in (-1, 0)), 2**63 - 1]
    values = np.array([*edges, -1, -(2**63), 5, 0], np.int64).reshape(-1, 2)
    pieces = []
    for k, pair in enumerate(values):
        rows = np.zeros((2, len(COLUMNS)), np.int64)
        rows[:, 3] = pair
        rows[:, 7] = (255, 0)
        pieces.append(Tally(2 * k, rows, {}, Counter(), Counter()))
    halves = [joined(pieces[:4]), joined(pieces[4:])]
    for whole in (joined(pieces), joined(halves), joined([halves[0], *pieces[4:]])):
        assert whole.column(COLUMNS[3]).tolist() == values.reshape(-1).tolist()
        assert whole.n_lifetimes == values.size
        assert {part[7].shape[1] for part in whole.rows.parts} == {1}
        assert {part[0].shape[1] for part in whole.rows.parts} == {0}
