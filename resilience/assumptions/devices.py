"""Device models and battery profiles: what is assumed of hardware that nobody specified."""

from dataclasses import dataclass
from typing import Any

from resilience.assumptions.catalogue import COMMON_PRACTICE, HIGH, LOW, MEDIUM, Setting

DRAIN = (
    "Brun-Laguna et al. 2018, projected lives of an office and an orchard mesh (25 to 79 uA); "
    "split into leaf and forwarding by eye"
)
BY_TRAFFIC = "drain = leaf + forwarding x sensors behind it"
BY_REPORTS = "leaf = sleep + sendings x report_uc x reports_per_h / 3600"
USABLE = "usable charge = capacity x usable share x share at its temperature x spread"
SHELF = "share of the nameplate, the same each year and in use as on the shelf (linear); "
CURVES = "makers' curves of storage and of light loads, from memory"
COLDEST_C, HOTTEST_C = -40.0, 85.0
USUAL_CHEMISTRY = "lithium_iron"


@dataclass(frozen=True, slots=True)
class Chemistry:
    """What cells of one kind are like; each number is (default, plausible low, plausible high).

    Parameters
    ----------
    name : str
        As people call it. [-]
    self_discharge_per_year : tuple of float
        Share of the nameplate that goes by itself in a year at 20 C. [1/year]
    doubling_c : tuple of float
        Warming that doubles it. [C]
    at_0_c_share, at_minus_20_c_share : tuple of float
        Share of the charge of 20 C that can be had in the cold. [-]
    source : str
        Who says how fast they discharge by themselves. [-]
    """

    name: str
    self_discharge_per_year: tuple[float, float, float]
    doubling_c: tuple[float, float, float]
    at_0_c_share: tuple[float, float, float]
    at_minus_20_c_share: tuple[float, float, float]
    source: str


CHEMISTRIES: dict[str, Chemistry] = {
    "lithium_iron": Chemistry(
        "Lithium iron disulphide (Li-FeS2)",
        (0.005, 0.002, 0.01),
        (10.0, 8.0, 20.0),
        (0.97, 0.9, 1.0),
        (0.87, 0.8, 0.95),
        "shelf lives of 20 years, from memory",
    ),
    "alkaline": Chemistry(
        "Alkaline",
        (0.025, 0.02, 0.03),
        (20.0, 10.0, 20.0),
        (0.78, 0.7, 0.85),
        (0.45, 0.3, 0.7),
        "2 to 3 %, and shelf life halved at 40 C: from memory",
    ),
    "lithium_thionyl": Chemistry(
        "Lithium thionyl chloride (Li-SOCl2), bobbin",
        (0.0075, 0.005, 0.03),
        (10.0, 8.0, 20.0),
        (0.9, 0.8, 1.0),
        (0.75, 0.6, 0.9),
        "0.5 % on a maker's page, 1 % from memory; spiral cells 2 to 3 %",
    ),
    "lithium_manganese": Chemistry(
        "Lithium manganese dioxide (Li-MnO2)",
        (0.0125, 0.01, 0.02),
        (10.0, 8.0, 20.0),
        (0.9, 0.8, 0.95),
        (0.7, 0.5, 0.85),
        "1.5 % in a maker's questions and answers, in use as on the shelf; 1 % from memory",
    ),
    "nickel_metal": Chemistry(
        "Nickel metal hydride, low self-discharge",
        (0.2, 0.15, 0.3),
        (10.0, 8.0, 20.0),
        (0.9, 0.8, 0.95),
        (0.6, 0.4, 0.8),
        "15 to 30 % in the first year, from memory; standard cells lose as much in a month",
    ),
}


def chemical(section: str, known: Chemistry) -> tuple[Setting, ...]:
    """Return the four keys that go by chemistry, with the values of one."""
    lost = known.self_discharge_per_year
    return (
        Setting(
            f"{section}.self_discharge_per_year",
            f"{known.name}: self-discharge at 20 C, as a share of the nameplate.",
            lost[0],
            "share/year",
            "a constant current of nameplate x share / 8766 h beside what the device draws",
            SHELF + known.source,
            LOW,
            low=lost[1],
            high=lost[2],
            least=0.0,
            most=0.99,
        ),
        Setting(
            f"{section}.doubling_c",
            f"{known.name}: warming that doubles self-discharge.",
            known.doubling_c[0],
            "C",
            "self-discharge x the year's mean of 2^((temperature - 20) / doubling)",
            CURVES,
            LOW,
            low=known.doubling_c[1],
            high=known.doubling_c[2],
            least=3.0,
            most=1000.0,
        ),
        in_the_cold(section, known, 0, "at_0_c_share"),
        in_the_cold(section, known, -20, "at_minus_20_c_share"),
    )


