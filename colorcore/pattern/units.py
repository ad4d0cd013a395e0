"""Read how a pattern is sewn from the tables of its file: units, sections, layout, borders."""

from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Final

from colorcore.lengths import exact_inches, say_inches
from colorcore.pattern.fields import Table
from colorcore.pattern.fitting import check_sewing_fits
from colorcore.pattern.kits import count_units, unit_cuts
from colorcore.pattern.model import Pattern, PatternSize
from colorcore.pattern.patches import CORNERS, FlippedCorner, Patch, Shape, Strip
from colorcore.pattern.sewing import (
    BACKGROUND,
    Binding,
    Border,
    FabricSource,
    Placed,
    Quilt,
    Sewing,
    Unit,
)

PATCH_KEYS: Final[Mapping[Shape, tuple[str, ...]]] = {
    Shape.PLAIN: ("fabric",),
    Shape.HALF_SQUARE: ("upper_left", "lower_right"),
    Shape.QUARTER_SQUARE: ("top", "right", "bottom", "left"),
    Shape.GEESE: ("goose", "sky", "right_sky"),
    Shape.FLIPPED_CORNERS: ("fabric", "corner"),
    Shape.STRIP_SET: ("strip",),
}
"""What a patch of each shape says beside name, shape, width and height; the README lists them."""

_MOST_UNITS: Final = 10_000
_DEEPEST: Final = 8
_MOST_PATCHES: Final = 50_000
_KEPT: Final = 16


class _Same:
    """A pattern that is known again by being the same object: what equals it may still be wrong,
    since 1, 1.0 and true are equal."""

    def __init__(self, pattern: Pattern) -> None:
        self.pattern = pattern

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.pattern is self.pattern

    def __hash__(self) -> int:
        return id(self.pattern)


def read_units(pattern: Pattern) -> Sewing:
    """Read and check how a pattern is sewn; what the newest patterns gave is kept.

    Raises
    ------
    PatternError
        Naming file, key and what was expected: an unknown shape, patch, unit, fabric or stack,
        sizes that do not fit together, 'same as' that runs in a circle, or more pieces than a
        square or a stack gives.
    """
    return _read(_Same(pattern))


def uses_background(sewing: Sewing) -> bool:
    """Return whether any quilt is sewn from background fabric, in a unit or as a border; True as
    well if it is not said how any quilt is sewn."""
    quilts = sewing.quilts.values()
    used = {name for quilt in quilts for name in count_units(quilt, sewing.units)}
    yardage = {
        sewing.units[name].source(need.fabric).yardage
        for name in used
        for need in unit_cuts(sewing.units[name])
    }
    yardage |= {border.fabric for quilt in quilts for border in quilt.borders}
    return not quilts or BACKGROUND in yardage


@lru_cache(maxsize=_KEPT)
def _read(same: _Same) -> Sewing:
    pattern = same.pattern
    top = Table(pattern.sewing, pattern.source or pattern.name, "")
    top.only("unit", "section", "layout", "binding")
    stacks = [rule.name for rule in pattern.sizes[0].stacks]
    square = exact_inches(pattern.square_inches)
    units: dict[str, Unit] = {}
    depths: dict[str, int] = {}
    tables = [
        *((t, False) for t in top.tables("unit")),
        *((t, True) for t in top.tables("section")),
    ]
    names = [table.text("name") for table, _ in tables]
    for (table, is_section), name in zip(tables, names, strict=True):
        if names.count(name) > 1:
            table.fail("name", f"a name that no other unit or section has, not {name!r} again")
        units[name] = _read_unit(table, name, stacks, units, names, is_section, depths, square)
    tile = _read_rows(top.table("layout"), "tile", units)
    binding = _read_binding(top)
    quilts = {}
    for number, size in enumerate(pattern.sizes, 1):
        place = Table(size.sewing, pattern.source or pattern.name, f"size {number}")
        quilt = _read_quilt(place, size, tile, units, binding)
        if quilt is not None:
            quilts[size.name] = quilt
    sewing = Sewing(units, quilts)
    check_sewing_fits(pattern, sewing)
    return sewing


