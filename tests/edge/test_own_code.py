"""What the program's own source never does, whatever is sent to it. Numbers in brackets are of OWASP ASVS 5.0."""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "thermostatd").rglob("*.py"))
# modules that begin connections, each to what the house file names alone, and to nothing else
SPEAKS_OUTWARD = {
    "thermostatd/edge/broker_client.py", "thermostatd/edge/broker_link.py", "thermostatd/edge/broker.py",
    "thermostatd/edge/listening/ear.py", "thermostatd/edge/notices/webhook.py", "thermostatd/edge/notices/addresses.py",
    "thermostatd/edge/plugs/http.py", "thermostatd/edge/plugs/mqtt.py", "thermostatd/rehearsal/mqtt_face.py",
    "thermostatd/edge/plugs/__init__.py", "thermostatd/edge/plugs/homie.py",
}  # fmt: skip
CLIENTS = (
    "http.client",
    "urllib.request",
    "requests",
    "httpx",
    "paho",
    "apprise",
    "ftplib",
    "smtplib",
    "aiohttp",
)


def calls(path: Path) -> Iterator[tuple[str, ast.Call]]:
    """Each call with its dotted name."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call):
            yield ast.unparse(node.func), node


def named(path: Path) -> str:
    """A source's name from the root."""
    return str(path.relative_to(ROOT))


def test_nothing_that_was_sent_is_ever_run() -> None:
    """No eval, no exec, no shell, no template made of text, no reader that builds objects (1.2.5, 1.3.2, 1.5.2)."""
    bad = ("eval", "exec", "compile", "__import__", "os.system", "os.popen")
    readers = ("pickle.", "marshal.", "shelve.", "yaml.", "jsonpickle.", "dill.")
    for path in SOURCES:
        for name, call in calls(path):
            assert name not in bad, f"{named(path)}:{call.lineno}"
            assert not name.startswith(readers), f"{named(path)}:{call.lineno}"
            assert not name.endswith((".from_string", ".create_subprocess_shell")), (
                f"{named(path)}:{call.lineno}"
            )
            assert all(word.arg != "shell" for word in call.keywords), f"{named(path)}:{call.lineno}"


def test_sql_is_fixed_text() -> None:
    """Every statement is a constant; what was sent goes beside it, as parameters (1.2.4)."""
    seen = 0
    for path in SOURCES:
        for name, call in calls(path):
            if name.rpartition(".")[2] not in ("execute", "executemany"):
                continue
            seen += 1
            first = call.args[0]
            fixed = isinstance(first, ast.Constant | ast.Name | ast.Attribute)
            assert fixed, f"{named(path)}:{call.lineno}: {ast.unparse(first)}"
    assert seen > 30
    statements = ast.parse((ROOT / "thermostatd/edge/store/statements.py").read_text())
    parts = [node.value for node in ast.walk(statements) if isinstance(node, ast.FormattedValue)]
    assert all(isinstance(part, ast.Name) and part.id.isupper() for part in parts), "made of constants alone"


def test_templates_escape_everything() -> None:
    """No template switches escaping off; Markup is made of our own guides and pictures alone (1.2.1, 1.2.3)."""
    for path in (ROOT / "web/templates").glob("*.html"):
        text = path.read_text()
        assert not re.search(r"\|\s*safe\b|autoescape\s+false", text), path.name
        scripts = re.findall(r"<script\b[^>]*>", text)
        assert all('src="{{ file(' in script for script in scripts), path.name
    ours = ("rendering", "advice_picture", "drawing", "owner_drawing", "week_drawing")
    makers = {named(path) for path in SOURCES for name, _ in calls(path) if name.endswith("Markup")}
    assert makers <= {f"thermostatd/edge/pages/{name}.py" for name in ours}


def test_the_script_writes_no_markup() -> None:
    """What the script shows it shows as text, and a page it fetched is read by a parser that runs nothing (3.2.2)."""
    script = (ROOT / "web/static/page.js").read_text()
    forbidden = ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "Function(")
    for word in forbidden:
        assert word not in script, word
    assert "textContent" in script


def test_few_modules_speak_outward() -> None:
    """Connections begin in a few modules, which reach what the house file names (1.3.6, 13.2.4)."""
    found = set()
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text())):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [one.name for one in node.names] if isinstance(node, ast.Import) else []
            if any(name == client or name.startswith(client + ".") for name in names for client in CLIENTS):
                found.add(named(path))
    assert found <= SPEAKS_OUTWARD, found - SPEAKS_OUTWARD


def test_secrets_come_from_the_system() -> None:
    """What guards the house is drawn by `secrets`; `random` is for rehearsals alone (6.5.3, 7.2.3)."""
    for path in SOURCES:
        uses = [name for name, _ in calls(path) if name.startswith("random.") or name == "Random"]
        inside = named(path).startswith(("thermostatd/rehearsal/", "thermostatd/daemon/demo"))
        assert not uses or inside, (named(path), uses)


def test_no_debugging_is_served() -> None:
    """No debug mode, no viewer of the API, no listing of folders (13.4.2, 13.4.3)."""
    for path in SOURCES:
        for name, call in calls(path):
            for word in call.keywords:
                if word.arg == "debug":
                    assert isinstance(word.value, ast.Constant), named(path)
                    assert word.value.value is False, named(path)
            assert not name.endswith("StaticFiles"), named(path)
    text = (ROOT / "thermostatd/edge/pages/app.py").read_text()
    for part in ("docs_url=None", "redoc_url=None", "openapi_url=None"):
        assert part in text


def test_no_password_is_an_option() -> None:
    """No command takes a secret as an argument (13.3.1): whoever lists processes would read it."""
    from click import Option

    from thermostatd.cli import main

    waiting = [main]
    options = []
    while waiting:
        command = waiting.pop()
        waiting += list(getattr(command, "commands", {}).values())
        options += [name for one in command.params if isinstance(one, Option) for name in one.opts]
    assert len(options) > 10
    secret = [name for name in options if re.search("pass|secret|token|key", name)]
    assert all(name.endswith("-file") for name in secret), secret


@pytest.mark.parametrize("who", ["'); DROP TABLE device; --", '" OR 1=1 --', "a';\x00b", string.punctuation])
def test_quotes_are_only_signs(tmp_path: Path, who: str) -> None:
    """A name that would end a statement is stored and found as that name (1.2.4)."""
    from datetime import UTC, datetime

    from thermostatd.edge.store import Store

    store = Store.open(tmp_path, lambda: 0.0)
    try:
        at = datetime(2026, 1, 12, tzinfo=UTC)
        store.add_device("a", "first", "household", added=at)
        store.add_device(who, who, "guest", added=at)
        assert sorted(one.name for one in store.devices()) == sorted(["first", who.replace("\x00", "")])
        assert store.events(at, 10, who) == []
        store.forget_device(who)
        assert [one.name for one in store.devices()] == ["first"]
    finally:
        store.close()
