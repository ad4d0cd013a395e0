"""Out as JSON and CSV and back in: the same; and what is wrong is said with its place."""

import csv
import io
import json
from dataclasses import replace
from fractions import Fraction
from importlib.resources import files

import jsonschema
import numpy as np
import pytest
import referencing
import referencing.jsonschema
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from colorcore.errors import StashError
from colorcore.stash import AMOUNT_UNITS, Kind, Stash
from colorcore.stash.csv_files import COLUMNS, export_csv, read_csv
from colorcore.stash.exchange import import_csv, import_json
from colorcore.stash.json_files import export_json, read_json
from tests.stash.making import make_entry, make_swatch

TEXT = st.text(
    alphabet=st.characters(blacklist_categories=("Cs",), blacklist_characters="\n\r\x00"),
    max_size=30,
)
LINES = st.text(alphabet=st.characters(blacklist_categories=("Cs",)), max_size=40)
NUMBER = st.floats(-120, 120, allow_nan=False).map(lambda v: round(v, 3))
POSITIVE = st.floats(0, 100).map(lambda v: round(v, 3))


@st.composite
def entries(draw):
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    scale = draw(st.none() | POSITIVE)
    swatch = make_swatch(
        (draw(POSITIVE), draw(NUMBER), draw(NUMBER)),
        lab_sd=(draw(POSITIVE), draw(POSITIVE), draw(POSITIVE)),
        value_spread=draw(POSITIVE),
        print_scale_inches=scale,
        reads_as_solid=draw(st.booleans()),
        picture=rng.integers(0, 256, (24, 24, 3)).astype(np.uint8),
        valid=rng.random((24, 24)) < 0.7 if draw(st.booleans()) else None,
    )
    return make_entry(
        draw(TEXT.filter(str.strip)),
        kind=draw(st.sampled_from(Kind)),
        amount=draw(st.fractions(0, 1000, max_denominator=64)),
        unit=draw(st.sampled_from(AMOUNT_UNITS)),
        place=draw(LINES),
        note=draw(LINES),
        swatch=swatch,
        reference=draw(st.sampled_from(["none", "paper", "chart+paper"])),
        trust=draw(st.sampled_from("ABCD")),
        source=draw(st.just("") | st.uuids().map(str)),
    )


def content(stash):
    """Everything that an export has to keep."""
    return [
        (replace(e, id=0, added=""), stash.picture(e.id), stash.swatch(e.id).corners)
        for e in stash.entries()
    ]


SLOW = settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])


@given(st.lists(entries(), max_size=5))
@SLOW
def test_json_comes_back_the_same(tmp_path_factory, new):
    folder = tmp_path_factory.mktemp("json")
    with Stash(folder / "one.sqlite") as one, Stash(folder / "two.sqlite") as two:
        one.add_all(new)
        file = folder / "stash.json"
        file.write_bytes(b"".join(export_json(one)))
        done = import_json(two, file)
        assert len(done.added) == len(one.entries())
        assert content(two) == content(one)
        assert b"".join(export_json(two)) == file.read_bytes()
        again = import_json(two, file)
        assert (again.added, again.known) == ((), len(done.added))


@given(st.lists(entries(), max_size=5))
@SLOW
def test_csv_comes_back_the_same_in_all_that_it_holds(tmp_path_factory, new):
    folder = tmp_path_factory.mktemp("csv")
    with Stash(folder / "one.sqlite") as one, Stash(folder / "two.sqlite") as two:
        one.add_all(new)
        file = folder / "stash.csv"
        file.write_bytes(export_csv(one))
        import_csv(two, file)
        assert export_csv(two) == file.read_bytes()
        again = import_csv(two, file)
        assert (again.added, again.changed) == ((), ())


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "'=1", "''x", "it's"])
def test_no_cell_is_run_as_a_formula(tmp_path, text):
    with Stash(tmp_path / "s.sqlite") as stash:
        stash.add(make_entry(f"{text} cloth", note=text, place=text))
        (tmp_path / "s.csv").write_bytes(export_csv(stash))
        head, row = csv.reader(io.StringIO((tmp_path / "s.csv").read_text("utf-8-sig")))
        for column, value in zip(head, row, strict=True):
            if column not in ("L*", "a*", "b*"):
                assert value[:1] not in ("=", "+", "-", "@", "\t")
        back = read_csv(tmp_path / "s.csv")[0]
        assert (back.note, back.place) == (text, text)
        assert back.name.strip() == f"{text} cloth".strip()


