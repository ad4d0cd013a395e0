"""The sample bundle, by one click."""

from app.web import session


def bring_samples() -> None:
    """Begin a project with the first sample picture."""
    from sample_images import sample_paths

    workshop = session.workshop()
    path = sample_paths()[0]
    project = workshop.projects.create("Sample bundle (rendered)")
    workshop.bring_photo(project, path.name, path.read_bytes())
    session.choose_project(project)
