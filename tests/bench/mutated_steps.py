"""Steps of intervals and due dates changed by one mark, and which test finds it out: for `tests.bench.mutants`.

A mutant of a step is its SQL with one comparison, connective, aggregate, constant, order, join, branch or condition
changed or left out; the text is changed in memory, never in the file. The rule tests are run once as they are, and the
plants they build are kept. For a mutant its step and what reads from it are made again on a kept plant inside one
transaction, the tests of that plant are asked, and the transaction is taken back. Small random fleets held against the
second road (`tests/second_path`) are asked besides.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import duckdb
import pytest
from _pytest.runner import runtestprotocol

import tests.plants
from pipeline.checks import all_checks
from pipeline.errors import Problem
from pipeline.run import build, plan_briefly
from pipeline.steps import Step, all_steps, run_step
from tests import test_second_path
from tests.bench.mutated_clauses import collect
from tests.fleets import EVERYTHING, write_fleet
from tests.second_path import Facts, Policy, facts_of_folder, recompute

NAMES = (
    *("set_interval", "deferral", "cap", "life", "band", "horizon", "recommendation"),
    *("due_date", "place_state", "component_state", "next_due"),
)
FILES = (
    *("tests/test_interval_edges.py", "tests/test_due_rules.py", "tests/test_standing.py", "tests/test_bands.py"),
    "tests/test_every_case.py",
)
#: Small fleets: vessels, seed, basis file, the same as a policy of the second road, further options.
FLEETS: tuple[tuple[int, int, str, Policy, dict[str, Any]], ...] = (
    (60, 5, "", Policy(), {"components": 3, "places": 2, "readings": 4, **EVERYTHING}),
    (
        40,
        7,
        'radius_basis = "nominal"\nthick_wall = "exponential"\n' + test_second_path.OTHER_BASIS,
        Policy("nominal", "fit upper bound", "exponential", 0.25, 2.0, 0.0254, 8.0, 4.0, 4.0, 6.0),
        {"components": 3, "places": 2, "readings": 4, "stated_rate": 0.3, "event": 0.3, "unread_after_change": True},
    ),
)


class Refused(Exception):
    """The database cannot read the mutant: nobody could build with it."""


@dataclass(frozen=True)
class StepMutant:
    """One change of one step: what stood there, what stands there now, and the whole SQL with it."""

    of: str
    said: str
    sql: str


# ---- what is changed ------------------------------------------------------------------------------------------------

_TOKEN = re.compile(
    r"(?P<blank>\s+|--[^\n]*)|(?P<text>'(?:[^']|'')*')|(?P<number>\d+(?:\.\d+)?(?:e\d+)?)|(?P<word>[A-Za-z_]\w*)"
    r"|(?P<sign><>|<=|>=|\|\||::|.)",
    re.DOTALL,
)
_COMPARED = {
    "<": ("<=", ">"),
    "<=": ("<", ">="),
    ">": (">=", "<"),
    ">=": (">", "<="),
    "=": ("<>",),
    "<>": ("=",),
    "+": ("-",),
}
_SWAPPED = {"AND": "OR", "OR": "AND", "ASC": "DESC", "DESC": "ASC", "FIRST": "LAST", "LAST": "FIRST", "ANTI": "SEMI"}
_PAIRS = (("least", "greatest"), ("min", "max"), ("arg_min", "arg_max"), ("bool_and", "bool_or"))
_AGGREGATES = {one: other for pair in _PAIRS for one, other in (pair, pair[::-1])}
#: Where a condition ends that no bracket ends.
_ENDS = (
    *("GROUP", "HAVING", "QUALIFY", "ORDER", "UNION", "LIMIT", "WHERE", "LEFT", "JOIN", "CROSS", "ANTI", "SEMI"),
    *("THEN", "WHEN", "ELSE", "END"),
)
_UNLIKE = "'none such'"
_TABLE = re.compile(r"\b(?:step|result)\.\w+")
FINDINGS = "step.finding"


@dataclass(frozen=True)
class Token:
    """A word, number, text or sign of SQL, with where it stands."""

    kind: str
    text: str
    begin: int
    end: int


def steps() -> list[Step]:
    """Return the steps of intervals and due dates, in the order in which they run."""
    found = [step for step in all_steps() if step.table.removeprefix("step.") in NAMES]
    if len(found) != len(NAMES):
        raise RuntimeError(f"steps not found: {set(NAMES) - {step.table.removeprefix('step.') for step in found}}")
    return found


def mutants_of(step: Step) -> list[StepMutant]:
    """Return every mutant of a step, in the order in which it is written."""
    tokens = tokens_of(step.sql)
    found: dict[str, StepMutant] = {}
    for begin, end, put in sorted(_changes(step.sql, tokens)):
        sql = f"{step.sql[:begin]}{put}{step.sql[end:]}"
        said = _said(step.sql, begin, end, put)
        number = 2
        while said in found:  # the same change of the same words elsewhere in the step
            said = f"{_said(step.sql, begin, end, put)} ({number})"
            number += 1
        found[said] = StepMutant(step.table.removeprefix("step."), said, sql)
    return list(found.values())


def tokens_of(sql: str) -> list[Token]:
    """Return the words of a step, without blanks and comments."""
    return [
        Token(str(match.lastgroup), match[0], match.start(), match.end())
        for match in _TOKEN.finditer(sql)
        if match.lastgroup != "blank"
    ]


def _said(sql: str, begin: int, end: int, put: str) -> str:
    """The change with the words around it on its lines, on one line."""
    start, stop = sql.rfind("\n", 0, begin) + 1, sql.find("\n", end)
    before, after = sql[start:begin], sql[end : stop if stop >= 0 else len(sql)]
    return " ".join(f"{before}[{sql[begin:end]} -> {put}]{after}".split())


def _changes(sql: str, tokens: Sequence[Token]) -> Iterator[tuple[int, int, str]]:
    """Yield stretches of the text and what is put there instead."""
    for place, token in enumerate(tokens):
        word = token.text
        last = tokens[place - 1].text if place else ""
        following = [each.text for each in tokens[place + 1 : place + 4]]
        if token.kind == "sign" and word in _COMPARED:
            for other in _COMPARED[word]:
                yield token.begin, token.end, other
        elif token.kind == "number":
            for other in dict.fromkeys(("0", "1", str(float(word) + 1).removesuffix(".0"))):
                if float(other) != float(word):
                    yield token.begin, token.end, other
        elif token.kind == "text":
            if last in ("=", "<>", "WHEN", "FROM") or (last in ("(", ",") and _in_list(tokens, place)):
                yield token.begin, token.end, _UNLIKE
        elif word in _AGGREGATES and following[:1] == ["("]:
            yield token.begin, token.end, _AGGREGATES[word]
        elif word in _SWAPPED:
            yield token.begin, token.end, _SWAPPED[word]
        elif (word == "LEFT" and following[:1] == ["JOIN"]) or (word == "DISTINCT" and last not in ("IS", "NOT")):
            yield token.begin, token.end, ""
        elif word == "IS":
            if following[0] == "NOT":
                yield tokens[place + 1].begin, tokens[place + 1].end, ""
            else:
                yield token.end, token.end, " NOT"
        elif word == "NOT" and last != "IS":
            yield token.begin, token.end, ""
        elif word == "coalesce":
            yield _first_argument(sql, tokens, place)
        elif word == "CASE":
            yield from _fewer_branches(sql, tokens, place)
        if word in ("WHERE", "HAVING", "ON", "QUALIFY", "WHEN") or (word == "FILTER" and following[:1] == ["("]):
            yield from _fewer_conditions(sql, tokens, place)


def _in_list(tokens: Sequence[Token], place: int) -> bool:
    """Whether a text stands in brackets after IN."""
    for before in range(place - 1, 0, -1):
        if tokens[before].text == "(":
            return tokens[before - 1].text == "IN"
        if tokens[before].text != "," and tokens[before].kind != "text":
            return False
    return False


def _closing(tokens: Sequence[Token], opening: int) -> int:
    """Return the place of the bracket (or END) that closes the one that opens there."""
    depth = 0
    for place in range(opening, len(tokens)):
        text = tokens[place].text
        depth += (text in ("(", "[", "{", "CASE")) - (text in (")", "]", "}", "END"))
        if depth == 0:
            return place
    raise ValueError("a bracket is not closed")


def _first_argument(sql: str, tokens: Sequence[Token], place: int) -> tuple[int, int, str]:
    """`coalesce(a, b)` becomes `(a)`."""
    end = _closing(tokens, place + 1)
    at = place + 2
    while tokens[at].text != ",":
        at = _closing(tokens, at) + 1 if tokens[at].text in ("(", "[", "{", "CASE") else at + 1
    return tokens[place].begin, tokens[end].end, f"({sql[tokens[place + 2].begin : tokens[at].begin].strip()})"


def _fewer_branches(sql: str, tokens: Sequence[Token], place: int) -> Iterator[tuple[int, int, str]]:
    """A CASE without one of its WHENs, and without what it says ELSE."""
    end = _closing(tokens, place)
    marks, at = [], place + 1
    while at < end:
        if tokens[at].text in ("WHEN", "ELSE"):
            marks.append(at)
        at = _closing(tokens, at) + 1 if tokens[at].text in ("(", "[", "{", "CASE") else at + 1
    whens = [mark for mark in marks if tokens[mark].text == "WHEN"]
    other = next((mark for mark in marks if tokens[mark].text == "ELSE"), None)
    for mark in whens:
        following = min((each for each in (*marks, end) if each > mark), default=end)
        if len(whens) > 1:
            yield tokens[mark].begin, tokens[following].begin, ""
        else:
            left = "NULL" if other is None else sql[tokens[other].end : tokens[end].begin].strip()
            yield tokens[place].begin, tokens[end].end, f"({left})"
    if other is not None:
        yield tokens[other].begin, tokens[end].begin, ""


def _fewer_conditions(sql: str, tokens: Sequence[Token], place: int) -> Iterator[tuple[int, int, str]]:
    """A condition without one of the parts that AND joins; without all of it where it has one part."""
    word = tokens[place].text
    at = place + 1
    closing = len(tokens)
    if word == "FILTER":
        at, closing = place + 2, _closing(tokens, place + 1)
    parts, begin = [], at
    while at < closing and tokens[at].text not in (")", ",") and tokens[at].text not in _ENDS:
        if tokens[at].text == "AND":
            parts.append((begin, at))
            begin = at + 1
        at = _closing(tokens, at) + 1 if tokens[at].text in ("(", "[", "{", "CASE") else at + 1
    parts.append((begin, at))
    if word == "WHEN" and len(parts) == 1:
        return  # the branch itself is left out elsewhere
    if any(tokens[each].text == "OR" for each in range(*(parts[0][0], at)) if _level(tokens, parts[0][0], each) == 0):
        parts = [(parts[0][0], at)]
    for begin, end in parts:
        if len(parts) > 1:
            first = begin == parts[0][0]
            start = tokens[begin].begin if first else tokens[begin - 1].begin
            stop = tokens[end].end if first else tokens[end - 1].end
            yield start, stop, ""
        elif word == "ON":
            yield tokens[begin].begin, tokens[end - 1].end, "true"
        elif word == "FILTER":
            yield tokens[place].begin, tokens[closing].end, ""
        elif word != "WHEN":
            yield tokens[place].begin, tokens[end - 1].end, ""


def _level(tokens: Sequence[Token], begin: int, place: int) -> int:
    """How many brackets are open at a place, from the beginning of a condition."""
    texts = [token.text for token in tokens[begin:place]]
    return sum((text in ("(", "[", "{", "CASE")) - (text in (")", "]", "}", "END")) for text in texts)


# ---- plants that are kept -------------------------------------------------------------------------------------------


class World:
    """The results of one plant, in a file of its own, with a connection that may be written to and taken back."""

    def __init__(self, database: Path, place: Path) -> None:
        copied = Path(shutil.copyfile(database, place / f"{len(list(place.iterdir()))}.duckdb"))
        self.connection = duckdb.connect(str(copied), config={"threads": 1})
        plan_briefly(self.connection)
        self.open = False
        self._made: set[str] = set()
        self._changed: set[str] = set()
        self._sums: dict[str, tuple[Any, ...]] = {}

    def change(self, step: Step) -> bool:
        """Make the step anew; whether any row of it is another one now. What reads from it waits for a question."""
        self.connection.execute("BEGIN")
        self.open, self._made, self._changed = True, {step.table}, set()
        if self._remade(step):
            self._changed.add(step.table)
        return bool(self._changed)

    def execute(self, sql: str, *values: Any) -> duckdb.DuckDBPyConnection:
        """Ask the plant, once every table the question names is what it is after the change."""
        if self.open and self._changed:
            self._make(self._all_before(set(_TABLE.findall(sql))))
        return self.connection.execute(sql, *values)

    def _all_before(self, wanted: set[str]) -> set[str]:
        """Add the tables from which these are made."""
        for each in reversed(all_steps()):
            if FINDINGS in wanted:
                wanted.update(*(_TABLE.findall(sql) for sql in all_checks().values()))
            if each.table in wanted:
                wanted.update(each.reads)
        return wanted

    def _make(self, wanted: set[str]) -> None:
        for each in all_steps():
            if each.table.startswith("result.") and FINDINGS in wanted - self._made:
                self._made.add(FINDINGS)
                if self._findings():
                    self._changed.add(FINDINGS)
            if each.table in wanted - self._made:
                self._made.add(each.table)
                if self._changed.intersection(each.reads) and self._remade(each):
                    self._changed.add(each.table)

    def _remade(self, step: Step) -> bool:
        """Make a table anew; whether it holds other rows than before."""
        before = self._sum(step.table)
        self.connection.execute(f"DROP TABLE {step.table}")
        run_step(self.connection, step)
        return self._sum(step.table, anew=True) != before

    def _findings(self) -> bool:
        """Ask the checks of the data again that look at a changed table; whether any finds something else."""
        asked = {name: sql for name, sql in all_checks().items() if self._changed.intersection(_TABLE.findall(sql))}
        before = self._sum(FINDINGS)
        for name, sql in asked.items():
            self.connection.execute(f"DELETE FROM {FINDINGS} WHERE check_name = ?", [name])
            self.connection.execute(f"INSERT INTO {FINDINGS} BY NAME SELECT '{name}' AS check_name, * FROM ({sql})")
        return bool(asked) and self._sum(FINDINGS, anew=True) != before

    def _sum(self, table: str, anew: bool = False) -> tuple[Any, ...]:
        """A sum over all that a table holds, whatever the order of its rows; remembered of the table as built."""
        if anew or table not in self._sums:
            found = self.connection.execute(f"SELECT count(*), sum(hash(t)), bit_xor(hash(t)) FROM {table} AS t")
            [row] = found.fetchall()
            if anew:
                return tuple(row)
            self._sums[table] = tuple(row)
        return self._sums[table]

    def take_back(self) -> None:
        """Let the plant be as it was built."""
        if self.open:
            self.connection.execute("ROLLBACK")
            self.open = False


class Handed:
    """What a test holds for a connection: the kept plant, whatever state it is in."""

    def __init__(self, world: World, used: Callable[[World], None]) -> None:
        self._world, self._used = world, used

    def __getattr__(self, name: str) -> Any:
        self._used(self._world)
        return self._world.execute if name == "execute" else getattr(self._world.connection, name)

    def __enter__(self) -> Handed:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def close(self) -> None:
        """The plant stays."""


@dataclass
class Question:
    """One test, the plants it looks at, and what it was given when it was run as it is."""

    name: str
    ask: Callable[[], Any]
    worlds: list[World] = field(default_factory=list)
    built: list[Any] = field(default_factory=list)
    handed: list[Handed] = field(default_factory=list)


class Stage:
    """Runs the rule tests once as they are, keeping the plants they build; then again on the plants kept."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self.questions: list[Question] = []
        self.dropped: list[str] = []
        self._now: Question | None = None
        self._again = False
        self._counts = [0, 0]
        self._worlds: dict[Path, World] = {}

    def run(self, session: pytest.Session) -> None:
        """Run every test as pytest would, and keep those that pass again on their kept plants."""
        with self._watching():
            for number, item in enumerate(session.items):
                following = session.items[number + 1] if number + 1 < len(session.items) else None
                if isinstance(item, pytest.Function):
                    self._first(item, following)
            for question in list(self.questions):
                if not question.worlds or self.fails(question):
                    self.questions.remove(question)
                    self.dropped.append(question.name)

    def _first(self, item: pytest.Function, following: pytest.Item | None) -> None:
        question = Question(item.nodeid, lambda: None)

        class Call:
            @pytest.hookimpl(wrapper=True)
            def pytest_runtest_call(own) -> Any:  # noqa: N805
                given = {name: item.funcargs[name] for name in item._fixtureinfo.argnames}
                question.ask = lambda: item.obj(**given)
                self._now = question
                try:
                    return (yield)
                finally:
                    self._now = None

        calling = Call()
        item.config.pluginmanager.register(calling)
        reports = runtestprotocol(item, nextitem=following, log=False)
        item.config.pluginmanager.unregister(calling)
        if all(report.passed for report in reports):
            self.questions.append(question)
        else:
            self.dropped.append(item.nodeid)

    def fails(self, question: Question) -> bool:
        """Ask a test again, on the plants as they are now."""
        self._now, self._again, self._counts = question, True, [0, 0]
        try:
            question.ask()
        except (Exception, pytest.fail.Exception):
            return True
        finally:
            self._now, self._again = None, False
        return False

    @contextmanager
    def _watching(self) -> Iterator[None]:
        """Hand the tests kept plants for connections, and build no plant a second time."""
        connect, write = duckdb.connect, tests.plants.write_workbook

        def connecting(database: Any = ":memory:", *more: Any, **options: Any) -> Any:
            asked_by = sys._getframe(1).f_globals["__name__"]
            if not (options.get("read_only") and asked_by.startswith("tests.")):
                return connect(database, *more, **options)
            if self._again and self._now is not None:
                self._counts[0] += 1
                return self._now.handed[self._counts[0] - 1]
            handed = Handed(self._kept(Path(database).resolve()), self._used)
            if self._now is not None:
                self._now.handed.append(handed)
            return handed

        def building(*given: Any, **options: Any) -> Any:
            if self._again and self._now is not None:
                self._counts[1] += 1
                return self._now.built[self._counts[1] - 1]
            made = build(*given, **options)
            if self._now is not None:
                self._now.built.append(made)
            return made

        def writing(path: Path, *given: Any, **options: Any) -> Path:
            return path if self._again else write(path, *given, **options)

        duckdb.connect = connecting
        tests.plants.write_workbook = writing
        changed = [
            module
            for name, module in list(sys.modules.items())
            if name.startswith("tests.") and getattr(module, "build", None) is build and name != __name__
        ]
        for module in changed:
            module.build = building  # type: ignore[attr-defined]
        yield

    def _kept(self, database: Path) -> World:
        if database not in self._worlds:
            self._worlds[database] = World(database, self.place)
        return self._worlds[database]

    def _used(self, world: World) -> None:
        if self._now is not None and world not in self._now.worlds:
            self._now.worlds.append(world)


