"""The owner's house through cold days under each law: the same house for all, told in a table and a picture."""

from __future__ import annotations

import json
import multiprocessing
import signal
import time
import tomllib
import xml.etree.ElementTree as ElementTree
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from tests.daemon.recorded_day import house as two_rooms
from thermostatd.cli import main
from thermostatd.core.house import House
from thermostatd.daemon.rehearsal_picture import picture_of
from thermostatd.daemon.rehearsing import ABANDONED, UNSHIFTED, Rehearsal, rehearse
from thermostatd.rehearsal.judging import RoomOutcome
from thermostatd.rehearsal.trial import Outcome, Trial

HOUSE = """
[house]
name = "Trial House"
[tariff]
currency = "kr"
per_kwh = 1.0
prices = [{ from = "16:00", to = "20:00", per_kwh = 3.0 }]
[[room]]
name = "study"
sensor = { topic = "s" }
usual = [{ at = "07:00", celsius = 20 }, { at = "22:00", celsius = 18 }]
[[room.heater]]
name = "column"
watts = 600
may_run = ["awake", "asleep"]
plug = { kind = "simulated" }
"""  # invented


@pytest.fixture(scope="module")
def found() -> Rehearsal:
    """Half a day of two invented rooms, in two processes."""
    shares: list[float] = []
    made = rehearse(
        two_rooms(), days=1, warm_days=0, laws=("hysteresis", "proportional"), progress=shares.append
    )
    assert shares == sorted(shares)
    assert 0.0 <= shares[0] <= shares[-1] <= 1.0
    return made


def test_every_law_meets_the_same_house(found: Rehearsal) -> None:
    """The same rooms from the same start in the same weather; what differs is what the law did."""
    one, other = found.outcomes
    assert (one.law, other.law) == ("hysteresis", "proportional")
    assert one.rooms.keys() == other.rooms.keys() == {"study", "attic"}
    for name in one.rooms:
        assert one.rooms[name].trace[0][1] == other.rooms[name].trace[0][1]
    assert one.kwh != other.kwh
    assert all(
        room.kwh > 1.0 and room.clicks_a_day >= 2 for law in found.outcomes for room in law.rooms.values()
    )
    assert found.times_life > 100


def test_a_process_of_its_own_gives_what_a_trial_here_gives(found: Rehearsal) -> None:
    """Nothing is lost on the way back, and the seed settles everything."""
    start = datetime(2026, 1, 12, tzinfo=ZoneInfo("Europe/Oslo"))
    here = Trial(two_rooms(), "hysteresis", seed=1, start=start, days=1, warm_days=0).run()
    assert here == found.outcomes[0]


def _exit_code(process: multiprocessing.process.BaseProcess) -> int | None:
    """How it ended. The pool waits for it as well: where that was first, the code is known a moment after `join`."""
    process.join()
    patience = time.monotonic() + 10.0
    while process.exitcode is None and time.monotonic() < patience:
        time.sleep(0.01)
    return process.exitcode


def test_whoever_ends_it_does_not_wait_for_the_weeks() -> None:
    """Ctrl-C in the midst: its processes are ended there, and none lives its four weeks to their end."""
    lived: list[multiprocessing.process.BaseProcess] = []

    def ctrl_c(share: float) -> None:
        if share > 0.0:
            lived.extend(multiprocessing.active_children())
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        rehearse(two_rooms(), days=28, laws=("hysteresis", "proportional"), progress=ctrl_c)
    assert lived
    assert {_exit_code(process) for process in lived} <= {ABANDONED, -signal.SIGTERM}  # by itself, or by its pool


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_heater_set_too_high_is_paced_in_a_rehearsal_as_in_life(seed: int) -> None:
    """Its cut-out opens twice, while it is learned, and never again: pacing knows how long a rehearsal's steps are."""
    start = datetime(2026, 1, 12, tzinfo=ZoneInfo("Europe/Oslo"))
    written = HOUSE.replace("watts = 600", "watts = 1400").replace("celsius = 20", "celsius = 25")
    house = House.model_validate(tomllib.loads(written.replace("celsius = 18", "celsius = 25")))
    outcome = Trial(house, "hysteresis", seed=seed, start=start, days=1, warm_days=0).run()
    assert outcome.rooms["study"].trips == 2
    assert outcome.rooms["study"].kwh > 8.0


