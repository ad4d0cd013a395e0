"""From a plan to everything that is cut, sewn and bought.

Nothing is decided here: the steps after dealing are run in their order and what they give is kept
together for the sheets and the pages.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from colorcore.bundle import Bundle
from colorcore.contrast import Thresholds
from colorcore.cutting.avoiding import Badness, badness_from_map
from colorcore.cutting.giving import piece_name
from colorcore.cutting.guillotine import PieceWanted
from colorcore.cutting.kits import StackCutting, cut_stacks
from colorcore.cutting.yardage import (
    OVERHANG,
    STRAIGHTENING,
    USABLE_WIDTH,
    Backing,
    Enough,
    JoinedStrips,
    StripPlan,
    missing_length,
    plan_backing,
    plan_batting,
    plan_binding,
    plan_border,
    plan_strips,
)
from colorcore.errors import CuttingError, Lack, PatternError
from colorcore.finishing import (
    Candidate,
    FabricChoice,
    ThreadChoice,
    TopColors,
    rank_backings,
    rank_bindings,
    rank_borders,
    rank_threads,
    top_colors,
)
from colorcore.lengths import SEAM, exact_inches
from colorcore.pattern import Pattern
from colorcore.pattern.layout import Layout, spread
from colorcore.pattern.patches import Then
from colorcore.pattern.sewing import BACKGROUND
from colorcore.pattern.units import read_units
from colorcore.piecing import (
    MarkingAdvice,
    Pairing,
    UnitPressing,
    advise_marking,
    pair,
    plan_pressing,
)
from colorcore.preview import Cloth, Sewn, cloth_from_color, cloth_from_swatch, sew
from colorcore.stacking import Plan
from colorcore.swatch import Swatch

Lab = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class MakingChoices:
    """What the maker chooses, lengths in inches.

    ``trim`` is cut off each edge of a square first; ``usable`` width of yardage; ``shrinkage`` of
    yardage, 0 to 0.3; ``overhang`` of backing and batting; ``background_inches`` of background at
    hand, or None; ``avoid_melting`` lets cuts go around what melts; ``locks`` of slots to squares;
    ``threads`` and ``fabrics`` to choose from, among these the background's own cloth, by its
    name; ``yardage`` CIELAB of borders and binding by name.
    """

    trim: Fraction = Fraction(0)
    usable: Fraction = USABLE_WIDTH
    shrinkage: float = 0.0
    overhang: Fraction = OVERHANG
    background_inches: Fraction | None = None
    avoid_melting: bool = True
    seed: int = 1
    locks: Mapping[int, str] = field(default_factory=dict)
    threads: Sequence[Candidate] = ()
    thread_wish: str = "least"
    fabrics: Sequence[Candidate] = ()
    yardage: Mapping[str, Lab] = field(default_factory=dict)


@dataclass(frozen=True)
class BorderNeed:
    """A border: its strips and the cut lengths of its sides and of its top and bottom."""

    name: str
    width: Fraction
    strips: JoinedStrips
    side: Fraction
    across: Fraction


@dataclass(frozen=True)
class YardageNeed:
    """What one yardage has to give. ``length`` in inches that its strips take; ``then`` says per
    piece of ``strips`` what happens after the straight cuts; ``binding`` if the binding is cut
    from it; ``enough`` compares what is at hand, ``in_stash`` if that lies in the stash, and
    ``missing`` are the inches of whole strips that it does not give."""

    name: str
    strips: StripPlan
    then: tuple[Then, ...]
    borders: tuple[BorderNeed, ...]
    binding: JoinedStrips | None
    length: Fraction
    enough: Enough | None
    in_stash: bool = False
    missing: Fraction = Fraction(0)

    @property
    def takes(self) -> Fraction:
        """Inches to have: what the strips take, and what straightening the ends takes."""
        return self.length + STRAIGHTENING

    @property
    def to_buy(self) -> Fraction:
        """Inches to buy beside what is at hand, with what straightening their ends takes."""
        if self.enough is None:
            return self.takes
        return Fraction(0) if self.enough.ok else self.missing + STRAIGHTENING


@dataclass(frozen=True, eq=False)
class Making:
    """A plan with everything that follows from it."""

    plan: Plan
    bundle: Bundle
    pattern: Pattern
    choices: MakingChoices
    layout: Layout
    cuts: tuple[StackCutting, ...]
    pairing: Pairing
    marking: Mapping[str, MarkingAdvice]
    pressing: tuple[UnitPressing, ...]
    yardage: tuple[YardageNeed, ...]
    binding: JoinedStrips
    backing: tuple[Backing, ...]
    batting: tuple[Fraction, Fraction]
    top: TopColors
    threads: tuple[ThreadChoice, ...]
    fabrics: Mapping[str, tuple[FabricChoice, ...]]
    sewn: Sewn
    swatches: Mapping[str, Swatch]

    @property
    def known_yardage(self) -> frozenset[str]:
        """Yardages whose colour is known."""
        return frozenset({BACKGROUND, *self.choices.yardage})

    @property
    def shown_yardage(self) -> tuple[str, ...]:
        """Yardages beside the background that show on the quilt, such as a border's."""
        shown = {facet.cloth for facet in self.sewn.facets}
        return tuple(n.name for n in self.yardage if n.name in shown and n.name != BACKGROUND)

    @property
    def filled(self) -> tuple[Swatch, ...]:
        """The fabric of each slot."""
        return tuple(self.swatches[s.square] for s in self.pairing.supplies)


