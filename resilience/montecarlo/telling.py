"""What a study says, as JSON and as a table."""

from dataclasses import asdict
from typing import TYPE_CHECKING

from resilience.draws import STREAM_VERSION
from resilience.montecarlo.estimates import LEVEL
from resilience.montecarlo.figures import SensorFigures, TypicalYear
from resilience.montecarlo.study import Study

if TYPE_CHECKING:
    import pandas


def study_json(study: Study) -> dict[str, object]:
    """Return how a study was made and its figures under stable keys.

    Parameters
    ----------
    study : Study
        Its lifetimes. [-]
    """
    return {
        "format": 1,
        "stream_version": STREAM_VERSION,
        "site": study.site,
        "seed": study.seed,
        "lifetimes": study.n_lifetimes,
        "level": LEVEL,
        "stopped_because": study.stopped_because,
        "site_outages_counted": study.count_site_outages,
        **figures_json(study),
    }


def figures_json(study: Study) -> dict[str, object]:
    """Return the figures of one layout under stable keys.

    Parameters
    ----------
    study : Study
        Its lifetimes. [-]
    """
    return {
        "name": study.layout,
        "service_hours_per_sensor_year": study.service_hours.to_json(),
        "orphan_hours_per_sensor_year": study.orphan_hours.to_json(),
        "orphan_hours_with_outages": study.orphan_hours_with_outages.to_json(),
        "orphan_hours_without_outages": study.orphan_hours_without_outages.to_json(),
        "dark_hours_per_sensor_year": study.dark_hours.to_json(),
        "silent_hours_per_sensor_year": {
            "total": study.silent_hours.total,
            **asdict(study.silent_hours),
        },
        "not_reached_at_handover": study.not_reached_hours.to_json(),
        "share_of_buildings_with_a_sensor_never_reached": study.incomplete_share.to_json(),
        "interrupted_hours_per_sensor_year": study.interrupted_hours.to_json(),
        "hop_depth": {**study.hop_depth.to_json(), "max": study.deepest},
        "reparentings_per_year": study.reparentings_per_year.to_json(),
        "max_orphans": {
            "mean": study.most_orphans.to_json(),
            "p95": study.most_orphans_p95.to_json(),
        },
        "blame_hours_per_sensor_year": [
            {"cause": cause, "id": id, "hours": hours}
            for (cause, id), hours in study.blame_hours.items()
        ],
        "strikes_per_year": [
            {"cause": cause, "id": id, "n": n} for (cause, id), n in study.strikes_per_year.items()
        ],
        "upkeep_per_year": _upkeep(study.typical_year),
        "months_between_cells": {
            device: life.to_json() for device, life in study.cell_lives.items()
        },
        "sensors": [_sensor(figures) for figures in study.sensor_figures],
    }


def _sensor(figures: SensorFigures) -> dict[str, object]:
    return {
        "id": figures.id,
        "orphan_share": figures.orphan_share.to_json(),
        "dark_share": figures.dark_share.to_json(),
        "down_share": figures.down_share.to_json(),
    }


def _upkeep(year: TypicalYear) -> dict[str, float]:
    return {
        "visits": year.visits,
        "fruitless_visits": year.fruitless,
        "cells": year.cells,
        "worked_hours": year.worked_h,
    }


def sensors_frame(study: Study) -> "pandas.DataFrame":
    """Return one row per sensor, shares with their bounds.

    Parameters
    ----------
    study : Study
        Its lifetimes. [-]
    """
    import pandas

    return pandas.DataFrame(
        [
            {"sensor": sensor.id}
            | {
                f"{name}_{bound}": value
                for name in ("orphan_share", "dark_share", "down_share")
                for bound, value in getattr(sensor, name).to_json().items()
            }
            for sensor in study.sensor_figures
        ]
    )
