"""A heater's result is found wherever it stands, by a real step of an invented house."""

from tests.core.guard.cases import NOON, NOW
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.regulator import Regulator
from thermostatd.core.values import Moment, Observation


def test_a_heater_is_found_in_its_room_or_at_its_spot_or_not_at_all():
    """A key that nothing has is no error."""
    result = Regulator(house_of(study(more=SPOT))).step(Moment(NOON, NOW), Observation(air={"study": 19.0}))
    assert result.heater(COLUMN) is result.rooms["study"].heaters[COLUMN]
    assert result.heater(PANEL) is result.spots["sewing table"].heater
    assert result.heater("attic/oil") is None
