"""Whole jobs of the command line on small things: photos with anything said of them, bundles,
plans and patterns of which something was altered, and every option with values that may be meant.

``Kitchen(folder, rng)`` lays the folder; each of its jobs gives the words of one command.
"""

import json
import random
import re
import tomllib
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from colorcore.bundle import bundle_to_json
from tests.hardening.documents import LENGTHS, altered, broken, toml
from tests.stacking.making import make_bundle

HOME = Path(__file__).parents[2]
ROWS, COLUMNS, SIDE, GAP, RIM = 3, 5, 56, 14, 30
WIDTH, HEIGHT = 500, 300

CHURN_DASH = """
name = "Churn dash"
square_inches = "10"
[[stack]]
name = "Dashes"
role = "focal"
value = "dark"
[[size]]
name = "runner"
squares = { Dashes = 3 }
rows = [["dash", "dash, turned 90", "dash, mirrored"]]
border = [{ name = "edge", width = "1 1/2", fabric = "trim" }]
[[unit]]
name = "dash"
rows = [
  ["corner", "rail", "corner, turned 90"],
  ["rail, turned 270", "middle", "rail, turned 90"],
  ["corner, turned 270", "rail, turned 180", "corner, turned 180"],
]
[unit.fabrics]
dash = { stack = "Dashes" }
ground = "background"
[[unit.patch]]
name = "corner"
shape = "half-square triangles"
width = "3"
height = "3"
upper_left = "ground"
lower_right = "dash"
[[unit.patch]]
name = "rail"
shape = "strip set"
width = "3"
height = "3"
strip = [{ width = "1 1/2", fabric = "ground" }, { width = "1 1/2", fabric = "dash" }]
[[unit.patch]]
name = "middle"
shape = "plain"
width = "3"
height = "3"
fabric = "ground"
"""


def small_photo(rng: np.random.Generator) -> np.ndarray:
    """A picture (HEIGHT, WIDTH, 3) of squares in rows on a plain table, white paper beside them."""
    picture = np.full((HEIGHT, WIDTH, 3), (96, 110, 128), np.float64)
    for row in range(ROWS):
        for column in range(COLUMNS):
            x, y = RIM + column * (SIDE + GAP), RIM + row * (SIDE + GAP)
            picture[y : y + SIDE, x : x + SIDE] = rng.integers(20, 235, 3)
            picture[y : y + SIDE : 6, x : x + SIDE] += rng.integers(-30, 30)
    picture[80:220, 405:480] = 236
    picture += rng.normal(0, 2, picture.shape)
    return np.asarray(np.clip(picture, 0, 255), np.uint8)


def patterns() -> list[dict[str, Any]]:
    """The documents of patterns that the small photo's squares are enough for, every shape of
    patches among them, and those that come along."""
    readme = (HOME / "README.md").read_text("utf-8")
    (own,) = re.findall(r"<!-- pattern example -->\n```toml\n(.*?)```", readme, re.DOTALL)
    sampler = (HOME / "tests" / "cutting" / "sampler.toml").read_text("utf-8")
    shipped = sorted((HOME / "colorcore" / "pattern" / "shipped").glob("*.toml"))
    texts = [own, sampler, CHURN_DASH, *(path.read_text("utf-8") for path in shipped)]
    return [tomllib.loads(text) for text in texts]


