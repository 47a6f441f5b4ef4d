"""Design and criteria are declared before the data; a change shows, from what to what."""

import shutil
from pathlib import Path

import pytest

from tests.provenance.small import PROTOCOL, write_small
from validate.cli import main
from validate.pipeline import evaluate, prepare, render
from validate.provenance.seal import CODE_LETTERS, LETTERS, BrokenSeal, read_seal, seal_code, seal_text
from validate.vocabulary.evaluation import Evaluation

TOKENS = Path(__file__).parents[1] / "data" / "timestamps"
HASH = "1435b7e6e2f867fc652bed8cd43c67452f27b13beee863dd780437bc7c4381b0"
"""Of the small protocol: a later version must give the same, or a code in a notebook is worth nothing."""
LOG = "run,first reading,last reading\nA,{first} 09:30,{first} 11:00\nB,2031-03-20 08:00,2031-03-20 09:00\n"


@pytest.fixture
def protocol(tmp_path) -> Path:
    return write_small(tmp_path / "protocol")


def change(protocol: Path, old: str, new: str) -> None:
    path = protocol / "protocol.yaml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


def evaluated(protocol: Path) -> Evaluation:
    return evaluate(prepare(protocol))


def sealed(protocol: Path, *more: str) -> int:
    return main(["seal", str(protocol), *more])


def with_log(protocol: Path, first: str) -> None:
    (protocol / "runs.csv").write_text(LOG.format(first=first), "utf-8")
    columns = "{first_reading: first reading, last_reading: last reading}"
    change(protocol, "studies:", f"runs: {{file: runs.csv, columns: {columns}}}\nstudies:")


def test_seal_holds_hash_code_date_person_and_every_part_in_readable_text(protocol, capsys):
    assert sealed(protocol) == 0
    told = capsys.readouterr().out
    text = (protocol / "seal.yaml").read_text("utf-8")
    seal = read_seal(text.encode())
    assert (seal.hash, seal.on, seal.by) == (HASH, "2031-03-03", "B. Example")
    assert seal_code(HASH) in told and seal_code(HASH) in text
    assert "criteria / recovery/mean_recovery@5: 70 to 120 %, judged by the estimate" in text
    assert "studies / recovery / design / replicates: '3'" in text
    assert len(text) < 3000


def test_code_can_be_written_by_hand():
    """Four groups of five letters; none is a vowel, and none can be taken for a digit or another letter's like."""
    code = seal_code(HASH)
    assert [len(group) for group in code.split("-")] == [5, 5, 5, 5]
    assert set(code) <= set(LETTERS) | {"-"} and not set(LETTERS) & set("AEIOUY0123456789")
    assert len(LETTERS) ** CODE_LETTERS > 2**86


def test_date_and_person_may_be_given_and_no_clock_is_asked(protocol):
    assert sealed(protocol, "--date", "2031-02-28", "--by", "C. Else") == 0
    seal = read_seal((protocol / "seal.yaml").read_bytes())
    assert (seal.on, seal.by, seal.hash) == ("2031-02-28", "C. Else", HASH)


def test_seal_without_a_person_is_refused(protocol, capsys):
    change(protocol, "people: {planned: A. Example, approved: B. Example}\n", "")
    assert sealed(protocol) == 2
    assert "nobody is named" in capsys.readouterr().err and not (protocol / "seal.yaml").exists()


def test_what_is_no_date_is_refused(protocol, capsys):
    assert sealed(protocol, "--date", "soon") == 2
    assert '"soon" is not a date' in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("# Constructed for tests.", "# Another comment."),
        ("measurand: ochratoxin A, matrix: green coffee", "matrix: green coffee, measurand: ochratoxin A"),
        ("levels: [5]", "levels: [5.0]"),
        ("title: Recovery of three portions, constructed", "title: Another title"),
        ("people: {planned: A. Example,", "people: {planned: D. Other, measured: M. Vale,"),
        ("data: {file: recovery.csv}", "data: {file: recovery.csv, decimal: '.'}"),
        ("studies:", "amendments: [{data: recovery.csv, where: {sample: R-1}, column: found, old: 4.6, new: 4.7, "
         "by: A, on: 2031-03-12, reason: misread}]\nstudies:"),
    ],
    ids=["comment", "order", "spelling", "title", "people", "data", "amendment"],
)  # fmt: skip
def test_what_is_no_design_changes_nothing(protocol, old, new):
    sealed(protocol)
    change(protocol, old, new)
    assert evaluated(protocol).seal.unrevised == ()