def plan_making(
    plan: Plan,
    bundle: Bundle,
    pattern: Pattern,
    choices: MakingChoices | None = None,
    *,
    thresholds: Thresholds | None = None,
    progress: Callable[[str], None] | None = None,
) -> Making:
    """Cut, pair, mark, press, finish and draw a plan.

    Raises
    ------
    PatternError
        If the pattern does not say how its units are sewn.
    CuttingError
        If the plan's squares do not suffice for its quilt.
    """
    wish = choices or MakingChoices()
    say = progress or (lambda words: None)
    sewing = read_units(pattern)
    size = plan.size or pattern.sizes[0].name
    if not sewing.quilts:
        raise PatternError(
            f"{pattern.name}: the pattern says how to deal but not how to sew; it needs units "
            "and a layout before anything can be cut."
        )
    layout = spread(sewing, size)
    swatches = {square.id: square for square in bundle.squares}
    _check_sides(plan, pattern, swatches)
    say("Laying the cuts")
    cuts = _cut(plan, pattern, layout, swatches, wish, thresholds or Thresholds())
    short = [stack.sentence for stack in cuts if not stack.ok]
    if short:
        raise CuttingError(" ".join(short) + " Deal again with more squares in these stacks.")
    say("Pairing the prints")
    pairing = pair(layout, cuts, swatches, seed=wish.seed, locks=wish.locks)
    filled = tuple(swatches[s.square] for s in pairing.supplies)
    labs: dict[str, Lab] = {BACKGROUND: plan.background.lab, **wish.yardage}
    quilt = layout.quilt
    top = top_colors(layout, [s.lab for s in filled], labs)
    threads = _rank_threads(top, wish)
    backing = plan_backing(
        quilt.width, quilt.height,
        usable=wish.usable, overhang=wish.overhang, shrinkage=wish.shrinkage,
    )  # fmt: skip
    binding = plan_binding(
        quilt.width, quilt.height,
        strip=quilt.binding.strip, usable=wish.usable, shrinkage=wish.shrinkage,
    )  # fmt: skip
    needs = _plan_yardage(layout, wish, binding, plan.background.label)
    return Making(
        plan=plan,
        bundle=bundle,
        pattern=pattern,
        choices=wish,
        layout=layout,
        cuts=cuts,
        pairing=pairing,
        marking={
            cut.square: advise_marking(swatches[cut.square]) for stack in cuts for cut in stack.cuts
        },
        pressing=plan_pressing(layout, filled, {name: lab[0] for name, lab in labs.items()}),
        yardage=needs,
        binding=binding,
        backing=backing,
        batting=plan_batting(quilt.width, quilt.height, overhang=wish.overhang),
        top=top,
        threads=threads,
        fabrics=_rank_fabrics(
            top,
            _less_the_background(wish, needs, plan.background.label),
            needs,
            binding,
            backing,
            threads,
        ),
        sewn=_sew(plan, layout, pairing, swatches, labs, wish),
        swatches=swatches,
    )


