"""The sheet's last pages: putting together, finishing, shopping."""

from colorcore.cutting.yardage import STRAIGHTENING
from colorcore.lengths import Measure
from colorcore.making import Making, YardageNeed
from colorcore.pattern.sewing import BACKGROUND
from colorcore.wording import count, listing


def assembly(making: Making, say: Measure) -> tuple[str, ...]:
    """Return the steps from units to a top, borders last."""
    sections = [u for u in making.layout.units.values() if u.is_section]
    steps = ["Sew all units first; lay each beside its address, and check it against the map."]
    if sections:
        steps.append(
            f"Join the units of each section ({listing([s.name for s in sections])}) as its recipe "
            "shows."
        )
    steps += [
        "Lay the whole top out, row by row, and step back before any long seam.",
        "Sew each row from left to right and press as its line says.",
        "Join row 1 to row 2, row 3 to row 4 and so on, then the pairs, so that no long seam is "
        "handled more often than it must.",
    ]
    for border in making.layout.quilt.borders:
        width = say.length(border.width)
        steps.append(
            f"{border.name.capitalize()} ({width} finished): measure the top through its middle, "
            "cut two sides to that length, sew and press outward; then measure across, and do the "
            "same at top and bottom."
        )
    return tuple(steps)


def finishing(making: Making, say: Measure) -> tuple[str, ...]:
    """Return what to do with backing, batting and binding."""
    backing, binding = making.backing[0], making.binding
    lies = "upright" if backing.upright else "across"
    said = [
        f"Backing: {count(backing.panels, 'panel')} of "
        f"{say.length(backing.panel_length)} from yardage {say.length(making.choices.usable)} wide"
        + (f", joined with {'a seam' if backing.panels == 2 else 'seams'} {lies}; press open. "
           if backing.panels > 1 else ". ")
        + f"It comes to about {say.size(backing.size[0], backing.size[1])}.",
        f"Batting: {say.size(*making.batting)}; let it rest flat overnight.",
        f"Binding: {count(binding.strips, 'strip')} of {say.length(binding.height)}, "
        "joined on the diagonal, folded lengthwise, sewn to the front and turned to the back.",
    ]  # fmt: skip
    if len(making.backing) > 1 and making.backing[1].length != backing.length:
        other = making.backing[1]
        said.insert(
            1,
            f"The other way ({'upright' if other.upright else 'across'} seams) takes "
            f"{say.yardage(other.length)}.",
        )
    return tuple(said)


def to_buy(need: YardageNeed, say: Measure) -> tuple[str, str]:
    """Return what to buy of a yardage, and words on what of it is there already."""
    if need.enough is None:
        return say.yardage(need.to_buy), ""
    amount = say.yardage(need.to_buy) if need.to_buy else "nothing"
    where = " in your stash" if need.in_stash else ""
    have = f"you have {say.held(need.enough.have)} of it{where}"
    if need.enough.ok and need.enough.have < need.takes:
        # As long as its strips are together, and no longer.
        return amount, f", {say.held(need.length)} in all and none to straighten its ends; {have}"
    return amount, f", {say.yardage(need.takes)} in all; {have}"


def shopping(making: Making, say: Measure) -> tuple[tuple[str, str], ...]:
    """Return (amount, what) of all that has to be bought."""
    quilt = making.layout.quilt
    found = [
        (
            f"{sum(len(s.cuts) for s in making.cuts)} squares",
            "the bundle, dealt into its stacks",
        )
    ]
    for need in making.yardage:
        uses = []
        if need.strips.kinds:
            uses.append("patches")
        uses += [b.name for b in need.borders]
        if need.binding:
            uses.append("binding")
        name = making.plan.background.label if need.name == BACKGROUND else ""
        what = f"{need.name}{f' ({name})' if name else ''}"
        if uses != [need.name]:
            what += f": {listing(uses)}"
        amount, rest = to_buy(need, say)
        found.append((amount, what + rest))
    found += [
        (say.yardage(making.backing[0].length), "backing"),
        (say.size(*making.batting), "batting"),
        ("thread", "for piecing, a neutral between background and prints"
         + ("; for quilting, see Finishing" if making.threads else "")),
    ]  # fmt: skip
    if making.choices.shrinkage:
        found.append(("note", f"lengths allow for {making.choices.shrinkage:.0%} shrinkage"))
    if making.yardage:
        found.append(
            (
                "note",
                f"{say.length(STRAIGHTENING)} of each yardage are for straightening its ends; buy "
                "more if you want room for a mistake",
            )
        )
    if quilt.borders:
        found.append(("note", "borders are cut across the width and joined"))
    return tuple(found)


def footer(making: Making, say: Measure) -> str:
    """Return what stands below everything else."""
    trim = making.choices.trim
    said = [
        "Made by Bundle Stacks.",
        f"Pairing seed {making.pairing.seed}.",
        "Sizes are exact; cloth is not: check a first unit before all are cut.",
    ]
    if trim:
        said.append(f"Squares are trimmed by {say.length(trim)} on each edge first.")
    return " ".join(said)
