"""The commands' manners: help, manual page, completion, colour, exit codes."""

# ruff: noqa: E501
from __future__ import annotations

import os
import pty
import re
import select
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tests.daemon.home import COMMAND, ROOT, command
from thermostatd.cli import main
from thermostatd.cli_manual import manual

COMMANDS = sorted(name for name, one in main.commands.items() if not one.hidden)


@pytest.mark.parametrize("name", COMMANDS)
def test_help_has_an_example_and_says_each_option(name: str) -> None:
    """Each command's help shows how it is typed, and no option is without a word."""
    answer = CliRunner().invoke(main, [name, "--help"])
    assert answer.exit_code == 0
    assert re.search(rf"Examples?:\s+thermostatd {name}", answer.output), answer.output
    for option in main.commands[name].params:
        assert not isinstance(option, click.Option) or option.help, option.name


@pytest.mark.parametrize("name", COMMANDS)
def test_examples_are_written_right(name: str) -> None:
    """The options that a command's examples use are its own."""
    known = {word for one in main.commands[name].params for word in one.opts}
    for line in re.findall(rf"thermostatd {name}(.*)", main.commands[name].help or ""):
        assert set(re.findall(r"(?<!\S)--[a-z-]+", line)) <= known, line


def test_the_manual_page_is_the_programs() -> None:
    """The page in the tree is the one that the commands make."""
    made = manual(main)
    kept = (ROOT / "deploy/man/thermostatd.1").read_text()
    assert kept == made, "make it anew: python -m thermostatd.cli_manual > deploy/man/thermostatd.1"