def _read_unit(
    table: Table,
    name: str,
    stacks: list[str],
    units: Mapping[str, Unit],
    all_names: list[str],
    is_section: bool,
    depths: dict[str, int],
    square: Fraction,
) -> Unit:
    table.only("name", "rows", *(() if is_section else ("fabrics", "patch")))
    fabrics = () if is_section else _read_fabrics(table.table("fabrics"), stacks)
    known = {fabric.name for fabric in fabrics}
    patches: list[Patch] = []
    for place in () if is_section else table.tables("patch"):
        patch = _read_patch(place, known)
        if patch.name in {p.name for p in patches} | set(all_names):
            place.fail("name", f"a name of its own, not {patch.name!r} again")
        patches.append(patch)
    sizes = {p.name: (p.width, p.height) for p in patches}
    for other, unit in units.items():
        sizes[other] = (unit.width, unit.height)
    rows = _parse_rows(table, "rows", sizes, later=set(all_names) - set(units))
    if not rows:
        table.fail("rows", 'rows of patches such as [["a", "b"], ["b, turned 180", "a"]]')
    width, height = _measure(table, "rows", rows, sizes)
    depth = 1 + max((depths[p.name] for row in rows for p in row if p.name in depths), default=0)
    if depth > _DEEPEST:
        table.fail("rows", f"units in units at most {_DEEPEST} deep")
    depths[name] = depth
    return Unit(name, fabrics, tuple(patches), rows, width, height, square, is_section)


def _count_patches(rows: tuple[tuple[Placed, ...], ...], units: Mapping[str, Unit]) -> int:
    inside: dict[str, int] = {}

    def count(some: tuple[tuple[Placed, ...], ...]) -> int:
        total = 0
        for row in some:
            for placed in row:
                if placed.name in units and placed.name not in inside:
                    inside[placed.name] = count(units[placed.name].rows)
                total += inside.get(placed.name, 1)
        return total

    return count(rows)


def _read_fabrics(table: Table, stacks: list[str]) -> tuple[FabricSource, ...]:
    sources: list[FabricSource] = []
    for name in table.data:
        value = table.data[name]
        if isinstance(value, str):
            sources.append(FabricSource(str(name), yardage=table.text(str(name))))
            continue
        place = table.table(str(name))
        place.only("stack", "same_as", "different_from")
        if ("stack" in place.data) == ("same_as" in place.data):
            table.fail(
                str(name),
                'the name of a yardage such as "background", or a table with either stack or '
                "same_as",
            )
        if "stack" in place.data:
            sources.append(
                FabricSource(
                    str(name),
                    stack=place.choice("stack", stacks),
                    different_from=place.texts("different_from"),
                )
            )
        else:
            place.only("same_as")
            sources.append(FabricSource(str(name), same_as=place.text("same_as")))
    by_name = {source.name: source for source in sources}
    roots = {name: _follow(table, name, by_name) for name in by_name}
    for source in sources:
        for other in source.different_from:
            if other not in by_name:
                table.fail(
                    f"{source.name}, different_from",
                    f"names of fabrics of this unit ({', '.join(by_name)}), not {other!r}",
                )
            if roots[other] == roots[source.name]:
                table.fail(
                    f"{source.name}, different_from",
                    f"another fabric; {other!r} is the same fabric as {source.name!r}",
                )
    return tuple(sources)


def _follow(table: Table, name: str, by_name: Mapping[str, FabricSource]) -> str:
    """The fabric at the end of 'same as', or an error if there is none."""
    seen = [name]
    source = by_name[name]
    while source.same_as is not None:
        following = source.same_as
        if following not in by_name:
            table.fail(
                f"{source.name}, same_as",
                f"the name of a fabric of this unit ({', '.join(by_name)}), not {following!r}",
            )
        if following in seen:
            circle = " → ".join([*seen[seen.index(following) :], following])
            table.fail(
                f"{source.name}, same_as", f"a chain that ends; this one runs in a circle: {circle}"
            )
        seen.append(following)
        source = by_name[following]
    return source.name


