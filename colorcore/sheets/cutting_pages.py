"""The sheet's pages on cutting: squares, yardage, marking."""

from fractions import Fraction
from typing import Final

from colorcore.cutting.kits import SquareCut, StackCutting, spare_squares
from colorcore.lengths import Measure
from colorcore.making import Making, YardageNeed
from colorcore.pattern.patches import Then
from colorcore.sheets.cutting_drawings import (
    square_diagram,
)
from colorcore.sheets.cutting_parts import Drawn, SquareKind, StackPage, YardagePage
from colorcore.sheets.pictures import jpeg_uri, shrink
from colorcore.wording import count, listing, sentence

THEN_WORDS: Final = {
    Then.WHOLE: "",
    Then.CUT_ONCE: "then once on the diagonal",
    Then.CUT_TWICE: "then twice on the diagonal",
    Then.STRIP: "sewn side by side, then cut across",
    Then.SEGMENT: "sewn side by side",
    Then.ACROSS: "sewn side by side, then cut across",
}


def stack_page(number: int, stack: StackCutting, making: Making, say: Measure) -> StackPage:
    """Return how a stack is cut: squares cut alike first, then those cut on their own."""
    alike: dict[tuple[int, ...], list[SquareCut]] = {}
    own: list[SquareCut] = []
    for cut in stack.cuts:
        if cut.around:
            own.append(cut)
        elif any(cut.kits):
            alike.setdefault(cut.kits, []).append(cut)
    kinds = []
    for n, cuts in enumerate(alike.values()):
        one = cuts[0]
        words = f"{stack.stack}: {_gives_words(one, say)} from one square"
        kinds.append(
            SquareKind(
                heading=f"Cut {count(len(cuts), 'square')} like this",
                drawing=Drawn(
                    words,
                    square_diagram(one.cutting, words, f"s{number}k{n}", metric=say.metric),
                ),
                squares=tuple(cut.square for cut in cuts),
                gives=_gives(one, say),
                left_over=f"{one.cutting.waste:.0%} of the square is left over".replace("%", " %"),
            )
        )
    for n, cut in enumerate(own):
        swatch = making.swatches[cut.square]
        words = f"{cut.square}: {_gives_words(cut, say)}, cut around what melts"
        # A square that is larger than the pattern cuts is cut from its top left corner.
        scale = swatch.picture.shape[0] / swatch.side_inches
        start = round(float(making.choices.trim) * scale)
        end = start + round(float(cut.cutting.width) * scale)
        inner = swatch.picture[start:end, start:end]
        kinds.append(
            SquareKind(
                heading=f"{cut.square}, cut on its own",
                drawing=Drawn(
                    words,
                    square_diagram(
                        cut.cutting, words, f"s{number}o{n}",
                        picture=jpeg_uri(shrink(inner, 420)), metric=say.metric,
                    ),
                ),
                squares=(cut.square,),
                gives=_gives(cut, say),
                left_over="",
                note="As drawn: the cuts go around parts that melt.",
            )
        )  # fmt: skip
    spare = making.pairing.spare
    mine = [s for s in spare if s.stack == stack.stack]
    rest = spare_squares(stack, Fraction(5, 2))
    left = [f"{count(len(mine), 'spare set')} of pieces"] if mine else []
    whole = [cut.square for cut in stack.cuts if not any(cut.kits)]
    if rest:
        square = say.length(Fraction(5, 2))
        left.append(f"{rest} more squares of {square} from the waste, if every part is used")
    return StackPage(
        stack.stack,
        stack.sentence,
        tuple(kinds),
        " ".join(
            sentence(said)
            for said, there in (
                ("Not cut: " + listing(whole), whole),
                ("Left over: " + listing(left), left),
            )
            if there
        ),
        stack.cuts[0].cutting.proof if stack.cuts else "",
    )


def _gives(cut: SquareCut, say: Measure) -> tuple[str, ...]:
    return tuple(
        f"{n} of {say.size(p.width, p.height)}"
        for p, n in zip(cut.cutting.pieces, cut.cutting.counts, strict=True)
        if n
    )


def _gives_words(cut: SquareCut, say: Measure) -> str:
    return listing(_gives(cut, say))


def yardage_page(need: YardageNeed, say: Measure) -> YardagePage:
    """Return what is cut from one yardage."""
    rows = []
    for kind in need.strips.kinds:
        gives = listing([_strip_gives(need, piece, n, say) for piece, n in kind.pieces])
        rows.append((f"{kind.strips} ×", say.length(kind.height), gives))
    for border in need.borders:
        rows.append(
            (
                f"{border.strips.strips} ×",
                say.length(border.strips.height),
                f"joined for the {border.name}: two of "
                f"{say.length(border.side)} for the sides, two of "
                f"{say.length(border.across)} for top and bottom "
                "(measure your own top first)",
            )
        )
    if need.binding:
        rows.append(
            (
                f"{need.binding.strips} ×",
                say.length(need.binding.height),
                f"joined on the diagonal for the binding, {say.length(need.binding.run)} around",
            )
        )
    return YardagePage(
        need.name.capitalize(),
        say.yardage(need.takes),
        tuple(rows),
        need.enough.told(say) if need.enough else "",
        need.enough.ok if need.enough else True,
    )


def _strip_gives(need: YardageNeed, piece: int, number: int, say: Measure) -> str:
    """So many of a piece from one strip of yardage, and what then happens to them."""
    size, then = need.strips.pieces[piece], need.then[piece]
    if then is Then.ACROSS and number == 1:
        then = Then.SEGMENT
    said = f"{number} of {say.size(size.width, size.height)}"
    return f"{said}, {THEN_WORDS[then]}" if then is not Then.WHOLE else said


def marking(making: Making) -> tuple[tuple[str, str], ...]:
    """Return (tool, addresses): what to mark each fabric with."""
    groups: dict[str, list[str]] = {}
    for square, advice in making.marking.items():
        name = {"either": "Either; try on a scrap"}.get(advice.tool, advice.tool.capitalize())
        groups.setdefault(name, []).append(square)
        if advice.busy:
            groups.setdefault("Mark on the wrong side: the print may hide a line", []).append(
                square
            )
    order = ("Chalk", "Graphite", "Either; try on a scrap")
    names = [n for n in order if n in groups] + [n for n in groups if n not in order]
    return tuple((name, "  ".join(groups[name])) for name in names)
