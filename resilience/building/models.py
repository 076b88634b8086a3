"""What a site states about models of devices, how they hang and what cells they have.

Field names equal the keys of the catalogue in ``assumptions``; a test holds the two together.
"""

from dataclasses import dataclass

from resilience.units import SECONDS_PER_H


@dataclass(frozen=True, slots=True)
class DeviceModel:
    """One section of ``models``; every field is explained in the catalogue under its own name.

    Its currents follow from ``sleep_ua`` and its reports where those are stated.
    """

    transmit_dbm: float
    antenna_dbi: float
    mounting_loss_db: float
    receive_floor_dbm: float
    leaf_ua: float
    forwarding_ua: float
    searching_ua: float
    forwards: bool
    battery: str
    sleep_ua: float | None = None
    report_uc: float | None = None
    reports_per_h: float | None = None
    forwarded_uc: float | None = None
    sendings: float = 1.1

    @property
    def drawn_leaf_ua(self) -> float:
        """Current of a device that forwards nothing, as stated or from its reports."""
        if self.sleep_ua is None:
            return self.leaf_ua
        return self.sleep_ua + self._per_sensor_ua(self.report_uc or 0.0)

    @property
    def drawn_forwarding_ua(self) -> float:
        """Current for each sensor behind it, as stated or from its reports."""
        if self.sleep_ua is None:
            return self.forwarding_ua
        forwarded_uc = self.forwarded_uc
        if forwarded_uc is None:  # received and sent on, each about as dear
            forwarded_uc = 2 * (self.report_uc or 0.0)
        return self._per_sensor_ua(forwarded_uc)

    def _per_sensor_ua(self, report_uc: float) -> float:
        # MODELS.md, "currents from reports": a current is charge over time.
        return self.sendings * report_uc * (self.reports_per_h or 0.0) / SECONDS_PER_H


@dataclass(frozen=True, slots=True)
class Mountings:
    """Section ``mountings``: what column mounting may say beside ``free``, each with its loss."""

    flush_box_db: float
    metal_behind_db: float
    cabinet_db: float


@dataclass(frozen=True, slots=True)
class Chemistry:
    """One section of ``chemistries``; every field is explained in the catalogue."""

    self_discharge_per_year: float
    doubling_c: float
    at_0_c_share: float
    at_minus_20_c_share: float


@dataclass(frozen=True, slots=True)
class BatteryProfile(Chemistry):
    """One section of ``batteries``, or a profile of the catalogue."""

    capacity_mah: float
    usable_share: float
    chemistry: str
