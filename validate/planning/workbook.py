"""The entry workbook (XLSX): one sheet a table, everything locked but the cells to be filled.

Layout, on which the reader of workbooks relies:

* The first sheet, `about`, is visible and locked. Column A holds a name, column B a text,
  one pair a row from row 1: `workbook` = `entry workbook, form 1`; `protocol` = id;
  `edition`; `title`; `issued`; `design hash` = 64 hexadecimal digits of
  `validate.provenance.design.design_hash`; `seed`; then one row `sheet NAME` = study for
  each table, and notes for the reader.
* Every other sheet is one table. Its name is the study's name (cut to 31 characters and made
  unique with `~2` where two would be equal); the protocol takes it as
  `data: {file: entry.xlsx, sheet: NAME}`.
* Row 1 holds the column names: as `data: {columns: …}` maps them where the protocol has a
  mapping, else the roles of the study's columns. A column with a unit has it behind the
  name, in square brackets after one space: `found [µg/kg]`. The reader takes ` [ … ]` at
  the end of a name for the unit and strips it; the unit is that of `data: {units: …}`, else
  that of the column. There is no second header row.
* From row 2 on there is one row a result. Cells known from the plan are filled and locked
  (levels as numbers, all else as text); cells to be filled are open. Open cells of labels
  and dates have the format `@`, so that a spreadsheet program keeps what was typed. Rows are
  in the order of the bench sheet. There are no formulas, macros, links or empty rows between.
* A number that may be censored (`<2`, `n.d.`) warns about other texts instead of refusing them.
* Sheets are protected without a password: against slips, not against intent.
"""

from __future__ import annotations
