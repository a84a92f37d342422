"""The permanent record: nothing changed, nothing deleted, every version kept, several writers at once."""

from __future__ import annotations

import sqlite3
import zlib
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.errors import Problem
from pipeline.people import Identity
from pipeline.record import Decision, Record, SourceFile
from pipeline.record_chain import link_new
from pipeline.run import build
from tests.plants import write_plant

DECISION = Decision("V-1", "Shell", "1", date(2025, 6, 1), 20.0, "accept")


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return Record(tmp_path / "record.sqlite")


def rows(record: Record, sql: str) -> list[tuple]:
    connection = sqlite3.connect(record.path)
    try:
        return connection.execute(sql).fetchall()
    finally:
        connection.close()


def test_every_version_of_a_file_is_kept_whole(record: Record) -> None:
    old, new = SourceFile("a.xlsx", b"old bytes"), SourceFile("a.xlsx", b"new bytes")
    for version in (old, old, new):
        assert record.keep_sources([version]) == []
    assert rows(record, "SELECT file, sha256 FROM source ORDER BY seq") == [
        ("a.xlsx", old.sha256),
        ("a.xlsx", new.sha256),
    ]
    assert record.content_of(old.sha256) == b"old bytes"
    assert record.content_of(new.sha256) == b"new bytes"


def test_a_file_that_goes_and_comes_back_is_told(record: Record) -> None:
    a, b = SourceFile("a.xlsx", b"a"), SourceFile("b.xlsx", b"b")
    record.keep_sources([a, b])
    assert record.keep_sources([a]) == ["b.xlsx"]
    assert record.keep_sources([a]) == ["b.xlsx"]  # said at every build, not once
    assert record.keep_sources([a, b]) == []
    assert rows(record, "SELECT file, sha256 IS NULL FROM source ORDER BY seq") == [
        ("a.xlsx", 0),
        ("b.xlsx", 0),
        ("b.xlsx", 1),
        ("b.xlsx", 0),
    ]


@pytest.mark.parametrize("table", ["source", "content", "entry", "build"])
@pytest.mark.parametrize("verb", ["UPDATE {t} SET rowid = rowid", "DELETE FROM {t}"])
def test_nothing_is_ever_changed_or_deleted(record: Record, table: str, verb: str) -> None:
    record.keep_sources([SourceFile("a.xlsx", b"a")])
    record.decide(DECISION, Identity("P. Example"), "measured again")
    record.keep_build(date(2026, 1, 1), "0", "sha", "", [("a.xlsx", "sha")])
    connection = sqlite3.connect(record.path)
    with pytest.raises(sqlite3.IntegrityError, match="the record is append only"):
        connection.execute(verb.format(t=table))
    connection.close()


@pytest.mark.parametrize(
    ("who", "reason", "verdict", "sentence"),
    [
        ("", "because", "accept", "is needed"),
        ("P. Example", "  ", "accept", "is needed"),
        ("P. Example", "because", "delete", "a verdict is one of accept, reject, not 'delete'"),
    ],
)
def test_a_verdict_needs_a_name_a_reason_and_a_known_word(
    record: Record, who: str, reason: str, verdict: str, sentence: str
) -> None:
    decision = Decision("V-1", "Shell", "1", date(2025, 6, 1), 20.0, verdict)
    with pytest.raises(Problem, match=sentence):
        record.decide(decision, Identity(who), reason)
    assert record.decisions() == []


def test_writers_at_once_lose_nothing(record: Record) -> None:
    record.keep_sources([])
    with ThreadPoolExecutor(8) as pool:
        numbers = list(pool.map(lambda n: record.decide(DECISION, Identity(f"P{n}"), "why"), range(80)))
    assert sorted(numbers) == list(range(1, 81))
    assert {who for _, who, *_ in record.decisions()} == {f"P{n}" for n in range(80)}


def test_a_record_that_is_something_else_is_said(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    path.write_bytes(b"this is not a database, whatever its name says" * 100)
    with pytest.raises(Problem, match="the record cannot be read or written"):
        Record(path).keep_sources([])


def test_a_record_of_a_newer_version_is_left_alone(record: Record) -> None:
    record.keep_sources([])
    connection = sqlite3.connect(record.path)
    connection.execute("UPDATE about SET value = '99'")
    connection.commit()
    connection.close()
    with pytest.raises(Problem, match="of version 99, this program knows 2"):
        record.keep_sources([])


def test_a_build_keeps_basis_as_of_and_hashes(tmp_path: Path) -> None:
    folder = write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        basis='units = "si"\n',
    )
    build(folder, as_of=date(2026, 1, 1))
    record = Record(folder / "record.sqlite")
    ((as_of, text, sources),) = rows(record, "SELECT as_of, basis_text, sources FROM build")
    assert (as_of, text) == ("2026-01-01", 'units = "si"\n')
    sha256 = SourceFile("plant.xlsx", (folder / "plant.xlsx").read_bytes()).sha256
    assert sha256 in sources
    assert record.content_of(sha256) == (folder / "plant.xlsx").read_bytes()


def recorded(connection: sqlite3.Connection) -> list[object]:
    """Everything a reader can get out of a record: its tables and triggers, and every row."""
    schema = connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY name").fetchall()
    tables = [name for kind, name, _, _ in schema if kind == "table"]
    return [
        schema,
        *(connection.execute(f"SELECT rowid, * FROM {table} ORDER BY rowid").fetchall() for table in tables),
    ]


