"""The year's bench: its family's deeds, and that it counts what was told and how warm it was. All invented."""

from collections import Counter

from tests.bench.year.home import DAY, HOLIDAYS, ROOMS, START, SUMMER_DAYS, Family, house
from tests.bench.year.lived import Year
from thermostatd.rehearsal.nature import ColdSpell

ENDED = ("ask", "out")


def test_what_breaks_is_mended_within_a_day():
    """But for heaters unplugged for the summer; everything in order, and nobody airs a house that is empty."""
    deeds = Family(3, 365).deeds
    assert deeds == sorted(deeds, key=lambda deed: deed.at)
    broken = Counter((deed.about, deed.at) for deed in deeds if deed.what not in ("mend", *ENDED))
    mended = {(deed.about, deed.until): deed.at for deed in deeds if deed.what == "mend"}
    assert broken.keys() == mended.keys()
    summer = SUMMER_DAYS[0] * DAY
    assert all(mended[one] - one[1] <= DAY for one in broken if one[1] != summer)
    assert {about for about, at in broken if at == summer} == {f"{name}/h" for name, *_ in ROOMS}
    aired = [deed.at / DAY for deed in deeds if deed.what == "window_open"]
    assert aired
    assert not any(first <= at < first + days for at in aired for first, days in HOLIDAYS)


def test_another_seed_is_another_family():
    """And the same one the same."""
    assert Family(1, 60).deeds == Family(1, 60).deeds != Family(2, 60).deeds


def test_two_days_are_lived_and_counted():
    """A heater knocked over on the first is told, and looked at six hours later."""
    year = Year("hysteresis", 1, 2, ColdSpell(1, START), 4)
    year._deeds = []
    year.simulated.fault("desk/h", "knocked_over")
    year.run()
    (month,) = year.months
    assert month.name == "2025-10"
    assert abs(month.days - 2.0) < 1e-6
    assert month.switchings == sum(year.regulator.operations().values()) > 0
    assert month.told["drawing-nothing"] >= 1
    assert any("TOLD desk/h/drawing-nothing" in line for line in year.log)
    assert any(line.startswith("day") and "somebody looks: desk/h/drawing-nothing" in line for line in year.log)
    assert 0 < month.most_bytes < 4096
    assert month.cold_minutes > 0
    assert any(" desk: cold for " in line for line in year.cold_days())


def test_the_house_is_one():
    """Under any law."""
    assert {room.control for room in house("predictive").rooms} == {"predictive"}