def test_the_manual_page_can_be_read(tmp_path: Path) -> None:
    """The system's own reader shows it without a complaint, and every command and option stands in it."""
    if shutil.which("man") is None:
        pytest.skip("no man here")
    shown = subprocess.run(
        ["man", "--warnings", "-E", "UTF-8", "-l", str(ROOT / "deploy/man/thermostatd.1")],
        env=os.environ | {"MANWIDTH": "120", "MANPAGER": "cat", "LANG": "C.UTF-8"}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert shown.stderr == ""
    plain = re.sub(".\b", "", shown.stdout)
    for name in COMMANDS:
        assert re.search(rf"^   {name}\b", plain, re.M), name
        for option in main.commands[name].params:
            assert not isinstance(option, click.Option) or option.opts[0] in plain


@pytest.fixture
def program(tmp_path: Path) -> Path:
    """The program under its own name, in a folder that a shell looks into."""
    (tmp_path / "bin").mkdir()
    found = tmp_path / "bin" / "thermostatd"
    found.write_text(f"#!{sys.executable}\nfrom thermostatd.cli import main\nmain(prog_name='thermostatd')\n")
    found.chmod(0o755)
    return found


def test_bash_completes(program: Path, tmp_path: Path) -> None:
    """A real bash completes commands and options with what `completion bash` prints."""
    script = tmp_path / "completion"
    script.write_text(CliRunner().invoke(main, ["completion", "bash"]).output)
    ask = (
        f"source {script}; COMP_WORDS=(thermostatd {{words}}); COMP_CWORD={{at}}; "
        "_thermostatd_completion thermostatd; printf '%s\\n' \"${{COMPREPLY[@]}}\""
    )

    def completed(words: str, at: int) -> list[str]:
        done = subprocess.run(
            ["bash", "-c", ask.format(words=words, at=at)],
            env=_with(program),
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout.split()

    assert completed("che", 1) == ["check"]
    assert "--json" in completed("check --", 2)


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_get_their_words(shell: str) -> None:
    """The script names the program, and the words come back in that shell's own form."""
    script = CliRunner().invoke(main, ["completion", shell]).output
    assert f"_THERMOSTATD_COMPLETE={shell}_complete" in script
    words = {"COMP_WORDS": "thermostatd che", "COMP_CWORD": "che" if shell == "fish" else "1"}
    done = subprocess.run(
        COMMAND, env=os.environ | words | {"_THERMOSTATD_COMPLETE": f"{shell}_complete"}, cwd=ROOT, capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    assert "check" in done.stdout


@pytest.mark.skipif(shutil.which("fish") is None, reason="needs fish: apt-get install fish")
def test_fish_completes(program: Path, tmp_path: Path) -> None:
    """A real fish completes commands, options with their whole description, choices and files."""
    script = tmp_path / "thermostatd.fish"
    script.write_text(CliRunner().invoke(main, ["completion", "fish"]).output)
    (tmp_path / "house.toml").touch()

    def completed(words: str) -> str:
        command = ["fish", "--no-config", "-c", f"source {script}; complete -C '{words}'"]
        done = subprocess.run(
            command, env=_with(program), cwd=tmp_path, capture_output=True, text=True, check=True
        )
        return done.stdout

    assert "report\tSay what a day, week," in completed("thermostatd rep")
    assert "--html\tWrite it to this new file, with pictures." in completed("thermostatd report --")
    assert completed("thermostatd report house.toml ").split() == ["day", "month", "week", "winter"]
    assert "house.toml" in completed("thermostatd check hou")


@pytest.mark.skipif(shutil.which("zsh") is None, reason="needs zsh: apt-get install zsh")
def test_zsh_completes(program: Path, tmp_path: Path) -> None:
    """A real zsh on a terminal completes a command, an option, choices and files at the press of Tab."""
    script = tmp_path / "_thermostatd"
    script.write_text(CliRunner().invoke(main, ["completion", "zsh"]).output)
    (tmp_path / "house.toml").touch()
    near, far = pty.openpty()
    env = _with(program) | {"TERM": "dumb", "PS1": "> ", "HOME": str(tmp_path)}
    shell = subprocess.Popen(
        ["zsh", "-f", "-i"], stdin=far, stdout=far, stderr=far, env=env, cwd=tmp_path, start_new_session=True
    )
    os.close(far)

    def typed(text: str, awaited: str) -> str:
        os.write(near, text.encode())
        said, ends = "", time.monotonic() + 20.0
        while awaited not in said and time.monotonic() < ends:
            if select.select([near], [], [], 0.2)[0]:
                said += os.read(near, 65536).decode(errors="replace")
        assert awaited in said, said
        return said

    try:
        typed(f"autoload -Uz compinit && compinit -u -D; source {script}; echo rea''dy\n", "ready")
        typed("thermostatd rep\t", "report ")
        typed("\x15thermostatd report --\t", "Write it to this new file, with pictures.")
        assert "winter" in typed("\x15thermostatd report house.toml \t", "winter")
        typed("\x15thermostatd check hou\t", "house.toml")
    finally:
        os.killpg(shell.pid, signal.SIGKILL)
        shell.wait(5)
        os.close(near)


def _with(program: Path) -> dict[str, str]:
    """The environment in which the shells find the program."""
    return os.environ | {"PATH": f"{program.parent}:{os.environ['PATH']}", "PYTHONPATH": str(ROOT)}


def _on_a_terminal(*words: str, **env: str) -> str:
    """What a command shows on a terminal."""
    near, far = pty.openpty()
    process = subprocess.Popen([*COMMAND, *words], cwd=ROOT, stdout=far, stderr=far, env=os.environ | env)
    os.close(far)
    said = b""
    while True:
        try:
            piece = os.read(near, 4096)
        except OSError:
            break
        if not piece:
            break
        said += piece
    process.wait(30)
    os.close(near)
    return said.decode()


def test_colour_only_on_a_terminal(tmp_path: Path) -> None:
    """Faults are marked by colour on a terminal, not in a pipe, and not where NO_COLOR is set."""
    file = tmp_path / "house.toml"
    file.write_text("foo = 1\n")
    assert "\x1b[" not in command("check", str(file)).stdout
    assert "\x1b[31m" in _on_a_terminal("check", str(file), TERM="xterm")
    assert "\x1b[" not in _on_a_terminal("check", str(file), TERM="xterm", NO_COLOR="1")


def test_exit_codes() -> None:
    """0 done, 1 it cannot be, 2 not written right; each with a sentence and no traceback."""
    for words, code in (
        (["--version"], 0), (["check", "/nowhere.toml"], 1), (["report", "/nowhere.toml"], 1), (["why", "x", "--state", "/nowhere"], 1),
        (["check"], 2), (["nonsense"], 2), (["listen", "--minutes", "x"], 2), (["completion", "tcsh"], 2),
    ):  # fmt: skip
        answer = CliRunner().invoke(main, words)
        assert answer.exit_code == code, (words, answer.output)
        assert answer.output.strip()
        assert answer.exception is None or isinstance(answer.exception, SystemExit)


def test_help_answers_at_once() -> None:
    """Asking for help loads none of the large parts."""
    code = "import sys; from thermostatd.cli import main; print([one for one in ('pydantic', 'asyncio', 'numpy', 'fastapi') if one in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_house_that_learns_nothing_loads_no_numbers_library() -> None:
    """The daemon and its core load numpy only where a room has a model or a slow meter's log is read."""
    code = "import sys; import thermostatd.daemon.service, thermostatd.core.regulator; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
