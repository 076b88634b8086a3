"""The one catalogue of assumptions: every setting with default, range, source and confidence.

The reader's checks, ``resilience defaults`` and ``resilience schema`` are generated from it, so a
new setting is one entry in one of the value modules beside this file.
"""

from dataclasses import dataclass
from functools import cache
from importlib import import_module

Value = float | int | str | bool | None

HIGH, MEDIUM, LOW = "high", "medium", "low"
COMMON_PRACTICE = "common practice"
LEVELS = ("dB", "dBm", "dBi")  # logarithms already


@dataclass(frozen=True, slots=True)
class Setting:
    """One assumption: what it means, what it is unless somebody knows better, and who says so.

    Parameters
    ----------
    key : str
        Dotted path in ``site.yaml``; ``*`` stands for a name that the user chooses. [-]
    meaning : str
        One sentence. [-]
    default : float, int, str, bool or None
        Value where nothing is said; None where an alternative key carries the default. [unit]
    unit : str
        Unit, ``-`` for a pure number, ``text`` for a word. [-]
    law : str
        Equation or rule that uses the value. [-]
    source : str
        Publication, or ``common practice``. [-]
    confidence : str
        ``high`` two independent sources agree, ``medium`` one reading, ``low`` habit. [-]
    low, high : float or None
        Plausible range found in the source; values five times outside it are told. [unit]
    least, most : float or None
        Hard limits: outside them the value has no meaning and is refused. [unit]
    above : bool
        Whether the least value itself is refused as well. [-]
    choices : tuple
        The only values accepted, for words. [-]
    instead_of : str
        Key of the same section that this one replaces; exactly one of the two is given. [-]
    """

    key: str
    meaning: str
    default: Value
    unit: str
    law: str
    source: str
    confidence: str
    low: float | None = None
    high: float | None = None
    least: float | None = None
    most: float | None = None
    above: bool = False
    choices: tuple[Value, ...] = ()
    instead_of: str = ""

    @property
    def section(self) -> str:
        """Dotted path of the mapping that holds the key."""
        return self.key.rpartition(".")[0]

    @property
    def name(self) -> str:
        """Key within its section."""
        return self.key.rpartition(".")[2]

    @property
    def is_uncertain(self) -> bool:
        """Whether it is a number with a range that nobody is sure of.

        How many years are asked about is a question, not an assumption.
        """
        is_number = isinstance(self.default, int | float) and not isinstance(self.default, bool)
        has_range = self.low is not None and self.high is not None
        return is_number and has_range and self.confidence != HIGH and self.key != "horizon_years"

    @property
    def is_drawn_in_logarithm(self) -> bool:
        """Whether its logarithm is even over the range where all of it counts, not the value."""
        return self.low is not None and self.low > 0 and self.unit not in LEVELS

    def value_at(self, share: float) -> float:
        """Value below which a share of the range lies; whole where the default is.

        Parameters
        ----------
        share : float
            0 gives the low end, 1 the high one. [-]
        """
        assert self.low is not None
        assert self.high is not None
        if self.is_drawn_in_logarithm:
            value = self.low * (self.high / self.low) ** share
        else:
            value = self.low + (self.high - self.low) * share
        return round(value) if isinstance(self.default, int) else float(value)


_VALUE_MODULES = (
    *("radio", "constructions", "devices", "routing", "hazards"),
    *(
        "shared.circuits",
        "shared.zones",
        "shared.models",
        "shared.hours",
        "shared.swing",
        "changes",
        "upkeep",
    ),
)


@cache
def settings() -> tuple[Setting, ...]:
    """All settings, in the order in which the report lists them."""
    modules = (import_module(f"resilience.assumptions.{name}") for name in _VALUE_MODULES)
    found = tuple(setting for module in modules for setting in module.SETTINGS)
    keys = [setting.key for setting in found]
    if len(set(keys)) != len(keys):
        raise ValueError(f"a setting is listed twice: {sorted(keys)}")
    return found


@cache
def section(path: str) -> tuple[Setting, ...]:
    """Return the settings of one section, such as ``radio`` or ``hazards.hardware``."""
    return tuple(setting for setting in settings() if setting.section == path)


def default(key: str) -> Value:
    """Return the default of one setting by its full key."""
    for setting in settings():
        if setting.key == key:
            return setting.default
    raise KeyError(key)


@cache
def uncertain() -> tuple[Setting, ...]:
    """All settings that are numbers with a range that nobody is sure of."""
    return tuple(setting for setting in settings() if setting.is_uncertain)
