"""Supply circuits: how often one takes all that hangs on it, and what may bridge that."""

from resilience.assumptions.catalogue import LOW, Setting
from resilience.assumptions.hazards import MAINS, duration, share

SETTINGS = (
    share(
        "circuit_outage.share",
        "Share of mains_outage.per_year that takes a whole circuit: all mains devices on it. "
        "Without column circuit those of a level share one.",
        0.7,
        (0.3, 1.0),
        MAINS,
    ),
    Setting(
        "circuits.*.backup_h",
        "How long what hangs on a circuit runs on without supply; shorter losses pass unnoticed.",
        0.0,
        "h",
        "away = time without supply less backup, if above 0",
        "definition",
        LOW,
        low=0.0,
        high=72.0,
        least=0.0,
        most=1e6,
    ),
    Setting(
        "circuits.*.per_year",
        "Losses of supply of the circuit, in the place of share x hazards.mains_outage.per_year.",
        None,
        "1/year",
        "mean time at risk = 8766 h / rate",
        MAINS,
        LOW,
        low=0.2,
        high=3.0,
        least=0.0,
        most=100_000.0,
    ),
    *duration("circuits.*", 2.0, 8.0, (0.5, 12.0), MAINS),
)
