"""Processes that carry out orders: a local cluster of this machine, or one that is there already.

A process that dies is replaced, and what it was doing is done again. An order whose process died
each time is given back as the one that kills.
"""

import logging
import os
import queue
import signal
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import resource_tracker
from types import TracebackType
from typing import Any, Self

from resilience.errors import RunError, UsageError
from resilience.sweep.orders import Answer, Order, carried_out

LIBRARY = "distributed"
SECONDS_TO_CONNECT = 10.0
SECONDS_TO_LOOK_UP = 0.5  # from waiting for the next answer
DEATHS_ALLOWED = 1  # of processes with the same order, before it is given back
ORDERS_AHEAD = 1  # for each process, beside the one that it carries out: so many wait at its side
SETTINGS = {
    "distributed.scheduler.allowed-failures": DEATHS_ALLOWED,
    # Few orders wait at the side of a process: each of them is suspected when it dies.
    "distributed.scheduler.worker-saturation": 1.0,
    # What the cluster remembers of orders that are done: memory must not grow with their number.
    "distributed.admin.low-level-log-length": 1000,
    # It looks every 10 ms at what a process does, which takes a part of each: nobody asks for that.
    "distributed.worker.profile.enabled": False,
    "distributed.admin.system-monitor.interval": "10s",
    "distributed.worker.memory.monitor-interval": "1s",
    "distributed.worker.daemon": True,
}
KILL = getattr(signal, "SIGKILL", signal.SIGTERM)  # not every system has the first


class KillsError(Exception):
    """An order whose process died each time."""


@dataclass(frozen=True, slots=True)
class Where:
    """Which processes carry out orders.

    Parameters
    ----------
    workers : int
        Processes on this machine, one thread each; of no meaning with a scheduler. [-]
    scheduler : str or None
        Address of a cluster that is there already; None begins one on this machine. [-]
    """

    workers: int
    scheduler: str | None = None


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Let threads that begin now pass on to their processes that Ctrl-C is not meant for them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # which else begins later and lets interrupts in again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Crew:
    """Processes that carry out orders, and the orders under way.

    Parameters
    ----------
    where : Where
        Which processes. [-]
    """

    def __init__(self, where: Where) -> None:
        self._where = where
        self._cluster: Any = None
        self._client: Any = None
        self._runner: Any = None
        self._under_way: dict[Any, object] = {}
        self._done: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def __enter__(self) -> Self:
        import dask
        from distributed.utils import LoopRunner

        for name in [one for one in logging.root.manager.loggerDict if one.startswith(LIBRARY)]:
            logging.getLogger(name).handlers[:] = [logging.NullHandler()]  # we say what is wrong
        # Set for good and not in a block: the cluster reads them when it likes, in other threads.
        dask.config.set({**SETTINGS, "distributed.logging.distributed": "critical"})
        self._runner = LoopRunner()
        with _deaf_to_interrupts():  # as are all threads and processes that begin there
            self._runner.start()
            self._connect()  # who is half connected would not be closed
        return self

    def _connect(self) -> None:
        """Find the processes, or begin to start them, which goes on while orders are given."""
        from distributed import Client, LocalCluster

        address, loop = self._where.scheduler, self._runner.loop
        try:
            if address is None:
                self._cluster = LocalCluster(
                    n_workers=0,
                    threads_per_worker=1,
                    processes=True,
                    host="127.0.0.1",
                    dashboard_address="127.0.0.1:0",  # a free port, not a fixed one
                    silence_logs=logging.CRITICAL + 1,
                    loop=loop,
                )
                self._cluster.shutdown_on_close = False  # its way takes too long: see below
                self._cluster.scale(self._where.workers)
            self._client = Client(
                address or self._cluster,
                timeout=SECONDS_TO_CONNECT,
                set_as_default=False,
                loop=loop,
            )
        except (OSError, ValueError, TimeoutError) as error:
            raise UsageError(
                f"no scheduler answers at {address} ({error}); start one with `dask scheduler`, or "
                "leave --scheduler out"
            ) from error

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for future in self._under_way:
            with suppress(Exception):
                future.cancel(force=True)
        if self._cluster is not None:
            self._end_processes()
        ours = [self._client] if self._cluster is None else [self._client, self._cluster]
        for close in (*(one.close for one in ours), self._runner.stop):
            with warnings.catch_warnings(), suppress(Exception):
                warnings.simplefilter("ignore")
                close(timeout=1)
        self._client.status = "closed"  # or it tries again as Python ends, for 20 s

    def _end_processes(self) -> None:
        """End own processes at once: what they are doing is of no use any more."""
        for nanny in list(self._cluster.workers.values()):
            nanny.auto_restart = False
        for pid in self.pids:
            with suppress(OSError):
                os.kill(pid, KILL)

    @property
    def pids(self) -> tuple[int, ...]:
        """Own processes on this machine."""
        nannies = list(self._cluster.workers.values()) if self._cluster is not None else []
        return tuple(nanny.pid for nanny in nannies if nanny.pid is not None)

    @property
    def n_wanted(self) -> int:
        """How many orders may be under way: a few for each process, however many sites wait."""
        n_processes = self._where.workers
        if self._where.scheduler is not None:
            n_processes = max(1, len(self._client.scheduler_info(n_workers=-1)["workers"]))
        return n_processes * (1 + ORDERS_AHEAD)

    def __len__(self) -> int:
        return len(self._under_way)

    def ask(self, order: Order, of: object) -> None:
        """Have an order carried out.

        Parameters
        ----------
        order : Order
            What is asked for. [-]
        of : object
            What is given back with its answer. [-]
        """
        future = self._client.submit(carried_out, order, pure=False)
        self._under_way[future] = of
        future.add_done_callback(self._done.put)

    def answers(self, is_over: Callable[[], bool]) -> Iterator[tuple[Any, Answer | Exception]]:
        """Yield each answer as it comes, until no order is under way or it is over.

        Parameters
        ----------
        is_over : callable
            Looked at about twice a second. [-]

        Raises
        ------
        RunError
            The cluster is gone.
        """
        while self._under_way and not is_over():
            try:
                future = self._done.get(timeout=SECONDS_TO_LOOK_UP)
            except queue.Empty:
                if self._client.status not in {"running", "connecting"}:
                    raise self._gone() from None
                continue
            of = self._under_way.pop(future)
            yield of, self._answer(future)

    def _answer(self, future: Any) -> Answer | Exception:
        from distributed import CancelledError, KilledWorker

        try:
            found = future.result()
            assert isinstance(found, Answer)
            return found
        except KilledWorker:
            return KillsError("each process that took it up died")
        except (CancelledError, OSError) as error:
            raise self._gone() from error
        except Exception as error:  # whatever is wrong with one site is its own
            return error
        finally:
            future.release()

    def _gone(self) -> RunError:
        return RunError(
            f"the cluster at {self._where.scheduler or 'this machine'} is gone; what is finished "
            "is kept, and the same command goes on from there"
        )
