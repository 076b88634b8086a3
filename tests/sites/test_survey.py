"""What the survey of the market hall tells, against what its README says it was made with."""

import re

from resilience.connectivity.surveys.calibration import calibrate


def test_a_survey_finds_what_it_was_made_with_and_makes_the_prediction_surer(demo, readme):
    made_with_db = float(re.search(r"made with (\S+) dB a partition", readme("market-hall"))[1])
    site = demo("market-hall")
    survey = calibrate(site)
    glass = dict(survey.calibration.constructions)["unknown_glass"]
    assumed = site.building.construction("unknown_glass")
    assert abs(assumed.loss_db + glass.offset - made_with_db) < 2 * glass.spread
    assert glass.spread < assumed.spread_db / 2
    assert survey.after.half_within_db < survey.before.half_within_db


def test_every_measured_path_joins_counters_that_hang_at_one_place_in_all_layouts(demo):
    site = demo("market-hall")
    sensors = {sensor.id for sensor in site.layouts[0].sensors}
    measured = {end for link in site.layouts[0].links for end in (link.a, link.b)}
    assert measured
    assert measured <= sensors
