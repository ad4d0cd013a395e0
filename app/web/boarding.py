"""The board of stacks: what it shows, and what its reports mean. Pure, without Streamlit."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from colorcore.errors import ProjectError
from colorcore.project import Choices
from colorcore.wording import number_beside

if TYPE_CHECKING:
    from colorcore.contrast import Background
    from colorcore.sheets.view import Card, PlanView
    from colorcore.stacking import Plan

Lab = tuple[float, float, float]

LEFT_OVER = ""
OUT = "out"
NOT_KEPT = (
    "How good this deal is was not kept with it: deal again to see whether another does better."
)
_NOTHING_PROVEN = "{}"
OPENED = (
    "Dealt around locks of which some are open now: deal again to see whether another deal does "
    "better."
)
OTHER_GROUND = (
    "Dealt for another colour of the background than it has now: deal again to see whether another "
    "deal does better."
)
_SAME_LAB = 0.05


def dealt_mark(choices: Choices) -> str:
    """Return the mark of all that a deal rests on, so that an old deal is known as old."""
    text = repr(
        (
            choices.photos,
            choices.square_inches,
            choices.pattern,
            choices.size,
            choices.background,
            choices.swaps,
        )
    )
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def places_of(plan: Plan) -> dict[str, str]:
    """Return where every square of a plan lies: stack, "" for left over, or "out"."""
    places = {p.square: stack.name for stack in plan.stacks for p in stack.placements}
    places |= {p.square: LEFT_OVER for p in plan.left_over}
    return places | dict.fromkeys(plan.stayed_out, OUT)


def with_deal(choices: Choices, plan: Plan) -> Choices:
    """Return choices in which a plan's places are kept, and what it proves of them."""
    places = tuple(sorted(places_of(plan).items()))
    dealt = replace(choices, places=places, dealt_for=dealt_mark(choices))
    kept = {
        "lying": _lying_mark(dealt),
        "locks": sorted(dealt.locks),
        "proof": plan.proof,
        "ground": plan.background.lab,
    }
    return dealt.with_option("deal", json.dumps(kept, ensure_ascii=False))


def deal_proof(choices: Choices, ground: Lab) -> str:
    """Return what the newest deal proves of the places as they are now and of a background of
    CIELAB ``ground``, "" if squares were moved or exchanged by hand since.

    Projects from before proofs were kept know neither that nor whether squares were moved since.
    A deal is proven for the locks that it kept to: more of them where the squares lie change
    nothing, fewer may allow a better one.
    """
    told = choices.option("deal", "")
    if not told:
        return NOT_KEPT
    try:
        kept = json.loads(told)
        lying, locks, proof = kept["lying"], kept["locks"], str(kept["proof"])
        opened = not {tuple(lock) for lock in locks} <= set(choices.locks)
        # Deals from before the background was kept with them are taken to be of this one.
        was = kept.get("ground", ground)
        same_ground = all(abs(a - b) < _SAME_LAB for a, b in zip(was, ground, strict=True))
    except (ValueError, TypeError, LookupError):
        return ""
    if lying != _lying_mark(choices):
        return ""
    if not same_ground:
        return OTHER_GROUND
    return OPENED if opened else proof


def _lying_mark(choices: Choices) -> str:
    return hashlib.sha256(repr((dealt_mark(choices), choices.places)).encode()).hexdigest()[:32]


def after_report(choices: Choices, report: Any) -> tuple[Choices, str]:
    """Return choices after one step on the board, and the step in words.

    A square that is moved by hand is locked where it was put, so that the next deal leaves it.

    Raises
    ------
    ProjectError
        If the report is not one of the board's.
    """
    places = dict(choices.places)
    try:
        what, square = str(report["what"]), str(report["id"])
        if square not in places:
            raise KeyError(square)
        if what == "move":
            to = str(report["to"])
            places[square] = to
            moved = replace(choices, places=tuple(sorted(places.items())))
            if not moved.option("deal"):
                moved = moved.with_option("deal", _NOTHING_PROVEN)
            lock = to if to != LEFT_OVER else None
            return moved.with_lock(square, lock), f"moved {square}"
        if what == "lock":
            if not report["locked"]:
                return choices.with_lock(square, None), f"unlocked {square}"
            if places[square] == LEFT_OVER:
                return choices.with_lock(square, OUT), f"kept {square} out"
            return choices.with_lock(square, places[square]), f"locked {square}"
        raise KeyError(what)
    except (KeyError, TypeError) as error:
        raise ProjectError("That step on the board could not be understood; try again.") from error


def board_data(
    view: PlanView,
    wanted: Mapping[str, int],
    locks: Mapping[str, str],
    before: Mapping[str, str],
    picture: Callable[[Card, bool], str],
    *,
    mark: str = "",
    swapped: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """Return what the board's component shows.

    ``wanted`` squares by stack; ``before`` where squares lay before the newest step;
    ``picture`` gives a card's address of a picture, in colour or in value only; ``mark`` changes
    with every step; ``swapped`` says in words what stands in for a square.
    """
    stacks: list[dict[str, Any]] = [
        {
            "key": group.name,
            "name": group.name,
            "about": f"{group.role}, {group.value}",
            "wanted": wanted.get(group.name),
            "squares": [card.address for card in group.cards],
        }
        for group in view.stacks
    ]
    left = [p.square for p in view.plan.left_over]
    out = list(view.plan.stayed_out)
    stacks.append(
        {"key": LEFT_OVER, "name": "Left over", "about": "no stack needs them", "wanted": None,
         "squares": left}
    )  # fmt: skip
    stacks.append(
        {
            "key": OUT,
            "name": "Kept out",
            "about": "by you, or for the background",
            "wanted": None,
            "squares": out,
        }
    )
    now = places_of(view.plan)
    cards = {
        card.address: {
            "url": picture(card, False),
            "valueUrl": picture(card, True),
            "lightness": round(card.lightness, 1),
            "words": f"{card.color}; {card.band}" if card.band else card.color,
            "verdict": _verdict(card, view.plan.background) if group.beside_background else "",
            "kind": (group.beside_background and card.verdict) or "plain",
            "why": card.why[:1].upper() + card.why[1:] + "." if card.why else "",
            "locked": card.address in locks,
            "swapped": (swapped or {}).get(card.address, ""),
            "was": _was(card.address, before, now),
        }
        for group in view.groups
        for card in group.cards
    }
    state = (stacks, sorted(locks.items()), sorted(before.items()), mark)
    rev = hashlib.sha256(repr(state).encode())
    return {"stacks": stacks, "cards": cards, "rev": rev.hexdigest()}


def _verdict(card: Card, background: Background) -> str:
    """A verdict and how far off the background lies. Beside a print the verdict counts all its
    values, and may be another than how far its average lies off would give."""
    from colorcore.contrast import Thresholds

    if not card.verdict:
        return ""
    limits = Thresholds()
    apart = number_beside(abs(card.delta_l), limits.holds, limits.melts)
    if background.picture is None or card.verdict == limits.verdict(card.delta_l):
        return f"{card.verdict}, {apart} apart"
    return f"{card.verdict} beside parts of the print, {apart} from its average"


def _was(square: str, before: Mapping[str, str], now: Mapping[str, str]) -> str:
    was = before.get(square)
    if was is None or was == now.get(square):
        return ""
    return f"was {({LEFT_OVER: 'left over', OUT: 'kept out'}).get(was, was)}"
