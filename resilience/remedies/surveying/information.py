"""What knowing something is worth, by regression on buildings that were played already.

The buildings are a sample of what is possible; what an outcome is expected to be once a measurement
is known is the regression of that outcome on what the measurement would show (Strong, Oakley and
Brennan 2014). So nothing has to be played again.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from resilience.connectivity.luck.buildings import luck_in_buildings
from resilience.connectivity.table import Floats
from resilience.draws import element_key

SHUFFLES = 199  # of the outcomes, each as if nothing depended on anything
BY_CHANCE = 0.95  # a share explained is told where the best of as many shuffled ones stays below


@dataclass(frozen=True, slots=True)
class Information:
    """What a measurement tells of an outcome.

    Parameters
    ----------
    explained_share : float
        Part of the outcome's variance over buildings that it explains, chance taken off. [-]
    saves : float
        By how much the choice that it allows is better on average. [unit of the outcome]
    is_shown : bool
        Whether so much is more than chance makes of as many measurements that tell nothing. [-]
    """

    explained_share: float
    saves: float
    is_shown: bool


def basis(values: Floats, limits: Sequence[float]) -> Floats:
    """What an outcome may follow: the value itself, and what it lacks to each limit.

    Parameters
    ----------
    values : Floats
        As measured, shape (units,). [unit]
    limits : sequence of float
        Where the outcome may bend. [unit]
    """
    columns = [values, *(np.maximum(0.0, limit - values) for limit in limits)]
    centred = np.stack([one - one.mean() for one in columns], axis=1)
    left, sizes, _ = np.linalg.svd(centred, full_matrices=False)
    found: Floats = left[:, sizes > 1e-9 * max(1.0, float(sizes.max(initial=0.0)))]
    return found


def expected(outcome: Floats, given: Floats) -> Floats:
    """Outcome that is expected once a measurement is known, shape (units,).

    Parameters
    ----------
    outcome : Floats
        Shape (units,). [unit]
    given : Floats
        From ``basis``, shape (units, columns). [-]
    """
    found: Floats = outcome.mean() + given @ (given.T @ outcome)
    return found


def saving(expected_difference: Floats) -> float:
    """By how much choosing after a measurement is better than choosing before it, on average.

    Parameters
    ----------
    expected_difference : Floats
        What one choice loses more than another, as expected after each possible outcome of the
        measurement, shape (units,). [unit]
    """
    # MODELS.md, "value of a measurement": expected value of sample information of two choices.
    after = float(np.maximum(0.0, expected_difference).mean())
    return max(0.0, after - max(0.0, float(expected_difference.mean())))


def informations(
    outcome: Floats, given: Sequence[Floats], shuffles: Sequence[Floats]
) -> tuple[Information, ...]:
    """What each of some measurements tells of an outcome.

    Parameters
    ----------
    outcome : Floats
        A difference between two choices, or a loss, shape (units,). [unit]
    given : sequence of Floats
        A basis each. [-]
    shuffles : sequence of Floats
        The outcome in other orders. [unit]
    """
    total = float(((outcome - outcome.mean()) ** 2).sum())
    if not total or not given:
        return tuple(Information(0.0, 0.0, is_shown=False) for _ in given)
    by_chance = np.zeros(len(shuffles))
    others = np.stack(shuffles, axis=1) if shuffles else np.zeros((len(outcome), 0))
    for one in given:
        by_chance = np.maximum(by_chance, _explained(others, one, total))
    rank = math.ceil(BY_CHANCE * (len(shuffles) + 1)) - 1
    limit = float(np.sort(by_chance)[min(rank, len(shuffles) - 1)]) if shuffles else 0.0
    found = []
    for one in given:
        share = float(_explained(outcome[:, None], one, total)[0])
        saves = saving(expected(outcome, one))
        found.append(Information(max(0.0, share), saves, share > max(0.0, limit)))
    return tuple(found)


def _explained(outcomes: Floats, given: Floats, total: float) -> Floats:
    """Share of variance explained, less what as many columns explain by chance, shape (cases,)."""
    n, n_columns = given.shape
    raw = ((given.T @ outcomes) ** 2).sum(axis=0) / total
    spare = max(1, n - n_columns - 1)
    found: Floats = 1 - (1 - raw) * (n - 1) / spare
    return found


def shuffled(outcome: Floats, seed: int) -> tuple[Floats, ...]:
    """Return an outcome in other orders, the same for the same seed.

    Parameters
    ----------
    outcome : Floats
        Shape (units,). [unit]
    seed : int
        Seed of the study. [-]
    """
    names = [f"shuffle {n}" for n in range(SHUFFLES)]
    keys = np.array([element_key("survey", name, "order") for name in names], np.uint64)
    order = np.argsort(luck_in_buildings(seed, len(outcome), keys), axis=0)
    return tuple(outcome[order[:, n]] for n in range(SHUFFLES))


def knowable_share(first: Floats, second: Floats) -> float:
    """Part of an outcome's variance that two lifetimes in the same building share.

    Parameters
    ----------
    first, second : Floats
        The outcome in either lifetime of each building, shape (units,). [unit]
    """
    # MODELS.md, "what a survey removes": the covariance within pairs is the variance between
    # buildings (one-way random effects, Searle, Casella and McCulloch 1992).
    pooled = (float(first.var(ddof=1)) + float(second.var(ddof=1))) / 2
    if not pooled:
        return 0.0
    shared = float(((first - first.mean()) * (second - second.mean())).sum()) / (len(first) - 1)
    return min(1.0, max(0.0, shared / pooled))
