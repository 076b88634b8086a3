"""What-ifs, with time and progress as the comparison was asked for."""

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import replace
from typing import TYPE_CHECKING

from resilience.terminal.runs.asking import Answered

if TYPE_CHECKING:
    from resilience.building.site import Site
    from resilience.ranking.comparison import Comparison
    from resilience.remedies.supposing.grammar import Supposition
    from resilience.remedies.supposing.whatifs import WhatIfs

MOST_LIFETIMES = 512  # of each what-if


def suppositions(texts: Sequence[str], site: "Site") -> "tuple[Supposition, ...]":
    """Read what-ifs before anything is played.

    Parameters
    ----------
    texts : sequence of str
        As they were said. [-]
    site : Site
        As read. [-]
    """
    from resilience.remedies.supposing.grammar import supposition

    return tuple(supposition(text, site) for text in texts)


def whatifs_of(
    found: "Answered[Comparison]", supposed: "Sequence[Supposition]"
) -> "WhatIfs | None":
    """Play what-ifs on the lifetimes of a comparison; None where there is none.

    Parameters
    ----------
    found : Answered
        The comparison, and how it was asked for. [-]
    supposed : sequence of Supposition
        What is supposed. [-]
    """
    from resilience.montecarlo.runs.running import Undertaking
    from resilience.remedies.supposing.whatifs import Effort, whatifs
    from resilience.terminal.runs.progress import doing

    if not supposed:
        return None
    wish, comparison = found.wish, found.answer
    undertaking = replace(Undertaking.whole(comparison.site, wish.seed), engine=found.engine)
    n_lifetimes = min(MOST_LIFETIMES, comparison.leader.n_lifetimes)
    effort = Effort(n_lifetimes, wish.seconds, wish.n_threads)
    with nullcontext() if wish.is_quiet else doing("playing what-ifs"):
        return whatifs(undertaking, comparison, supposed, effort)
