"""What the header tells: columns that nobody reads, and a header that stands further down."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from itertools import islice

from validate.tables.columns import FileColumn, listed, positions_of
from validate.tables.dialect import SEPARATORS
from validate.tables.faults import Fault
from validate.tables.records import Records

_ROWS_LOOKED_AT = 30
_CHARACTERS_LOOKED_AT = 65_536


def later_header(text: str, delimiter: str, records: Records, names: Sequence[str]) -> Fault | None:
    """Where the header really is, when the first row has none of the names that must be there.

    Explains a title above the header or a wrong separator at once, instead of by a fault
    in every row.
    """
    if not names or any(positions_of(name, records.header) for name in names):
        return None
    for separator, words in SEPARATORS.items():
        reader = csv.reader(io.StringIO(text[:_CHARACTERS_LOOKED_AT], newline=""), delimiter=separator)
        try:
            for row, record in enumerate(islice(reader, _ROWS_LOOKED_AT), start=1):
                written = list(map(str.strip, record))
                if all(positions_of(name, written) for name in names):
                    if row > records.header_row:
                        return Fault("table-header-later", row)
                    if separator != delimiter:
                        return Fault("table-delimiter", row, values={"separator": words})
        except csv.Error:
            continue
    return None


def header_notices(records: Records, found: Sequence[FileColumn], read: Sequence[FileColumn]) -> list[Fault]:
    """One notice for columns that are not read, one for each asked column without a cell."""
    row = records.header_row
    roles = {column.role for column in read}
    notices = [Fault("table-column-empty", row, column.position + 1) for column in found if column.role not in roles]
    positions = {column.position for column in found}
    unread = [i for i in range(len(records.header)) if i not in positions]
    named = [records.header[i] for i in unread if records.header[i]]
    if named:
        notices.append(Fault("table-columns-ignored", row, values={"names": listed(named)}))
    for i in unread:
        if not records.header[i] and not records.empty(i):
            notices.append(Fault("table-column-nameless", row, i + 1))
    return notices
