"""Templates, static files and guides, read once at start from `web/`. What people or devices sent is always escaped."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from html import unescape
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from thermostatd.core.following import LEFT
from thermostatd.core.meter.diagnosis import naming
from thermostatd.core.results import Trouble
from thermostatd.edge.pages import words
from thermostatd.edge.pages.catalogues import ENGLISH, Catalogues
from thermostatd.edge.pages.speech import OWN_NAMES, counted, say, speech, t

_KINDS = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}
_PAGE_NAME = re.compile(r"^[a-z0-9-]{1,40}$")


@dataclass(frozen=True, slots=True)
class StaticFile:
    """One file that is the same for every house; `version` changes with its content."""

    content: bytes
    kind: str
    version: str


@dataclass(frozen=True, slots=True)
class Guide:
    """One page of help."""

    name: str
    title: str
    html: Markup
    language: str = ENGLISH


class Rendering:
    """Everything under `web/`."""

    def __init__(self, web: Path) -> None:
        self._env = Environment(
            loader=FileSystemLoader(web / "templates"),
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
            undefined=StrictUndefined,
            auto_reload=False,
        )
        self.files = {
            path.name: _static(path) for path in sorted((web / "static").iterdir()) if path.suffix in _KINDS
        }
        self._help = web / "help"
        self.files |= {
            path.name: _static(path) for path in sorted(self._help.glob("*.svg"))
        }  # their pictures
        self.catalogues = Catalogues(web / "locale")
        self._env.globals |= {
            "file": lambda name: f"/static/{name}?{self.files[name].version}",
            "_": t,
            "counted": counted,
            "speech": speech,
        }
        self._env.filters |= {"say": say, "first_capital": words.first_capital}
        self._env.tests["like"] = _is_like
        self._env.tests |= {"ended_by_a_look": lambda trouble: trouble.latched or trouble.code in {*naming.NAMED, LEFT}}

    def page(self, template: str, **values: object) -> str:
        """The template with these values."""
        spoken = speech()
        others = [
            (code, OWN_NAMES.get(code, code)) for code in self.catalogues.languages if code != spoken.language
        ]
        return self._env.get_template(template).render(lang=spoken.language, other_languages=others, **values)

    def guides(self) -> list[Guide]:
        """Every guide, by name."""
        found = (self.guide(path.stem) for path in sorted(self._help.glob("*.md")))
        return [guide for guide in found if guide is not None]

    def guide(self, name: str) -> Guide | None:
        """One guide; None where there is none of that name."""
        if not _PAGE_NAME.match(name):
            return None
        language = speech().language
        path = self._help / language / f"{name}.md" if language != ENGLISH else self._help / f"{name}.md"
        language = (
            language if path.is_file() else ENGLISH
        )  # a guide that is not translated is there in English
        path = path if path.is_file() else self._help / f"{name}.md"
        if not path.is_file():
            return None
        text = path.read_text("utf-8")
        heading = re.search(r"^#\s+(.+)$", text, re.MULTILINE)
        title = heading[1].strip() if heading else name.replace("-", " ").capitalize()
        return Guide(name, title, _html(text), language)


def _static(path: Path) -> StaticFile:
    content = path.read_bytes()
    return StaticFile(content, _KINDS[path.suffix], hashlib.sha256(content).hexdigest()[:10])


def _html(text: str) -> Markup:
    """Markdown without HTML; links between guides work on the pages too, and headings can be linked to."""
    from markdown_it import MarkdownIt  # a megabyte that only readers of the guides need

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    html = reader.render(text)
    html = re.sub(r'href="(?:\./)?([a-z0-9-]+)\.md(#[^"]*)?"', r'href="/help/\1\2"', html)
    html = re.sub(r'src="([a-z0-9-]+\.svg)"', r'src="/static/\1"', html)
    html = re.sub(r"<h([23])>((?:(?!</h).)+)</h\1>", _anchored, html)
    # a wide table scrolls by itself, and by keyboard
    html = html.replace("<table>", '<div class="wide" tabindex="0" role="group"><table>').replace(
        "</table>", "</table></div>"
    )
    html = html.replace("<pre>", '<pre tabindex="0">')
    return Markup(html)


def _anchored(match: re.Match[str]) -> str:
    words = unescape(re.sub(r"<[^>]+>", "", match[2]))
    anchor = re.sub(r"[^\w]+", "-", words.lower()).strip("-")
    return f'<h{match[1]} id="{anchor}">{match[2]}</h{match[1]}>'


def _is_like(trouble: Trouble, other: Trouble) -> bool:
    """Whether two troubles that follow each other are told as one, with the evidence of each."""
    return (trouble.what, trouble.what_to_do, trouble.loud) == (other.what, other.what_to_do, other.loud)
