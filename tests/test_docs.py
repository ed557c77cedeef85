"""The guides stay true: every key, code and command of the program stands in them, and no other.

A new model of the house file needs a section here: name it in SECTIONS.
"""

from __future__ import annotations

import re
import tomllib
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import click
import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from thermostatd.core import house as models
from thermostatd.core import reasons
from thermostatd.core.house import House

ROOT = Path(__file__).parent.parent
HELP = ROOT / "web" / "help"
PAGES = [*sorted(HELP.glob("*.md")), ROOT / "README.md", ROOT / "DEVELOPERS.md"]
SECTIONS = {
    "House": "Whole file", "HouseTable": "`[house]`", "Asleep": "`asleep`", "Season": "`season`",
    "Broker": "`[broker]`", "BrokerTls": "`tls` of the broker", "Pages": "`[pages]`",
    "PagesTls": "`tls` of the pages", "Circuit": "`[[circuit]]`", "Room": "`[[room]]`",
    "Household": "`household`", "UsualStep": "`usual`", "Quiet": "`quiet`", "Heater": "`[[room.heater]]`",
    "Spot": "`[[spot]]`", "SpotTime": "`usual` of a spot", "MqttPlug": '`plug` of kind `"mqtt"`', "Timer": "`timer`",
    "AskState": "`ask_state`",
    "SimulatedPlug": '`plug` of kind `"simulated"`', "Sensor": "Sensor", "ForecastSource": "`forecast`",
    "HttpPlug": '`plug` of kind `"http"`', "ProgramPlug": '`plug` of kind `"program"`',
    "HomiePlug": '`plug` of kind `"homie"`', "AddedPlug": '`plug` of kind `"added"`',
    "Call": "Request (`on`, `off`, `timer`, `state`)", "ContactPart": "`shows` in an answer",
    "Part": "Number in an answer (`draws`, `volts`, `warm`)", "Shown": "`shows`",
    "Source": "Value (`humidity`, `warm`, `battery`)", "Meter": "Meter (`draws`, `volts`)",
    "Presence": "`present`", "Tariff": "`[tariff]`", "Price": "`prices`", "Notices": "`[notices]`",
}  # fmt: skip
DURATIONS = re.compile(r"^\d+(\.\d+)? (s|min|h|d)$")
SECONDS = {"s": 1, "min": 60, "h": 3600, "d": 86400}


def models_in(kind: Any) -> Iterator[type[BaseModel]]:
    """Every model that an annotation names."""
    if isinstance(kind, type) and not isinstance(kind, types.GenericAlias):
        if issubclass(kind, BaseModel):
            yield kind
        return
    for part in get_args(kind):
        yield from models_in(part)


def reachable(top: type[BaseModel]) -> dict[str, type[BaseModel]]:
    """Every model of a house file, by its class name."""
    found, waiting = {}, [top]
    while waiting:
        model = waiting.pop()
        if model.__name__ not in found:
            found[model.__name__] = model
            waiting += [m for f in model.model_fields.values() for m in models_in(f.annotation)]
    return found


def sections() -> dict[str, dict[str, str]]:
    """Heading of house-file.md -> key -> what its default column says."""
    found: dict[str, dict[str, str]] = {}
    heading = ""
    for line in (HELP / "house-file.md").read_text().splitlines():
        if line.startswith("#"):
            heading = line.lstrip("# ")
        elif row := re.match(r"^\| `(\w+)` \| (.*?) \| ", line):
            found.setdefault(heading, {})[row[1]] = row[2]
    return found


MODELS = reachable(House)


@pytest.mark.parametrize("name", sorted(MODELS))
def test_every_table_of_the_house_file_is_described(name: str) -> None:
    """Each table has a section with exactly its keys."""
    assert name in SECTIONS, f"describe {name} in web/help/house-file.md and name its section in SECTIONS"
    keys = {field.alias or key for key, field in MODELS[name].model_fields.items()}
    assert set(sections().get(SECTIONS[name], {})) == keys


def said(default: Any) -> Any:
    """What a default column says, as a value: durations in seconds."""
    try:
        value = tomllib.loads(f"x = {default.strip('`')}")["x"]
    except tomllib.TOMLDecodeError:
        return default
    if isinstance(value, str) and DURATIONS.match(value):
        number, unit = value.split()
        return float(number) * SECONDS[unit]
    return tuple(value) if isinstance(value, list) else value


def expected(field: FieldInfo) -> Any:
    """What the default column has to say of a field."""
    if field.is_required():
        return "needed"
    if field.default in (None, ()):
        return "none"
    if field.default == frozenset(range(7)):
        return "daily"
    return "its own" if isinstance(field.default, BaseModel) else field.default


