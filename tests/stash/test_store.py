"""Keeping, finding, changing and giving back."""

import sqlite3
from fractions import Fraction

import numpy as np
import pytest

from colorcore.errors import StashError
from colorcore.stash import Kind, Stash
from colorcore.stash.wording import mentions
from tests.stash.making import make_entry, make_swatch


@pytest.fixture
def stash(tmp_path):
    with Stash(tmp_path / "stash.sqlite") as opened:
        yield opened


def test_what_is_kept_comes_back(stash):
    swatch = make_swatch((30.0, -12.0, 8.0), flags=("glare",))
    kept = stash.add(make_entry("Fir", swatch=swatch, source="abc#1"))
    assert (kept.name, kept.kind, kept.amount, kept.unit) == (
        "Fir", Kind.FABRIC, Fraction(3, 2), "yards",
    )  # fmt: skip
    assert kept.lab == (30.0, -12.0, 8.0)
    back = stash.swatch("fir")
    assert (back.lab, back.flags, back.id) == (swatch.lab, ("glare",), "Fir")
    assert np.abs(back.picture.astype(int) - swatch.picture).max() <= 3


def test_kept_on_disk_for_the_next_program(tmp_path):
    with Stash(tmp_path / "s.sqlite") as first:
        first.add(make_entry("Fir"))
    with Stash(tmp_path / "s.sqlite", read_only=True) as second:
        assert [e.name for e in second.entries()] == ["Fir"]
        with pytest.raises(StashError, match="only be read"):
            second.remove("Fir")


def test_names_are_unique_and_found_in_any_case(stash):
    assert [stash.add(make_entry("Fir")).name for _ in range(3)] == ["Fir", "Fir 2", "Fir 3"]
    assert stash.entry("FIR 2").name == "Fir 2"
    with pytest.raises(StashError, match="in the stash already"):
        stash.rename("Fir 3", "fir")
    assert stash.rename("Fir 3", "Moss").name == "Moss"


@pytest.mark.parametrize(
    ("kept", "others"),
    [
        ("ÉTOILE filante", ("étoile", "Étoile Filante", "E\u0301toile")),
        ("Äpfel", ("äPFEL", "pfel")),
        ("Straße", ("STRAßE", "STRAẞE", "STRASSE")),
        ("STRASSE", ("Straße",)),
        ("ΣΑΣ", ("σας",)),
    ],
)
def test_letters_with_accents_are_found_in_any_case(stash, kept, others):
    stash.add(make_entry("Harbour blue", place="Regal"))
    number = stash.add(make_entry(kept, place="Kiste Ö")).id
    for text in (*others, "kiste ö", kept):
        assert [e.id for e in stash.entries(text=text)] == [number]
    assert stash.entry(kept.swapcase()).id == number
    assert stash.knows(kept.lower())
    assert not stash.knows(f"{kept}é")
    twin = stash.add(make_entry(kept.swapcase()))
    assert stash.entry(kept).id == number, "first the one as it is written"
    assert stash.entry(twin.name).id == twin.id


@pytest.mark.parametrize(
    ("kept", "others"),
    [
        ("Köping", ("koping", "KOPING", "köping", "ko\u0308ping", "kōping")),
        ("Koping", ("Köping", "KÖPING")),
        ("Bjørnebær", ("bjornebaer", "BJØRNEBÆR", "bjørnebaer")),
        ("Bjornebaer", ("Bjørnebær",)),
        ("Łódź", ("lodz", "łodz", "ŁÓDŹ")),
        ("Weiße Rübe", ("weisse rube", "WEISSE RÜBE", "weiße rube")),
        ("Ivory œillet", ("oeillet", "Œillet")),
        ("Kırmızı", ("kirmizi", "KIRMIZI")),
        ("Æther þyme đak", ("aether", "thyme", "dak")),
        ("Ёлка", ("ёлка", "ЁЛКА")),
    ],
)
def test_letters_are_found_with_and_without_their_accents(stash, kept, others):
    stash.add(make_entry("Harbour blue", place="Regal"))
    number = stash.add(make_entry(kept)).id
    noted = stash.add(make_entry("Fir", note=f"beside {kept}")).id
    for text in (*others, kept):
        assert {e.id for e in stash.entries(text=text)} == {number, noted}
        assert {e.name for e in stash.entries() if mentions(e, text)} == {"Fir", kept}
    assert stash.entries(text="köpenick") == []


