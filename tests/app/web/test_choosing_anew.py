"""Pattern, size and background said by a browser that was not asked."""

from dataclasses import replace
from functools import partial

import pytest

from app.web.choosing import standing, with_choice
from app.web.workshop import Workshop, chosen_pattern
from colorcore.errors import ColorError
from colorcore.pattern import shipped_patterns
from sample_images import sample_paths


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("choosing")
    return Workshop(folder / "projects.sqlite", folder / "stash.sqlite")


@pytest.fixture
def project(workshop):
    number = workshop.projects.create("throw")
    path = sample_paths()[0]
    workshop.bring_photo(number, path.name, path.read_bytes())
    return number


@pytest.mark.parametrize("what", ["pattern", "size", "background"])
def test_what_stands_already_is_no_step_and_keeps_what_was_undone(workshop, project, what):
    """A second click on Undo cut short the run that drew the fields: what they showed came as
    choices, and took the place of the step that was to be undone."""
    for background in ("navy", "white"):
        new, _ = with_choice(workshop, "background", background, workshop.projects.load(project))
        workshop.projects.save(project, new, f"chose {background}")
    workshop.undo(project)
    before = workshop.projects.load(project)
    mark = workshop.projects.mark(project)
    workshop.step(project, partial(with_choice, workshop, what, standing(what, before)))
    assert workshop.projects.mark(project) == mark
    assert workshop.redo(project)[0] == "chose white"


def test_a_pattern_brings_a_size_that_it_has(workshop, project):
    choices = replace(workshop.projects.load(project), size="no such size")
    names = list(shipped_patterns())
    other, _ = with_choice(workshop, "pattern", names[1], choices)
    assert other.pattern == names[1]
    assert other.size in [size.name for size in chosen_pattern(other).sizes]


def test_a_background_that_is_none_is_refused(workshop, project):
    choices = workshop.projects.load(project)
    with pytest.raises(ColorError, match="no such cloth"):
        with_choice(workshop, "background", "no such cloth", choices)
