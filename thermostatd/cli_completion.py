"""The command `completion`: what makes a shell complete thermostatd's words."""

from __future__ import annotations

import click

PLACES = {
    "bash": "~/.local/share/bash-completion/completions/thermostatd",
    "zsh": "a file _thermostatd in a folder of $fpath",
    "fish": "~/.config/fish/completions/thermostatd.fish",
}


@click.command()
@click.argument("shell", type=click.Choice(list(PLACES)))
def completion(shell: str) -> None:
    """Print what makes SHELL complete commands and options (bash 4.4 or newer, zsh, fish).

    \b
    Examples:
      thermostatd completion bash > ~/.local/share/bash-completion/completions/thermostatd
      thermostatd completion zsh > ~/.zfunc/_thermostatd
      thermostatd completion fish > ~/.config/fish/completions/thermostatd.fish
    """
    from click.shell_completion import get_completion_class

    from thermostatd.cli import main

    kind = get_completion_class(shell)
    assert kind is not None
    script = kind(main, {}, "thermostatd", "_THERMOSTATD_COMPLETE").source()
    # fish would end a description at its first comma
    click.echo(script.replace('string split ","', 'string split -m 1 ","'))
