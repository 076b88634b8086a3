"""How far a portfolio has come, in words."""

from dataclasses import dataclass

import pytest

from resilience.ranking.many.portfolio import Failure
from resilience.ranking.many.sites import Figure
from resilience.terminal.keep_up.telling import Watcher


@dataclass
class Layout:
    hours: Figure


class Score:
    """As much of a score as is told."""

    id, verdict = "north/b", None

    def best(self, _):
        return Layout(Figure(5.0, 4.0, 6.0))


@pytest.fixture
def watched():
    said, now = [], [0.0]
    return Watcher(4, said.append, clock=lambda: now[0]), said, now


def test_each_site_is_a_line_and_rate_and_time_left_follow_from_what_was_played(watched):
    watcher, said, now = watched
    watcher.checked(2, 4)
    assert watcher.words == "checking 2 of 4 sites"
    watcher.checked(4, 4)
    assert watcher.words == "0 of 4 sites, playing the first"
    watcher.scored(Score(), True)
    now[0] = 60.0
    watcher.scored(Score(), False)
    # one in a minute is played, one was kept: two are left
    assert watcher.words == "2 of 4 sites, 1 a minute, 2 min left"
    watcher.failed(Failure("south", "it is broken\nand more", was_played=True))
    assert said == [
        "north/b: 5 (4 to 6) h cut off a sensor and year",
        "south: failed: it is broken",
    ]
