"""Weather from a file: an owner's CSV, and the coldest days of a year."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from thermostatd.rehearsal.epw import EpwHour, EpwYear
from thermostatd.rehearsal.weather_file import WeatherFileError, coldest, read_csv, sky_of

OSLO = ZoneInfo("Europe/Oslo")
DAY = 86400.0


def lines(days: int = 3, heading: str = "time,celsius,sun", first: str = "2026-01-12") -> str:
    """An invented record: colder by a degree each day, with some sun at noon."""
    start = datetime.fromisoformat(first)
    rows = [
        f"{start + timedelta(days=day, hours=hour):%Y-%m-%dT%H:%M},{-day:.1f},{300 if hour == 12 else 0}"
        for day in range(days + 1)
        for hour in (0, 6, 12, 18)
    ]
    return "\n".join([heading, *rows])


def write(folder: Path, text: str) -> Path:
    """A file of it."""
    path = folder / "weather.csv"
    path.write_text(text)
    return path


def test_a_csv_is_read_by_the_houses_clock(tmp_path: Path) -> None:
    """Between two lines the weather goes along a straight line; the judged days begin at the first midnight."""
    sky = read_csv(write(tmp_path, lines()), OSLO, 3, 1)
    assert sky.start == datetime(2026, 1, 12, tzinfo=OSLO)
    assert sky.weather.outdoor_celsius(1 * DAY + 9 * 3600.0) == pytest.approx(0.0)
    assert sky.weather.outdoor_celsius(3 * DAY) == pytest.approx(-2.0)
    assert sky.weather.outdoor_celsius(3 * DAY - 3 * 3600.0) == pytest.approx(-1.5)
    assert sky.weather.sun_watts_per_square_metre(1 * DAY + 12 * 3600.0) == pytest.approx(300.0)
    assert sky.weather.sun_watts_per_square_metre(1 * DAY + 9 * 3600.0) == pytest.approx(150.0)


def test_the_days_that_warm_up_are_the_first_day_over_again(tmp_path: Path) -> None:
    """What lies before the file has the first day's weather, hour by hour."""
    sky = read_csv(write(tmp_path, lines()), OSLO, 3, 2)
    for hour in (0.0, 9.0, 12.0):
        judged = sky.weather.sun_watts_per_square_metre(2 * DAY + 3600.0 * hour)
        assert sky.weather.sun_watts_per_square_metre(3600.0 * hour) == pytest.approx(judged)


def test_an_offset_beats_the_houses_clock(tmp_path: Path) -> None:
    """A time with its offset is that time: 00:00 UTC is 01:00 in Oslo."""
    text = lines().replace(":00,", ":00+00:00,")
    sky = read_csv(write(tmp_path, text), OSLO, 2, 0)
    assert sky.start == datetime(2026, 1, 13, tzinfo=OSLO)
    assert sky.weather.sun_watts_per_square_metre(13 * 3600.0) == pytest.approx(300.0)


def test_an_hour_that_comes_twice_may_stand_there_twice(tmp_path: Path) -> None:
    """A logger by the house's clock writes 02:00 again when clocks are put back, an hour later."""
    rows = [f"2026-10-25T{hour:02d}:00,{value}" for hour, value in ((0, 0), (2, -2), (2, -3), (6, -7), (12, -9))]
    text = "\n".join(["time,celsius", *rows, "2026-10-25T18:00,-9", "2026-10-26T00:00,-9"])
    weather = read_csv(write(tmp_path, text), OSLO, 1, 0).weather
    assert [weather.outdoor_celsius(3600.0 * hour) for hour in (2, 3, 7, 13)] == [-2.0, -3.0, -7.0, -9.0]


