"""The entry workbook of a plan: what its first sheet says, and its tables."""

from __future__ import annotations

from validate.planning.making import Plan
from validate.planning.workbook import FILE_NAME, FORM, EntrySheet, workbook_bytes


def entry_workbook(plan: Plan) -> bytes:
    """The bytes of the workbook; its date is the protocol's date of issue."""
    protocol = plan.loaded.protocol
    log = plan.log
    about = [
        ("workbook", FORM),
        ("protocol", protocol.id),
        ("edition", protocol.edition),
        ("title", protocol.title),
        ("issued", protocol.issued.isoformat()),
        ("design hash", plan.design_hash),
        ("seed", f"{plan.seed.value} ({plan.seed.origin})"),
        *((f"sheet {sheet.name}", sheet.study) for sheet in plan.sheets),
        ("how to fill it", "Fill the framed cells of the other sheets, in the order of the bench sheet."),
        ("", "Write readings as shown: <2, n.d. and NA are kept apart from numbers; never 0 in their place."),
        ("", "A result that was not obtained stays empty; rows are neither moved nor added."),
        (
            "how to use it",
            "Save it beside the protocol and write under the study there: "
            + "; ".join(f"data: {{file: {FILE_NAME}, sheet: {sheet.name}}}" for sheet in plan.sheets),
        ),
        *(() if log is None else _about_log(log)),
    ]
    sheets = plan.sheets if log is None else (*plan.sheets, log)
    return workbook_bytes(about, sheets, created=protocol.issued, title=f"{protocol.id}, entry workbook")


def _about_log(log: EntrySheet) -> list[tuple[str, str]]:
    return [
        (
            "run log",
            f"Sheet `{log.name}`: one row a run, which is one session with one calibration and one set of lots. When a "
            "reagent is renewed, a new run begins. Times as 2031-03-10 08:22; what was not recorded stays empty.",
        ),
        ("", f"Write in the protocol: runs: {{file: {FILE_NAME}, sheet: {log.name}}} (and its time_zone)."),
    ]