def test_a_spreadsheet_corrects_amount_place_and_note(tmp_path):
    with Stash(tmp_path / "s.sqlite") as stash:
        stash.add_all([make_entry("Fir", source="x#0"), make_entry("Moss")])
        text = export_csv(stash).decode("utf-8-sig")
        table = list(csv.DictReader(io.StringIO(text)))
        table[0]["amount"], table[0]["place"] = "0.25", "blue box"
        table[0]["name"] = "anything"  # found by its source
        table.append({**table[1], "name": "New one", "amount": "1 1/2", "a*": "12.5"})
        file = tmp_path / "edited.csv"
        with open(file, "w", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, COLUMNS)
            writer.writeheader()
            writer.writerows(table)
        done = import_csv(stash, file)
        assert (done.added, done.changed, done.known) == (("New one",), ("Fir",), 1)
        fir = stash.entry("Fir")
        assert (fir.amount, fir.place) == (Fraction(1, 4), "blue box")
        assert stash.entry("New one").lab[1] == 12.5
        stash.undo()
        assert stash.entry("Fir").amount == Fraction(3, 2)
        assert len(stash.entries()) == 2


HEAD = "name,kind,amount,unit,L*,a*,b*"


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["name,kind"], "line 1: the column 'amount' is missing"),
        ([""], "line 1: the column 'name' is missing"),
        ([HEAD + ",name"], "line 1: the column 'name' is there twice"),
        ([HEAD, "Fir,cloth,1,yards,1,2,3"], "line 2, column kind: expected one of fabric"),
        ([HEAD, "Fir,fabric,x,yards,1,2,3"], "line 2, column amount: expected an amount"),
        ([HEAD, "Fir,fabric,-1,yards,1,2,3"], "line 2, column amount"),
        ([HEAD, "Fir,fabric,1/0,yards,1,2,3"], "line 2, column amount"),
        ([HEAD, "Fir,fabric,1,miles,1,2,3"], "line 2, column unit"),
        ([HEAD, "Fir,fabric,1,yards,1,2,3", "", "Fir,fabric,1,yards,nan,2,3"],
         "line 4, column L*: expected a number from -1 to 200, got 'nan'"),
        ([HEAD, "Fir,fabric,1,yards,1,2"], "line 2, column b*"),
        ([HEAD, "Fir,fabric,1,yards,1,2,3,4"], "line 2: 8 cells but 7 columns"),
        ([HEAD, ",fabric,1,yards,1,2,3"], "line 2, column name"),
        ([HEAD, '"a\nb",fabric,1,yards,1,2,3'], "line 3, column name"),
        ([HEAD, '"Fir,fabric,1,yards,1,2,3'], "no CSV"),
        ([HEAD, "Fir,fabric,99999999,yards,1,2,3"], "line 2, column name: Fir: an amount"),
    ],
)  # fmt: skip
def test_a_wrong_csv_says_where(tmp_path, lines, said):
    (tmp_path / "s.csv").write_text("\n".join(lines), encoding="utf-8")
    with Stash(tmp_path / "s.sqlite") as stash:
        with pytest.raises(StashError) as caught:
            import_csv(stash, tmp_path / "s.csv")
        assert said in str(caught.value)
        assert str(caught.value).startswith("s.csv")
        assert stash.entries() == []


