"""What breaks a promise is told from the moments of excess alone; by hand."""

from resilience.policy.breaking import excesses

X, Y = ("hardware", "r1"), ("link_blockage", "g1~s1")


def test_an_excess_goes_on_while_one_sensor_takes_the_place_of_another():
    """More than one of three from 20 to 50, and again from 70 to 75."""
    lost = [[(0, 30, X), (70, 75, X)], [(20, 50, X)], [(30, 80, Y)]]
    assert list(excesses(lost, 1, 0)) == [(20, 50), (70, 75)]
    assert list(excesses(lost, 1, 5)) == [(20, 50)]  # what lasts as long as D breaks nothing
    assert list(excesses(lost, 1, 4)) == [(20, 50), (70, 75)]
    assert list(excesses(lost, 2, 0)) == []


def test_by_sensor_nobody_takes_the_place_of_another():
    """Two of three at once from 20 to 30, two others from 30 to 50, and two from 70 to 75."""
    lost = [[(0, 30, X), (70, 75, X)], [(20, 50, X)], [(30, 80, Y)]]
    assert list(excesses(lost, 1, 19, per_sensor=True)) == [(30, 50)]
    assert list(excesses(lost, 1, 20, per_sensor=True)) == []
    assert list(excesses(lost, 1, 4, per_sensor=True)) == [(20, 30), (30, 50), (70, 75)]
    assert list(excesses(lost, 0, 29, per_sensor=True)) == [(0, 30), (20, 50), (30, 80)]
    assert list(excesses(lost, 0, 30, per_sensor=True)) == [(30, 80)]


def test_a_sensor_counts_once_though_several_things_take_it_away():
    lost = [[(0, 30, X), (10, 50, Y), (50, 60, X), (61, 70, Y)]]
    assert list(excesses(lost, 0, 0)) == [(0, 60), (61, 70)]
    assert list(excesses(lost, 1, 0)) == []