def test_one_byte_changed_anywhere_is_found(record: Record, tmp_path: Path) -> None:
    record.keep_sources([SourceFile("register.xlsx", bytes(range(256)) * 4), SourceFile("survey.csv", b"a,b\n1,2\n")])
    record.keep_build(date(2026, 1, 1), "0.1.0", "0" * 64, "[policy]\nkey = 1\n", [("survey.csv", "1" * 64)])
    record.decide(
        Decision("V-1", "Shell", "1", date(2025, 5, 1), 11.5, "reject"), Identity("Ann Example"), "a lamination"
    )
    assert record.verify() == []
    content = record.path.read_bytes()
    with closing(sqlite3.connect(record.path)) as connection:
        written = recorded(connection)
    copy = Record(tmp_path / "copy.sqlite")
    found = silent = 0
    for place in [*range(100), *range(100, len(content), 101)]:
        changed = bytearray(content)
        changed[place] ^= (0x01, 0x80, 0xFF)[place % 3]
        copy.path.write_bytes(changed)
        if copy.verify():
            found += 1
            continue
        # Not told: then the byte holds nothing, and everything recorded still reads as it was written.
        silent += 1
        with closing(sqlite3.connect(f"{copy.path.as_uri()}?mode=ro", uri=True)) as connection:
            assert recorded(connection) == written, f"byte {place} of {len(content)}"
    assert found > 60 and silent > 60, (found, silent)


def test_every_byte_of_what_is_recorded_is_found(record: Record, tmp_path: Path) -> None:
    """Each byte that a row's own text occupies in the file, without a sample."""
    record.decide(
        Decision("V-1", "Shell", "1", date(2025, 5, 1), 11.5, "reject"), Identity("Ann Example"), "a lamination"
    )
    content = record.path.read_bytes()
    copy = Record(tmp_path / "copy.sqlite")
    with closing(sqlite3.connect(record.path)) as connection:
        texts = [row[0] for row in connection.execute("SELECT body FROM entry UNION ALL SELECT sha256 FROM link")]
    tried = 0
    for text in texts:
        start = content.index(text.encode())
        for place in range(start, start + len(text)):
            changed = bytearray(content)
            changed[place] ^= 0x01
            copy.path.write_bytes(changed)
            assert copy.verify() != [], (text, place)
            tried += 1
    assert tried > 150


@pytest.fixture
def with_all(record: Record) -> Record:
    """A record with a row of every kind: a file and its content, a verdict, a build."""
    record.keep_sources([SourceFile("a.xlsx", b"a")])
    record.decide(DECISION, Identity("P. Example"), "measured again")
    record.keep_build(date(2026, 1, 1), "0", "sha", "", [("a.xlsx", "sha")])
    assert record.verify() == []
    return record


def altered(record: Record, change: str) -> str:
    """Change a record as somebody with the file in hand may, its triggers taken out; return what is found, as text."""
    with closing(sqlite3.connect(record.path)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(change)
        connection.commit()
    return "\n".join(fault.words for fault in record.verify())


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("DELETE FROM link WHERE seq = 1", "a link of the chain is missing before number 2"),
        ("INSERT INTO link (of, row, sha256) VALUES ('guest', 1, 'x')", "not of the record: guest"),
        ("UPDATE source SET file = 'b.xlsx'", "file version 1 (b.xlsx, "),
        ("UPDATE entry SET who = 'A. Other'", "entry 1 (reading decision by A. Other, "),
        ("UPDATE build SET as_of = '2027-01-01'", "build 1 (as of 2027-01-01, "),
        ("DELETE FROM build", "build 1 was taken out"),
        ("UPDATE about SET value = '99'", "the version of the record was altered"),
        ("PRAGMA user_version = 7", "the file's user version was altered"),
    ],
)
def test_what_was_altered_is_named(with_all: Record, change: str, words: str) -> None:
    found = altered(with_all, change)
    assert words in found
    assert "the triggers that keep them from being changed, were altered" in found


@pytest.mark.parametrize(
    ("packed", "words"),
    [
        (b"no archive", "file content 2 cannot be unpacked"),
        (zlib.compress(b"another"), "file content 2 is not the one its hash names"),
    ],
)
def test_content_that_is_not_what_its_hash_says_is_found_though_its_link_fits(
    with_all: Record, packed: bytes, words: str
) -> None:
    with closing(sqlite3.connect(with_all.path)) as connection:
        connection.execute(
            "INSERT INTO content (sha256, size, packed) VALUES (?, ?, ?)", [SourceFile("b", b"b").sha256, 1, packed]
        )
        link_new(connection, "content")
        connection.commit()
    assert [fault.words for fault in with_all.verify()] == [words]


def test_where_nothing_is_recorded_yet_there_is_nothing_to_verify(tmp_path: Path, with_all: Record) -> None:
    none = Record(tmp_path / "elsewhere" / "record.sqlite")
    assert none.builds() == [] and none.last_link() == (0, "")
    with pytest.raises(Problem, match="there is no record; run 'hoopline build FOLDER' first"):
        none.verify()
    with pytest.raises(Problem, match="no content with hash 0000 is kept"):
        with_all.content_of("0000")


def test_a_record_cut_short_no_longer_holds_a_link_noted_before(
    record: Record, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record.decide(DECISION, Identity("Ann Example"), "measured again")
    earlier = tmp_path / "earlier"
    earlier.mkdir()
    (earlier / "record.sqlite").write_bytes(record.path.read_bytes())
    record.decide(DECISION, Identity("Ann Example"), "and again")
    number, noted = record.last_link()
    assert number == 2 and record.holds_link(noted.upper())
    assert main(["verify", str(record.path.parent), "--holds", noted]) == 0
    assert noted in capsys.readouterr().out
    # The shorter record is whole in itself; only the link noted elsewhere tells.
    assert main(["verify", str(earlier)]) == 0
    capsys.readouterr()
    assert main(["verify", str(earlier), "--holds", noted]) == 1
    assert "cut short" in capsys.readouterr().out
