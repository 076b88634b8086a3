"""Keeps and judges benchmarks/soak.json: when the long tests last ran in full, and on what."""

import argparse
import hashlib
import json
import platform
from datetime import UTC, datetime
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
STATE = TOP / "benchmarks" / "soak.json"
SOURCES = (".py", ".csv", ".yaml", ".md")
COVERED = (
    "resilience/connectivity",
    "resilience/hazards",
    "resilience/lifetime",
    "resilience/montecarlo",
    "resilience/policy",
    "resilience/ranking",
    "resilience/remedies",
    "resilience/sweep",
    "sites",
    "tests/connectivity",
    "tests/hazards",
    "tests/laws",
    "tests/lifetime",
    "tests/montecarlo",
    "tests/policy",
    "tests/ranking",
    "tests/remedies",
    "tests/sites",
    "tests/sweep",
)


def digest(folder: str) -> str:
    """Digest of every source below a folder: programs, and the files that a site is made of."""
    total = hashlib.sha256()
    paths = (path for path in (TOP / folder).rglob("*") if path.suffix in SOURCES)
    for path in sorted(paths):
        total.update(path.relative_to(TOP).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()[:16]


def main() -> None:
    """Write the state of a soak that has just ended, or say what has changed since the last."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", metavar="OUTCOME")
    parser.add_argument("--seconds", type=int, default=0)
    asked = parser.parse_args()
    digests = {folder: digest(folder) for folder in COVERED}
    if asked.write:
        state = {
            "outcome": asked.write,
            "finished": datetime.now(UTC).strftime("%Y-%m-%d %H:%M"),
            "seconds": asked.seconds,
            "size": "soak",
            "python": platform.python_version(),
            "digests": digests,
        }
        STATE.write_text(json.dumps(state, indent=2) + "\n", encoding="utf-8")
        return
    if not STATE.exists():
        print("soak: never run")
        return
    state = json.loads(STATE.read_text(encoding="utf-8"))
    stale = [folder for folder, value in digests.items() if state["digests"].get(folder) != value]
    named = ", ".join(stale) or "none"
    print(f"soak: {state['outcome']} on {state['finished']} UTC; changed since: {named}")


if __name__ == "__main__":
    main()
