"""Constructions and heights: what a building is made of where nobody measured it."""

from dataclasses import dataclass

from resilience.assumptions.catalogue import COMMON_PRACTICE, LOW, MEDIUM, Setting

P2040 = "ITU-R P.2040-3 Table 3 (row unchanged in -4)"
P2040_3 = "ITU-R P.2040-3 Table 3 (row not seen in -4)"
THICKEST_PANE_M = 0.03  # and widest gap of sealed panes; beyond it the sizes vary by millimetres
COMPILED = "a compilation by practitioners for 2.4 GHz (2003, second hand) and common practice"


@dataclass(frozen=True, slots=True)
class Material:
    """Electrical properties of one building material by frequency.

    Relative permittivity is ``a f^b`` and conductivity ``c f^d`` in S/m, f in GHz.

    Parameters
    ----------
    a, b, c, d : float
        Coefficients of ITU-R P.2040 Table 3. [-]
    low_ghz, high_ghz : float
        Range of frequencies over which the coefficients were fitted. [GHz]
    source : str
        Version of the Recommendation. [-]
    """

    a: float
    b: float
    c: float
    d: float
    low_ghz: float
    high_ghz: float
    source: str = P2040


MATERIALS: dict[str, Material] = {
    "air": Material(1.0, 0.0, 0.0, 0.0, 0.001, 100.0, "definition"),
    "concrete": Material(5.24, 0.0, 0.0462, 0.7822, 1.0, 100.0),
    "brick": Material(3.91, 0.0, 0.0238, 0.16, 1.0, 40.0),
    "plasterboard": Material(2.73, 0.0, 0.0085, 0.9395, 1.0, 100.0),
    "wood": Material(1.99, 0.0, 0.0047, 1.0718, 0.001, 100.0),
    "glass": Material(6.31, 0.0, 0.0036, 1.3394, 0.1, 100.0),
    "ceiling_board": Material(1.48, 0.0, 0.0011, 1.0750, 1.0, 100.0, P2040_3),
    "chipboard": Material(2.58, 0.0, 0.0217, 0.7800, 1.0, 100.0, P2040_3),
}


@dataclass(frozen=True, slots=True)
class Construction:
    """A wall, slab or door as built: layers of materials, or one loss somebody measured.

    Parameters
    ----------
    layers : tuple of (str, float)
        Material and thickness of each layer, in order; empty where ``loss_db`` is given. [m]
    loss_db : float or None
        Loss of one crossing whatever the angle, in the place of layers. [dB]
    spread_db : float
        Spread between buildings of what one crossing really costs. [dB]
    source : str
        Who says so. [-]
    """

    layers: tuple[tuple[str, float], ...] = ()
    loss_db: float | None = None
    spread_db: float = 2.0
    source: str = "layers: common practice; losses: ITU-R P.2040 section 2.2"

    @property
    def is_glazing(self) -> bool:
        """Whether it is panes and the gaps between them, whose sizes are known to 0.2 mm."""
        materials = {material for material, _ in self.layers}
        thickest_m = max((thickness_m for _, thickness_m in self.layers), default=0.0)
        return "glass" in materials <= {"glass", "air"} and thickest_m <= THICKEST_PANE_M

    def __post_init__(self) -> None:
        if bool(self.layers) == (self.loss_db is not None):
            raise ValueError("a construction has either layers or loss_db")
        if self.loss_db is not None and not self.loss_db >= 0:
            raise ValueError(f"loss_db is {self.loss_db:g}, not at least 0")
        if not self.spread_db >= 0:
            raise ValueError(f"spread_db is {self.spread_db:g}, not at least 0")
        for material, thickness_m in self.layers:
            if material not in MATERIALS:
                raise ValueError(f"{material!r} is not a known material")
            if not 0 < thickness_m <= 5:
                raise ValueError(f"a layer of {thickness_m:g} m is not between 0 and 5 m thick")


