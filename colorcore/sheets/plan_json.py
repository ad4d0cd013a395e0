"""``plan.json``: the plan for other programs, and for planning on from it.

It carries the pattern's whole text and names the bundle file beside it, so that a folder of
outputs is enough to deal again. ``schema/plan.schema.json`` describes it.
"""

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any, Final

from colorcore import __version__
from colorcore.bundle import Bundle, read_bundle
from colorcore.bundle.checking import Checker
from colorcore.bundle.pictures import jpeg_uri, picture_from_uri
from colorcore.contrast import VERDICTS, Background, Thresholds
from colorcore.errors import BundleFileError, PatternError
from colorcore.flags import FLAGS
from colorcore.pattern import Pattern, parse_pattern
from colorcore.plain import writable
from colorcore.reading import read_whole
from colorcore.sheets.view import LEFT_OVER, Card, PlanView
from colorcore.stacking import Placement, Plan, PlannedStack

SCHEMA: Final = "bundlestacks-plan-1"
MOST_BYTES: Final = 64 * 1024 * 1024
BANDS: Final = ("dark", "medium", "light")


@dataclass(frozen=True, eq=False)
class PlanFile:
    """A plan read back, with what it was dealt from and judged by."""

    plan: Plan
    bundle: Bundle
    pattern: Pattern
    thresholds: Thresholds


def plan_document(
    view: PlanView,
    pattern_text: str,
    *,
    source: str = "",
    thresholds: Thresholds | None = None,
    bundle_file: str = "bundle.json",
    bundle_sha256: str = "",
) -> dict[str, Any]:
    """Return a plan as what ``schema/plan.schema.json`` describes.

    ``pattern_text`` is the pattern file's TOML and ``source`` its name; ``bundle_file`` the name
    of the bundle file in the same folder and ``bundle_sha256`` that of its content, "" if a reader
    need not check.
    """
    plan, background = view.plan, view.plan.background
    limits = thresholds or Thresholds()
    left_over = [card for g in view.rest if g.name == LEFT_OVER for card in g.cards]
    return {
        "schema": SCHEMA,
        "program": __version__,
        "pattern": {
            "name": plan.pattern,
            "size": plan.size,
            "source": writable(PurePath(source).name),
            "text": pattern_text,
        },
        "background": {
            "label": background.label,
            "lab": _rounded(background.lab),
            "lab_sd": _rounded(background.lab_sd),
            "picture": None if background.picture is None else jpeg_uri(background.picture),
            "pixels_per_inch": background.pixels_per_inch,
            "order_sd": background.order_sd,
            "photo": background.photo,
        },
        "thresholds": {
            "holds": limits.holds,
            "melts": limits.melts,
            "viewing_inches": limits.viewing_inches,
        },
        "bundle": {
            "file": bundle_file,
            "sha256": bundle_sha256,
            "name": view.bundle.name,
            "squares": len(view.bundle.squares),
        },
        "stacks": [
            {
                "name": group.name,
                "role": group.role,
                "value": group.value,
                "squares": [_placement(card) for card in group.cards],
            }
            for group in view.stacks
        ],
        "left_over": [_placement(card) for card in left_over],
        "stayed_out": list(plan.stayed_out),
        "margins": list(plan.margins),
        "evenness": [{"figure": words, "number": figure} for words, figure in plan.evenness],
        "second_look": list(plan.second_look),
        "proof": plan.proof,
    }


def plan_bytes(document: dict[str, Any]) -> bytes:
    """Return the document as a JSON file's content."""
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def read_plan(path: str | os.PathLike[str]) -> PlanFile:
    """Read a plan file and the bundle file beside it.

    Raises
    ------
    BundleFileError
        If either cannot be read or does not hold what it should: file, key and what was expected.
    PatternError
        If the pattern's text in it is no pattern.
    """
    name = Path(path).name
    too_large = f"{name}: larger than {MOST_BYTES // 2**20} MB; no plan is. Deal it again."
    content = read_whole(path, BundleFileError, most=MOST_BYTES, too_large=too_large)
    try:
        data = json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise BundleFileError(
            f"{name}: not a plan file; make one with 'bundlestacks stack'."
        ) from error
    root = Checker(name, data)
    schema = root.text("schema")
    if schema.startswith("bundlestacks-bundle-"):
        raise BundleFileError(
            f"{name}: a bundle, not a plan; deal it first with 'bundlestacks stack {name}'."
        )
    if schema != SCHEMA:
        root.refuse("schema", f"{SCHEMA!r}; deal again with this version", schema)
    bundle = _read_bundle_beside(path, root)
    plan = _plan(root)
    _check_squares(name, plan, bundle)
    wanted = root.record("pattern")
    pattern = parse_pattern(wanted.text("text"), source=f"{name}: {wanted.text('source')}")
    if plan.size and plan.size not in [size.name for size in pattern.sizes]:
        raise PatternError(f"{name}: its pattern has no size {plan.size!r}; deal it again.")
    limits = _thresholds(root.record("thresholds"))
    return PlanFile(plan, bundle, pattern, limits)