def test_names_that_differ_in_an_accent_are_two(stash):
    first, second = (stash.add(make_entry(name)) for name in ("Köping", "Koping"))
    assert (first.name, second.name) == ("Köping", "Koping")
    assert stash.entry("köping").id == first.id
    assert stash.entry("koping").id == second.id
    with pytest.raises(StashError, match="did you mean"):
        stash.entry("kóping")


def test_what_stands_in_a_text_is_looked_for_as_it_is_written(stash):
    for name in ("100% wool", "100 wool", "fold_1", "fold 1", "back\\slash", "Bäck\\slash"):
        stash.add(make_entry(name, note="Zwölf"))
    found = {
        text: [entry.name for entry in stash.entries(text=text)]
        for text in ("0%", "D_1", "K\\S", "%", "zw", "zWÖ", "z_", "é" * 60_000, "a" * 60_000)
    }
    every = [entry.name for entry in stash.entries()]
    assert found == {
        "0%": ["100% wool"], "D_1": ["fold_1"], "K\\S": ["Bäck\\slash", "back\\slash"],
        "%": ["100% wool"], "zw": every, "zWÖ": every, "z_": [], "é" * 60_000: [], "a" * 60_000: [],
    }  # fmt: skip


def test_a_wrong_name_suggests_near_ones(stash):
    stash.add(make_entry("Harbour blue"))
    with pytest.raises(StashError, match="did you mean 'Harbour blue'"):
        stash.entry("Harbor blue")


def test_using_and_undoing(stash):
    stash.add(make_entry("Fir"))
    assert stash.use("Fir", Fraction(1, 2)).amount == 1
    with pytest.raises(StashError, match="only 1 yard left"):
        stash.use("Fir", Fraction(5, 4))
    assert "used ½ yard" in stash.undo()
    assert stash.entry("Fir").amount == Fraction(3, 2)


def test_removing_and_undoing(stash):
    stash.add(make_entry("Fir", source="x#0"))
    stash.remove("Fir")
    assert stash.entries() == []
    assert [e.name for e in stash.entries(removed=True)] == ["Fir"]
    stash.add(make_entry("Fir"))
    stash.undo()
    stash.undo()
    assert [e.name for e in stash.entries()] == ["Fir"]
    stash.undo()
    assert stash.entries() == []
    with pytest.raises(StashError, match="nothing to undo"):
        stash.undo()


def test_a_source_is_added_once(stash):
    first = stash.add(make_entry("Fir", source="x#0"))
    assert stash.add(make_entry("Other", source="x#0")).id == first.id
    assert stash.sources() == {"x#0"}
    stash.remove("Fir")
    assert stash.add(make_entry("Other", source="x#0")).id != first.id
    stash.undo()
    stash.undo()
    assert stash.entry("Fir").id == first.id


def test_all_or_none(stash):
    def broken():
        yield make_entry("Fir")
        raise RuntimeError("pulled the plug")

    with pytest.raises(RuntimeError):
        stash.add_all(broken())
    assert stash.entries() == []


def test_colors_for_searching(stash):
    stash.add(make_entry("dark", swatch=make_swatch((20.0, 1.0, 2.0))))
    stash.add(make_entry("thread", kind=Kind.THREAD, unit="spools"))
    stash.add(make_entry("light", kind=Kind.SOLID, swatch=make_swatch((90.0, 3.0, 4.0))))
    numbers, labs = stash.colors()
    assert labs.tolist() == [[20.0, 1.0, 2.0], [90.0, 3.0, 4.0]]
    assert [stash.entry(int(n)).name for n in numbers] == ["dark", "light"]


