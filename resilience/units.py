"""The one place where units are converted: at the files and at the reports.

Files and reports speak hours, years and dB; the engines speak integer milliseconds and integer
hundredths of a dB (lower-case suffixes ``_ms`` and ``_cdb``, ``_cdbm``).
"""

HOURS_PER_YEAR = 8766
SECONDS_PER_H = 3600
MS_PER_H = 3_600_000
MS_PER_DAY = 24 * MS_PER_H
MS_PER_YEAR = HOURS_PER_YEAR * MS_PER_H
MS_PER_MONTH = MS_PER_YEAR // 12  # months are alike, 730.5 h each
NA_PER_UA = 1000
NA_PER_MA = 1_000_000
NA_MS_PER_MAH = NA_PER_MA * MS_PER_H  # one mAh is 10^6 nA for an hour


def ms_from_h(hours: float) -> int:
    """Nearest whole milliseconds, at least 1 for anything above 0."""
    return 0 if hours == 0 else max(1, round(hours * MS_PER_H))


def h_from_ms(milliseconds: float) -> float:
    """Hours."""
    return milliseconds / MS_PER_H


def years_from_ms(milliseconds: float) -> float:
    """Years of 8,766 h."""
    return milliseconds / MS_PER_YEAR


def cdb_from_db(decibels: float) -> int:
    """Nearest whole hundredths of a dB (or of a dBm)."""
    return round(decibels * 100)


def db_from_cdb(hundredths: float) -> float:
    """Decibels (or dBm)."""
    return hundredths / 100
