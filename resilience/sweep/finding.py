"""Which sites a portfolio holds, and whether they are sound: checked before any is played."""

import hashlib
import json
import os
import pickle
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path

from resilience.building.files.folder import read_site
from resilience.building.files.naming import MAIN_FILE
from resilience.building.files.policies import POLICY_FILE, policy_in, read_policy
from resilience.building.service.policy import Policy
from resilience.building.settings import Titles
from resilience.building.site import Site
from resilience.building.text.documents import is_nothing, read_document
from resilience.building.text.entries import Entry, Findings, alternatives
from resilience.errors import ResilienceError, UsageError
from resilience.lifetime.record import USUAL_WATCH
from resilience.montecarlo.runs.manifest import digest_of
from resilience.montecarlo.runs.running import Undertaking
from resilience.policy.bounds import watch_of
from resilience.ranking.many.portfolio import Failure

SOURCES = (".yaml", ".csv")  # what a site consists of
OWN, SHARED, NONE = "own", "shared", "none"


@dataclass(frozen=True, slots=True)
class Terms:
    """How every site of a portfolio is to be played and judged.

    Parameters
    ----------
    seed : int
        Of all studies. [-]
    engine : str
        Which plays. [-]
    policy : Path or None
        The promise for all sites; None takes each site's own. [-]
    """

    seed: int
    engine: str
    policy: Path | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """A site as it travels: what is played, and what is promised.

    Parameters
    ----------
    id : str
        Its folder, below that of the portfolio. [-]
    undertaking : Undertaking
        What is played. [-]
    policy : Policy or None
        What is promised. [-]
    promise : str
        Whose promise that is. [-]
    """

    id: str
    undertaking: Undertaking
    policy: Policy | None
    promise: str

    def packed(self) -> bytes:
        """Return all of it as bytes, to be sent and kept."""
        return zlib.compress(pickle.dumps(self, protocol=5), 1)

    @staticmethod
    def unpacked(packed: bytes) -> "Asked":
        """Return what ``packed`` packed.

        Parameters
        ----------
        packed : bytes
            From this program, of this version. [-]
        """
        found = pickle.loads(zlib.decompress(packed))
        assert isinstance(found, Asked)
        return found


@dataclass(frozen=True, slots=True)
class Found:
    """A sound site.

    Parameters
    ----------
    id : str
        Its folder, below that of the portfolio. [-]
    digest : str
        Of all that its lifetimes rest on. [-]
    layouts : tuple of str
        Names. [-]
    files : str
        Digest of its tables and sections as they stand, whatever this program makes of them. [-]
    promise : str
        Digest of what is promised; empty for nothing. [-]
    """

    id: str
    digest: str
    layouts: tuple[str, ...]
    files: str
    promise: str


def site_folders(
    top: Path, only: tuple[str, ...] = (), tags: tuple[str, ...] = ()
) -> tuple[Path, ...]:
    """Return the folders of all sites of a portfolio, in order of their path.

    Parameters
    ----------
    top : Path
        The portfolio; sites may lie at any depth, but not in one another. [-]
    only : tuple of str
        Patterns, of which the path below the portfolio has to fit one; empty takes all. [-]
    tags : tuple of str
        That a site has to have, all of them. One that cannot be read is taken, to be told. [-]

    Raises
    ------
    UsageError
        There is no site.
    """
    if not top.is_dir():
        raise UsageError(f"{top} is no folder; name one that holds site folders")
    if (top / MAIN_FILE).is_file():
        raise UsageError(
            f"{top} is one site; name the folder that it lies in, with --only its name"
        )
    found = [
        path
        for path in _sites_in(top)
        if not only or any(fnmatchcase(id_of(path, top), pattern) for pattern in only)
    ]
    if found and tags:
        found = _with_tags(found, tags)
    if not found:
        which = f" that fits {' or '.join(only)}" if only else ""
        raise UsageError(f"{top} holds no site{which}: no folder in it has a {MAIN_FILE}")
    return tuple(sorted(found))


