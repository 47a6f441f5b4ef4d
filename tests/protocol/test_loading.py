"""Loading a good protocol: what is kept, where it stands, and how fast."""

import datetime as dt
import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from validate.protocol.loading import load_protocol
from validate.protocol.recorded import recorded_only

SAMPLE = Path(__file__).parent / "sample.yaml"


@pytest.fixture
def sample(kinds):
    loaded = load_protocol(SAMPLE, kinds)
    assert loaded.problems == ()
    return loaded


def test_every_value_is_typed_as_declared(sample):
    protocol = sample.protocol
    assert (protocol.format, protocol.edition, protocol.issued) == (1, "1", dt.date(2031, 3, 3))
    assert (protocol.method.scope.from_, protocol.method.scope.to) == (1.0, 40.0)
    assert protocol.method.defined_by_method is False
    assert protocol.materials["standard"].U.to("µg/mL") == pytest.approx(0.03)
    assert protocol.readiness.shelf_life["extraction solvent"].lasts.to("h") == 240
    assert protocol.studies["recovery-in-coffee"].design.levels == ("1", "2.5", "5", "10", "40")
    assert protocol.studies["recovery-in-coffee"].accept["rsd_intermediate"].at_most == 15.0


def test_one_set_and_a_list_of_sets_are_both_a_tuple(sample, load):
    assert sample.protocol.use == ("eu-2023-2782",)
    text = SAMPLE.read_text(encoding="utf-8").replace("use: eu-2023-2782", "use: [a, b]")
    assert load(text).protocol.use == ("a", "b")


def test_cells_of_amendments_stay_as_written(sample):
    """`9.10` is compared with a cell of a table, where it is text too."""
    amendment = sample.protocol.amendments[0]
    assert (amendment.old, amendment.where) == ("9.10", {"sample": "17"})


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        (("method", "unit"), "µg/kg"),
        (("method", "scope", "from_"), "1, to: 40}"),
        (("studies", "recovery-in-coffee"), "recovery-in-coffee:"),
        (("studies", "recovery-in-coffee", "design", "levels", 1), "2.50, 5, 10, 40]"),
        (("studies", "recovery-in-coffee", "design", "levels"), "levels: [1"),
        (("studies", "recovery-in-coffee", "accept", "rsd_r"), "rsd_r: {per"),
        (("studies", "recovery-in-coffee", "data", "columns", "found"), "result, added"),
        (("studies", "recovery-in-coffee", "data", "file", "no", "such"), "recovery.csv, columns"),
        (("use", 0), "eu-2023-2782"),
        (("amendments", 0, "where"), "where: {sample: 17}"),
        (("exclusions", 0), "{data: recovery.csv, where: {sample: R-018"),
        (("nothing",), "format: 1"),
        ((), "format: 1"),
    ],
)
def test_the_place_of_a_key_path_is_its_text_or_the_key_of_the_nearest_group(sample, keys, text):
    place = sample.place(*keys)
    assert place.file == SAMPLE.as_posix()
    line = SAMPLE.read_text(encoding="utf-8").splitlines()[place.line - 1]
    assert line[place.column - 1 :].startswith(text)


def test_the_protocol_as_plain_data_goes_through_json(sample):
    data = sample.protocol.model_dump(mode="json", by_alias=True, exclude_none=True)
    assert json.loads(json.dumps(data)) == data
    assert data["method"]["portion"]["weigh"] == "20 g"
    assert data["method"]["scope"] == {"from": 1.0, "to": 40.0}
    assert data["studies"]["days"] == {
        "kind": "grouped",
        "days": 6,
        "claimed": {"5": 0.3},
        "accept": {},
        "minimum_design": [],
    }


def test_what_no_study_uses_is_listed_in_words(sample):
    texts = {entry.key: entry.text for entry in recorded_only(sample.protocol)}
    assert list(texts) == ["materials.standard"]
    assert texts["materials.standard"].startswith("solution; 1000 ng/mL, U = 30 ng/mL (k = 2); certificate: invented")
    rules_alone = recorded_only(sample.protocol.model_copy(update={"runs": None}))[-1]
    assert rules_alone.key == "readiness"
    assert "calibration not older than 12 h; check standard between 9 and 11" in rules_alone.text


def test_text_that_other_readers_turn_into_something_else_stays_text(load):
    text = SAMPLE.read_text(encoding="utf-8")
    text = text.replace("supersedes: OTA-GC-00", "supersedes: NO").replace("title: Recovery in coffee", "title: 1:30")
    loaded = load(text.replace("id: OTA-GC-01", "id: 0x1F").replace("edition: 1", "edition: 08"))
    protocol = loaded.protocol
    assert (protocol.supersedes.title, protocol.id, protocol.edition) == ("NO", "0x1F", "08")
    assert protocol.studies["recovery-in-coffee"].title == "1:30"


def test_a_folder_stands_for_its_protocol_and_the_path_is_shown_as_typed(tmp_path, kinds, monkeypatch):
    (tmp_path / "coffee").mkdir()
    (tmp_path / "coffee" / "protocol.yaml").write_bytes(SAMPLE.read_bytes())
    monkeypatch.chdir(tmp_path)
    loaded = load_protocol(Path("coffee"), kinds)
    assert (loaded.shown, loaded.shown_folder) == ("coffee/protocol.yaml", "coffee")
    assert loaded.content == SAMPLE.read_bytes()
    monkeypatch.chdir("coffee")
    assert load_protocol(Path("protocol.yaml"), kinds).shown_folder == ""


@pytest.mark.parametrize(
    "convert", [lambda b: b"\xef\xbb\xbf" + b, lambda b: b.replace(b"\n", b"\r\n")], ids=["BOM", "CRLF"]
)
def test_byte_order_mark_and_line_ends_change_no_value_and_no_place(load, sample, convert):
    loaded = load(convert(SAMPLE.read_bytes()))
    assert loaded.protocol == sample.protocol
    assert loaded.place("method", "unit").line == 18


def test_an_error_across_sound_parts_leaves_the_protocol_for_the_check_of_tables(load):
    text = SAMPLE.read_text(encoding="utf-8").replace("10, 40]", "10, 41]")
    loaded = load(text)
    assert [problem.code for problem in loaded.problems] == ["level-outside-scope"]
    assert loaded.protocol is not None


def test_fifty_studies_load_in_half_a_second(load):
    head, rest = SAMPLE.read_text(encoding="utf-8").split("studies:\n")
    body, tail = rest.split("amendments:\n")
    study = body.split("  days:\n")[0]
    studies = "".join(study.replace("recovery-in-coffee", f"study-{i}") for i in range(50))
    text = f"{head}studies:\n{studies}amendments:\n{tail}"
    load(text)
    started = time.perf_counter()
    loaded = load(text)
    assert time.perf_counter() - started < 0.5
    assert len(loaded.protocol.studies) == 50


def test_loading_imports_no_heavy_library():
    code = (
        "import sys; from pathlib import Path; from validate.protocol.loading import load_protocol;"
        f"load_protocol(Path({str(SAMPLE)!r}), {{}});"
        "sys.exit(', '.join({'pandas', 'scipy', 'pint', 'statsmodels', 'matplotlib', 'numpy'} & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
