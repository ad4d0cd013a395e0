"""Single pages without a browser, for tests: run, and what they say."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any, Final

import pytest
from streamlit.testing.v1 import AppTest

from app.web import serving, session
from app.web.workshop import Workshop
from colorcore.project import Choices
from sample_images import sample_paths

SCREENS: Final = Path(serving.__file__).with_name("screens")


@contextmanager
def own_workshop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Workshop]:
    """A workshop over files of its own, which the pages use."""
    monkeypatch.setenv(serving.PROJECTS_VARIABLE, str(tmp_path / "projects.sqlite"))
    monkeypatch.setenv(serving.STASH_VARIABLE, str(tmp_path / "stash.sqlite"))
    made = Workshop(tmp_path / "projects.sqlite", tmp_path / "stash.sqlite")
    monkeypatch.setattr(session, "workshop", lambda: made)
    yield made
    made.projects.close()


def run_page(name: str) -> AppTest:
    """Run a page by its name."""
    return AppTest.from_file(SCREENS / f"{name}.py", default_timeout=60).run()


def html_of(page: AppTest) -> list[str]:
    """The markup that a page shows as it is."""
    return [item.proto.body for item in page.get("html")]


def begin(workshop: Workshop, **chosen: str) -> Choices:
    """A project with the first sample picture and what else is ``chosen``."""
    project = workshop.projects.create("throw")
    path = sample_paths()[0]
    workshop.bring_photo(project, path.name, path.read_bytes())
    choices = replace(workshop.projects.load(project), **chosen)
    workshop.projects.save(project, choices, "chosen")
    return choices


def stacks_page(workshop: Workshop) -> AppTest:
    """The page of the stacks of such a project."""
    begin(workshop)
    page = run_page("stacks")
    assert not page.exception
    return page


def said_on(page: AppTest) -> str:
    """The plain words of a page."""
    return "\n".join(item.value for item in page.text)


def troubles_on(page: AppTest) -> str:
    """What a page says did not work, and what else it marks up itself."""
    return unescape("\n".join(item.proto.body for item in page.get("html")))


def button_of(page: AppTest, label: str) -> Any:
    """The one button of that name."""
    (found,) = [button for button in page.button if button.label == label]
    return found
