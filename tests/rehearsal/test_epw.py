"""Weather files: a year is read, played by the wall's clock, and a bad file names its line and the mend."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tests.bench.plant.engine import weather_file
from thermostatd.physics.sun import incidence_cosine
from thermostatd.rehearsal.epw import EpwError, EpwWeather, read_epw, sun_through_glass

HEAD = ["LOCATION,Sandbank,XX,YY,invented,0,50.0,10.0,1.0,20.0", *["COMMENTS"] * 7]
NOON = 12


def hour_line(celsius="1.0", whole="0", direct="0", diffuse="0", date="DATE"):
    """One hour of the format, with the fields that are not read left plain; a file puts its month, day and hour in."""
    return f"1999,{date},0,?,{celsius},0,80,100000,0,0,300,{whole},{direct},{diffuse}" + ",0" * 19


def file_of(folder, hours, head=HEAD):
    """A file of a year's lines."""
    path = folder / "invented.epw"
    begins = datetime(1999, 1, 1, tzinfo=UTC)
    dates = [begins + timedelta(hours=n) for n in range(len(hours))]
    lines = [line.replace("DATE", f"{at.month},{at.day},{at.hour + 1}") for line, at in zip(hours, dates, strict=True)]
    path.write_text("\n".join([*head, *lines]))
    return path


@pytest.fixture(scope="module")
def denver():
    """The engine package's Denver file (TMY3, public data)."""
    return read_epw(weather_file("Aurora"))


def test_a_year_of_a_published_file_is_read(denver):
    """Denver-Aurora-Buckley TMY3: its place, 8760 hours, and a January mean of 0.8 °C (counted in the file)."""
    assert (denver.latitude, denver.longitude, denver.zone_hours) == (39.72, -104.75, -7.0)
    assert len(denver.hours) == 8760
    assert sum(hour.celsius for hour in denver.hours[:744]) / 744 == pytest.approx(0.8, abs=0.05)


def test_measured_light_agrees_with_the_suns_place(denver):
    """Global light is diffuse plus the direct beam times the sine of our sun's height, within 5 % over the year."""
    whole = beam = 0.0
    for index, hour in enumerate(denver.hours):
        whole += hour.global_horizontal
        flat = incidence_cosine(denver.sun_place(index + 0.5), tilt_degrees=0.0)
        beam += hour.diffuse_horizontal + hour.direct_normal * flat
    assert beam == pytest.approx(whole, rel=0.05)


def test_weather_follows_the_walls_clock(denver):
    """An aware start is turned into the file's standard time; temperatures between hours lie on a line."""
    weather = EpwWeather(denver, datetime(2026, 1, 12, 7, tzinfo=UTC))
    midnight = 11 * 24
    assert weather.outdoor_celsius(0.0) == denver.hours[midnight - 1].celsius
    assert weather.outdoor_celsius(3600.0) == denver.hours[midnight].celsius
    half = weather.outdoor_celsius(1800.0)
    assert half == pytest.approx((denver.hours[midnight - 1].celsius + denver.hours[midnight].celsius) / 2)
    assert weather.sun_watts_per_square_metre(0.0) == 0.0
    assert weather.sun_watts_per_square_metre(12 * 3600.0) == sun_through_glass(denver, midnight + NOON) > 0.0


def test_the_year_repeats(denver):
    """After 31 December comes 1 January."""
    weather = EpwWeather(denver, datetime(2026, 12, 31, 7, tzinfo=UTC))
    assert weather.outdoor_celsius(26 * 3600.0) == denver.hours[1].celsius


def test_a_short_gap_is_bridged(tmp_path):
    """Up to six missing hours are filled along a line."""
    hours = [hour_line("1.0"), *[hour_line("99.9")] * 3, hour_line("5.0"), *[hour_line("5.0")] * 8755]
    assert [round(hour.celsius, 6) for hour in read_epw(file_of(tmp_path, hours)).hours[:5]] == [
        1,
        2,
        3,
        4,
        5,
    ]


@pytest.mark.parametrize(
    ("hours", "head", "words"),
    [
        ([hour_line()] * 8760, ["DESIGN CONDITIONS", *HEAD[1:]], 'line 1: an EPW file begins with "LOCATION,"'),
        ([hour_line()] * 8760, [HEAD[0].replace("50.0", "north"), *HEAD[1:]], "line 1: latitude"),
        ([hour_line()] * 8760, [HEAD[0].replace("50.0", "950.0"), *HEAD[1:]], "no place on earth"),
        ([hour_line()] * 8759, HEAD, "has 8759 hours"),
        ([hour_line(), "1999,1,1,2", *[hour_line()] * 8758], HEAD, "line 10: has 4 fields"),
        ([hour_line(), hour_line("mild"), *[hour_line()] * 8758], HEAD, 'dry bulb temperature (field 7) is "mild"'),
        ([hour_line(), hour_line("nan"), *[hour_line()] * 8758], HEAD, "line 10: dry bulb temperature"),
        ([hour_line("-273"), *[hour_line()] * 8759], HEAD, "line 9: dry bulb temperature (field 7) is -273"),
        ([hour_line(direct="-5"), *[hour_line()] * 8759], HEAD, "line 9: direct normal radiation"),
        ([hour_line(), *[hour_line("99.9")] * 7, *[hour_line()] * 8752], HEAD, "line 10: dry bulb"),
        ([hour_line(), hour_line(date="1,1,1"), *[hour_line()] * 8758], HEAD, "line 10: month 1, day 1, hour 1 stands"),
        ([*[hour_line()] * 50, hour_line(date="1,2,9"), *[hour_line()] * 8709], HEAD, "line 59: month 1, day 2, hour"),
        ([hour_line(), hour_line(date="Jan,1,2"), *[hour_line()] * 8758], HEAD, "line 10: month, day and hour"),
        ([hour_line(direct="9999")] * 8760, HEAD, "has no direct normal radiation at all"),
    ],
)  # fmt: skip
def test_a_bad_file_names_its_line_and_the_mend(tmp_path, hours, head, words):
    """Every fault is an EpwError that names the file and where in it."""
    with pytest.raises(EpwError) as told:
        read_epw(file_of(tmp_path, hours, head))
    assert words in str(told.value)
    assert "invented.epw" in str(told.value)


def test_a_file_that_is_not_there_or_no_text(tmp_path):
    """A path that leads nowhere, and bytes that are no text, are told as such."""
    with pytest.raises(EpwError, match="cannot be read"):
        read_epw(tmp_path / "none.epw")
    path = tmp_path / "zip.epw"
    path.write_bytes(b"PK\x03\x04\xff" * 5000)
    with pytest.raises(EpwError, match="LOCATION"):
        read_epw(path)
