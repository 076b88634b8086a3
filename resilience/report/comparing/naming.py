"""What uncertain settings are called in a sentence, and their values with units."""

from resilience.assumptions.catalogue import Setting

# By section of the catalogue: what strikes, fails, is mended or moves.
THINGS = {
    "hazards.hardware": "device failures",
    "hazards.gateway_hardware": "gateway failures",
    "hazards.gateway_outage": "gateway outages",
    "hazards.mains_outage": "mains outages",
    "hazards.link_blockage": "blocked paths",
    "upkeep.repair": "repairs",
    "upkeep.gateway_repair": "gateway repairs",
    "circuits.*": "losses of a circuit",
    "hazards.zone_works": "works in a zone",
    "hazards.zone_water": "water in a zone",
    "hazards.zone_interference": "interference in a zone",
    "hazards.zone_heat": "heat in a zone",
    "hazards.lasting_change": "lasting changes in a zone",
    "hazards.software_release": "faulty releases",
    "hazards.busy_hours": "people in busy hours",
    "hazards.device_mute": "sensors that stop measuring",
    "upkeep.response": "responses",
}
# By the first word of a section: what its own sections are.
KINDS = {"batteries": "{kind} cells", "chemistries": "{kind} cells", "changes": "{kind} changes"}
# By name of the setting, for those that many sections have.
PATTERNS = {
    "per_year": "the rate of {thing}",
    "quiet_per_year": "the rate of {thing} in a quiet band",
    "busy_per_year": "the rate of {thing} in a busy band",
    "median_h": "the median length of {thing}",
    "shape": "the Weibull slope of {thing}",
    "adds_db": "the loss by {thing}",
    "loss_db": "the loss by {thing}",
    "share": "the share of devices hit by {thing}",
    "capacity_mah": "the capacity of {thing}",
    "usable_share": "the usable share of {thing}",
    "self_discharge_per_year": "the self-discharge of {thing}",
    "doubling_c": "the warming that doubles the self-discharge of {thing}",
    "at_0_c_share": "the charge of {thing} at 0 C",
    "at_minus_20_c_share": "the charge of {thing} at -20 C",
}
NAMES = {
    "radio.quiet_95_dbm": "the strength at which 95 % arrive",
    "radio.busy_95_dbm": "the strength at which 95 % arrive",
    "radio.frame_octets": "the length of a frame",
    "radio.quiet_disturbed_share": "the share of time with interference",
    "radio.busy_disturbed_share": "the share of time with interference",
    "radio.interference_db": "the noise that interference adds",
    "radio.swing_db": "the swing of links",
    "radio.swing_holds_h": "the time that a swing holds",
    "radio.direction_difference_db": "the spread between the directions of a link",
    "radio.shadowing_drawn_db": "the spread of what the drawing does not show",
    "radio.shadowing_undrawn_db": "the spread of what nobody drew",
    "radio.decorrelation_m": "the reach of shadowing",
    "radio.shadowing_shared": "the shared part of shadowing",
    "radio.survey_spread_db": "the error of links measured on the spot",
    "radio.survey_settled_db": "the error of links measured for weeks",
    "radio.device_spread_db": "the spread between models",
    "radio.distance_power": "the loss by distance",
    "radio.distance_power_spread": "the spread of the loss by distance",
    "radio.floor_loss_db": "the loss of a floor",
    "radio.obstacle_most_db": "the most that an obstacle takes",
    "building.level_height_m": "the height of a level",
    "building.slab_depth_m": "the depth of a slab",
    "building.gateway_height_m": "the height of gateways",
    "building.repeater_height_m": "the height of repeaters",
    "building.sensor_height_m": "the height of sensors",
    "models.*.transmit_dbm": "the transmit power",
    "models.*.antenna_dbi": "the antenna gain",
    "models.*.mounting_loss_db": "the loss of mounting",
    "models.*.receive_floor_dbm": "the receive floor",
    "models.*.leaf_ua": "the current of a device that forwards nothing",
    "models.*.forwarding_ua": "the current for each sensor forwarded",
    "models.*.searching_ua": "the current of a device without a way",
    "mountings.flush_box_db": "the loss of a flush box",
    "mountings.metal_behind_db": "the loss of metal behind a device",
    "mountings.cabinet_db": "the loss of a cabinet",
    "models.*.sendings": "the sendings until a report has arrived",
    "temperatures.*.all_year_c": "the temperature of cells",
    "routing.hysteresis": "the gain for which a device moves",
    "routing.look_around_h": "the time between look-arounds",
    "routing.min_prr": "the least reception of a usable link",
    "routing.backups": "the number of neighbours kept ready",
    "routing.rejoin_short_h": "the silence of a prepared move",
    "routing.rejoin_long_h": "the silence of a search",
    "routing.reformation_h": "the time to form the network again",
    "routing.standby_switch_h": "the time until a standby gateway serves",
    "upkeep.alarm_h": "the silence before a call",
    "calendar.opens_h": "the hour at which crews begin",
    "calendar.closes_h": "the hour at which crews end",
    "hazards.early_failure.share": "the share of weak devices",
    "hazards.early_failure.mean_h": "the life of weak devices",
    "hazards.battery.spread": "the spread between cells",
    "hazards.battery.batch_share": "the part of that spread that cells of one delivery share",
    "hazards.circuit_outage.share": "the share of mains outages that take a whole circuit",
    "circuits.*.backup_h": "the time that a circuit is bridged",
    "hazards.common_cause.beta": "the share of failures that a whole model has in common",
    "hazards.software_release.staged_h": "the time over which a release is staged",
    "hazards.removed.reach_per_year": "the rate at which people remove what they reach",
    "hazards.removed.high_per_year": "the rate at which people remove what hangs high",
    "hazards.removed.reach_m": "the height to which people reach",
    "hazards.obstacles.blockage_share": "the share of blockages that nobody drew",
}
UNITS = {"-": "", "1/year": " a year", "share/year": " a year", "1/128 ETX": "/128 transmissions"}


def plain_name(setting: Setting) -> str:
    """Name of an uncertain setting in a sentence, as in ``the swing of links``.

    Parameters
    ----------
    setting : Setting
        Which. [-]
    """
    named = NAMES.get(setting.key)
    if named:
        return named
    first, _, own = setting.section.partition(".")
    kind = "other" if own == "*" else own.replace("_", " ")
    thing = THINGS.get(setting.section) or KINDS[first].format(kind=kind)
    return PATTERNS[setting.name].format(thing=thing)


def plain_value(setting: Setting, value: float) -> str:
    """Value of a setting with its unit, as in ``0.11 a year``.

    Parameters
    ----------
    setting : Setting
        Which. [-]
    value : float
        Its value. [unit]
    """
    return f"{value:g}{UNITS.get(setting.unit, f' {setting.unit}')}"