@pytest.mark.parametrize(
    ("old", "new", "part", "before", "after"),
    [
        ("replicates: 3", "replicates: 6", "studies / recovery / design / replicates", "3", "6"),
        ("      rsd_r: {per: level}\n", "", "criteria / recovery/rsd_r@5", "at most 20 %, judged by the estimate; "
         "Commission Implementing Regulation (EU) 2023/2782, Annex II 4.3", ""),
        ("rsd_r: {per: level}", "rsd_r: {per: level, at_most: 40, judge_by: estimate, source: own, reason: x, "
         "overrides: eu-2023-2782}", "criteria / recovery/rsd_r@5", None, "at most 40 %, judged by the estimate; "
         "the laboratory's own"),
        ("spiked before extraction", "spiked extract", "studies / recovery / contamination",
         "spiked before extraction", "spiked extract"),
    ],
    ids=["design", "criterion removed", "criterion loosened", "preparation"],
)  # fmt: skip
def test_later_change_is_told_from_what_to_what(protocol, old, new, part, before, after):
    sealed(protocol)
    change(protocol, old, new)
    prepared = prepare(protocol)
    [found] = [item for item in evaluate(prepared).seal.unrevised if item.part == part]
    assert found.after == after and (before is None or found.before == before)
    assert any(problem.code == "seal-changed" for problem in prepared.problems)


def test_revision_records_reason_date_and_every_change(protocol, capsys):
    sealed(protocol)
    change(protocol, "replicates: 3", "replicates: 6")
    assert sealed(protocol, "--revise", "--reason", "more results for a verdict", "--date", "2031-03-05") == 0
    assert "revision 1 with 1 changed parts" in capsys.readouterr().out
    seal = evaluated(protocol).seal
    assert seal.unrevised == () and seal.code == seal_code(HASH)
    [revision] = seal.revisions
    assert (revision.on, revision.reason) == ("2031-03-05", "more results for a verdict")
    assert [(c.before, c.after) for c in revision.changes] == [("3", "6")]
    change(protocol, "replicates: 6", "replicates: 5")
    sealed(protocol, "--revise", "--reason", "less", "--date", "2031-03-06", "--by", "C. Else")
    assert [r.by for r in evaluated(protocol).seal.revisions] == ["B. Example", "C. Else"]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--revise"], "needs --reason and --date"),
        (["--revise", "--reason", "x", "--date", "2031-03-05"], "design and criteria are as seal.yaml says"),
        ([], "seal.yaml is already there"),
    ],
)
def test_second_seal_and_empty_revision_are_refused(protocol, capsys, arguments, message):
    sealed(protocol)
    before = (protocol / "seal.yaml").read_bytes()
    assert sealed(protocol, *arguments) == 2
    assert message in capsys.readouterr().err
    assert (protocol / "seal.yaml").read_bytes() == before


def test_revision_before_the_seal_is_refused(protocol, capsys):
    sealed(protocol)
    change(protocol, "replicates: 3", "replicates: 6")
    assert sealed(protocol, "--revise", "--reason", "x", "--date", "2031-03-01") == 2
    assert "dated 2031-03-01" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("first", "order"), [("2031-03-04", "before"), ("2031-03-03", "same day"), ("2031-03-02", "after")]
)
def test_declared_date_stands_against_the_first_measurement_of_the_run_log(protocol, first, order):
    with_log(protocol, first)
    sealed(protocol)
    seal = evaluated(protocol).seal
    assert (seal.first_measurement, seal.order) == (first, order)


def test_revision_after_the_first_measurement_is_marked_so(protocol):
    with_log(protocol, "2031-03-10")
    sealed(protocol)
    change(protocol, "replicates: 3", "replicates: 6")
    sealed(protocol, "--revise", "--reason", "the results were too few", "--date", "2031-03-12")
    assert evaluated(protocol).seal.revisions[0].order == "after"


def page(protocol: Path) -> str:
    prepared = prepare(protocol)
    return render(prepared, evaluate(prepared), with_pdf=False).files["dossier.html"].decode()


def test_dossier_says_when_it_was_declared_and_what_that_proves(protocol):
    assert "Not sealed" in page(protocol)
    sealed(protocol)
    text = page(protocol)
    assert "nothing says when measuring began" in text and seal_code(HASH) in text
    assert "A declared date proves nothing by itself" in text and "as they were sealed" in text
    change(protocol, "replicates: 3", "replicates: 6")
    assert "no reason recorded" in page(protocol)