def _check_sides(plan: Plan, pattern: Pattern, swatches: Mapping[str, Swatch]) -> None:
    for stack in plan.stacks:
        for place in stack.placements:
            side = swatches[place.square].side_inches
            if pattern.is_too_small(side):
                raise CuttingError(
                    f"{pattern.name} cuts squares of {pattern.square_inches:g} in, and "
                    f"{place.square} was measured as {side:g} in; take another pattern, or measure "
                    "the photo again and say how long a side of its squares is.",
                    lack=Lack.SIDE,
                )


def _cut(
    plan: Plan,
    pattern: Pattern,
    layout: Layout,
    swatches: Mapping[str, Swatch],
    wish: MakingChoices,
    thresholds: Thresholds,
) -> tuple[StackCutting, ...]:
    beside = {rule.name for size in pattern.sizes for rule in size.stacks if rule.beside_background}
    badness: dict[str, Badness] = {}
    if wish.avoid_melting:
        for stack in plan.stacks:
            if stack.name in beside:
                for place in stack.placements:
                    badness[place.square] = _melting(
                        swatches[place.square], plan, thresholds, float(wish.trim)
                    )
    return cut_stacks(
        layout,
        {stack.name: [p.square for p in stack.placements] for stack in plan.stacks},
        side=exact_inches(pattern.square_inches),
        trim=wish.trim,
        badness=badness,
    )


def _melting(swatch: Swatch, plan: Plan, thresholds: Thresholds, trim: float) -> Badness:
    """How much of a piece's seam line would melt into the background."""
    from colorcore.contrast.pieces import melting_map
    from colorcore.contrast.seen import beside_background, see_swatch

    bad = melting_map(
        see_swatch(swatch, thresholds), beside_background(plan.background, thresholds)
    )
    whole = badness_from_map(bad, swatch.side_inches)
    return lambda x, y, width, height: whole(x + trim, y + trim, width, height)


def _plan_yardage(
    layout: Layout, wish: MakingChoices, binding: JoinedStrips, background: str
) -> tuple[YardageNeed, ...]:
    """``background`` is the name of its cloth."""
    quilt = layout.quilt
    names = list(layout.yardage)
    names += [b.fabric for b in quilt.borders if b.fabric not in names]
    if quilt.binding.fabric not in names:
        names.append(quilt.binding.fabric)
    borders = _plan_borders(layout, wish)
    found = []
    for name in names:
        wanted = layout.yardage.get(name, ())
        strips = plan_strips(
            [
                PieceWanted(
                    piece_name(n.width, n.height),
                    # The segments of a strip set lie along the strip, its width across.
                    n.height if n.then.in_strips else n.width,
                    n.width if n.then.in_strips else n.height,
                    int(n.count),
                    fixed=n.then.in_strips,
                )
                for n in wanted
            ],
            usable=wish.usable,
            shrinkage=wish.shrinkage,
        )
        mine = tuple(
            need for border, need in zip(quilt.borders, borders, strict=True)
            if border.fabric == name
        )  # fmt: skip
        bound = binding if quilt.binding.fabric == name else None
        length = strips.length + sum((b.strips.length for b in mine), Fraction(0))
        length += bound.length if bound else 0
        enough, in_stash = None, False
        if name == BACKGROUND:
            enough, in_stash = _at_hand(wish, background, length)
        kinds = [(kind.height, kind.strips) for kind in strips.kinds]
        kinds += [(b.strips.height, b.strips.strips) for b in mine]
        kinds += [(bound.height, bound.strips)] if bound else []
        missing = Fraction(0)
        if enough is not None and not enough.ok:
            missing = missing_length(kinds, enough.have, shrinkage=wish.shrinkage)
        found.append(
            YardageNeed(
                name,
                strips,
                tuple(n.then for n in wanted),
                mine,
                bound,
                length,
                enough,
                in_stash,
                missing,
            )
        )
    return tuple(found)


