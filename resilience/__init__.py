"""Monte Carlo failure-resilience simulator for battery-powered sensor meshes in buildings.

The names below are the public interface; they are loaded when first used, so that importing the
package stays cheap. Everything else may change.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from resilience.building.files.folder import read_site as read_site
    from resilience.building.service.policy import Policy as Policy
    from resilience.building.site import Site as Site
    from resilience.connectivity.links import links as links
    from resilience.lifetime.tracing import trace as trace
    from resilience.montecarlo.study import study as study
    from resilience.policy.judging import judge as judge
    from resilience.ranking.comparison import compare as compare
    from resilience.remedies.reinforcing.steps import reinforce as reinforce
    from resilience.remedies.weakest import weakest as weakest

__version__ = "0.1.0"

_PUBLIC = {
    "Policy": "resilience.building.service.policy",
    "Site": "resilience.building.site",
    "compare": "resilience.ranking.comparison",
    "judge": "resilience.policy.judging",
    "links": "resilience.connectivity.links",
    "read_site": "resilience.building.files.folder",
    "reinforce": "resilience.remedies.reinforcing.steps",
    "study": "resilience.montecarlo.study",
    "trace": "resilience.lifetime.tracing",
    "weakest": "resilience.remedies.weakest",
}

__all__ = [
    "Policy",
    "Site",
    "compare",
    "judge",
    "links",
    "read_site",
    "reinforce",
    "study",
    "trace",
    "weakest",
]


def __getattr__(name: str) -> object:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'resilience' has no attribute {name!r}")
    return getattr(import_module(_PUBLIC[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
