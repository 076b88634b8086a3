"""Real processes: one that dies is replaced, and an order that kills is given back."""

import os
import pickle
import time
import zlib

import pytest

from resilience.errors import UsageError
from resilience.montecarlo.runs.manifest import code_digest
from resilience.sweep.crew import Crew, KillsError, Where
from resilience.sweep.finding import Terms, asked_of
from resilience.sweep.orders import Answer, Order


class Deadly:
    """Ends the process that unpacks it."""

    def __reduce__(self):
        return os._exit, (1,)


def test_an_order_that_kills_is_given_back_and_the_others_are_carried_out(top):
    good = asked_of(top / "a", "a", Terms(1, "reference")).packed()
    deadly = zlib.compress(pickle.dumps(Deadly()))
    told = {}
    with Crew(Where(2)) as crew:
        first = set(crew.pids)
        for name, packed in (("good", good), ("deadly", deadly), ("better", good)):
            crew.ask(Order(packed, ((0, 2),), 1.0, code_digest()), name)
        told.update(crew.answers(lambda: False))
        assert isinstance(told.pop("deadly"), KillsError)
        for name in [name for name, answer in told.items() if isinstance(answer, KillsError)]:
            crew.ask(Order(good, ((0, 2),), 1.0, code_digest()), name)  # it was only beside it
            told.update(crew.answers(lambda: False))
        end = time.monotonic() + 60
        while not set(crew.pids) - first and time.monotonic() < end:
            time.sleep(0.1)
        assert set(crew.pids) - first  # those that died were replaced
    assert all(isinstance(answer, Answer) for answer in told.values())


def test_a_scheduler_that_does_not_answer_is_told_with_a_way_out(monkeypatch):
    monkeypatch.setattr("resilience.sweep.crew.SECONDS_TO_CONNECT", 0.2)
    crew = Crew(Where(1, "tcp://127.0.0.1:9"))
    with pytest.raises(UsageError, match=r"no scheduler answers.*dask scheduler"), crew:
        pass