CONSTRUCTIONS: dict[str, Construction] = {
    "concrete_200": Construction((("concrete", 0.20),), spread_db=3.0),
    "concrete_150": Construction((("concrete", 0.15),), spread_db=3.0),
    "concrete_300": Construction((("concrete", 0.30),), spread_db=4.0),
    "steel_deck_slab": Construction(loss_db=28.0, spread_db=6.0, source=COMMON_PRACTICE),
    "brick_120": Construction((("brick", 0.12),)),
    "brick_250": Construction((("brick", 0.25),), spread_db=3.0),
    "hollow_block_200": Construction(loss_db=10.0, spread_db=3.0, source=COMMON_PRACTICE),
    "aerated_block_100": Construction(loss_db=5.0, spread_db=3.0, source=COMMON_PRACTICE),
    "stud_wall": Construction(
        (("plasterboard", 0.0125), ("air", 0.075), ("plasterboard", 0.0125)), spread_db=2.0
    ),
    "metal_stud_wall": Construction(loss_db=5.0, spread_db=2.5, source=COMPILED),
    "office_partition": Construction(loss_db=3.5, spread_db=1.5, source=COMMON_PRACTICE),
    "timber_floor": Construction(
        (("chipboard", 0.018), ("air", 0.20), ("plasterboard", 0.0125)), spread_db=2.0
    ),
    "raised_floor": Construction(loss_db=12.0, spread_db=6.0, source=COMMON_PRACTICE),
    "mineral_ceiling": Construction((("ceiling_board", 0.015),), spread_db=1.0),
    "metal_ceiling": Construction(loss_db=12.0, spread_db=5.0, source=COMPILED),
    "glass_10": Construction((("glass", 0.010),), spread_db=1.5),
    "double_glazing": Construction((("glass", 0.004), ("air", 0.016), ("glass", 0.004))),
    "glazed_partition": Construction(loss_db=3.0, spread_db=2.0, source=COMMON_PRACTICE),
    "wired_glass": Construction(loss_db=9.0, spread_db=4.0, source=COMPILED),
    "coated_glass": Construction(
        loss_db=28.0,
        spread_db=5.0,
        source="metal-oxide coated panes, about 30 dB at 0.8-6 GHz (IEEE AP-S/URSI 2008, abstract)",
    ),
    "wooden_door": Construction((("wood", 0.040),), spread_db=1.5),
    "fire_door": Construction(loss_db=6.0, spread_db=3.0, source=COMPILED),
    "steel_door": Construction(loss_db=18.0, spread_db=5.0, source=COMMON_PRACTICE),
    "steel_fire_door": Construction(loss_db=22.0, spread_db=5.0, source=COMMON_PRACTICE),
    "shutter": Construction(loss_db=18.0, spread_db=6.0, source=COMMON_PRACTICE),
    "lift_door": Construction(loss_db=25.0, spread_db=6.0, source=COMMON_PRACTICE),
    "cold_room_panel": Construction(loss_db=25.0, spread_db=6.0, source=COMMON_PRACTICE),
    "metal_sheet": Construction(loss_db=100.0, spread_db=0.0, source="opaque: common practice"),
    "metal_lining": Construction(loss_db=100.0, spread_db=0.0, source="opaque: common practice"),
    "open": Construction(loss_db=0.0, spread_db=0.0, source="definition: nothing is there"),
    "unknown_wall": Construction(loss_db=6.0, spread_db=4.0, source=COMMON_PRACTICE),
    "unknown_slab": Construction(loss_db=18.0, spread_db=6.0, source=COMMON_PRACTICE),
    "unknown_glass": Construction(
        loss_db=10.0,
        spread_db=10.0,
        source="one pane in three coated (about 28 dB), the others plain (2 to 3): common practice",
    ),
}


def hanging(kind: str, default_m: float, span_m: tuple[float, float], meaning: str) -> Setting:
    """Return the height at which devices of one kind hang unless their row says otherwise."""
    low, high = span_m
    return Setting(
        f"building.{kind}_height_m",
        meaning,
        default_m,
        "m",
        "height above the level's floor, at most the level's own height",
        COMMON_PRACTICE,
        LOW,
        low=low,
        high=high,
        least=0.0,
        most=50.0,
    )


SETTINGS = (
    Setting(
        "building.level_height_m",
        "Floor to ceiling of a level that does not say.",
        3.0,
        "m",
        "stacks the levels",
        COMMON_PRACTICE,
        MEDIUM,
        low=2.4,
        high=5.0,
        least=1.0,
        most=100.0,
    ),
    Setting(
        "building.slab_depth_m",
        "From a ceiling to the floor above it, where that floor's height is not given.",
        0.3,
        "m",
        "stacks the levels",
        COMMON_PRACTICE,
        LOW,
        low=0.2,
        high=1.0,
        least=0.0,
        most=10.0,
    ),
    hanging("gateway", 2.0, (0.5, 3.0), "Height of a gateway: on a wall or a cabinet."),
    hanging("repeater", 2.8, (2.0, 5.0), "Height of a repeater: at the ceiling, out of reach."),
    hanging("sensor", 2.2, (0.5, 3.0), "Height of a sensor: above the door's edge."),
)