# ---- what finds it out ----------------------------------------------------------------------------------------------


class StepChecks:
    """The rule tests and the small fleets, made once in this process."""

    def __init__(self) -> None:
        self._place = tempfile.TemporaryDirectory()
        place = Path(self._place.name)
        self.stage = Stage(place)
        collect(FILES, self.stage.run)
        self.questions = list(self.stage.questions)
        if self.stage.dropped:
            print(f"not asked, since they ask no plant or fail already: {len(self.stage.dropped)}", file=sys.stderr)
        self.questions += [_by_the_second_road(number, place) for number in range(len(FLEETS))]
        self.worlds = list(dict.fromkeys(world for question in self.questions for world in question.worlds))

    def found_out_by(self, mutant: StepMutant) -> str | None:
        """Return the test that fails with the mutant in the step's place; None where none does.

        Raises Refused where the database cannot read it.
        """
        [step] = [each for each in all_steps() if each.table == f"step.{mutant.of}"]
        changed = replace(step, sql=mutant.sql)
        try:
            for world in list(self.worlds):
                try:
                    if not world.change(changed):
                        world.take_back()
                        continue
                except (duckdb.BinderException, duckdb.ParserException, duckdb.CatalogException) as refusal:
                    raise Refused(str(refusal)) from refusal
                except (duckdb.Error, Problem) as stop:
                    return f"the build stops: {stop}".splitlines()[0]
                for question in [each for each in self.questions if world in each.worlds]:
                    if self.stage.fails(question):
                        self._ask_first(world, question)
                        return question.name
            return None
        finally:
            for world in self.worlds:
                world.take_back()

    def _ask_first(self, world: World, question: Question) -> None:
        """What found one mutant out is likely to find out the next one, which is near it."""
        self.worlds.remove(world)
        self.worlds.insert(0, world)
        self.questions.remove(question)
        self.questions.insert(0, question)


def _by_the_second_road(number: int, place: Path) -> Question:
    """A random fleet, held against the same fleet worked out in plain Python."""
    vessels, seed, basis, policy, options = FLEETS[number]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "plant"
        write_fleet(folder, vessels, seed, basis=basis, **options)
        made = build(folder, as_of=test_second_path.AS_OF)
        facts: Facts = facts_of_folder(folder)
        world = World(made.database.resolve(), place)
    found = recompute(facts, test_second_path.AS_OF, policy)

    def asked(_: Path, text: str) -> list[dict[str, Any]]:
        cursor = world.execute(text)
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, values, strict=True)) for values in cursor.fetchall()]

    def ask() -> None:
        test_second_path.ask = asked
        said = test_second_path.differences(Path(), found)
        if said:
            raise AssertionError(said[0])

    ask()
    return Question(f"second road, {vessels} vessels", ask, [world])