def in_the_cold(section: str, known: Chemistry, cold_c: int, name: str) -> Setting:
    """Return the share of its charge that one chemistry gives at one temperature."""
    default, low, high = getattr(known, name)
    return Setting(
        f"{section}.{name}",
        f"{known.name}: share of the usable charge of 20 C that can be had at {cold_c} C.",
        default,
        "-",
        "straight between -20, 0 and 20 C and on beyond -20, at least 0.05; 1 from 20 C on",
        CURVES,
        LOW,
        low=low,
        high=high,
        least=0.05,
        most=1.0,
    )


@dataclass(frozen=True, slots=True)
class Profile:
    """Cells that are sold as one thing.

    Parameters
    ----------
    capacity_mah : tuple of float
        Nameplate at light load: default, plausible low, plausible high. [mAh]
    usable_share : float
        Share of it that a radio can use. [-]
    chemistry : str
        What they are. [-]
    """

    capacity_mah: tuple[float, float, float]
    usable_share: float
    chemistry: str


# With self-discharge the usable shares come to the 0.70 to 0.80 that people plan with, at 45 uA
# (coins at 10 to 15): MODELS.md, "usable share of cells".
BATTERY_PROFILES: dict[str, Profile] = {
    "two_aa_lithium": Profile((3000.0, 2900.0, 3500.0), 0.83, "lithium_iron"),
    "two_aa_alkaline": Profile((2600.0, 2400.0, 3000.0), 0.82, "alkaline"),
    "two_aa_rechargeable": Profile((1900.0, 1800.0, 2100.0), 0.80, "nickel_metal"),
    "aa_thionyl": Profile((2400.0, 2200.0, 2700.0), 0.84, "lithium_thionyl"),
    "cr123a": Profile((1500.0, 1400.0, 1600.0), 0.83, "lithium_manganese"),
    "coin_cr2477": Profile((1000.0, 900.0, 1050.0), 0.86, "lithium_manganese"),
    "coin_cr2032": Profile((230.0, 210.0, 240.0), 0.77, "lithium_manganese"),
}


def profile(name: str, known: Profile) -> tuple[Setting, ...]:
    """Return capacity and usable share of one profile."""
    (mah, low_mah, high_mah), kind = known.capacity_mah, CHEMISTRIES[known.chemistry].name
    return (
        Setting(
            f"batteries.{name}.capacity_mah",
            f"{kind}: nameplate of the set.",
            mah,
            "mAh",
            USABLE,
            "makers' data sheets at light load, from memory",
            MEDIUM,
            low=low_mah,
            high=high_mah,
            least=0.0,
            most=1e6,
            above=True,
        ),
        Setting(
            f"batteries.{name}.usable_share",
            f"{kind}: share of the nameplate that the radio can use before it browns out.",
            known.usable_share,
            "-",
            USABLE,
            "what people plan with, less what goes by itself: common practice",
            LOW,
            low=0.6,
            high=0.9,
            least=0.0,
            most=1.0,
            above=True,
        ),
    )


def draw(name: str, default: float | None, span: tuple[float, float], **said: Any) -> Setting:
    """Return a current, a charge or a rate of which the drain of a device is made."""
    low, high = span
    return Setting(
        f"models.*.{name}", default=default, low=low, high=high, least=0.0, most=1e6, **said
    )