def _read_patch(table: Table, known: set[str]) -> Patch:
    shape = Shape(table.choice("shape", [shape.value for shape in Shape]))
    keys = PATCH_KEYS[shape]
    table.only("name", "shape", "width", "height", *keys)
    width = table.inches("width")
    height = table.inches("height")
    if shape in (Shape.HALF_SQUARE, Shape.QUARTER_SQUARE) and width != height:
        table.fail(
            "height", f"the same as the width ({say_inches(width)}), as the patch is a square"
        )
    if shape is Shape.GEESE and width != 2 * height:
        table.fail(
            "height",
            f"half of the width ({say_inches(width / 2)}), as geese are twice as wide as high",
        )
    corners: list[FlippedCorner] = []
    strips: list[Strip] = []
    fabrics: tuple[str, ...] = ()
    if shape is Shape.GEESE:
        sky = _fabric(table, "sky", known)
        right = _fabric(table, "right_sky", known) if "right_sky" in table.data else sky
        fabrics = (_fabric(table, "goose", known), sky, right)
    elif shape is Shape.STRIP_SET:
        for place in table.tables("strip", least=2, most=40):
            place.only("width", "fabric")
            strips.append(Strip(place.inches("width"), _fabric(place, "fabric", known)))
        total = sum((s.width for s in strips), Fraction(0))
        if total != width:
            table.fail(
                "strip",
                f"strips that together are as wide as the patch ({say_inches(width)}), not "
                f"{say_inches(total)}",
            )
    elif shape is Shape.FLIPPED_CORNERS:
        fabrics = (_fabric(table, "fabric", known),)
        for place in table.tables("corner", least=1, most=4):
            place.only("at", "size", "fabric")
            at = place.choice("at", CORNERS)
            if at in {c.at for c in corners}:
                place.fail("at", f"a corner that is not taken yet, not {at!r} again")
            corners.append(FlippedCorner(at, place.inches("size"), _fabric(place, "fabric", known)))
        _check_corners(table, corners, width, height)
    else:
        fabrics = tuple(_fabric(table, key, known) for key in keys)
    return Patch(table.text("name"), shape, width, height, fabrics, tuple(corners), tuple(strips))


def _check_corners(
    table: Table, corners: list[FlippedCorner], width: Fraction, height: Fraction
) -> None:
    sizes = {corner.at: corner.size for corner in corners}
    for one, other, side in (
        ("top left", "top right", width),
        ("bottom left", "bottom right", width),
        ("top left", "bottom left", height),
        ("top right", "bottom right", height),
    ):
        if sizes.get(one, 0) + sizes.get(other, 0) > side:
            table.fail(
                "corner",
                f"corners that fit into the side of {say_inches(side)} in beside each other",
            )
    if len(corners) > 1 and any(
        sizes.get(one, Fraction(0)) + sizes.get(other, Fraction(0)) > min(width, height)
        and sizes.get(one) and sizes.get(other)
        for one, other in (("top left", "bottom right"), ("top right", "bottom left"))
    ):  # fmt: skip
        table.fail("corner", "opposite corners that do not overlap")


def _fabric(table: Table, key: str, known: set[str]) -> str:
    name = table.text(key)
    if name not in known:
        expected = f"a fabric of this unit ({', '.join(sorted(known)) or 'none is named'})"
        table.fail(key, f"{expected}, not {name!r}")
    return name


def _read_rows(table: Table, key: str, units: Mapping[str, Unit]) -> tuple[tuple[Placed, ...], ...]:
    sizes = {name: (unit.width, unit.height) for name, unit in units.items()}
    return _parse_rows(table, key, sizes, later=set())


def _parse_rows(
    table: Table, key: str, known: Mapping[str, tuple[Fraction, Fraction]], *, later: set[str]
) -> tuple[tuple[Placed, ...], ...]:
    value = table.data.get(key, [])
    if not isinstance(value, list) or not all(
        isinstance(row, list) and row and all(isinstance(item, str) for item in row)
        for row in value
    ):
        table.fail(key, "a list of rows, each a list of names")
    if sum(len(row) for row in value) > _MOST_UNITS:
        table.fail(key, f"at most {_MOST_UNITS} entries")
    return tuple(
        tuple(_parse_placed(table, key, item, known, later) for item in row) for row in value
    )


