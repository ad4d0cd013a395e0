"""Rendered photos for the tests of the command line, made once a run."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from app.cli import main
from tests.scenes import Truth, make_scene, save_scene


@dataclass(frozen=True)
class TablePhoto:
    """A photo file with its truth, a point on its white paper and the paper's corners."""

    path: Path
    truth: Truth
    paper: tuple[float, float]
    paper_corners: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Outcome:
    """What a command left: exit code, standard output and standard error."""

    code: int
    out: str
    err: str


@pytest.fixture(scope="session")
def table_photos(tmp_path_factory: pytest.TempPathFactory) -> tuple[TablePhoto, TablePhoto]:
    """Two photos of one bundle of 84 squares, 42 in each, white paper in both."""
    folder = tmp_path_factory.mktemp("photos")
    return _take(folder / "left.jpg", 0), _take(folder / "right.jpg", 42)


def _take(path: Path, first: int) -> TablePhoto:
    scene = make_scene(
        "gaps_board",
        20 + first,
        megapixels=1.6,
        rows=6,
        columns=7,
        missing=0.0,
        bundle=12,
        bundle_size=84,
        first=first,
    )
    save_scene(scene, path)
    paper = next(r for r in scene.truth.references if r.kind == "paper")
    x, y = np.asarray(paper.corners).mean(axis=0)
    corners = tuple((float(cx), float(cy)) for cx, cy in np.asarray(paper.corners))
    return TablePhoto(path, scene.truth, (float(x), float(y)), corners)


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Outcome]:
    """Run a command in this process."""

    def run_command(*words: str | Path) -> Outcome:
        capsys.readouterr()
        code = main([str(word) for word in words])
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err)

    return run_command
