"""What is finished of a run: one committed row for each piece, so that a killed run goes on.

A piece is finished when its row is committed, and not before. Pieces are computed anywhere and
kept by the thread that opened the ledger. They may be of any size; no two of a layout overlap. One
ledger may hold many studies, each known by a digest of what it plays.
"""

import os
import sqlite3
import zlib
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

from resilience.errors import RunError
from resilience.lifetime.tally import Tally
from resilience.montecarlo.runs.packing import PackedPiece, tally_in

FILE = "ledger.sqlite"
FORMAT = 5
SECONDS_TO_WAIT = 30.0  # for another process that writes to the same ledger
START_OVER = "--fresh starts over in a new folder"

_TABLES = f"""
BEGIN IMMEDIATE;
CREATE TABLE run (digest TEXT NOT NULL);
CREATE TABLE pieces (
    study TEXT NOT NULL,
    layout TEXT NOT NULL,
    first INTEGER NOT NULL,
    lifetimes INTEGER NOT NULL,
    tally BLOB NOT NULL,
    PRIMARY KEY (study, layout, first)
);
CREATE TABLE notes (
    study TEXT NOT NULL,
    what TEXT NOT NULL,
    note BLOB NOT NULL,
    PRIMARY KEY (study, what)
);
PRAGMA user_version = {FORMAT};
"""
# As kept pieces never overlap, the last that begins before the end of a new one is all it can meet.
_KEPT_UNLESS_IT_OVERLAPS = """
INSERT INTO pieces SELECT :study, :layout, :first, :lifetimes, :tally WHERE :first >= coalesce((
    SELECT first + lifetimes FROM pieces
    WHERE study = :study AND layout = :layout AND first < :first + :lifetimes
    ORDER BY first DESC LIMIT 1
), 0)
"""
_ONE = "FROM pieces WHERE study = ? AND layout = ?"