def test_seal_travels_with_the_dossier_and_recomputes(protocol, tmp_path):
    sealed(protocol)
    assert main(["dossier", str(protocol), "--out", str(tmp_path / "out")]) == 0
    assert main(["recompute", str(tmp_path / "out" / "dossier.pdf")]) == 0


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("replicates: '3'", "replicates: '6'"),
        ("70 to 120 %", "50 to 120 %"),
        (f"hash: {HASH}", f"hash: {'0' * 64}"),
        ("code: CPPPD", "code: BBBBB"),
        ("format: 1", "format: 2"),
        ("protocol: SMALL-01", "protocol: OTHER-02"),
        ("by: B. Example", "by: ''"),
        ("date: '2031-03-03'", "date: '2031-02-30'"),
        ("sealed:", "sealed: [\nx:"),
        ("use: '", "use: &a '"),
        ("revisions: []", "revisions: [{date: '2031-03-05'}]"),
    ],
)
def test_edited_seal_is_a_problem_and_not_a_traceback(protocol, capsys, old, new):
    sealed(protocol)
    text = (protocol / "seal.yaml").read_text("utf-8")
    assert old in text
    (protocol / "seal.yaml").write_text(text.replace(old, new, 1), "utf-8")
    code = main(["check", str(protocol)])
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert code == (0 if new.startswith("use: &a") else 2) and ("seal.yaml" in told or code == 0)


def test_edited_revision_is_found(protocol):
    sealed(protocol)
    change(protocol, "replicates: 3", "replicates: 6")
    sealed(protocol, "--revise", "--reason", "x", "--date", "2031-03-05")
    text = (protocol / "seal.yaml").read_text("utf-8")
    with pytest.raises(BrokenSeal, match="revision 1"):
        read_seal(text.replace("after: '6'", "after: '9'").encode())


def test_seal_survives_the_way_through_its_file(protocol):
    sealed(protocol)
    seal = read_seal((protocol / "seal.yaml").read_bytes())
    assert read_seal(seal_text(seal)) == seal


def test_protocol_of_another_name_has_a_seal_of_its_own(protocol):
    shutil.move(protocol / "protocol.yaml", protocol / "coffee.yaml")
    assert sealed(protocol / "coffee.yaml") == 0
    assert (protocol / "coffee.seal.yaml").is_file()
    assert evaluated(protocol / "coffee.yaml").seal.code == seal_code(HASH)


@pytest.mark.parametrize("token", ["rsa.tsr", "ecdsa.tsr", "bare.der"])
def test_trusted_time_is_verified_kept_and_shown(protocol, capsys, token):
    sealed(protocol)
    assert sealed(protocol, "--token", str(TOKENS / token)) == 0
    assert "Fictional time-stamping authority" in capsys.readouterr().out
    time = evaluated(protocol).seal.time
    assert time.stamped == seal_code(HASH) and time.time.startswith("2026-11-25T12:31:")
    assert "RFC 3161, signature verified" in page(protocol)


@pytest.mark.parametrize(
    ("token", "why"),
    [("other.tsr", "stamps another hash"), ("no-certificate.tsr", "does not hold the certificate"), ("SOURCE.md", "")],
)
def test_token_that_does_not_hold_is_refused_and_nothing_written(protocol, capsys, token, why):
    sealed(protocol)
    before = (protocol / "seal.yaml").read_bytes()
    assert sealed(protocol, "--token", str(TOKENS / token)) == 2
    assert "cannot be used" in (told := capsys.readouterr().err) and why in told
    assert (protocol / "seal.yaml").read_bytes() == before and not (protocol / "seal.tsr").exists()


def test_no_flipped_bit_of_a_token_gives_another_time_or_authority():
    """What is outside the signature (status text, copies of certificates) may differ; what is told may not."""
    from validate.provenance.timestamp import TokenRefused, verify_token

    token = (TOKENS / "ecdsa.tsr").read_bytes()
    told = verify_token(token, {HASH: ""})
    refused = 0
    for i in range(len(token)):
        flipped = token[:i] + bytes([token[i] ^ 1]) + token[i + 1 :]
        try:
            assert verify_token(flipped, {HASH: ""}) == told
        except TokenRefused:
            refused += 1
    assert refused > 0.8 * len(token)


def test_small_protocol_is_the_one_that_the_tokens_stamp():
    assert "SMALL-01" in PROTOCOL