def invented() -> Rehearsal:
    """A rehearsal with invented figures."""

    def outcome(law: str, late: float, cost: float) -> Outcome:
        room = RoomOutcome(0.2, 0.4, 19.5, 24.0, 0, 50.0, cost, [(25200.0, late), (111600.0, 180.0)],
                           [(0.0, 18.0, 20.0), (600.0, 18.5, 20.0), (86400.0, 20.0, 18.0)])  # fmt: skip
        return Outcome(law, 604800.0, 864000.0, {"study": room})

    laws = [
        outcome("hysteresis", 55.0, 80.0),
        outcome("proportional", 48.0, 79.0),
        outcome("predictive", -2.0, 70.0),
    ]
    return Rehearsal(laws, 7, 3, 1, "invented", 20.0, outcome(UNSHIFTED, -2.0, 75.0), ["study"])


def test_rises_that_no_law_meets_are_told_apart() -> None:
    """The second rise is met by nobody: it is counted as out of reach, not as late."""
    found = invented()
    assert found.rises == 2
    assert found.within_reach == {("study", 25200.0)}
    assert found.outcomes[2].arrivals(found.within_reach) == [-2.0]
    assert found.saved == pytest.approx(5.0)
    assert found.times_life == pytest.approx(4 * 864000.0 / 20.0)


def test_rises_that_it_may_not_heat_ahead_for_are_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Late, and its heater was not allowed before: the room is named, and the keys of the file that do it."""
    one = invented()
    late = one.outcomes[2].rooms["study"]
    late.arrivals, late.held = [(25200.0, 42.0), (111600.0, 180.0)], [25200.0, 111600.0]  # the second nobody met
    monkeypatch.setattr("thermostatd.daemon.rehearsing.rehearse", lambda *_, **__: one)
    file = tmp_path / "house.toml"
    file.write_text(HOUSE)
    told = CliRunner().invoke(main, ["rehearse", str(file)]).output
    assert "In “study” predictive came late to 1 rise before which a heater may not run, by its may_run" in told
    assert "1 of 2 rises no law came to within three hours: before 1 of them a heater may not run" in told
    assert "too weak" not in told, "nobody knows, where it was not let heat"
    late.held = []
    told = CliRunner().invoke(main, ["rehearse", str(file)]).output
    assert "may_run" not in told
    assert "within three hours: the heaters are too weak for them in this weather." in told


def test_the_picture_is_whole_and_says_its_figures() -> None:
    """Well-formed SVG, described for who cannot see it, with every law's name and figures; no script, no fetching."""
    picture = picture_of(invented())
    root = ElementTree.fromstring(picture)
    assert root.get("role") == "img"
    texts = {node.text for node in root.iter("{http://www.w3.org/2000/svg}text")}
    assert {"hysteresis", "proportional", "predictive", "-2 min", "50 kWh"} <= texts
    assert "stray 0.20 K" in str(root.get("aria-label"))
    for forbidden in ("<script", "href", "url("):
        assert forbidden not in picture


