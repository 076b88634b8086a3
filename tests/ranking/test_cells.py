"""Sites on which cells alone decide: who was delivered together, and what the cells are made of."""

from dataclasses import fields, replace

import pytest

from resilience.building.settings import Battery, Duration, Hazards
from resilience.building.stated.equipment import batteries_of
from resilience.building.text.entries import Findings
from resilience.montecarlo.runs.running import Budget
from resilience.ranking.comparison import compare
from resilience.ranking.pairs import Verdict

PROFILES = batteries_of(None, None, Findings())
NONE = dict.fromkeys(field.name for field in fields(Hazards))
COLD_STORE_C = (-18.0,) * 12


@pytest.fixture(scope="module")
def two_ways(small_site):
    """Return a layout of one sensor on mains behind two repeaters on cells."""

    def layout(name, batches=("", ""), **cells):
        repeaters = [
            replace(small_site.device(id, leaf_ua=60.0, forwarding_ua=0.0), batch=batch, **cells)
            for id, batch in zip(("r1", "r2"), batches, strict=True)
        ]
        sensor = replace(small_site.device("s1"), battery=None)
        links = "g1~r1=1 g1~r2=1 r1~s1=1 r2~s1=1"
        return small_site.layout(name, sensor, *repeaters, links=links)

    return layout


def settled(small_site, *layouts, batch_share=0.8):
    """Compare layouts on which nothing but cells strikes, each mended after 30 days."""
    site = small_site(
        *layouts,
        radio={"predict": False, "swing_db": 0.0},
        hazards=NONE | {"battery": Battery(0.12, batch_share)},
        upkeep={"repair": Duration("fixed", mean_h=720.0)},
        horizon_years=8.0,
    )
    return compare(site, budget=Budget(lifetimes=1000, seconds=600))


def test_repeaters_with_cells_of_one_delivery_fail_their_sensor_together(small_site, two_ways):
    """Same cells, same draw, same places: with all spread in common both are flat at once.

    Each time the sensor is cut off for the 720 h of the visit; two deliveries hardly ever meet.
    """
    cells = {"battery": PROFILES["two_aa_lithium"]}
    found = settled(
        small_site,
        two_ways("one-delivery", ("b", "b"), **cells),
        two_ways("two-deliveries", ("b1", "b2"), **cells),
        batch_share=1.0,
    )
    pair = found.pair("two-deliveries", "one-delivery")
    assert pair.verdict is Verdict.BETTER
    assert found.pairs[0].difference.mean < -50
    together = next(one.study for one in found.placed if one.layout.name == "one-delivery")
    assert {cause for cause, _ in together.blame_hours} == {"battery"}


def test_in_a_cold_store_the_chemistry_of_the_cells_decides(small_site, two_ways):
    """The same nameplate, share and places at -18 C: alkaline cells hold half as long.

    At 20 C and without self-discharge both would be the same to the millisecond.
    """

    def cells(kind, by_month_c):
        made_of = replace(PROFILES[kind], capacity_mah=3000.0, usable_share=0.8)
        return {"battery": made_of, "by_month_c": by_month_c}

    found = settled(
        small_site,
        two_ways("alkaline", **cells("two_aa_alkaline", COLD_STORE_C)),
        two_ways("lithium", **cells("two_aa_lithium", COLD_STORE_C)),
    )
    assert found.pair("lithium", "alkaline").verdict is Verdict.BETTER
    lives = {one.layout.name: one.study.cell_lives["r1"].mean_months for one in found.placed}
    assert lives["alkaline"] < 0.6 * lives["lithium"]


def test_without_cold_and_self_discharge_chemistries_are_the_same(small_site, two_ways):
    def cells(kind):
        made_of = replace(
            PROFILES[kind], capacity_mah=3000.0, usable_share=0.8, self_discharge_per_year=0.0
        )
        return {"battery": made_of}

    found = settled(
        small_site,
        two_ways("alkaline", **cells("two_aa_alkaline")),
        two_ways("lithium", **cells("two_aa_lithium")),
    )
    assert found.pair("alkaline", "lithium").verdict is Verdict.SAME
