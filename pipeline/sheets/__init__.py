"""From spreadsheets to facts.

1. `workbooks` opens a file: sheets of cells with their addresses, nothing interpreted.
2. `tables` finds the tables by their headings (`headings`, with `columns.csv` and `headings.csv`), wherever they
   stand; `surroundings` reads the labels, unit statements and unit rows around them; `layout` is what a table is.
3. `body` tells data rows from notes, totals and repeated headers, and what each row is about.
4. `registers` reads cells one by one into facts; `surveys` reads long and wide layouts into readings, with `plain`
   as the fast way through whole columns.
5. `facts` turns one cell into one fact in the unit kept inside; `values` reads numbers, fractions and dates and says
   why not; `words` settles words by `words.csv`.
6. `intake` holds the outcome and the account: every cell is used, set aside with a sentence, or ignored for a reason.
"""

from pipeline.sheets.files import read_files
from pipeline.sheets.intake import Intake

__all__ = ["Intake", "read_files"]