def test_a_row_in_another_unit_is_refused(tmp_path):
    with Stash(tmp_path / "s.sqlite") as stash:
        stash.add(make_entry("Fir"))
        (tmp_path / "s.csv").write_text(
            f"{HEAD}\nMoss,solid,1,yards,1,2,3\nfir,fabric,1,squares,1,2,3"
        )
        with pytest.raises(StashError, match="line 3, column unit: Fir is kept in yards"):
            import_csv(stash, tmp_path / "s.csv")
        assert [e.name for e in stash.entries()] == ["Fir"]


def spoiled(path, value):
    def spoil(record):
        at = record
        for key in path[:-1]:
            at = at[key]
        at[path[-1]] = value
        return record

    return spoil


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("schema",), "other-1", "schema"),
        (("entries",), {}, "entries: expected a list"),
        (("entries", 1, "kind"), "cloth", "entries[1].kind"),
        (("entries", 1, "amount"), "two", "entries[1].amount"),
        (("entries", 1, "amount"), 2, "entries[1].amount"),
        (("entries", 1, "unit"), "miles", "entries[1].unit"),
        (("entries", 1, "name"), " ", "entries[1].name"),
        (("entries", 1, "note"), "n" * 5000, "entries[1]"),
        (("entries", 1, "measured", "lab"), [1, 2], "entries[1].measured.lab"),
        (("entries", 1, "measured", "picture"), "data:image/jpeg;base64,AAAA", "picture"),
    ],
)  # fmt: skip
def test_a_wrong_json_says_where(tmp_path, path, value, said):
    with Stash(tmp_path / "s.sqlite") as stash:
        stash.add_all([make_entry("Fir"), make_entry("Moss")])
        record = json.loads(b"".join(export_json(stash)))
    (tmp_path / "s.json").write_text(json.dumps(spoiled(path, value)(record)))
    with Stash(tmp_path / "new.sqlite") as empty:
        with pytest.raises(StashError) as caught:
            import_json(empty, tmp_path / "s.json")
        assert said in str(caught.value)
        assert empty.entries() == []


def test_what_is_no_file_of_ours(tmp_path):
    (tmp_path / "cut.json").write_text('{"schema": "bundlestacks-stash-1",\n "entries": [')
    with pytest.raises(StashError, match="line 2, column"):
        read_json(tmp_path / "cut.json")
    (tmp_path / "latin.csv").write_bytes(HEAD.encode() + b"\nGr\xfcn,solid,1,yards,1,2,3")
    with pytest.raises(StashError, match="UTF-8"):
        read_csv(tmp_path / "latin.csv")
    with pytest.raises(StashError, match="cannot be read"):
        read_json(tmp_path / "none.json")
    (tmp_path / "deep.json").write_text("[" * 200_000)
    with pytest.raises(StashError):
        read_json(tmp_path / "deep.json")
    (tmp_path / "long.json").write_text('{"schema": ' + "1" * 5000 + "}")
    with pytest.raises(StashError, match="thousands of digits"):
        read_json(tmp_path / "long.json")


def test_an_export_follows_the_schema(tmp_path):
    schemas = files("colorcore").joinpath("schema")
    stash_schema, bundle_schema = (
        json.loads(schemas.joinpath(f"{name}.schema.json").read_text("utf-8"))
        for name in ("stash", "bundle")
    )
    jsonschema.Draft202012Validator.check_schema(stash_schema)
    resource = referencing.Resource.from_contents(
        bundle_schema, default_specification=referencing.jsonschema.DRAFT202012
    )
    registry = referencing.Registry().with_resource("bundlestacks-bundle-1", resource)
    validator = jsonschema.Draft202012Validator(stash_schema, registry=registry)
    with Stash(tmp_path / "s.sqlite") as stash:
        stash.add_all(
            [make_entry("Fir"), make_entry("Thread", kind=Kind.THREAD, unit="spools", trust="D")]
        )
        record = json.loads(b"".join(export_json(stash)))
    validator.validate(record)
    record["entries"][0]["unit"] = "miles"
    assert not validator.is_valid(record)
    assert stash_schema["$defs"]["entry"]["properties"]["unit"]["enum"] == list(AMOUNT_UNITS)