class Ledger:
    """Finished pieces of one study; made by ``Ledger.open`` and closed by leaving its block.

    Parameters
    ----------
    folder : Path
        The run folder. [-]
    connection : sqlite3.Connection
        Its database, checked. [-]
    study : str
        Digest of what is played. [-]
    """

    def __init__(self, folder: Path, connection: sqlite3.Connection, study: str) -> None:
        self.folder = folder
        self._connection = connection
        self._study = study

    @classmethod
    def open(cls, folder: Path, digest: str) -> Self:
        """Open the ledger of a run, or begin one.

        Parameters
        ----------
        folder : Path
            The run folder; made if it is missing. [-]
        digest : str
            Of everything that decides what its lifetimes hold. [-]

        Raises
        ------
        RunError
            The folder cannot be written, or its ledger is damaged or of another run or format.
        """
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise _unwritable(folder, error.strerror or "no folder can be made") from error
        with _explained(folder):
            connection = sqlite3.connect(folder / FILE, timeout=SECONDS_TO_WAIT)
            try:
                _prepare(folder, connection, digest)
            except BaseException:
                connection.close()
                raise
        return cls(folder, connection, digest)

    @classmethod
    def open_to_read(cls, folder: Path, digest: str) -> Self:
        """Open the ledger of an earlier run, and leave all of it as it is.

        Parameters
        ----------
        folder : Path
            Its run folder. [-]
        digest : str
            As ``open`` had it. [-]

        Raises
        ------
        RunError
            There is none, or it is damaged or of another kind or format.
        """
        # In a folder that is read-only SQLite makes no files of its own, and has to be told so.
        mode = "mode=ro" if os.access(folder, os.W_OK) else "immutable=1"
        address = f"{(folder / FILE).resolve().as_uri()}?{mode}"
        with _readable(folder):
            connection = sqlite3.connect(address, timeout=SECONDS_TO_WAIT, uri=True)
            try:
                if _format(connection) != FORMAT or _digest(connection) != digest:
                    raise RunError(
                        f"the run in {folder} is of another kind or format, so that nothing can be "
                        "taken over: leave --since out, and all sites are played"
                    )
            except BaseException:
                connection.close()
                raise
        return cls(folder, connection, digest)

    def of(self, study: str) -> Self:
        """Return the pieces of another study in the same ledger.

        Parameters
        ----------
        study : str
            Digest of what is played. [-]
        """
        return type(self)(self.folder, self._connection, study)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._connection.close()

    def n_lifetimes(self, layout: str) -> int:
        """Return how many lifetimes of a layout are finished.

        Parameters
        ----------
        layout : str
            Its name. [-]
        """
        return self.finished(layout).n_lifetimes

    def finished(self, layout: str) -> "Finished":
        """Return which pieces of a layout are finished.

        Parameters
        ----------
        layout : str
            Its name. [-]
        """
        wanted = f"SELECT first, lifetimes {_ONE} ORDER BY first"
        with _explained(self.folder):
            found = self._connection.execute(wanted, (self._study, layout)).fetchall()
            return Finished(dict(found))

    def tally(self, layout: str, first: int, n: int) -> Tally | None:
        """Return a finished piece, None if it is not finished.

        Parameters
        ----------
        layout : str
            Name of the layout. [-]
        first : int
            Number of the first lifetime. [-]
        n : int
            Lifetimes. [-]
        """
        wanted = f"SELECT tally {_ONE} AND first = ? AND lifetimes = ?"
        with _explained(self.folder):
            found = self._connection.execute(wanted, (self._study, layout, first, n)).fetchone()
            return None if found is None else tally_in(first, found[0])

    def packed(self, layout: str, end: int) -> list[PackedPiece]:
        """Return all finished pieces of a layout that begin before an end, in order.

        Parameters
        ----------
        layout : str
            Name of the layout. [-]
        end : int
            Number of a lifetime. [-]
        """
        wanted = f"SELECT layout, first, lifetimes, tally {_ONE} AND first < ? ORDER BY first"
        with _explained(self.folder):
            found = self._connection.execute(wanted, (self._study, layout, end)).fetchall()
        return [PackedPiece(*row) for row in found]

    def keep(self, layout: str, tally: Tally) -> None:
        """Commit a piece, which is finished from then on; one that overlaps another is left out.

        Parameters
        ----------
        layout : str
            Name of the layout. [-]
        tally : Tally
            What the piece adds up to. [-]
        """
        self.keep_packed([PackedPiece.of(layout, tally)])

    def keep_packed(self, pieces: Iterable[PackedPiece]) -> None:
        """Commit pieces together; one that overlaps another is left out.

        Parameters
        ----------
        pieces : iterable of PackedPiece
            Of any layouts. [-]
        """
        with _explained(self.folder), self._connection:
            for one in pieces:
                row = {"layout": one.layout, "first": one.first, "lifetimes": one.n}
                row |= {"study": self._study, "tally": one.tally}
                self._connection.execute(_KEPT_UNLESS_IT_OVERLAPS, row)

    def take_over(self, earlier: "Ledger") -> None:
        """Commit what an earlier run has finished of a study; what overlaps is left out.

        Parameters
        ----------
        earlier : Ledger
            Of the same study. [-]
        """
        wanted = "SELECT layout, first, lifetimes, tally FROM pieces WHERE study = ?"
        with _readable(earlier.folder):
            found = earlier._connection.execute(wanted, (self._study,)).fetchall()
            for _, first, _, tally in found:
                tally_in(first, tally)  # a damaged piece is noticed while nothing is taken over
        self.keep_packed(PackedPiece(*row) for row in found)

    def note(self, what: str) -> bytes | None:
        """Return what was noted of the study, None if nothing was.

        Parameters
        ----------
        what : str
            Under which name. [-]
        """
        wanted = "SELECT note FROM notes WHERE study = ? AND what = ?"
        with _explained(self.folder):
            found = self._connection.execute(wanted, (self._study, what)).fetchone()
        return None if found is None else bytes(found[0])

    def keep_note(self, what: str, note: bytes) -> None:
        """Commit a note of the study, in the place of an earlier one of that name.

        Parameters
        ----------
        what : str
            Under which name. [-]
        note : bytes
            Anything. [-]
        """
        with _explained(self.folder), self._connection:
            row = (self._study, what, note)
            self._connection.execute("INSERT OR REPLACE INTO notes VALUES (?, ?, ?)", row)


