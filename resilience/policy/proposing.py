"""The strictest promise of a layout, with some reserve, and held against fresh lifetimes."""

from collections.abc import Sequence
from dataclasses import replace

from resilience.building.service.policy import Policy
from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.montecarlo.study import Study
from resilience.policy.bounds import Bounds
from resilience.policy.frontier import Step, frontier
from resilience.units import ms_from_h

RESERVE = 1  # sensors more than what lifetimes show at the strictest


class Narrowing:
    """Question of a proposal, asked at every look: whether no stricter promise can hold.

    Parameters
    ----------
    policy : Policy
        States duration, probability and what counts. [-]
    """

    def __init__(self, policy: Policy) -> None:
        self._policy = policy

    def step(self, study: Study) -> Step:
        """What can be promised of a layout for the policy's own duration.

        Parameters
        ----------
        study : Study
            Its lifetimes. [-]
        """
        own_ms = ms_from_h(self._policy.longer_than_h)
        bounds = Bounds(study, self._policy.count.value, own_ms, 1)
        steps = frontier(bounds, self._policy.kept_with_probability)
        return steps[study.watch.durations_ms.index(own_ms)]

    def __call__(self, found: Sequence[Study]) -> Ruling:
        """Look at what the layout has shown.

        Parameters
        ----------
        found : sequence of Study
            Of one layout. [-]
        """
        step = self.step(found[0])
        refuted = -1 if step.refuted is None else step.refuted
        is_narrow = step.promised is not None and step.promised == refuted + 1
        return Ruling(SETTLED if is_narrow else "")

    def proposal(self, study: Study) -> Policy | None:
        """Return the strictest promise less a reserve; None if no promise is left.

        Parameters
        ----------
        study : Study
            Lifetimes of the layout. [-]
        """
        promised = self.step(study).promised
        if promised is None or promised + RESERVE >= len(study.sensors):
            return None
        return replace(self._policy, max_orphans=promised + RESERVE, max_orphan_share=None)