SETTINGS = (
    draw(
        "leaf_ua",
        30.0,
        (15.0, 60.0),
        unit="uA",
        meaning="Mean current of a device that forwards nothing.",
        law=BY_TRAFFIC,
        source=DRAIN,
        confidence=MEDIUM,
        above=True,
    ),
    draw(
        "forwarding_ua",
        3.0,
        (0.2, 6.0),
        unit="uA",
        meaning="Mean current added for each sensor whose readings it forwards.",
        law=BY_TRAFFIC,
        source=DRAIN,
        confidence=LOW,
    ),
    draw(
        "searching_ua",
        60.0,
        (30.0, 300.0),
        unit="uA",
        meaning="Mean current of a device that has no route and looks for one.",
        law="drain of an orphan, and of all during a site outage",
        source=COMMON_PRACTICE,
        confidence=LOW,
        above=True,
    ),
    draw(
        "sleep_ua",
        None,
        (1.0, 45.0),
        unit="uA",
        meaning="Mean current apart from its reports: sleep, measuring, what the schedule listens; "
        "with report_uc and reports_per_h it takes the place of leaf_ua.",
        law=BY_REPORTS,
        source="data sheets of 2.4 GHz radios: 1 to 5 uA asleep; scheduled meshes listen on top",
        confidence=MEDIUM,
        above=True,
        instead_of="leaf_ua",
    ),
    draw(
        "report_uc",
        None,
        (15.0, 170.0),
        unit="uC",
        meaning="Charge of sending one report once and hearing that it arrived.",
        law=BY_REPORTS,
        source="50 octets at 6.4 mA and their acknowledgement at 6.5 mA are 15 uC (nRF52840 data "
        "sheet); several times that with what is sensed and started first: common practice",
        confidence=MEDIUM,
        instead_of="leaf_ua",
    ),
    draw(
        "reports_per_h",
        None,
        (1.0, 120.0),
        unit="1/h",
        meaning="Reports that it sends in an hour.",
        law=BY_REPORTS,
        source=COMMON_PRACTICE,
        confidence=MEDIUM,
        instead_of="leaf_ua",
    ),
    draw(
        "forwarded_uc",
        None,
        (30.0, 340.0),
        unit="uC",
        meaning="Charge of receiving one report and sending it on once, where sleep_ua is stated; "
        "twice report_uc if left out.",
        law="forwarding = sendings x forwarded_uc x reports_per_h / 3600",
        source="0.3 to 1 mJ at 3 V from first principles; receiving takes about what sending does",
        confidence=LOW,
        instead_of="forwarding_ua",
    ),
    Setting(
        "models.*.sendings",
        "Mean sendings until a report has arrived, retries among them, where sleep_ua is stated.",
        1.1,
        "-",
        "multiplies report_uc and forwarded_uc",
        "1 / reception: 0.95 in a quiet orchard, 0.87 in a busy office (Brun-Laguna et al. 2018)",
        MEDIUM,
        low=1.0,
        high=1.6,
        least=1.0,
        most=100.0,
    ),
    Setting(
        "models.*.forwards",
        "Whether the device repeats its neighbours' readings.",
        True,
        "text",
        "a device that does not is nobody's parent",
        COMMON_PRACTICE,
        HIGH,
        choices=(True, False),
    ),
    Setting(
        "models.*.battery",
        "Battery profile that feeds the device.",
        "two_aa_lithium",
        "text",
        "a profile below, or a section of batteries in site.yaml",
        COMMON_PRACTICE,
        MEDIUM,
    ),
    Setting(
        "batteries.*.capacity_mah",
        "Nameplate capacity of the set of cells.",
        3000.0,
        "mAh",
        USABLE,
        COMMON_PRACTICE,
        MEDIUM,
        low=100.0,
        high=20_000.0,
        least=0.0,
        most=1e6,
        above=True,
    ),
    Setting(
        "batteries.*.usable_share",
        "Share of the nameplate that the radio can use before it browns out; what cells lose by "
        "themselves and in the cold comes on top.",
        0.83,
        "-",
        USABLE,
        "one projection used 0.90 (Brun-Laguna et al. 2018); 0.80 with what goes by itself in some "
        "years at 45 uA: common practice",
        MEDIUM,
        low=0.6,
        high=0.9,
        least=0.0,
        most=1.0,
        above=True,
    ),
    Setting(
        "batteries.*.chemistry",
        "What the cells are: says what the keys below have where they are left out.",
        USUAL_CHEMISTRY,
        "text",
        "a section of chemistries",
        COMMON_PRACTICE,
        MEDIUM,
        choices=tuple(CHEMISTRIES),
    ),
    *chemical("batteries.*", CHEMISTRIES[USUAL_CHEMISTRY]),
    *(one for name, known in BATTERY_PROFILES.items() for one in profile(name, known)),
    *(one for name, known in CHEMISTRIES.items() for one in chemical(f"chemistries.{name}", known)),
    Setting(
        "temperatures.*.all_year_c",
        "Temperature of the cells of a zone, of a level, or everywhere, the whole year.",
        20.0,
        "C",
        "what cells are worth goes by it; 20 where nothing is said",
        COMMON_PRACTICE,
        MEDIUM,
        low=10.0,
        high=30.0,
        least=COLDEST_C,
        most=HOTTEST_C,
    ),
    Setting(
        "temperatures.*.by_month_c",
        "The same month by month, a list of twelve from January on.",
        None,
        "C",
        "constant within a month; twelve alike make a year",
        "climate tables of the place, or a year of readings",
        MEDIUM,
        least=COLDEST_C,
        most=HOTTEST_C,
        instead_of="all_year_c",
    ),
)
