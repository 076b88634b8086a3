import subprocess
import sys
from pathlib import Path


def test_both_engines_leave_the_same_record():
    run = subprocess.run(
        [sys.executable, "-m", "benchmarks.run", "--quick"],
        cwd=Path(__file__).parents[1],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert "Both engines left the same record" in run.stdout
