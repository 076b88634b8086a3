"""Many things of which few are held in memory."""

from resilience.ranking.many.on_demand import OnDemand


def test_it_reads_as_a_list_of_its_items():
    squares = OnDemand(range(10), lambda n: n * n)
    assert list(squares) == [n * n for n in range(10)]
    assert (len(squares), squares[3], squares[-1]) == (10, 9, 81)
    assert list(squares[2:8:2]) == [4, 16, 36]
    assert 25 in squares
    assert not OnDemand([], str)


def test_an_item_is_made_when_it_is_looked_at_and_not_before():
    made = []
    items = OnDemand("abc", lambda key: made.append(key) or key)
    few = items[1:]
    assert made == []
    assert few[0] == "b"
    assert made == ["b"]
