"""`thermostatd rate`: against Ohm, codes and the trade's own figures, and clear answers to bad input."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from thermostatd.cli import main
from thermostatd.physics.rating import rate


def run(*words: str):
    """The command, as typed."""
    return CliRunner().invoke(main, ["rate", *words])


def by_name(rating) -> dict:
    """The selections by their names."""
    return {one.selection.name: one for one in rating.selections}


def test_a_23_ohm_element_at_120_volts():
    """23 Ω at 120 V is about 620 W, a series of 40 Ω about 360 W (common practice, no published source)."""
    found = by_name(rate(ohms=[23.0, 17.0], volts=120.0))
    assert found["23 Ω"].selection.draws.watts == pytest.approx(620.0, rel=0.015)
    assert found["23 Ω + 17 Ω in series"].selection.ohms == pytest.approx(40.0)
    assert found["23 Ω + 17 Ω in series"].selection.draws.watts == pytest.approx(360.0, abs=0.5)


def test_1500_watts_at_120_volts():
    """9.6 Ω; 1353.75 W at 114 V and 1653.75 W at 126 V (Ohm; ANSI C84.1 ±5 %, from memory)."""
    only = rate(watts=[1500.0], volts=120.0).selections[0].selection
    assert only.ohms == pytest.approx(9.6)
    assert only.draws.low_watts == pytest.approx(1353.75)
    assert only.draws.high_watts == pytest.approx(1653.75)


def test_2000_watts_at_230_volts():
    """26.45 Ω, 8.70 A; 1620 W at 207 V and 2420 W at 253 V (Ohm; EN 50160 ±10 %)."""
    only = rate(watts=[2000.0]).selections[0].selection
    assert only.ohms == pytest.approx(26.45)
    assert only.draws.amps == pytest.approx(8.70, abs=0.005)
    assert only.draws.low_watts == pytest.approx(1620.0)
    assert only.draws.high_watts == pytest.approx(2420.0)


def test_a_1500_watt_heater_is_over_a_15_amp_circuit():
    """15 A × 120 V × 0.8 is 1440 W, so 1500 W is too much for hours (NEC 210.23(A)(1), 210.20, seen)."""
    rating = rate(watts=[1500.0], volts=120.0, breaker_amps=15.0, tolerance=0.0)
    assert rating.circuit_amps * 120.0 == pytest.approx(1440.0)
    assert rating.selections[0].fits_circuit is False
    assert rating.selections[0].over_breaker is False
    assert rate(watts=[1400.0], volts=120.0, breaker_amps=15.0, tolerance=0.0).selections[0].fits_circuit


def test_equal_elements_in_series_are_a_quarter():
    """Two equal elements in series draw a quarter of what they draw in parallel (derived)."""
    rating = rate(ohms=[30.0, 30.0])
    watts = [one.selection.draws.watts for one in rating.selections]
    assert len(watts) == 3
    assert watts[-1] == pytest.approx(4.0 * watts[0])


def test_the_plug_is_judged_at_high_mains():
    """A plug of just the nominal amperes is too weak at high mains."""
    nominal = rate(watts=[2300.0], plug_amps=10.0).selections[0]
    assert nominal.fits_plug is False
    assert rate(watts=[2300.0], plug_amps=11.0).selections[0].fits_plug


def test_the_table_says_what_fits_and_cautions():
    """The command prints every selection, its verdicts and the cautions."""
    result = run("--ohms", "23", "--ohms", "17", "--volts", "120", "--breaker", "15", "--plug-amps", "15")
    assert result.exit_code == 0
    assert "23 Ω + 17 Ω in parallel" in result.output
    assert "1440 W" in result.output
    assert "too much" in result.output
    assert "fits" in result.output
    assert "Never open a heater" in result.output
    assert "no strip, extension lead or adaptor" in result.output
    assert "Add up every heater on the circuit" in result.output


def test_json_is_for_machines():
    """With --json the same numbers come as JSON."""
    found = json.loads(run("--watts", "2000", "--breaker", "16", "--json").output)
    assert found["selections"][0]["selection"]["draws"]["amps"] == pytest.approx(8.6957, abs=1e-3)
    assert found["selections"][0]["fits_circuit"] is True
    assert found["selections"][0]["fits_plug"] is None
    assert found["cautions"]


def test_a_heater_bigger_than_its_breaker():
    """What its breaker does not carry at all exits 1 and says not to plug it in."""
    result = run("--watts", "3000", "--volts", "120", "--breaker", "15")
    assert result.exit_code == 1
    assert "over the breaker" in result.output
    assert "do not plug it in" in result.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--ohms", "0"], "short circuit"),
        (["--ohms", "-23"], "-23 Ω"),
        (["--ohms", "nan"], "nan Ω"),
        (["--watts", "0"], "0 W"),
        (["--watts", "inf"], "inf W"),
        (["--watts", "1500", "--volts", "-120"], "-120 V"),
        (["--watts", "1500", "--volts", "0"], "0 V"),
        (["--watts", "1500", "--volts", "nan"], "nan V"),
        (["--watts", "1500", "--breaker", "0"], "0 A"),
        (["--watts", "1500", "--breaker", "nan"], "nan A"),
        (["--watts", "1500", "--plug-amps", "-13"], "-13 A"),
        (["--watts", "1500", "--share", "1.2"], "1.2"),
        (["--watts", "1500", "--tolerance", "0.9"], "0.9"),
        (["--watts", "1500", "--ohms", "23"], "either"),
        ([], "either"),
        (["--ohms", "1"] * 5, "at most 4"),
        (["--watts", "hot"], "hot"),
    ],
)
def test_bad_input_is_named_with_its_mend(words, said):
    """Bad input exits 2 and names what is wrong; nothing is rated."""
    result = run(*words)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output
    assert "selection" not in result.output


def test_a_value_without_its_option_is_told_how_it_is_written():
    """A second resistance without --ohms before it is refused with the mend."""
    result = run("--ohms", "23", "17")
    assert result.exit_code == 2
    assert '"17" stands alone: write --ohms or --watts before each value' in result.output


@pytest.mark.parametrize(
    ("written", "mend"),
    [("600,5", "write 600.5"), ("600W", "write one such as 23 or 5.5, without its unit"), ("", "write one such as")],
)
def test_what_is_no_number_gets_its_mend(written: str, mend: str) -> None:
    """A comma, a unit, nothing at all."""
    told = run("--watts", written)
    assert told.exit_code == 2
    assert f'"{written}" is no number: {mend}' in told.output


@pytest.mark.parametrize(
    "words", [("rehearse", "--days", "1,5", "house.toml"), ("demo", "--speed", "1,5"), ("listen", "--minutes", "1,5")]
)
def test_every_command_says_how_a_number_is_written(words: tuple[str, ...]) -> None:
    """Not the calculator alone."""
    told = CliRunner().invoke(main, list(words))
    assert told.exit_code == 2
    assert '"1,5" is no number: write 1.5' in told.output
