"""Layouts that lose next to nothing, compared end to end."""

import json

FILES = {
    "site.yaml": """\
format: 1
name: Invented ways
horizon_years: 4
radio: {predict: off, swing_db: 0}
routing: {objective: hops, look_around_h: 168}
hazards: {hardware: {per_year: 0.05, shape: 1}, all_others: off}
""",
    "sensors.csv": "id\nS1\n",
}
DEVICES = "id,kind,supply\nG1,gateway,\n"


def ways(n):
    """A layout with so many repeaters, each a way of its own."""
    repeaters = [f"R{k}" for k in range(n)]
    devices = DEVICES + "".join(f"{id},repeater,mains\n" for id in repeaters)
    links = "a,b,prr\n" + "".join(f"G1,{id},1\n{id},S1,1\n" for id in repeaters)
    return {f"layouts/ways-{n}/devices.csv": devices, f"layouts/ways-{n}/links.csv": links}


def test_compare_tells_hours_that_are_too_rare_to_be_seen(run, written, tmp_path):
    site = written(tmp_path / "site", FILES | ways(1) | ways(2))
    done = run("compare", site, "--no-keep", "--lifetimes", 520, "--json")
    told = json.loads(done.stdout)["rare_hours"]
    assert told.keys() == {"ways-2"}
    hours = told["ways-2"]["hours_per_sensor_year"]
    assert 0 < hours["low"] < hours["high"] < 0.05
    assert told["ways-2"]["shown_to_be"] == {"ways-1": "better"}
    assert "Splitting lifetimes of ways-2" in done.stderr