class Kitchen:
    """A folder with ``photo.png``, ``bundle.json`` (its squares), ``many.json`` (42 others) and
    ``stash.sqlite``, in which the jobs lay what they alter."""

    LAID = ("altered.json", "mine.toml")
    PHOTO, BUNDLE, MANY, STASH = "photo.png", "bundle.json", "many.json", "stash.sqlite"

    def __init__(self, folder: Path, rng: random.Random) -> None:
        self.folder, self.rng = folder, rng
        self.patterns = patterns()
        picture = small_photo(np.random.default_rng(1))
        cv2.imwrite(str(folder / self.PHOTO), picture)
        many = json.loads(json.dumps(bundle_to_json(make_bundle(42))))
        many["photos"] = [self._record()]
        (folder / self.MANY).write_text(json.dumps(many), encoding="utf-8")

    @staticmethod
    def _record() -> dict[str, Any]:
        return {
            "path": "many.jpg", "sha256": "", "width": 4000, "height": 3000,
            "reference": "paper", "trust": "B", "notes": ["a note"],
        }  # fmt: skip

    def first(self) -> list[list[str]]:
        """What is run once: the bundle, a plan of it, and a stash."""
        (self.folder / "first.toml").write_text(toml(self.patterns[0]), encoding="utf-8")
        return [
            ["measure", self.PHOTO, "--out", self.BUNDLE, "--quiet"],
            ["stack", self.BUNDLE, "--pattern", "first.toml", "--background", "white",
             "--out", "plan", "--quiet"],
            ["stash", "add", self.PHOTO, "--as", "squares", "--stash", self.STASH, "--quiet"],
        ]  # fmt: skip

    def _some(self, *choices: str, share: float = 0.5) -> str:
        """The first choice by that share, else any."""
        return choices[0] if self.rng.random() < share else self.rng.choice(choices)

    def _maybe(self, option: str, *choices: str, share: float = 0.2) -> list[str]:
        return [option, self.rng.choice(choices)] if self.rng.random() < share else []

    def _address(self) -> str:
        return self._some(
            f"{self.rng.choice('ABC')}{self.rng.randrange(1, 6)}",
            "A0", "Z9", "?1", "1-A1", "2-B2", "", "a1", "AA1", "B3 ", share=0.8,
        )  # fmt: skip

    def _color(self) -> str:
        any_one = f"#{self.rng.randrange(1 << 24):06x}"
        color = self.rng.choice([any_one, "white", "lab(95 0 2)", self.PHOTO + ":B3"])
        return self._some(
            color, "black", "lab(400 0 0)", "lab(50 nan 0)", "rgb(1,2)", "no such colour",
            "photo A1", "photo.png", "photo.png:Z9", "photo.png@410,90,470,200",
            "photo.png@0,0,1,1", "photo.png@0,0,9e9,9e9", "photo.png@30,30,86,86",
            self._address(), share=0.75,
        )  # fmt: skip

    def _altered_file(self, source: str, name: str) -> str:
        document = json.loads((self.folder / source).read_text("utf-8"))
        if document["schema"].startswith("bundlestacks-plan"):
            document["bundle"]["sha256"] = ""
            if self.rng.random() < 0.4:
                document["pattern"]["text"] = toml(altered(self.patterns[0], self.rng))
        change = altered if self.rng.random() < 0.8 else broken
        path = self.folder / name
        path.write_text(json.dumps(change(document, self.rng)), encoding="utf-8")
        return name

    def _bundle(self) -> str:
        which = self._some(self.MANY, self.BUNDLE)
        return self._altered_file(which, "altered.json") if self.rng.random() < 0.5 else which

    def _pattern(self) -> str:
        document = self.rng.choice([*self.patterns[:3], *self.patterns])
        if self.rng.random() < 0.5:
            document = altered(document, self.rng)
        (self.folder / "mine.toml").write_text(toml(document), encoding="utf-8")
        return "mine.toml"

    def _plan(self) -> str:
        if self.rng.random() < 0.5:
            return str(Path("plan", "plan.json"))
        return self._altered_file("plan/plan.json", str(Path("plan", "altered.json")))

    def _dealing(self) -> list[str]:
        return [
            *self._maybe("--lock", f"{self._address()}=focal", f"{self._address()}=out"),
            *self._maybe("--lock", f"{self._address()}=fill", f"{self._address()}=Blades", "=B3"),
            *self._maybe("--size", "mat", "queen", "throw", "", share=0.05),
            *self._maybe("--holds", "10", "100", "30", "nan", "1e9", share=0.05),
            *self._maybe("--melts", "0", "20", "5", "inf", share=0.05),
        ]  # fmt: skip

    def stack(self) -> list[str]:
        """A bundle dealt into a pattern."""
        after = str(Path("plan", "plan.json"))
        return [
            "stack", self._bundle(), "--pattern", self._pattern(), "--out", "out",
            *self._maybe("--background", self._color(), share=0.97), *self._dealing(),
            *self._maybe("--after", after, self.BUNDLE, "gone.json", share=0.05),
            *self._maybe("--stash", self.STASH, self.BUNDLE, share=0.05),
        ]  # fmt: skip

    def cut(self) -> list[str]:
        """A plan, perhaps altered, cut and drawn; of the newest job or the first."""
        newest = self.folder / "out" / "plan.json"
        plan = str(newest) if newest.exists() and self.rng.random() < 0.7 else self._plan()
        length = (*LENGTHS, "0", "-1", "3 yards", "2.5 m", "nan", "1/0", "12 cm", "9999")
        return [
            "cut", plan, "--out", "cut",
            *self._maybe("--trim", *length), *self._maybe("--usable", *length),
            *self._maybe("--overhang", *length), *self._maybe("--background-length", *length),
            *self._maybe("--shrinkage", "0", "5", "30", "31", "nan", "-1"),
            *self._maybe("--paper", "a4", "letter", share=0.1),
            *(word for word in ("--metric", "--units", "--plain-cuts") if self.rng.random() < 0.2),
            *self._maybe("--thread", "cream=#f3ecd8", f"a={self._color()}", "=white", "x"),
            *self._maybe("--fabric", "plum=#57304a", "<b>=black", "\u202e=#fff", "x="),
            *self._maybe("--yardage", "border=#57304a", "background=black", "trim=navy"),
            *self._maybe("--stash", self.STASH, "gone.sqlite", share=0.1),
            *self._maybe("--seed", "0", "-1", str(10**30), "7"),
            *self._maybe("--show", "least", "most"),
            *self._maybe("--lock", "1.1=A1", f"2.1.1={self._address()}", "0.0=B3", "9.9.9=A1"),
            *self._maybe("--beside", str(Path("plan", "plan.json")), plan, share=0.1),
        ]  # fmt: skip

    def _points(self, count: int) -> list[str]:
        """Points around a rectangle of the photo, some of them elsewhere."""
        x, y = sorted(self.rng.sample(range(WIDTH), 2)), sorted(self.rng.sample(range(HEIGHT), 2))
        square = RIM + self.rng.randrange(COLUMNS) * (SIDE + GAP)
        box = self.rng.choice(
            [(x[0], y[0], x[1], y[1]), (square, RIM, square + SIDE, RIM + SIDE),
             (405, 80, 480, 220), (RIM, RIM, 366, 226), (0, 0, WIDTH, HEIGHT)]
        )  # fmt: skip
        around = [(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]
        if self.rng.random() < 0.3:
            self.rng.shuffle(around)
        if self.rng.random() < 0.3:
            around[self.rng.randrange(4)] = self.rng.choice(
                [(0, 0), around[0], (WIDTH, HEIGHT), (10**9, 5), (WIDTH - 0.001, 3.5)]
            )
        before = self._some("", "1:", "2:", "0:", share=0.9)
        return [f"{before}{px},{py}" for px, py in around[:count]]

    def measure(self) -> list[str]:
        """A photo with anything said of it."""
        rng = self.rng
        words = ["measure", self.PHOTO, "--out", "measured.json"]
        if rng.random() < 0.4:
            kind = self._some("paper", "grey", "chart", f"fabric={self._color()}", "cloth")
            words += ["--reference", kind, *self._points(4)]
        if rng.random() < 0.2:
            words += ["--reference", "fabric=lab(60 5 5)", *self._points(4)]
        for option in ("--white", "--ignore", "--ignore"):
            if rng.random() < 0.3:
                words += [option, *self._points(1)]
        for option in ("--corners", "--add", "--add"):
            if rng.random() < 0.3:
                words += [option, *self._points(4)]
        return [
            *words, *self._maybe("--grid", "3x5", "5x3", "1x1", "60x60", "3x6", "61x1", "0x3"),
            *self._maybe("--square-inches", "10", "5", "2 1/2", "60", "0.5", "25 cm", "0"),
            *self._maybe("--overlay", "over.jpg", "over.png", "over.gif", share=0.2),
            *self._maybe("--name", "<b>", "\u202e", "=cmd()", share=0.2),
        ]  # fmt: skip

    def choose(self) -> list[str]:
        """What else is done with a bundle or a plan."""
        match self.rng.randrange(4):
            case 0:
                return [
                    "background", self._bundle(), "--try", self._color(), "--try", self._color(),
                    *self._maybe("--pattern", self._pattern(), share=0.5), *self._dealing(),
                    *self._maybe("--out", "axis.svg", "axis", "gone/axis.svg", share=0.5),
                ]  # fmt: skip
            case 1:
                return ["compare", self._plan(), self._bundle(), "--out", "compared"]
            case 2:
                return ["shopping", self._plan(), "--out", "note", *self._no_stash()]
            case _:
                return [
                    "swap", self._plan(), self._address(), "--out", "swapped", *self._no_stash(),
                    *self._maybe("--from", self._bundle(), self._plan(), "gone.json", share=0.7),
                    *self._maybe("--take", "job-1", "looks-1", "job-9", "x", share=0.3),
                    *self._maybe("--most", "1", "50", "0", "-3", share=0.2),
                ]  # fmt: skip

    def _no_stash(self) -> list[str]:
        return self.rng.choice([["--no-stash"], ["--stash", self.STASH], []])

    def stash(self) -> list[str]:
        """Photos measured into a stash, whatever they show."""
        subject = self._some("any", "squares", "piece", "edges", "fat-quarter", "spool", share=0.1)
        words = [
            "stash", "add", self.PHOTO, "--stash", "new.sqlite", "--as", subject,
            *self._maybe("--amount", "half a yard", "0", "-1 yard", "3 squares", "1e9 yards", "x"),
            *self._maybe("--piece-inches", "9", "60", "0.5", "x"),
            *self._maybe("--square-inches", "5", "60", "0.5"),
            *self._maybe("--kind", "fabric", "solid", "thread"),
            *self._maybe("--name", "Fir", " ", "=cmd()", "x" * 400),
        ]  # fmt: skip
        if self.rng.random() < 0.4:
            words += ["--region", *self._points(4)[::2]]
        if self.rng.random() < 0.3:
            words += ["--white", *self._points(1)]
        return words
