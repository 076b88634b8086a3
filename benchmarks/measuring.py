"""How time is taken and how results are told."""

import gc
import statistics
from collections.abc import Callable, Sequence
from time import process_time

Seconds = dict[str, list[float]]


Clock = Callable[[], float]


def interleaved(
    tasks: dict[str, Callable[[], object]], repeats: int, clock: Clock = process_time
) -> Seconds:
    """Seconds of each task, one after the other and again from the start.

    The default clock counts the time for which this process had a processor, because others use
    the machine too.

    Parameters
    ----------
    tasks : dict of str to callable
        What returns a float has taken its own time; else the whole call counts. [-]
    repeats : int
        How often; one more call of each before warms it up. [-]
    clock : callable
        Tells the time in seconds; the wall's where tasks run side by side. [-]
    """
    seconds: Seconds = {name: [] for name in tasks}
    for repeat in range(repeats + 1):
        for name, task in tasks.items():
            gc.collect()
            gc.disable()  # as timeit does: it would strike whoever happens to play
            started_s = clock()
            result = task()
            all_s = clock() - started_s
            gc.enable()
            if repeat:
                seconds[name].append(result if isinstance(result, float) else all_s)
    return seconds


def median_ratio(above: Sequence[float], below: Sequence[float]) -> float:
    """Median over repeats of the ratio within a repeat.

    Parameters
    ----------
    above, below : sequence of float
        Same unit, one value per repeat. [unit]
    """
    return statistics.median(one / other for one, other in zip(above, below, strict=True))


def number(value: float) -> str:
    """Three digits, thousands apart.

    Parameters
    ----------
    value : float
        Not negative. [-]
    """
    if value >= 100:
        return f"{float(f'{value:.3g}'):,.0f}"
    return f"{value:#.3g}".rstrip(".") if value else "0"


class Page:
    """What a run tells, printed as it comes and kept for the file."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.disagreements: list[str] = []
        self.uneventful: list[str] = []  # contests in which nobody was an orphan
        self._targets: list[tuple[str, ...]] = []

    def say(self, *lines: str) -> None:
        """Add paragraphs."""
        for line in lines:
            self.lines.extend((line, ""))
            print(line, end="\n\n", flush=True)

    def table(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Add a table, first column text, the others numbers."""
        rules = ["---", *["---:"] * (len(head) - 1)]
        lines = [f"| {' | '.join(row)} |" for row in (head, rules, *rows)]
        self.lines.extend((*lines, ""))
        print(*lines, sep="\n", end="\n\n", flush=True)

    def agree(self, who: str, is_same: bool) -> str:
        """Note whether a contender told the same, and return it as a word."""
        if not is_same:
            self.disagreements.append(who)
        return "same" if is_same else "DIFFERENT"

    def aim(self, what: str, measured: float, target: float, *, at_most: bool = False) -> None:
        """Note a target beside what was measured."""
        is_met = measured <= target if at_most else measured >= target
        gap = measured / target if at_most else target / measured
        verdict = "met" if is_met else f"short by a factor of {number(gap)}"
        bound = f"at most {number(target)}" if at_most else number(target)
        self._targets.append((what, number(measured), bound, verdict))

    def cannot_aim(self, what: str, measured: float, target: float, why: str) -> None:
        """Note a target that this run could neither meet nor miss."""
        self._targets.append((what, number(measured), number(target), f"not tested: {why}"))

    def tell_targets(self) -> None:
        """Add the table of targets."""
        self.table(("target", "measured", "wanted", ""), self._targets)
