"""The one error people see: a sentence that says what, where and what to do."""


class Problem(Exception):
    """A fault to be shown to a person as one line, never as a traceback."""