@pytest.mark.parametrize(
    "changes",
    [{"name": " "}, {"name": "a\nb"}, {"name": "x" * 201}, {"amount": Fraction(-1)},
     {"unit": "miles"}, {"note": "n" * 3000}],
)  # fmt: skip
def test_entries_that_cannot_be(changes):
    with pytest.raises(StashError):
        make_entry(**{"name": "Fir", **changes})


def test_backup(stash, tmp_path):
    stash.add(make_entry("Fir"))
    stash.backup(tmp_path / "copy.sqlite")
    with Stash(tmp_path / "copy.sqlite") as copy:
        assert [e.name for e in copy.entries()] == ["Fir"]
    with pytest.raises(StashError):
        stash.backup(stash.path)
    with pytest.raises(StashError, match=r"cannot be (written|opened)"):
        stash.backup(tmp_path / "nowhere" / "copy.sqlite")


def test_files_that_are_no_stash(tmp_path):
    (tmp_path / "text.sqlite").write_text("hello, this is no database at all" * 50)
    with pytest.raises(StashError, match="not a stash"):
        Stash(tmp_path / "text.sqlite")
    other = sqlite3.connect(tmp_path / "other.sqlite")
    other.execute("CREATE TABLE t (x)")
    other.commit()
    other.close()
    with pytest.raises(StashError, match="not a stash"):
        Stash(tmp_path / "other.sqlite")
    with pytest.raises(StashError, match="no such stash"):
        Stash(tmp_path / "none.sqlite", read_only=True)


def test_a_newer_stash_is_left_alone(tmp_path):
    with Stash(tmp_path / "s.sqlite") as made:
        made.add(make_entry("Fir"))
    db = sqlite3.connect(tmp_path / "s.sqlite")
    db.execute("PRAGMA user_version = 99")
    db.close()
    with pytest.raises(StashError, match="newer version"):
        Stash(tmp_path / "s.sqlite")


def test_a_second_program_reads_while_one_writes(tmp_path):
    with Stash(tmp_path / "s.sqlite") as one, Stash(tmp_path / "s.sqlite") as two:
        one.add(make_entry("Fir"))
        with one._file.change():
            assert [e.name for e in two.entries()] == ["Fir"]


def test_every_change_is_told_apart_from_all_before(tmp_path):
    """What was made before a change is known as old: also over undo, and in another program."""
    with Stash(tmp_path / "s.sqlite") as stash, Stash(tmp_path / "s.sqlite") as other:
        seen = [stash.newest_change()]

        def changed() -> None:
            assert other.newest_change() == stash.newest_change()
            seen.append(other.newest_change())

        stash.add(make_entry("Fir"))
        changed()
        stash.rename("Fir", "Moss")
        changed()
        stash.undo()
        changed()
        stash.rename("Fir", "Moss")
        changed()
        stash.remove("Moss")
        changed()
        stash.undo()
        changed()
        assert len(set(seen)) == len(seen)
        stash.entries()
        assert stash.newest_change() == seen[-1], "looking is no change"


def test_changes_made_together_are_kept_and_undone_together(tmp_path):
    with Stash(tmp_path / "s.sqlite") as stash:
        stash.add_all([make_entry("one"), make_entry("two")])

        def rename_and_use_too_much() -> None:
            with stash.together():
                stash.rename("one", "three")
                stash.use("two", Fraction(9))

        with pytest.raises(StashError, match="only"):
            rename_and_use_too_much()
        assert [e.name for e in stash.entries()] == ["one", "two"]
        with stash.together():
            stash.rename("one", "three")
            stash.use("two", Fraction(1))
        assert [(e.name, e.amount) for e in stash.entries()] == [
            ("three", Fraction(3, 2)), ("two", Fraction(1, 2)),
        ]  # fmt: skip
        stash.undo()
        assert [(e.name, e.amount) for e in stash.entries()] == [
            ("one", Fraction(3, 2)), ("two", Fraction(3, 2)),
        ]  # fmt: skip
        stash.rename("one", "alone")
        assert stash.undo() == "renamed one to alone"
