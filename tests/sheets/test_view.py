import csv
import io
from dataclasses import replace

import pytest

from colorcore.bundle import Bundle
from colorcore.pattern import read_pattern
from colorcore.sheets.plan_csv import plan_csv
from colorcore.sheets.second_look import look_again, missed, photo_trust, photo_warnings
from colorcore.sheets.view import LEFT_OVER, STAYED_OUT, view_plan
from colorcore.wording import photos
from tests.sheets.making import WHITE, make_bundle, make_plan


def test_every_square_has_one_place() -> None:
    bundle = make_bundle()
    view = view_plan(make_plan(bundle, spare=3), bundle)
    shown = [card.address for group in view.groups for card in group.cards]
    assert sorted(shown) == sorted(square.id for square in bundle.squares)
    assert [group.mark for group in view.stacks] == ["1", "2", "3"]
    assert [group.name for group in view.rest] == [LEFT_OVER]
    assert view.marks()[view.stacks[1].cards[0].address] == "2"


def test_counts_of_verdicts() -> None:
    bundle = make_bundle()
    view = view_plan(make_plan(bundle), bundle)
    assert sum(view.verdicts.values()) == 42
    for group in view.stacks:
        for word, n in group.verdicts.items():
            assert n == sum(card.verdict == word for card in group.cards)


def test_the_pattern_tells_what_lies_beside_the_background() -> None:
    bundle = make_bundle()
    plan = replace(make_plan(bundle), pattern="Lamplight Rails", size="crib")
    names = ("Dark rails", "Medium rails", "Light rails")
    plan = replace(
        plan,
        stacks=tuple(replace(s, name=name) for s, name in zip(plan.stacks, names, strict=True)),
    )
    assert view_plan(plan, bundle).on_background
    rails = view_plan(plan, bundle, read_pattern("lamplight-rails"))
    assert not rails.on_background
    assert set(rails.verdicts.values()) == {0}
    for row in csv.DictReader(io.StringIO(plan_csv(rails), newline="")):
        assert row["contrast"] == row["delta_l"] == row["luminance_ratio"] == ""


def test_a_reason_is_said_once() -> None:
    bundle = make_bundle(1, 6)
    view = view_plan(make_plan(bundle), bundle)
    ((why, ids),) = view.reasons
    assert why == "among the darkest of the bundle"
    assert sorted(ids) == sorted(square.id for square in bundle.squares)


def test_squares_kept_out_say_why() -> None:
    bundle = make_bundle(2, 4)
    plan = make_plan(bundle, background=replace(WHITE, label="square A2"))
    stacks = tuple(
        replace(s, placements=tuple(p for p in s.placements if p.square not in ("A2", "B1")))
        for s in plan.stacks
    )
    view = view_plan(replace(plan, stacks=stacks, stayed_out=("A2", "B1")), bundle)
    assert view.rest[-1].name == STAYED_OUT
    why = {card.address: card.why for card in view.rest[-1].cards}
    assert why == {
        "A2": "this is the background",
        "B1": "kept out of every stack as asked",
    }


def test_copies_name_the_others() -> None:
    bundle = make_bundle(1, 4)
    squares = tuple(
        replace(s, fabric=n) for s, n in zip(bundle.squares, (5, 5, -1, -1), strict=True)
    )
    bundle = replace(bundle, squares=squares)
    view = view_plan(make_plan(bundle, spare=1), bundle)
    copies = {card.address: card.copies for group in view.groups for card in group.cards}
    assert copies == {"A1": ("A2",), "A2": ("A1",), "A3": (), "A4": ()}


def test_a_flag_that_all_carry_is_not_a_second_look() -> None:
    squares = tuple(replace(s, flags=("no-reference",)) for s in make_bundle(1, 3).squares)
    assert look_again(squares) == ()
    one = (replace(squares[0], flags=("no-reference", "shadow")), *squares[1:])
    assert look_again(one) == ((("A1",), "lies in a shadow"),)