def _parse_placed(
    table: Table,
    key: str,
    text: str,
    known: Mapping[str, tuple[Fraction, Fraction]],
    later: set[str],
) -> Placed:
    name, *hows = [part.strip() for part in text.split(",")]
    if name not in known:
        if name in later:
            table.fail(
                key, f"names from further up in the file; {name!r} comes later or is this one"
            )
        table.fail(key, f"one of {', '.join(known) or 'the units'}, not {name[:60]!r}")
    turn, mirrored = 0, False
    for how in hows:
        if how == "mirrored" and not mirrored:
            mirrored = True
        elif how in ("turned 90", "turned 180", "turned 270") and not turn:
            turn = int(how.removeprefix("turned "))
        else:
            table.fail(
                key,
                f"'mirrored' or 'turned 90', 'turned 180', 'turned 270' after a name, not {how!r}",
            )
    return Placed(name, turn, mirrored)


def _measure(
    table: Table,
    key: str,
    rows: tuple[tuple[Placed, ...], ...],
    sizes: Mapping[str, tuple[Fraction, Fraction]],
) -> tuple[Fraction, Fraction]:
    """Finished width and height of rows; every row must be as high all along and equally wide."""
    width: Fraction | None = None
    total = Fraction(0)
    for number, row in enumerate(rows, 1):
        lying = [sizes[p.name] if p.turn % 180 == 0 else sizes[p.name][::-1] for p in row]
        for placed, (_, height) in zip(row, lying, strict=True):
            if height != lying[0][1]:
                table.fail(
                    f"{key}, row {number}",
                    f"one height all along ({say_inches(lying[0][1])} in); "
                    f"{placed.words!r} is {say_inches(height)} in",
                )
        row_width = sum((w for w, _ in lying), Fraction(0))
        if width is not None and row_width != width:
            table.fail(
                f"{key}, row {number}",
                f"the width of the rows above ({say_inches(width)} in), not "
                f"{say_inches(row_width)} in",
            )
        width = row_width
        total += lying[0][1]
    return width or Fraction(0), total


def _read_binding(table: Table, default: Binding | None = None) -> Binding:
    if "binding" not in table.data:
        return default or Binding()
    place = table.table("binding")
    place.only("strip", "fabric")
    return Binding(place.inches("strip", default="2 1/2"), place.text("fabric", default="binding"))


def _read_quilt(
    table: Table,
    size: PatternSize,
    tile: tuple[tuple[Placed, ...], ...],
    units: Mapping[str, Unit],
    binding: Binding,
) -> Quilt | None:
    table.only("rows", "across", "down", "border", "binding")
    if "rows" in table.data:
        if "across" in table.data or "down" in table.data:
            table.fail("rows", "either rows, or across and down, not both")
        rows = _read_rows(table, "rows", units)
    elif "across" in table.data or "down" in table.data:
        if not tile:
            table.fail("across", "a [layout] with a tile to repeat")
        across = table.whole("across", least=1, most=100)
        down = table.whole("down", least=1, most=100)
        rows = tuple(
            tuple(tile[r % len(tile)][c % len(tile[r % len(tile)])] for c in range(across))
            for r in range(down)
        )
    else:
        return None
    sizes = {name: (unit.width, unit.height) for name, unit in units.items()}
    key = "rows" if "rows" in table.data else "across"
    if _count_patches(rows, units) > _MOST_PATCHES:
        table.fail(key, f"a quilt of at most {_MOST_PATCHES} patches")
    width, height = _measure(table, key, rows, sizes)
    borders = []
    for place in table.tables("border", most=12):
        place.only("name", "width", "fabric")
        border = Border(place.text("name"), place.inches("width"), place.text("fabric"))
        width, height = width + 2 * border.width, height + 2 * border.width
        borders.append(border)
    if size.finished is not None and size.finished != (width, height):
        table.fail(
            "finished",
            f"what the units and borders come to, {say_inches(width)} by {say_inches(height)} in, "
            f"not {say_inches(size.finished[0])} by {say_inches(size.finished[1])}",
        )  # fmt: skip
    return Quilt(size.name, rows, tuple(borders), _read_binding(table, binding), width, height)
