"""What a house file's tables refuse, word by word, and the shares and topics that they make. All invented."""

import pytest
from pydantic import ValidationError

from thermostatd.core.house import House
from thermostatd.core.house.currents import continuous_amps
from thermostatd.core.house.plug_kinds import HomiePlug
from thermostatd.core.house.tables import Circuit
from thermostatd.core.house.units import seconds_of


@pytest.mark.parametrize("port", [1, 65535])
def test_a_port_is_one_from_1_to_65535(port):
    """Both of them (RFC 9293: sixteen bits; 0 is none)."""
    assert (
        House.model_validate({"pages": {"listen": f"127.0.0.1:{port}"}}).pages.listen == f"127.0.0.1:{port}"
    )


@pytest.mark.parametrize("port", [0, 65536])
def test_a_port_that_does_not_exist_is_refused(port):
    """With the ones that do."""
    words = "Value error, has a port that does not exist: write one from 1 to 65535"
    with pytest.raises(ValidationError) as fault:
        House.model_validate({"pages": {"listen": f"127.0.0.1:{port}"}})
    assert [error["msg"] for error in fault.value.errors()] == [words]


@pytest.mark.parametrize("zone", ["Europe/Nowhere", "", "../etc"])
def test_a_time_zone_that_nobody_knows_is_refused(zone):
    """With two that are known."""
    words = 'Value error, is no known time zone: write one such as "Europe/Oslo" or "UTC"'
    with pytest.raises(ValidationError) as fault:
        House.model_validate({"house": {"timezone": zone}})
    assert [error["msg"] for error in fault.value.errors()] == [words]


def test_a_circuit_carries_the_share_that_the_owner_wrote():
    """Four fifths else (NEC 210.20, from memory)."""
    assert continuous_amps(Circuit(name="north", breaker_amps=16)) == pytest.approx(12.8)
    assert continuous_amps(Circuit(name="north", breaker_amps=16, continuous_share=0.5)) == pytest.approx(8.0)


@pytest.mark.parametrize(("version", "topic"), [(4, "homie/plug-1/relay/on"), (5, "homie/5/plug-1/relay/on")])
def test_a_homie_topic_names_its_version_from_the_fifth_on(version, topic):
    """The convention's own topics, 4.0 and 5.0."""
    plug = HomiePlug(kind="homie", device="plug-1", switch="relay/on", timer="relay/off-in", version=version)
    assert plug.topic("relay/on") == topic
    assert plug.topic("$state", "root-1") == topic.replace("plug-1/relay/on", "root-1/$state")


@pytest.mark.parametrize(("written", "seconds"), [("366 d", 31_622_400.0), ("527040 min", 31_622_400.0)])
def test_a_duration_may_be_a_leap_year(written, seconds):
    """And not a minute more."""
    assert seconds_of(written) == seconds
    with pytest.raises(ValueError, match="at most 366 d"):
        seconds_of("527041 min")
