"""What is said before somebody signs: each caution beside a promise that does not call for it."""

from collections import Counter
from dataclasses import replace

import pytest

from resilience.building.service.policy import Policy
from resilience.lifetime.tally import DrainSums, Tally
from resilience.policy.cautions import cautions_of


def promise(longer_than_h, max_orphans=1):
    return Policy(longer_than_h, 0.95, max_orphans=max_orphans)


@pytest.fixture
def site(small_site):
    """Three sensors in a row for a year; moving takes up to 3 h."""
    return small_site.linked("g1~s1=0.9 s1~s2=0.9 s2~s3=0.9", routing={"rejoin_long_h": 3.0})


@pytest.mark.parametrize(("most", "is_told"), [(2, False), (3, True)])
def test_a_promise_that_lets_every_sensor_be_lost_cannot_be_broken(site, most, is_told):
    told = [one for one in cautions_of(site, promise(24, most), ()) if "cannot be broken" in one]
    assert len(told) == is_told
    assert all("lets 3 sensors be lost, and there are 3" in one for one in told)


@pytest.mark.parametrize(("longer_than_h", "is_told"), [(2.9, True), (3.0, False)])
def test_a_promise_shorter_than_a_move_leaves_out_what_an_owner_sees(site, longer_than_h, is_told):
    told = [one for one in cautions_of(site, promise(longer_than_h), ()) if "another parent" in one]
    assert len(told) == is_told


@pytest.mark.parametrize(
    ("alarm_h", "longer_than_h", "is_told"),
    [(0.0, 4.0, False), (24.0, 26.9, True), (24.0, 27.0, False)],
)
def test_a_promise_shorter_than_the_alarm_and_a_move_is_kept_without_repairs_or_not_at_all(
    site, alarm_h, longer_than_h, is_told
):
    """24 h of silence call somebody, and the way back takes up to 3 h more."""
    site = replace(site, upkeep=replace(site.upkeep, alarm_h=alarm_h))
    told = [
        one for one in cautions_of(site, promise(longer_than_h), ()) if "Nobody is called" in one
    ]
    assert len(told) == is_told
    assert all("before 24 h of silence" in one for one in told)


def test_hazards_without_anything_to_strike_are_named_together(site):
    (told,) = [one for one in cautions_of(site, promise(24), ()) if "for a hazard to strike" in one]
    assert "lose their mains; doors and obstacles change" in told
    (layout,) = site.layouts
    plugged = tuple(replace(one, battery=None) if one.id == "s1" else one for one in layout.devices)
    on_mains = replace(site, layouts=(replace(layout, devices=plugged),))
    (told,) = [one for one in cautions_of(on_mains, promise(24), ()) if "to strike" in one]
    assert "mains" not in told


@pytest.mark.parametrize(
    ("drain_ua", "is_told"),
    [(240, False), (220, True), (185, True), (180, False)],
)
def test_a_horizon_that_ends_just_before_the_first_cells_is_told(
    site, made_study, drain_ua, is_told
):
    """By hand: 2,000 mAh last 2,000,000 / 8,766 = 228.2 uA-years; a quarter more 182.5 uA."""
    drains = {"s1": DrainSums(1, *[drain_ua * 1000] * 3)}
    study = made_study("a", orphan=[0.0])
    tally = Tally(0, study.tally.rows, {}, Counter(), Counter(), drains=drains)
    study = replace(study, tally=tally, usable_mah={"s1": 2000.0})
    told = [one for one in cautions_of(site, promise(24), (study,)) if "just before cells" in one]
    assert len(told) == is_told
