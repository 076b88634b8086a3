"""A policy is read whole, with every mistake told, and written only where nothing is lost."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resilience.building.files.policies import read_policy, write_policy
from resilience.building.service.policy import Lost, Policy, Start
from resilience.errors import InputError, UsageError

PLAIN = "format: 1\nmax_orphans: 1\nlonger_than_h: 24\nkept_with_probability: 0.95\n"


@pytest.fixture
def site(small_site):
    """Three sensors for a year."""
    return small_site.linked("g1~s1=0.9 s1~s2=0.9 s2~s3=0.9")


@pytest.fixture
def faults(tmp_path, site):
    def told(text):
        (tmp_path / "policy.yaml").write_text(text)
        with pytest.raises(InputError) as caught:
            read_policy(tmp_path, site)
        return [str(fault) for fault in caught.value.faults]

    return told


def test_a_site_without_the_file_promises_nothing(tmp_path, site):
    assert read_policy(tmp_path, site) is None


def test_what_is_left_out_counts_orphans_from_hand_over(tmp_path, site):
    (tmp_path / "policy.yaml").write_text(PLAIN)
    assert read_policy(tmp_path, site) == Policy(24.0, 0.95, max_orphans=1)


def test_every_key_is_read(tmp_path, site):
    text = PLAIN.replace("max_orphans: 1", "max_orphan_share: 0.4")
    (tmp_path / "policy.yaml").write_text(f"{text}count: dark\nper_sensor: on\nfrom: first_route")
    policy = read_policy(tmp_path, site)
    assert policy == Policy(24.0, 0.95, None, 0.4, Lost.DARK, Start.FIRST_ROUTE, True)
    assert policy.max_count(3) == 1  # 1.2, rounded down


@pytest.mark.parametrize(
    ("share", "n_sensors", "expected"), [(0.1, 30, 3), (0.07, 100, 7), (0.29, 100, 29), (1, 5, 5)]
)
def test_a_share_that_is_a_whole_number_of_sensors_is_that_number(share, n_sensors, expected):
    """Though 0.29 times 100 is 28.999999999999996 in binary fractions."""
    assert Policy(1.0, 0.9, max_orphan_share=share).max_count(n_sensors) == expected


@pytest.mark.parametrize(
    ("old", "new", "where", "wanted"),
    [
        ("max_orphans", "max_orphan", "line 2, key max_orphan", "did you mean max_orphans?"),
        ("1\nl", "1\nmax_orphan_share: 0.1\nl", "line 3, key max_orphan_share", "not both"),
        ("max_orphans: 1", "max_orphans: 4", "line 2, key max_orphans", "at most 3"),
        ("max_orphans: 1", "max_orphans: 1.5", "line 2, key max_orphans", "a whole number"),
        ("0.95", "1", "line 4, key kept_with_probability", "less than 1"),
        ("0.95", "0", "line 4, key kept_with_probability", "above 0"),
        ("24", "-1", "line 3, key longer_than_h", "at least 0"),
        ("24", "8766", "line 3, key longer_than_h", "less than the horizon of 8766 h"),
        ("format: 1", "format: 2", "line 1, key format", "expected 1, the only format"),
        ("0.95", "0.95\nper_sensor: maybe", "line 5, key per_sensor", "on or off"),
        ("0.95", "0.95\ncount: silent", "line 5, key count", "orphans or dark"),
        ("0.95", "0.95\nfrom: monday", "line 5, key from", "hand_over or first_route"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_what_was_expected(faults, old, new, where, wanted):
    told = faults(PLAIN.replace(old, new))
    assert any(where in one and wanted in one for one in told), told


def test_all_mistakes_are_told_at_once(faults):
    assert len(faults("format: 7\nlonger_than_h: -3\nkept_with_probability: 1\nk: 1\n")) == 5


@pytest.mark.parametrize("text", ["", "[1, 2]", "format: 1\nmax_orphans: [1]\n"])
def test_a_file_that_holds_no_policy_is_a_mistake(faults, text):
    assert faults(text)


@pytest.mark.parametrize(
    "changes",
    [
        {"max_orphan_share": 0.5},
        {"max_orphans": None},
        {"max_orphans": -1},
        {"kept_with_probability": 1.0},
        {"kept_with_probability": float("nan")},
        {"longer_than_h": -1.0},
        {"longer_than_h": float("inf")},
    ],
)
def test_no_policy_can_contradict_itself(changes):
    with pytest.raises(UsageError):
        replace(Policy(24.0, 0.95, max_orphans=1), **changes)


policies = st.builds(
    Policy,
    st.floats(0, 8000),
    st.floats(0.001, 0.999),
    st.none(),
    st.floats(0, 1),
    st.sampled_from(Lost),
    st.sampled_from(Start),
    st.booleans(),
)


@given(policy=policies)
def test_what_is_written_reads_back_as_it_was(tmp_path_factory, site_of_three, policy):
    target = tmp_path_factory.mktemp("p") / "policy.yaml"
    write_policy(target, policy, site_of_three, may_replace=False)
    assert read_policy(target.parent, site_of_three) == policy


@pytest.fixture(scope="module")
def site_of_three(small_site):
    return small_site.linked("g1~s1=0.9 s1~s2=0.9 s2~s3=0.9")


def test_a_policy_that_is_there_is_only_replaced_on_request(tmp_path, site):
    target, policy = tmp_path / "policy.yaml", Policy(24.0, 0.95, max_orphans=1)
    target.write_text("mine")
    with pytest.raises(UsageError, match="stays as it is"):
        write_policy(target, policy, site, may_replace=False)
    assert target.read_text() == "mine"
    write_policy(target, policy, site, may_replace=True)
    assert read_policy(tmp_path, site) == policy


def test_the_json_of_a_policy_has_the_keys_of_its_file():
    told = Policy(24.0, 0.95, max_orphans=1).to_json()
    assert json.loads(json.dumps(told)) == {
        "max_orphans": 1,
        "longer_than_h": 24.0,
        "kept_with_probability": 0.95,
        "count": "orphans",
        "per_sensor": False,
        "from": "hand_over",
    }
