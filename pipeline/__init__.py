"""From a folder of spreadsheets to a ranked, explained list of what needs work.

`sheets/` opens the workbooks and turns cells into facts, each with its file, sheet and cell. `record.py` keeps every
version of every file and every entry for good. `steps/` holds the numbered SQL steps: facts, checked readings, rates,
required thickness, life, pressure, due dates, ranking. `formulas/` holds each clause once; the steps call them as
macros, `explain.py` prints them with numbers. `run.py` runs the steps in order and publishes the results whole or not
at all. `basis.py` holds the plant's policies; `cli.py` is the command line.
"""

__version__ = "0.5.0"
