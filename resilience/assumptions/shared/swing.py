"""What the swing of links has in common: one part for the whole mesh, one for each device."""

from resilience.assumptions.catalogue import COMMON_PRACTICE, LOW, Setting


def _share(name: str, meaning: str) -> Setting:
    """Return a share of the variance of the swing; both together are at most all of it."""
    return Setting(
        f"radio.{name}",
        f"{meaning} Off unless stated.",
        0.0,
        "-",
        "level = sum of levels, each with the square root of its share of the spread",
        COMMON_PRACTICE,
        LOW,
        least=0.0,
        most=0.5,
    )


SETTINGS = (
    _share(
        "swing_mesh_share",
        "Share of the variance of radio.swing_db that all links of the mesh have in common.",
    ),
    _share(
        "swing_device_share",
        "The same of what all links of one device have in common, half of it for each end.",
    ),
)