def _thresholds(limits: Checker) -> Thresholds:
    holds = limits.number("holds", least=0.0, most=100.0)
    return Thresholds(
        holds=holds,
        melts=limits.number("melts", least=0.0, most=holds),
        viewing_inches=limits.number("viewing_inches", least=1.0, most=10_000.0),
    )


def _read_bundle_beside(path: str | os.PathLike[str], root: Checker) -> Bundle:
    record = root.record("bundle")
    file, sha256 = record.text("file"), record.text("sha256")
    # A plan from elsewhere must not make us open files all over the disk.
    if file != PurePath(file.replace("\\", "/")).name or file in ("", ".", ".."):
        record.refuse("file", "the name of a file in the same folder", file)
    beside = Path(path).parent / file
    bundle = read_bundle(beside)
    # A stop between two renames can leave an older plan beside a newer bundle.
    if sha256 and hashlib.sha256(beside.read_bytes()).hexdigest() != sha256:
        raise BundleFileError(
            f"{beside}: not the bundle that {Path(path).name} was dealt from; "
            "run 'bundlestacks stack' again."
        )
    return bundle


def _plan(root: Checker) -> Plan:
    pattern, ground = root.record("pattern"), root.record("background")
    picture = ground.decoded("picture", picture_from_uri) if ground.has("picture") else None
    return Plan(
        pattern=pattern.text("name"),
        size=pattern.text("size"),
        background=Background(
            label=ground.text("label"),
            lab=ground.lab("lab"),
            lab_sd=ground.triple("lab_sd", least=0.0),
            picture=picture,
            pixels_per_inch=ground.number("pixels_per_inch", least=0.0),
            order_sd=ground.number("order_sd", least=0.0) if ground.has("order_sd") else None,
            photo=ground.integer("photo", least=0) if ground.has("photo") else None,
        ),
        stacks=tuple(
            PlannedStack(
                name=stack.text("name"),
                role=stack.text("role", choices=("focal", "fill")),
                value=stack.text("value", choices=("dark", "medium", "light", "mixed")),
                placements=tuple(map(_read_placement, stack.records("squares"))),
            )
            for stack in root.records("stacks")
        ),
        left_over=tuple(map(_read_placement, root.records("left_over"))),
        stayed_out=root.texts("stayed_out"),
        margins=root.texts("margins"),
        evenness=tuple((e.text("figure"), e.number("number")) for e in root.records("evenness")),
        second_look=root.texts("second_look"),
        proof=root.text("proof"),
    )


def _read_placement(item: Checker) -> Placement:
    item.texts("flags", choices=tuple(FLAGS))
    return Placement(
        square=item.text("square"),
        band=item.text("band", choices=BANDS),
        why=item.text("why"),
        chance=item.number_or_none("chance", least=0.0, most=1.0),
        delta_l=item.number("delta_l"),
        delta_e=item.number("delta_e_2000", least=0.0),
        ratio=item.number("luminance_ratio", least=1.0),
        verdict=item.text("verdict", choices=VERDICTS),
        locked=item.truth("locked"),
    )


def _check_squares(name: str, plan: Plan, bundle: Bundle) -> None:
    known = {square.id for square in bundle.squares}
    placed = [p.square for stack in plan.stacks for p in stack.placements]
    placed += [p.square for p in plan.left_over] + list(plan.stayed_out)
    for square in placed:
        if square not in known:
            raise BundleFileError(
                f"{name}: the square {square!r} is not in the bundle file beside it; "
                "keep together what was written together, or deal it again."
            )
    twice = sorted({square for square in placed if placed.count(square) > 1})
    if twice:
        raise BundleFileError(
            f"{name}: {twice[0]} has more than one place in the plan; deal it again."
        )


def _placement(card: Card) -> dict[str, Any]:
    return {
        "square": card.address,
        "band": card.band,
        "lab": _rounded(card.lab),
        "lab_sd": _rounded(card.lab_sd),
        "color": card.color,
        "delta_l": round(card.delta_l, 3),
        "delta_e_2000": round(card.delta_e, 3),
        "luminance_ratio": max(1.0, round(card.ratio, 3)),
        "verdict": card.verdict,
        "chance": None if card.chance is None else round(card.chance, 4),
        "locked": card.locked,
        "why": card.why,
        "flags": list(card.flags),
    }


def _rounded(lab: tuple[float, float, float]) -> list[float]:
    return [round(value, 3) for value in lab]
