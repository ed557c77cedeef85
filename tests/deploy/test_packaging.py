"""The package's own words, the lock for development, and the compose example."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import yaml
from packaging.requirements import Requirement

from thermostatd.edge.house_file import inspect_house

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]


def test_the_lock_holds_what_is_needed() -> None:
    """Every need has exactly one locked version, and it is one that the need allows."""
    locked = dict(re.findall(r"^([a-z0-9-]+)==(\S+)$", (ROOT / ".ci" / "constraints.txt").read_text(), re.M))
    needs = [
        *PROJECT["dependencies"],
        *(one for extra in PROJECT["optional-dependencies"].values() for one in extra),
    ]
    for need in map(Requirement, needs):
        name = re.sub(r"[-_.]+", "-", need.name).lower()
        assert name in locked, f"{name}: make the lock anew with .ci/lock"
        assert need.specifier.contains(locked[name]), (name, locked[name])


def test_each_version_is_in_the_list_of_changes() -> None:
    """The version of the package stands in the list of changes."""
    changes = (ROOT / "DEVELOPERS.md").read_text().partition("## Changes")[2]
    assert f"**{PROJECT['version']}**" in changes


def test_the_compose_example() -> None:
    """It names files that are there, keeps both containers small in rights, and gives OFF its time."""
    folder = ROOT / "deploy" / "compose"
    services = yaml.safe_load((folder / "compose.yaml").read_text())["services"]
    assert set(services) == {"broker", "thermostatd"}
    for service in services.values():
        assert service["read_only"] is True
        assert service["cap_drop"] == ["ALL"]
        assert service["restart"] == "unless-stopped"
        for mount in service["volumes"]:
            source = mount.split(":")[0]
            made = ("./passwords", "./secrets", "broker-data", "state")  # by the owner, or by the tool
            assert source in made or (folder / source).is_file(), source
    assert services["thermostatd"]["stop_grace_period"] == "30s"
    assert (folder / services["thermostatd"]["build"]["context"] / "deploy/Containerfile").is_file()


def test_the_house_of_the_compose_example(tmp_path: Path) -> None:
    """`check` takes it once its password is there."""
    house = tmp_path / "house.toml"
    house.write_text((ROOT / "deploy/compose/house.toml").read_text())
    (tmp_path / "secrets").mkdir()
    secret = tmp_path / "secrets" / "broker-password"
    secret.write_text("invented\n")
    secret.chmod(0o600)
    assert inspect_house(house).faults == ()
