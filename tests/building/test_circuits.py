"""Section ``circuits``, and who hangs on which."""

import pytest

from resilience.building.settings import Circuit, Duration

HEADER = "id,kind,level,x_m,y_m,height_m,supply,circuit\n"
DEVICES = (
    "G1,gateway,ground,1,1,2,,\n"
    "R1,repeater,ground,2,2,2,mains,C1\n"
    "R2,repeater,ground,3,2,2,mains,\n"
    "R3,repeater,upper,3,2,2,,\n"
    "S1,sensor,ground,5,5,2,,\n"
)


@pytest.fixture
def circuits(folder):
    """A site whose circuits are written by a test; R1 hangs on C1, R2 on that of the level."""
    page = (folder.path / "site.yaml").read_text()

    def written(text, devices=DEVICES):
        stated = f"circuits: {text}\n" if text else ""
        return folder.write(site_yaml=page + stated, layouts__a__devices_csv=HEADER + devices)

    return written


def test_a_device_on_mains_hangs_on_the_circuit_it_names_else_on_that_of_its_level(circuits):
    site = circuits("").read()
    assert {one.id: one.circuit_id for one in site.layouts[0].devices} == {
        "G1": "",  # what takes its supply is among its outages
        "R1": "C1",
        "R2": "ground",
        "R3": "",  # on cells
        "S1": "",
    }


def test_a_gateway_hangs_on_a_circuit_if_its_row_names_one(circuits):
    devices = DEVICES.replace("G1,gateway,ground,1,1,2,,", "G1,gateway,ground,1,1,2,,C1")
    site = circuits("", devices).read()
    assert site.layouts[0].gateways[0].circuit_id == "C1"


def test_a_circuit_states_backup_rate_and_duration(circuits):
    site = circuits("{C1: {backup_h: 4, per_year: 2, mean_h: 3}, ground: }").read()
    assert site.circuits == (
        ("C1", Circuit(4.0, 2.0, Duration("exponential", mean_h=3.0))),
        ("ground", Circuit()),
    )


def test_a_circuit_lasts_as_the_catalogue_has_it_where_losses_of_mains_are_off(circuits):
    folder = circuits("{C1: {per_year: 2}, ground: }")
    page = (folder.path / "site.yaml").read_text() + "hazards: {mains_outage: off}\n"
    site = folder.write(site_yaml=page).read()
    assert dict(site.circuits)["C1"].lasts == Duration("lognormal", median_h=2.0, p90_h=8.0)


@pytest.mark.parametrize(
    ("text", "where", "wanted"),
    [
        ("{C1: , C2: }", "key circuits.C2", "found circuit C2 without devices"),
        ("{ground: }", "devices.csv, line 3, column circuit", 'found "C1"; expected a circuit'),
        ("{C1: {backup_h: -1}}", "circuits.C1.backup_h", 'found "-1"'),
        ("{C1: {per_year: 2 a month}}", "circuits.C1.per_year", "times per year"),
        ("{C1: {mean_h: 0}}", "circuits.C1.mean_h", "hours"),
        ("{C1: {backup: 4}}", "circuits.C1.backup", "did you mean backup_h?"),
        ("{C1: 4}", "circuits.C1", "expected keys and values"),
    ],
)
def test_what_is_wrong_with_a_circuit_is_told_with_its_place(circuits, text, where, wanted):
    (fault,) = circuits(text).faults()
    assert where in fault
    assert wanted in fault


def test_a_layout_that_names_circuits_beside_one_that_does_not_is_told(circuits):
    folder = circuits("")
    assert not any("is blank in layout" in note for note in folder.read().notes)
    folder.write(layouts__b__devices_csv=HEADER + DEVICES.replace(",C1\n", ",\n"))
    (note,) = [note for note in folder.read().notes if "is blank in layout" in note]
    assert note.startswith("Column circuit is blank in layout b and filled in elsewhere")
