"""The manual page, made from the commands themselves: `python -m thermostatd.cli_manual > deploy/man/thermostatd.1`."""

from __future__ import annotations

import inspect
from collections.abc import Iterator

import click

EXIT_CODES = (
    ("0", "done, or all well"),
    ("1", "what was asked cannot be, or has faults; a sentence says what and how to mend it"),
    ("2", "the command was not written right"),
)
FILES = (
    ("/etc/thermostatd/house.toml", "the house file; only its owner writes it"),
    ("/var/lib/thermostatd", "record and memory, where the service manager runs it"),
    ("~/.local/state/thermostatd", "the same, where a user runs it"),
)
ENVIRONMENT = (
    ("STATE_DIRECTORY", "the state folder, as the service manager gives it"),
    ("XDG_STATE_HOME", "where the user's own state folder lies"),
    ("NO_COLOR", "set to anything: no colour, even on a terminal"),
)
CAUTION = (
    "Heat can hurt, and software is never the safety device. The heater's manual decides whether it may be switched "
    "from afar; local codes and licensed practice decide on wiring. `thermostatd demo` serves the whole list "
    "of cautions at /help/safety."
)


def manual(main: click.Group) -> str:
    """The page as roff (man(7)). The same commands give the same page."""
    lines = [
        '.TH THERMOSTATD 1 "" "thermostatd" "User commands"',
        ".SH NAME",
        r"thermostatd \- heats rooms with portable electric heaters on smart plugs",
        ".SH SYNOPSIS",
        r".B thermostatd",
        r"\fICOMMAND\fR [\fIoptions\fR]",
        ".SH DESCRIPTION",
        *_text(main.help or ""),
        ".SH COMMANDS",
    ]
    for name in sorted(main.commands):
        lines += _command(name, main.commands[name])
    lines += [".SH EXIT STATUS", *_pairs(EXIT_CODES), ".SH FILES", *_pairs(FILES)]
    lines += [".SH ENVIRONMENT", *_pairs(ENVIRONMENT), ".SH CAUTIONS", *_text(CAUTION)]
    return "\n".join(lines) + "\n"


def _command(name: str, command: click.Command) -> Iterator[str]:
    words = [name]
    for parameter in command.params:
        if isinstance(parameter, click.Argument):
            shown = parameter.make_metavar(click.Context(command)).strip("[]")
            words.append(f"[{shown}]" if not parameter.required else shown)
    yield f".SS {_escaped(' '.join(words))}"
    yield from _text(command.help or "")
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            yield ".TP"
            value = "" if parameter.is_flag else f" {parameter.make_metavar(click.Context(command))}"
            yield rf"\fB{_escaped(', '.join(parameter.opts))}\fR{_escaped(value)}"
            yield _escaped(parameter.help or "")


def _pairs(pairs: tuple[tuple[str, str], ...]) -> Iterator[str]:
    for key, meaning in pairs:
        yield ".TP"
        yield rf"\fB{_escaped(key)}\fR"
        yield _escaped(meaning)


def _text(text: str) -> Iterator[str]:
    """Paragraphs; one that begins with \\b keeps its lines."""
    for paragraph in inspect.cleandoc(text).split("\n\n"):
        lines = paragraph.split("\n")
        if lines[0].strip() == "\b":
            yield ".nf"
            yield from (_escaped(line) for line in lines[1:])
            yield ".fi"
        else:
            yield ".PP"
            yield _escaped(" ".join(line.strip() for line in lines))


def _escaped(text: str) -> str:
    """Plain text for roff: a backslash, a hyphen and a line that begins with a sign are escaped."""
    plain = text.replace("\\", r"\e").replace("-", r"\-")
    return rf"\&{plain}" if plain.startswith((".", "'")) else plain


if __name__ == "__main__":
    from thermostatd.cli import main as thermostatd

    print(manual(thermostatd), end="")
