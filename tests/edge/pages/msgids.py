"""Every text that the pages and the core can say, found in the sources: what a catalogue must hold."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from thermostatd.core import reasons
from thermostatd.core.circumstance import TOLD
from thermostatd.edge.pages import people, speech, words

ROOT = Path(__file__).resolve().parents[3]
Msgid = str | tuple[str, str]
SAYING = ("t", "said", "text_of", "text")
ANYBODY = ("someone", "from the broker")
CONTROLS = ("hysteresis", "proportional", "predictive")
_IN_TEMPLATE = re.compile(r"(?<![\w.])_\('((?:[^'\\]|\\.)*)'")


def in_python(path: Path) -> Iterator[Msgid]:
    """The texts that a module says: literals, or constants of the module."""
    tree = ast.parse(path.read_text())
    constants = {
        target.id: node.value.value
        for node in tree.body
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        literals = [constants.get(getattr(arg, "id", ""), getattr(arg, "value", None)) for arg in node.args]
        if name in SAYING and isinstance(literals[0], str):
            yield literals[0]
        if name == "counted" and isinstance(literals[0], str):
            yield literals[0], str(literals[1])


def everything() -> list[Msgid]:
    """Every text, once, in the order of the sources."""
    found: list[Msgid] = []
    for folder in ("thermostatd/edge/pages", "thermostatd/edge/sensing", "thermostatd/core"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            found += in_python(path)
    found += in_python(ROOT / "thermostatd/edge/broker_client.py")  # what it says stands on the page while it is away
    for path in sorted((ROOT / "web/templates").glob("*.html")):
        found += _IN_TEMPLATE.findall(path.read_text())
    found += reasons.SENTENCES.values()
    found += reasons.ADVICE.values()
    found += [text for pair in reasons.TROUBLES.values() for text in pair]
    found += [value for name, value in vars(words).items() if name.isupper() and isinstance(value, str)]
    found += [*words.WHOSE.values(), *speech.DAYS, *speech.LONG_DAYS, *speech.MONTHS, *people.ROLES.values()]
    found += [text for page in people.OWNER_PAGES for text in page[1:]]
    found += [*TOLD.values(), *CONTROLS, *ANYBODY]
    return [one for one in dict.fromkeys(found) if one == "{day} {month}" or _has_letters(one)]


def _has_letters(msgid: Msgid) -> bool:
    text = msgid if isinstance(msgid, str) else msgid[0]
    return bool(re.search(r"[A-Za-z]", re.sub(r"\{[^}]*\}", "", text)))