def test_how_cold_it_is_is_told(tmp_path: Path) -> None:
    """An owner sees at once whether the column is what it should be."""
    assert read_csv(write(tmp_path, lines()), OSLO, 2, 1).told == "weather.csv, from 2026-01-12 (-0.6 °C)"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no two lines"),
        ("a,b\n1,2", "line 1.*heading"),
        (lines().replace("2026-01-12T06:00,0.0", "soon,0.0"), "line 3.*no time.*such as"),
        (lines().replace("2026-01-12T06:00,0.0", "2026-01-12T06:00,warm"), "line 3.*celsius.*write a number"),
        (lines().replace("2026-01-12T06:00,0.0,0", "2026-01-12T06:00,nan,0"), "line 3.*celsius"),
        (lines().replace("2026-01-12T06:00,0.0,0", "2026-01-12T06:00,0.0,-5"), "line 3.*sun"),
        (lines().replace("2026-01-12T06:00,0.0,0", "2026-01-12T06:00,0.0"), "line 3.*fewer"),
        (lines().replace("2026-01-12T06:00", "2026-01-11T06:00"), "line 3.*back in time"),
        (lines().replace("2026-01-12T12:00", "2026-01-12T17:00"), "line 4.*11 hours.*six hours"),
        (lines(days=1), "ends .* too early.*--days"),
        (lines(first="0001-01-01"), "line 2.*no time"),
        (lines().replace(",-", ",2").replace(",0.0,", ",23.0,"), r"2\d.\d °C.*°F"),
        ("time,celsius\n2026-03-29T00:00,1\n2026-03-29T02:00,1\n2026-03-29T03:00,1", "line 4.*back in time.*offset"),
    ],
)
def test_a_bad_csv_is_told_with_its_line_and_mend(tmp_path: Path, text: str, why: str) -> None:
    """What is wrong, where, and what to write."""
    with pytest.raises(WeatherFileError, match=f"(?s)weather.csv.*{why}"):
        read_csv(write(tmp_path, text), OSLO, 3, 1)


def test_a_csv_that_is_not_there_is_told(tmp_path: Path) -> None:
    """No file, no traceback."""
    with pytest.raises(WeatherFileError, match="cannot be read"):
        sky_of(tmp_path / "none.csv", OSLO, 3, 1)


def test_the_coldest_days_of_a_year_are_found() -> None:
    """An invented year whose cold snap begins on 10 February is played from that day on, by the house's clock."""

    def hour(index: int) -> EpwHour:
        day, clock = divmod(index, 24)
        snap = 40 <= day < 43
        return EpwHour(-20.0 if snap else 0.0, 0.0, 0.0, 100.0 if clock == 12 else 0.0)

    year = EpwYear("Nowhere", 59.9, 10.7, 1.0, 20.0, tuple(hour(index) for index in range(8760)))
    sky = coldest(year, OSLO, 3, 2, "nowhere.epw")
    assert (sky.start.month, sky.start.day) == (2, 10)
    assert "Nowhere" in sky.told
    assert sky.weather.outdoor_celsius(2 * DAY + 2 * 3600.0) == pytest.approx(-20.0)
    assert sky.weather.outdoor_celsius(4.9 * DAY) == pytest.approx(-20.0)
    assert sky.weather.outdoor_celsius(1 * DAY) == pytest.approx(0.0)
    assert sky.told.endswith("(-20.0 °C)")


@pytest.mark.parametrize(("zone_hours", "told"), [(-7.0, True), (9.0, True), (3.0, False)])
def test_a_far_places_noon_is_noon_at_the_house(zone_hours: float, told: bool) -> None:
    """Its climate is wanted: by its own clock the sun of Colorado had shone into Oslo from dusk to midnight."""
    hours = tuple(EpwHour(5.0 if index % 24 == 11 else -5.0, 0.0, 0.0, 0.0) for index in range(8760))
    sky = coldest(EpwYear("Far", 40.0, 15.0 * zone_hours, zone_hours, 1700.0, hours), OSLO, 1, 0, "far.epw")
    warmest = max(range(24), key=lambda hour: sky.weather.outdoor_celsius(3600.0 * hour))
    assert warmest == (12 if told else 12 - (zone_hours - 1.0))
    assert ("its hours as the house's own" in sky.told) is told
