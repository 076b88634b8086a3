"""What ``reinforce`` says of changes that were found."""

from dataclasses import replace

import pytest

from resilience.building.service.places import CandidatePlace
from resilience.building.site import Place
from resilience.building.upkeep import Prices
from resilience.montecarlo.estimates import Estimate
from resilience.ranking.pairs import Pair, RankedBy, Verdict
from resilience.remedies.groundwork.spots import hung
from resilience.remedies.reinforcing.options import Move, options
from resilience.remedies.reinforcing.proposal import Confirmed, Reinforcement, Step
from resilience.report.advising.reinforcing import reinforcement_page


def about(mean, low, high):
    return Estimate(mean, low, high, 0.95, "made by hand")


def pair(verdict, mean, low, high):
    estimate = about(mean, low, high)
    return Pair("a", "a", RankedBy.ALL, estimate, estimate, verdict, 0, (), 0.9, 64)


@pytest.fixture
def found(busy_site):
    """A repeater more saves 12 h a sensor and year of five sensors, and costs 90."""
    site = replace(busy_site, prices=Prices("EUR", device=84, cells=6, gateway=400))
    start = site.layout("b")
    spot = CandidatePlace("P[red]1", Place("L1", 30.0, 5.0, 2.0))
    wanted = options(start, [hung(site, start, spot)])
    added = next(one for one in wanted if one.move is Move.ADD)
    taken = Confirmed(added, 11.0, pair(Verdict.BETTER, -12.0, -20.0, -4.0))
    step = Step((taken,), taken, about(30.0, 20.0, 40.0), 90.0)
    return Reinforcement(
        site, start, added.made(start), (step,), taken.pair, 1, 0.99, 3, 1, 7, 2, "made by hand"
    )


def test_the_first_lines_say_what_helps_how_much_and_what_it_costs(found, shown):
    told = " ".join(shown(reinforcement_page(found)).split())
    assert "What would help b most: repeater P[red]1 (L1, x 30 m, y 5 m)." in told
    assert "cut off 12 (4 to 20) h a year less, which is shown." in told
    assert "costs 90 EUR to install and saves 60 hours a year over all sensors" in told
    assert "0.67 h for each EUR" in told  # 60 / 90
    assert "1 place of places.csv left out" in told
    assert "From 2 of 3 places nothing of the layout is ever heard." in told


def test_without_prices_hours_are_told_for_each_device(found, shown):
    (step,) = found.steps
    unpriced = replace(found, steps=(replace(step, cost=None),))
    told = " ".join(shown(reinforcement_page(unpriced)).split())
    assert "Over all sensors that is 60 hours a year for one device." in told
    assert "for each" not in told


def test_what_changes_nothing_is_not_recommended(found, shown):
    (step,) = found.steps
    poor = replace(step.confirmed[0], pair=pair(Verdict.ALIKE, -0.1, -0.3, 0.1))
    nothing = replace(
        found, layout=found.start, steps=(replace(step, confirmed=(poor,), taken=None),), total=None
    )
    told = " ".join(shown(reinforcement_page(nothing)).split())
    assert "b is best left as it is" in told
    assert "What would help" not in told


def test_where_no_option_looked_like_a_help_that_is_all_that_is_said(found, shown):
    told = shown(reinforcement_page(replace(found, layout=found.start, steps=(), total=None)))
    assert told.startswith("b: made by hand.")