def test_the_table_tells_prices_and_limits(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Every law has its row; what minding prices saved is told as measured; the rooms are called invented."""
    monkeypatch.setattr("thermostatd.daemon.rehearsing.rehearse", lambda *_, **__: invented())
    file = tmp_path / "house.toml"
    file.write_text(HOUSE)
    told = CliRunner().invoke(main, ["rehearse", str(file), "--picture", str(tmp_path / "week.svg")])
    assert told.exit_code == 0, told.output
    for words in ("hysteresis", "+55 min", "1 of 1", "-2 min", "80.00 kr", "saved 5.00 kr (6.7 %)", "invented",
                  "1 of 2 rises no law"):  # fmt: skip
        assert words in told.output, words
    assert (tmp_path / "week.svg").read_text().startswith("<svg")
    plain = json.loads(CliRunner().invoke(main, ["rehearse", str(file), "--json"]).output)
    assert plain["outcomes"][0]["rooms"]["study"]["kwh"] == 50.0


@pytest.mark.parametrize(
    ("cost", "unshifted", "kwh", "words"),
    [
        (-7.37, -7.06, 50.0, "Minding the prices saved 0.31 kr here"),
        (0.0, 0.0, 50.0, "Minding the prices saved 0.00 kr here"),
        (7.0, 5.0, 50.0, "Minding the prices cost 2.00 kr (40.0 %) here"),
        (70.0, 70.0, 51.0, "Minding the prices moved nothing here"),
    ],
)
def test_a_saving_has_a_share_only_of_what_was_to_be_paid(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, cost: float, unshifted: float, kwh: float, words: str
) -> None:
    """Of a cost below zero it had been told in millions of per cent; where all is the same, that is said."""
    one = invented()
    assert one.unshifted is not None
    ours, calm = one.outcomes[2].rooms["study"], one.unshifted.rooms["study"]
    ours.cost, calm.cost, ours.kwh = cost, unshifted, 51.0
    calm.kwh = kwh
    monkeypatch.setattr("thermostatd.daemon.rehearsing.rehearse", lambda *_, **__: one)
    file = tmp_path / "house.toml"
    file.write_text(HOUSE)
    told = CliRunner().invoke(main, ["rehearse", str(file)]).output
    assert words in told
    assert ("%" in told) is ("%" in words)


def test_a_room_that_quiet_hours_leave_cold_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Its stray would hide in the mean what the laws do: named, where every law strays by more than a kelvin."""
    file = tmp_path / "house.toml"
    quiet = 'quiet = [{ from = "22:00", to = "07:00", switches = 2 }]'
    file.write_text(HOUSE.replace("usual =", f"{quiet}\nusual ="))
    for strays, named in (((1.2, 1.1, 2.0), True), ((1.2, 0.9, 2.0), False)):
        one = invented()
        for outcome, stray in zip(one.outcomes, strays, strict=True):
            outcome.rooms["study"].stray_kelvin = stray
        monkeypatch.setattr("thermostatd.daemon.rehearsing.rehearse", lambda *_, found=one, **__: found)
        told = CliRunner().invoke(main, ["rehearse", str(file)]).output
        assert ("“study” strays by 1.1 K under the best law: its quiet hours allow 2 switchings" in told) is named


def test_a_picture_that_cannot_be_written_costs_no_table(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A week was lived for it: it is printed, and then what is wrong is told."""
    monkeypatch.setattr("thermostatd.daemon.rehearsing.rehearse", lambda *_, **__: invented())
    file = tmp_path / "house.toml"
    file.write_text(HOUSE)
    told = CliRunner().invoke(main, ["rehearse", str(file), "--picture", str(tmp_path)])
    assert told.exit_code == 1
    assert "saved 5.00 kr" in told.output
    assert "cannot be written" in told.output


@pytest.mark.parametrize(
    ("more", "words", "code"),
    [
        (["--days", "0"], "--days", 2),
        (["--weather", "none.csv"], "cannot be read", 1),
        (["--weather", "none.epw"], "cannot be read", 1),
        (["--picture", "none/week.svg"], "no such folder", 1),
    ],
)
def test_what_is_wrong_is_told(tmp_path: Path, more: list[str], words: str, code: int) -> None:
    """Exit codes as for every command, and a sentence instead of a traceback."""
    file = tmp_path / "house.toml"
    file.write_text(HOUSE)
    told = CliRunner().invoke(main, ["rehearse", str(file), *more])
    assert told.exit_code == code
    assert words in told.output


def test_a_house_without_heaters_has_nothing_to_rehearse(tmp_path: Path) -> None:
    """No heater in any room: said so."""
    file = tmp_path / "house.toml"
    file.write_text(HOUSE.partition("[[room.heater]]")[0])
    told = CliRunner().invoke(main, ["rehearse", str(file)])
    assert told.exit_code == 1
    assert "no room of this house has a heater" in told.output


@pytest.mark.night
@pytest.mark.timeout(900)
def test_a_whole_week_with_prices() -> None:
    """A room and a week: three laws and prices not minded, learning as in life."""
    house = House.model_validate(tomllib.loads(HOUSE))
    found = rehearse(house, days=7)
    assert [one.law for one in found.outcomes] == ["hysteresis", "proportional", "predictive"]
    assert found.saved is not None
    assert picture_of(found).startswith("<svg")