def _is_cloth_of(candidate: Candidate, background: str) -> bool:
    return candidate.name.casefold() == background.strip().casefold()


def _at_hand(wish: MakingChoices, background: str, length: Fraction) -> tuple[Enough | None, bool]:
    """Whether there is as much background as is needed, if that is known; and whether that is
    the length that the stash has of it."""
    if wish.background_inches is not None:
        return Enough("Background", wish.background_inches, length), False
    for fabric in wish.fabrics:
        if fabric.inches is not None and _is_cloth_of(fabric, background):
            name = f"Background ({fabric.name}, in your stash)"
            return Enough(name, exact_inches(fabric.inches), length), True
    return None, False


def _less_the_background(
    wish: MakingChoices, needs: Sequence[YardageNeed], background: str
) -> MakingChoices:
    """Choices in which of the background's own cloth only what it leaves is there."""
    taken = next((float(need.length) for need in needs if need.name == BACKGROUND), 0.0)
    fabrics = [
        replace(fabric, taken=min(taken, fabric.inches))
        if fabric.inches is not None and _is_cloth_of(fabric, background)
        else fabric
        for fabric in wish.fabrics
    ]
    return replace(wish, fabrics=fabrics)


def _plan_borders(layout: Layout, wish: MakingChoices) -> tuple[BorderNeed, ...]:
    quilt = layout.quilt
    widths = sum((b.width for b in quilt.borders), Fraction(0))
    width, height = quilt.width - 2 * widths, quilt.height - 2 * widths
    found = []
    for border in quilt.borders:
        strips, side, across = plan_border(
            border.name, width, height, border.width,
            usable=wish.usable, shrinkage=wish.shrinkage,
        )  # fmt: skip
        found.append(BorderNeed(border.name, border.width + 2 * SEAM, strips, side, across))
        width, height = width + 2 * border.width, height + 2 * border.width
    return tuple(found)


def _rank_threads(top: TopColors, wish: MakingChoices) -> tuple[ThreadChoice, ...]:
    if not wish.threads:
        return ()
    return rank_threads(top, wish.threads, wish="most" if wish.thread_wish == "most" else "least")


def _rank_fabrics(
    top: TopColors,
    wish: MakingChoices,
    needs: Sequence[YardageNeed],
    binding: JoinedStrips,
    backing: Sequence[Backing],
    threads: Sequence[ThreadChoice],
) -> dict[str, tuple[FabricChoice, ...]]:
    if not wish.fabrics:
        return {}
    ranked = {
        "binding": rank_bindings(top, wish.fabrics, need_inches=float(binding.length)),
        "backing": rank_backings(
            top,
            wish.fabrics,
            thread=threads[0].candidate.lab if threads else None,
            need_inches=float(backing[0].length),
        ),
    }
    borders = [need for need in needs if need.borders and need.name != BACKGROUND]
    if borders:
        need = float(sum((n.length for n in borders), Fraction(0)))
        ranked["border"] = rank_borders(top, wish.fabrics, need_inches=need)
    return ranked


def _sew(
    plan: Plan,
    layout: Layout,
    pairing: Pairing,
    swatches: Mapping[str, Swatch],
    labs: Mapping[str, Lab],
    wish: MakingChoices,
) -> Sewn:
    cloths: dict[str, Cloth] = {
        square: cloth_from_swatch(swatches[square]) for square in set(pairing.squares())
    }
    for name, lab in labs.items():
        cloths[name] = cloth_from_color(name, lab)
    ground = plan.background
    if ground.picture is not None and ground.pixels_per_inch > 0:
        cloths[BACKGROUND] = cloth_from_color(
            BACKGROUND, ground.lab, ground.picture, ground.pixels_per_inch
        )
    return sew(layout, pairing.supplies, cloths, trim=float(wish.trim))
