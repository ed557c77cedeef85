"""Help: Markdown of `web/help` as pages."""

from __future__ import annotations

import re
from pathlib import Path

from tests.edge.pages.conftest import Visit
from thermostatd.core import reasons
from thermostatd.edge.pages.app import web_folder
from thermostatd.edge.pages.rendering import Rendering

CODES = {**reasons.DEMANDS, **reasons.PACES, **reasons.TURNS, **reasons.INTERLOCKS, **reasons.REFUSALS}


def test_every_reason_is_explained_at_its_own_place() -> None:
    """Each code that a room or a refusal can show has one section, and no section is for anything else."""
    guide = Rendering(web_folder()).guide("reasons")
    assert guide is not None
    anchors = re.findall(r'<h3 id="([\w-]+)"', guide.html)
    assert set(anchors) >= set(CODES)
    assert set(anchors) <= set(reasons.SENTENCES)
    assert len(anchors) == len(set(anchors))


def test_links_to_guides_lead_to_pages_and_places(visit: Visit) -> None:
    """Every link from a guide or a page to a guide is answered, and its place in the guide is there."""
    phone = visit()
    templates = "".join(path.read_text() for path in (web_folder() / "templates").glob("*.html"))
    for language in ("en", "de"):
        phone.headers["accept-language"] = language
        told = {guide.name: phone.get(f"/help/{guide.name}") for guide in Rendering(web_folder()).guides()}
        pages = {name: answer.text for name, answer in told.items()} | {"templates": templates}
        for name, page in pages.items():
            for path, place in set(re.findall(r'href="/help/([a-z0-9-]+)(?:#([\w-]+))?"', page)):
                assert told[path].status_code == 200, f"{path} in {name}"
                assert not place or f'id="{place}"' in pages[path], f"{path}#{place} in {name}, {language}"


def test_markup_in_a_guide_is_text(tmp_path: Path) -> None:
    """A guide's HTML is shown as text, never as markup."""
    for folder in ("templates", "static", "help"):
        (tmp_path / folder).mkdir()
    (tmp_path / "help" / "x.md").write_text("# A\n<script>alert(1)</script> [x](javascript:alert(1))\n")
    guide = Rendering(tmp_path).guide("x")
    assert guide is not None
    assert "<script" not in guide.html
    assert 'href="javascript' not in guide.html


def test_no_such_guide(visit: Visit) -> None:
    """An unknown guide is a plain page that leads back."""
    answer = visit().get("/help/nothing-here")
    assert answer.status_code == 404
    assert "All rooms" in answer.text


def test_pictures_of_guides_are_served(visit: Visit) -> None:
    """A guide's drawing is answered as a drawing."""
    phone = visit()
    shown = {
        path
        for guide in Rendering(web_folder()).guides()
        for path in re.findall(r'<img src="([^"]+)"', guide.html)
    }
    assert shown
    for path in shown:
        answer = phone.get(path)
        assert (answer.status_code, answer.headers["content-type"]) == (200, "image/svg+xml"), path
