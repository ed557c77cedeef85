"""Walking over all heaters of a house: kept once walked, and never another house's."""

import pickle

from tests.core.house.houses import SOUND
from thermostatd.core.house import House


def keys(house):
    """Every heater's key."""
    return [key for key, _, _ in house.heaters()]


def test_a_copy_with_other_rooms_or_spots_has_heaters_of_its_own():
    """What was walked before is of the rooms and spots of then."""
    house = House.model_validate(SOUND)
    assert keys(house) == keys(house) == ["study/column", "sewing table/panel"]
    assert house.heaters() is house.heaters()
    assert keys(house.model_copy(update={"spots": ()})) == ["study/column"]
    assert keys(house.model_copy(update={"rooms": ()})) == ["sewing table/panel"]
    assert keys(house) == ["study/column", "sewing table/panel"]


def test_a_house_that_was_walked_is_the_same_house():
    """It equals one that was not, dumps the same, and goes to another process."""
    house, fresh = (House.model_validate(SOUND) for _ in range(2))
    house.heaters()
    assert house == fresh
    assert house.model_dump() == fresh.model_dump()
    assert repr(house) == repr(fresh)
    assert keys(pickle.loads(pickle.dumps(house))) == keys(fresh)