@pytest.mark.parametrize("name", sorted(set(MODELS) & set(SECTIONS)))
def test_every_default_is_the_one_in_force(name: str) -> None:
    """The default in the guide is the default of the program."""
    rows = sections().get(SECTIONS[name], {})
    wrong = {
        key: (rows.get(field.alias or key), expected(field))
        for key, field in MODELS[name].model_fields.items()
        if said(rows.get(field.alias or key, "missing")) != expected(field)
    }
    assert not wrong


def test_every_interlock_has_a_section() -> None:
    """Who looks up a trouble finds a section under its code."""
    text = (HELP / "troubles.md").read_text()
    headings = set(re.findall(r"^## `([\w-]+)`$", text, re.M))
    assert headings == set(reasons.INTERLOCKS)
    assert set(reasons.TROUBLES) <= headings | set(re.findall(r"^- `([\w-]+)`:", text, re.M))


def test_every_reason_code_is_in_a_guide() -> None:
    """No reason is shown that the guides do not know."""
    known = set(re.findall(r"`([\w-]+)`", "".join(page.read_text() for page in HELP.glob("*.md"))))
    assert set(reasons.SENTENCES) <= known


def commands() -> dict[str, click.Command]:
    """The program's commands, from the program."""
    from thermostatd import cli

    group = next(value for value in vars(cli).values() if isinstance(value, click.Group))
    return dict(group.commands)


def uses() -> list[tuple[str, str, str]]:
    """Every `thermostatd COMMAND …` that the documents tell a person to type: page, command, the rest."""
    found = []
    for page in PAGES:
        code = re.findall(r"`([^`\n]+)`|^ {4}(.+)$", page.read_text(), re.M)
        for line in (one or other for one, other in code):
            for use in re.finditer(r"(?:^|\s|bin/)thermostatd (?!thermostatd)([a-z][a-z-]*)((?: [^|&;`]*)?)", line):
                found.append((page.name, use[1], use[2]))
    return found


def test_every_command_named_exists() -> None:
    """A command in the documents is a command of the program, and takes the options it is shown with."""
    known = commands()
    assert len(uses()) > 10
    for page, name, rest in uses():
        assert name in known, f"{page} names `thermostatd {name}`, which is no command"
        options = {option for parameter in known[name].params for option in parameter.opts}
        for option in re.findall(r"(?<!\S)--[a-z-]+", rest):
            assert option in options | {"--help"}, f"{page}: `thermostatd {name}` has no {option}"


def test_every_command_is_in_the_guides() -> None:
    """The table of commands names each one."""
    table = set(re.findall(r"^\| `thermostatd ([\w-]+)", (HELP / "index.md").read_text(), re.M))
    assert table == {name for name, command in commands().items() if not command.hidden}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    """A link or picture in a document leads to a file that is there."""
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text()):
        assert re.match(r"https?://", target) or (page.parent / target).exists(), target


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_house_files_in_the_guides_are_right(page: Path) -> None:
    """An owner may copy any whole house file out of the guides."""
    for block in re.findall(r"```toml\n(.*?)```", page.read_text(), re.S):
        house = House.model_validate(tomllib.loads(block))
        assert not house.rooms or house.rooms[0].all_sensors


def test_all_fifteen_cautions_are_there() -> None:
    """The safety guide numbers fifteen cautions, each opening with bold words; local codes decide."""
    text = (HELP / "safety.md").read_text()
    assert re.findall(r"^(\d+)\. \*\*", text, re.M) == [str(n) for n in range(1, 16)]
    for word in ("manual", "may_run", "extension lead", "80 %", "Feel", "smoke alarm", "weld", "local codes"):
        assert word in text


def test_the_cautions_stand_near_the_top_of_the_readme() -> None:
    """Who reads only the first screen of the README has read that heat can hurt."""
    top = "\n".join((ROOT / "README.md").read_text().splitlines()[:40])
    assert "web/help/safety.md" in top
    assert "never the safety device" in top


def test_the_readme_commands_are_there() -> None:
    """The README's two commands are files of the clone that can be run."""
    text = (ROOT / "README.md").read_text()
    for command in ("deploy/demo.sh", ".ci/check"):
        assert f"bash {command}" in text
        assert (ROOT / command).stat().st_mode & 0o111


def test_models_are_named_once() -> None:
    """The models exported by the house package are all part of a house file or of one that is."""
    exported = {name for name in models.__all__ if isinstance(getattr(models, name), type)}
    assert exported <= set(MODELS)