class Finished:
    """Which pieces of one layout a ledger holds.

    Parameters
    ----------
    spans : mapping of int to int
        Number of lifetimes by the first, in order. [-]
    """

    def __init__(self, spans: Mapping[int, int]) -> None:
        self._spans = spans
        self._firsts = tuple(spans)

    @property
    def n_lifetimes(self) -> int:
        """How many lifetimes they hold."""
        return sum(self._spans.values())

    def holds(self, first: int, n: int) -> bool:
        """Whether it holds just this piece."""
        return self._spans.get(first) == n

    def end_from(self, end: int) -> int:
        """Return the end of the piece that goes on across ``end``; itself if none does."""
        before = bisect_left(self._firsts, end) - 1
        if before < 0:
            return end
        first = self._firsts[before]
        return max(end, first + self._spans[first])

    def pieces(self, first: int, end: int, longest: int) -> Iterator[tuple[int, int]]:
        """Yield first and number of finished pieces, and of pieces that fill the gaps."""
        while first < end:
            n = self._spans.get(first)
            if n is None or first + n > end:  # none, or one that a shorter study cannot use
                after = bisect_right(self._firsts, first)
                gap_end = min([end, *self._firsts[after : after + 1]])
                n = min(longest, gap_end - first)
            yield first, n
            first += n


def _prepare(folder: Path, connection: sqlite3.Connection, digest: str) -> None:
    """Make the tables of a new ledger, or check that an old one is of this run."""
    # In this mode a crash, even of the machine, loses at most the last commits, never the file.
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = NORMAL")
    if _format(connection) == 0:
        _begin(connection, digest)
    if _format(connection) != FORMAT:
        raise RunError(
            f"the run in {folder} is of format {_format(connection)}, and this version writes "
            f"format {FORMAT}; {START_OVER}"
        )
    if _digest(connection) != digest:
        raise RunError(
            f"the run in {folder} was made from other inputs, another seed or another version, "
            f"and is not mixed with this one; {START_OVER}"
        )
    with connection:  # an empty change, which shows whether there may be others
        connection.execute("DELETE FROM pieces WHERE first < 0")


def _begin(connection: sqlite3.Connection, digest: str) -> None:
    try:
        connection.executescript(_TABLES)
        connection.execute("INSERT INTO run VALUES (?)", (digest,))
        connection.execute("COMMIT")
    except sqlite3.OperationalError:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        if _format(connection) == 0:  # else another process was quicker
            raise


def _format(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _digest(connection: sqlite3.Connection) -> str:
    return "".join(digest for (digest,) in connection.execute("SELECT digest FROM run"))


@contextmanager
def _readable(folder: Path) -> Iterator[None]:
    """Turn what the database of an earlier run says into what a person can do."""
    try:
        yield
    except (sqlite3.DatabaseError, zlib.error, ValueError, TypeError, KeyError) as error:
        raise RunError(
            f"the ledger of the earlier run in {folder} cannot be read ({error}): name another run "
            "with --since, or leave it out, and all sites are played"
        ) from error


@contextmanager
def _explained(folder: Path) -> Iterator[None]:
    """Turn what a database says into what a person can do."""
    try:
        yield
    except (sqlite3.DatabaseError, zlib.error, ValueError, TypeError, KeyError) as error:
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
        if isinstance(error, sqlite3.OperationalError) and code != sqlite3.SQLITE_ERROR:
            raise _unwritable(folder, str(error)) from error
        raise RunError(
            f"the ledger of the run in {folder} is damaged ({error}); {START_OVER}, and the "
            "damaged one is left as it is"
        ) from error


def _unwritable(folder: Path, reason: str) -> RunError:
    return RunError(
        f"the run cannot be kept in {folder} ({reason}); what is finished there stays. Make room "
        "or give access and ask again, or choose another folder with --keep, or --no-keep"
    )
