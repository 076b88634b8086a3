import subprocess
import sys
from pathlib import Path


def test_all_contenders_tell_the_same_orphan_time():
    run = subprocess.run(
        [sys.executable, "-m", "benchmarks.run", "--quick"],
        cwd=Path(__file__).parents[1],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert "All contenders told the same" in run.stdout