def test_a_plan_of_another_bundle_is_refused() -> None:
    plan = make_plan(make_bundle())
    with pytest.raises(KeyError):
        view_plan(plan, make_bundle(2, 2))


def _photo(bundle: Bundle, **changes: object) -> Bundle:
    return replace(bundle, photos=(replace(bundle.photos[0], **changes),))


def test_what_touches_a_whole_photo_is_said_first() -> None:
    bundle = make_bundle(1, 3)
    sun = "A patch of sun seems to lie across the table: draw a curtain, and take it again."
    fine = _photo(bundle, trust="A", notes=("decoded at 1/2 of its 48 megapixels",))
    assert photo_warnings(fine) == ()
    sunny = _photo(bundle, trust="A", notes=("its profile was not used", sun))
    assert photo_warnings(sunny) == (sun,)
    (words,) = photo_warnings(_photo(bundle, trust="C", notes=()))
    assert words.startswith("Trust grade C")
    assert "by eye" in words


def test_several_photos_are_named() -> None:
    bundle = make_bundle(1, 3)
    two = (replace(bundle.photos[0], path="a/one.jpg", trust="D", notes=("Too dark.",)),) * 2
    told = photo_warnings(replace(bundle, photos=two))
    assert told == (
        "Photos 1 and 2: Too dark.",
        "one.jpg: Trust grade D (A is best, D worst): only a rough guide; sort by eye, and take "
        "the photo again if you can.",
    )


def test_how_far_to_trust_photos_alike_is_said_once() -> None:
    bundle = make_bundle(1, 3, photos=4)
    one, two, three, four = bundle.photos
    (said,) = photo_trust(bundle)
    assert said.who == "Photos 1 to 4"
    assert said.words.startswith("trust grade B")
    assert "Its colours rest on paper. Order by value is safe" in said.words
    noted = (
        replace(one, notes=("lens undone", "Too dark.")), replace(two, notes=("lens undone",)),
        replace(three, trust="A"), replace(four, notes=("Too dark.", "lens undone")),
    )  # fmt: skip
    alike, alone = photo_trust(replace(bundle, photos=noted))
    names = "kitchen table 1.jpg, kitchen table 2.jpg and kitchen table 4.jpg"
    assert alike.who == f"Photos 1, 2 and 4 ({names})"
    assert alike.notes == ("Lens undone.", "Photos 1 and 4: Too dark.")
    assert (alone.who, alone.notes) == ("kitchen table 3.jpg", ())
    # One from which no square is taken is told apart.
    left = tuple(s for s in bundle.squares if s.photo != 1)
    first, second = photo_trust(replace(bundle, squares=left))
    assert first.who.startswith("Photos 1, 3 and 4")
    assert (second.who, second.measured) == ("kitchen table 2.jpg", False)


@pytest.mark.parametrize(
    ("numbers", "words"),
    [((2,), "photo 2"), ((1, 2), "photos 1 and 2"), ((1, 2, 3), "photos 1 to 3"),
     ((1, 2, 3, 5), "photos 1 to 3 and 5"), ((1, 3, 4), "photos 1, 3 and 4"),
     ((1, 2, 3, 5, 6, 7), "photos 1 to 3 and 5 to 7")],
)  # fmt: skip
def test_photos_are_said_by_their_numbers(numbers: tuple[int, ...], words: str) -> None:
    assert photos(numbers) == words


def test_a_flag_of_all_squares_is_a_warning() -> None:
    bundle = _photo(make_bundle(1, 3), trust="A", notes=())
    squares = tuple(replace(s, flags=("few-pixels", "no-reference")) for s in bundle.squares)
    (words,) = photo_warnings(replace(bundle, squares=squares))
    assert words == "All squares: too small in the photo to measure its print."
    assert look_again(squares) == ()


def test_gaps_are_found_photo_by_photo() -> None:
    bundle = make_bundle(3, 4)
    holed = replace(bundle, squares=tuple(s for s in bundle.squares if s.id != "B2"))
    assert missed(holed) == ("B2",)
    assert missed(bundle) == ()
