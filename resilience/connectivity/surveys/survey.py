"""What came out of a survey: readings beside predictions, corrections, and how far they help."""

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from resilience.building.site import Calibration, Correction
from resilience.connectivity.surveys.readings import Reading, Tells
from resilience.connectivity.surveys.unknowns import Assumption, Unknown

if TYPE_CHECKING:
    import pandas

# Corrected predictions miss a sound reading by more than three spreads once in 370 readings.
WILD_SPREADS = 3.0


@dataclass(frozen=True, slots=True)
class Compared:
    """One reading beside what is predicted for it.

    Parameters
    ----------
    reading : Reading
        As measured, and as predicted without correction. [-]
    corrected_dbm : float
        As predicted with the corrections. [dBm]
    held_out_dbm : float or None
        The same with corrections fitted to other readings only; None without a fit. [dBm]
    """

    reading: Reading
    corrected_dbm: float
    held_out_dbm: float | None


@dataclass(frozen=True, slots=True)
class Term:
    """One assumption, and what the readings say of it.

    Parameters
    ----------
    unknown : Unknown
        The assumption. [-]
    n_links : int
        Readings that touch it. [-]
    correction : Correction or None
        What it is off by; None where no reading touches it, or where nothing is fitted. [-]
    why_not : str
        Why the readings cannot tell it by itself; empty where they can. [-]
    """

    unknown: Unknown
    n_links: int
    correction: Correction | None
    why_not: str


@dataclass(frozen=True, slots=True)
class Miss:
    """How far predictions lie from readings whose strength is known.

    Parameters
    ----------
    n_links : int
        Such readings. [-]
    too_strong_db : float
        Mean of predicted less measured. [dB]
    half_within_db : float
        Half of the readings lie within it. [dB]
    root_mean_square_db : float
        Root of the mean square, which feels every wild reading. [dB]
    """

    n_links: int
    too_strong_db: float
    half_within_db: float
    root_mean_square_db: float


@dataclass(frozen=True, slots=True)
class WayDifference:
    """How much the two directions of one path differ, equal power given.

    Parameters
    ----------
    n_links : int
        Paths whose strength was read both ways. [-]
    spread_db, low_db, high_db : float
        Spread about 0 and its 95 % bounds, the differences taken as normal. [dB]
    assumed_db : float
        What the site states. [dB]
    """

    n_links: int
    spread_db: float
    low_db: float
    high_db: float
    assumed_db: float


@dataclass(frozen=True, slots=True)
class Survey:
    """Everything that the measured links of a site say about its prediction.

    Parameters
    ----------
    site : str
        Name of the site. [-]
    compared : tuple of Compared
        Every reading, in order of layout and link. [-]
    terms : tuple of Term
        Distance, then devices, then the constructions in the way of any link. [-]
    calibration : Calibration or None
        What a site would use from now on; None where nothing can be told. [-]
    why_not : str
        Why there is none; empty where there is one. [-]
    before, after : Miss or None
        Of the uncorrected prediction, and of the corrected one for readings held out of the fit;
        None without any known strength, or without a fit. [-]
    ways : WayDifference or None
        None unless enough paths were read both ways. [-]
    assumed_residual_db : float
        Spread about the prediction as documented, the survey's own included. [dB]
    """

    site: str
    compared: tuple[Compared, ...]
    terms: tuple[Term, ...]
    calibration: Calibration | None
    why_not: str
    before: Miss | None
    after: Miss | None
    ways: WayDifference | None
    assumed_residual_db: float

    @property
    def n_known(self) -> int:
        """Readings whose strength is known."""
        return sum(one.reading.tells is Tells.EXACTLY for one in self.compared)

    @property
    def n_closer(self) -> int:
        """Of these, those that lie closer to the correction, held out, than to the prediction."""
        return sum(
            abs(one.held_out_dbm - one.reading.measured_dbm) < abs(one.reading.extra_db)
            for one in self.compared
            if one.reading.tells is Tells.EXACTLY and one.held_out_dbm is not None
        )

    def is_wild(self, one: Compared) -> bool:
        """Whether a reading, or the limit that it sets, lies beyond what the fit can explain.

        Parameters
        ----------
        one : Compared
            One of the survey's. [-]
        """
        if self.calibration is None:
            return False
        missed_db = one.corrected_dbm - one.reading.measured_dbm
        side = int(one.reading.tells) or math.copysign(1.0, missed_db)
        return side * missed_db > WILD_SPREADS * self.calibration.residual_db

    def to_json(self) -> dict[str, object]:
        """Return the survey under stable keys."""
        fit = self.calibration
        return {
            "format": 1,
            "site": self.site,
            "links": [_row(self, one) for one in self.compared],
            "corrections": [_term_json(one) for one in self.terms],
            "fitted": fit is not None,
            "why_not": self.why_not,
            "n_links": fit.n_links if fit else 0,
            "residual_db": fit.residual_db if fit else None,
            "assumed_residual_db": self.assumed_residual_db,
            "before": asdict(self.before) if self.before else None,
            "after_held_out": asdict(self.after) if self.after else None,
            "direction_difference": asdict(self.ways) if self.ways else None,
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per reading."""
        import pandas

        return pandas.DataFrame([_row(self, one) for one in self.compared])


def _row(survey: Survey, one: Compared) -> dict[str, object]:
    reading = one.reading
    return {
        "layout": reading.layout,
        "a": reading.link.a,
        "b": reading.link.b,
        "distance_m": reading.link.distance_m,
        "measured_dbm": reading.measured_dbm,
        "taken_db": reading.taken_db,
        "loss_is": reading.tells.name.lower(),
        "n_ways": reading.n_ways,
        "measured_h": reading.measured_h,
        "difference_db": reading.difference_db,
        "predicted_dbm": reading.predicted_dbm,
        "corrected_dbm": one.corrected_dbm,
        "held_out_dbm": one.held_out_dbm,
        "wild": survey.is_wild(one),
    }


def _term_json(one: Term) -> dict[str, object]:
    return {
        "what": one.unknown.name,
        "kind": one.unknown.kind.value,
        "is_construction": one.unknown.kind is Assumption.CONSTRUCTION,
        "assumed": one.unknown.assumed,
        "assumed_spread": one.unknown.spread,
        "n_links": one.n_links,
        "offset": one.correction.offset if one.correction else None,
        "spread": one.correction.spread if one.correction else None,
        "known_alone": one.correction is not None and not one.why_not,
        "why_not": one.why_not,
    }
