"""From spreadsheets to facts.

1. `workbooks` opens a file: sheets of cells with their addresses, nothing interpreted. `package` and `sheet_xml` look
   into zipped files for what makes them unsafe and for what calamine leaves out; `old_format` reads xls files in a
   process of their own; `textfiles` reads csv.
2. `tables` finds the tables, wherever they stand: `header_rows` looks for headers in a row, `headers` and `two_rows`
   tell what makes one, by `headings` (with `columns.csv` and `headings.csv`), `dated` and `points`; `surroundings`
   reads the labels, unit statements and unit rows around them, `titles` what a title without a colon leaves open;
   `layout` is what a table is.
3. `body` tells data rows from notes, totals (`sums`) and repeated headers, and what each row is about; `merged` knows
   for which rows a merged cell counts, `unread` which columns may hold readings though nobody reads them.
4. `registers` reads cells one by one into facts; `surveys` reads long and wide layouts into readings, with `plain`
   as the fast way through whole columns; `derived` checks columns and rows such as `MIN` against the readings.
5. `facts` turns one cell into one fact in the unit kept inside; `values` reads numbers, fractions and dates and says
   why not; `words` settles words by `words.csv`.
6. `intake` holds the outcome and the account: every cell is used, set aside with a sentence, or ignored for a reason.
"""

from pipeline.sheets.files import read_files
from pipeline.sheets.intake import Intake

__all__ = ["Intake", "read_files"]
