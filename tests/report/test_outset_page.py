"""What ``reinforce --from-sensors`` says of layouts that were found."""

from dataclasses import replace

import pytest

from resilience.building.service.places import CandidatePlace
from resilience.building.service.policy import Policy
from resilience.building.site import Place
from resilience.building.upkeep import Prices
from resilience.montecarlo.estimates import Estimate
from resilience.policy.judgement import Verdict
from resilience.remedies.outset.allowed import allowed_of
from resilience.remedies.outset.proposals import Outset, Proposal, Searched
from resilience.report.advising.outset import outset_page


def _proposal(allowed, cost, verdict, *ids):
    added = tuple(one for one in allowed.could if one.id in ids)
    broken = Estimate(0.02, 0.01, 0.04, 0.99, "made by hand")
    return Proposal(allowed.made("proposal", added), added, cost, broken, verdict, 640)


@pytest.fixture
def found(busy_site):
    """Two of five sensors may be lost; one repeater keeps that, the gateway alone is undecided."""
    site = replace(busy_site, prices=Prices("EUR", device=84, cells=6, gateway=400))
    start = site.layout("a")
    spots = (CandidatePlace("P[red]1", Place("L1", 30.0, 5.0, 2.0)),)
    allowed = allowed_of(site, start, spots)
    judged = (
        _proposal(allowed, 400.0, Verdict.UNDECIDED, "g1"),
        _proposal(allowed, 490.0, Verdict.KEPT, "g1", "P[red]1"),
    )
    searched = (
        Searched(1, 0, 400.0, 1, 1, 1, 1, 1, 0.05),
        Searched(1, 1, 490.0, 1, 1, 1, 1, 0, 0.02),
    )
    head = (site, start, Policy(24.0, 0.95, 2), allowed, judged, searched)
    return Outset(*head, (), True, False, 0.99, 1, "made by hand")


def test_the_first_lines_say_what_to_hang_what_it_costs_and_what_stays_open(found, shown):
    told = " ".join(shown(outset_page(found)).split())
    assert "keeps the promise: 1 gateway (g1) and 1 repeater (P[red]1)." in told
    assert "At most 4.0 of 100 lifetimes break it, and 5 may." in told
    assert "It takes 2 devices beside the 5 sensors, 490 EUR." in told
    assert "All cheaper layouts at these places that reach the sensors were played" in told
    assert "For 1 of those played that stays open" in told
    assert "never more than 2 of 5 sensors cut off at once" in told


def test_where_cheaper_ones_were_left_out_the_answer_does_not_claim_the_least(found, shown):
    first, second = found.searched
    some = replace(found, searched=(replace(first, n_possible=3), second))
    told = " ".join(shown(outset_page(some)).split())
    assert "A cheaper one may exist" in told
    assert "All cheaper layouts" not in told


def test_where_nothing_keeps_it_sensors_out_of_reach_are_named(found, shown):
    nothing = replace(found, judged=(), out_of_reach=("s4",), stopped_because="made by hand")
    told = " ".join(shown(outset_page(nothing)).split())
    assert "No layout was shown to keep the promise: made by hand." in told
    assert "1 sensor would have no way as drawn even if a device hung at every place: s4." in told
