"""The program: its one group of commands. Each command stands in a file of its own kind (cli_*.py).

Rules: a command imports what it needs when it is called, so that help and `check` answer at once. Exit codes: 0 done,
1 the house file or the request has faults, 2 the command was not written right.
"""

from __future__ import annotations

import click

from thermostatd.cli_ask import join, why
from thermostatd.cli_check import check
from thermostatd.cli_completion import completion
from thermostatd.cli_listen import listen
from thermostatd.cli_notices import notices
from thermostatd.cli_rate import rate
from thermostatd.cli_rehearse import rehearse
from thermostatd.cli_replay import replay
from thermostatd.cli_report import export, report
from thermostatd.cli_run import all_off, demo, run


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="thermostatd", message="%(prog)s %(version)s")
def main() -> None:
    """Heats rooms with portable electric heaters on smart plugs, and always ends in OFF.

    Software is not the safety device: read `thermostatd demo`'s help page on safety before you heat a room.

    \b
    Begin with:
      thermostatd demo --speed 60
      thermostatd listen --minutes 10 --out house.toml
      thermostatd check house.toml

    Exit codes: 0 done, 1 it cannot be or has faults, 2 not written right.
    """


for command in (
    demo, run, check, join, why, all_off, listen, completion, notices, report, export, rate, replay, rehearse,
):  # fmt: skip
    main.add_command(command)
