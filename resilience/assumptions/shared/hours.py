"""People in busy hours: what they take from every path on average while they are about."""

from resilience.assumptions.catalogue import LOW, Setting
from resilience.assumptions.hazards import IF_NAMED, timetable

SETTINGS = (
    Setting(
        "hazards.busy_hours.loss_db",
        "What people take from every link on average while they are about; one who stands in a "
        f"path takes more, and moves on before a sensor has found another parent. {IF_NAMED}",
        1.0,
        "dB",
        "added to both directions of every link within the timetable",
        "6 to 8 dB while somebody stands in a line of sight at 1.7 GHz and little without one "
        "(ITU-R P.1238, from memory), for a share of the time that nobody published",
        LOW,
        low=0.3,
        high=4.0,
        least=0.0,
        most=100.0,
        above=True,
    ),
    *timetable("hazards.busy_hours", "people are about", ("08:00-18:00", "mon-fri", "every")),
)