def _with_tags(folders: list[Path], tags: tuple[str, ...]) -> list[Path]:
    """Return the sites that have all of some tags."""
    known = {folder: _tags_of(folder) for folder in folders}
    found = [folder for folder, has in known.items() if has is None or has.issuperset(tags)]
    if not found:
        all_tags = sorted({tag for has in known.values() for tag in has or ()})
        way_out = next((alternatives(tag, all_tags) for tag in tags if tag not in all_tags), "")
        wanted = " and ".join(map(repr, tags))
        raise UsageError(f"no site is tagged {wanted}{f'; {way_out}' if way_out else ''}")
    return found


def _tags_of(folder: Path) -> set[str] | None:
    """Tags of a site; None if its file cannot be read, which is told when it is checked."""
    whole = read_document(folder / MAIN_FILE, MAIN_FILE, Findings())
    if whole is None:
        return None
    given = whole.entries.get("tags")
    if is_nothing(given):
        return set()
    return set(Titles(tags=given.text).each_tag) if isinstance(given, Entry) else None


def _sites_in(folder: Path) -> Iterator[Path]:
    if (folder / MAIN_FILE).is_file():
        yield folder
        return
    for inner in sorted(folder.iterdir()):
        is_plain = not inner.is_symlink() and not inner.name.startswith(".")
        if is_plain and inner.is_dir() and os.access(inner, os.R_OK | os.X_OK):
            yield from _sites_in(inner)


def id_of(folder: Path, top: Path) -> str:
    """Return how a site is called: its path below the portfolio.

    Parameters
    ----------
    folder, top : Path
        Of the site and of the portfolio. [-]
    """
    return folder.relative_to(top).as_posix()


def asked_of(folder: Path, id: str, terms: Terms) -> Asked:
    """Read a site and what it promises.

    Parameters
    ----------
    folder : Path
        Of the site. [-]
    id : str
        How it is called. [-]
    terms : Terms
        How it is to be played and judged. [-]

    Raises
    ------
    InputError
        It holds mistakes: every one of them.
    """
    site = read_site(folder)
    policy, promise = _policy_of(folder, site, terms.policy)
    watch = USUAL_WATCH if policy is None else watch_of(policy)
    undertaking = Undertaking.whole(site, terms.seed, watch, terms.engine)
    return Asked(id, undertaking, policy, promise)


def _policy_of(folder: Path, site: Site, shared: Path | None) -> tuple[Policy | None, str]:
    if shared is not None:
        return policy_in(shared, site), SHARED
    own = read_policy(folder, site)
    return own, OWN if own else NONE


def checked(
    top: Path, folders: tuple[Path, ...], terms: Terms, take: Callable[[str, Asked], None]
) -> Iterator[Found | Failure]:
    """Yield each site as it is found: sound, or with what is wrong.

    Parameters
    ----------
    top : Path
        The portfolio. [-]
    folders : tuple of Path
        Of its sites. [-]
    terms : Terms
        How they are to be played and judged. [-]
    take : callable
        Takes digest and content of each sound site: files may change later. [-]
    """
    for folder in folders:
        id = id_of(folder, top)
        try:
            asked = asked_of(folder, id, terms)
        except ResilienceError as error:
            yield Failure(id, str(error), was_played=False)
            continue
        digest = digest_of(asked.undertaking)
        take(digest, asked)
        names = tuple(layout.name for layout in asked.undertaking.layouts)
        yield Found(id, digest, names, _files_digest(folder), _promise_digest(asked.policy))


def _files_digest(folder: Path) -> str:
    total = hashlib.sha256()
    for path in sorted(one for one in folder.rglob("*") if _is_source(one)):
        total.update(path.relative_to(folder).as_posix().encode("utf-8", "surrogateescape"))
        total.update(hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()[:16]


def _is_source(path: Path) -> bool:
    return path.suffix in SOURCES and path.name != POLICY_FILE and path.is_file()


def _promise_digest(policy: Policy | None) -> str:
    if policy is None:
        return ""
    told = json.dumps(policy.to_json(), sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:16]
