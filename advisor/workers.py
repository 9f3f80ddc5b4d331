"""The same work by several workers: processes of this computer, or a cluster; the one home of Dask (`advisor[cluster]`).

What each call needs of the whole is sent once (`shared`), and results come back in the order of the calls. So they are the
same, to the last digit, for any number of workers. A worker of a cluster that dies has its calls done again by another.
"""

from __future__ import annotations

import multiprocessing
import pickle
import signal
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import ExitStack, contextmanager
from functools import partial
from typing import Any

from advisor.errors import AdvisorError, UsageError

LOCAL = "local"  # a cluster of this computer's own processes
DEATHS = 50  # of workers while they did one and the same call, before it is given up
SECONDS = 15  # that a cluster is waited for
STARTING = 90  # and this computer's own workers, which may be slow to start
Each = Callable[..., Iterable[Any]]  # of a function that takes `shared` first, and of what it takes for each call


@contextmanager
def workers(shared: object, jobs: int, cluster: str | None = None) -> Iterator[Each]:
    """`map` over so many processes, or over a cluster: "local", or the address of one that stands.

    Several jobs without a cluster are Dask's local cluster where it is installed, else plain processes. Raises UsageError for
    a cluster that does not answer, AdvisorError where a plain process dies.
    """
    if cluster is None and jobs == 1:
        yield lambda function, *each: map(partial(function, shared), *each)
        return
    with ExitStack() as stack:
        each = None
        if cluster is not None or _has_dask():
            try:
                each = stack.enter_context(_cluster(shared, jobs, cluster or LOCAL))
            except (OSError, RuntimeError) as error:  # a computer so busy that its workers do not answer in time
                if cluster is not None:
                    what = f"the cluster {cluster} did not start ({type(error).__name__})"
                    raise AdvisorError(what, "Run it again with --jobs alone, or on a computer that is less busy.") from None
        yield each or stack.enter_context(_processes(shared, jobs))


def _has_dask() -> bool:
    from importlib.util import find_spec

    return find_spec("distributed") is not None


# ---- plain processes

_SHARED: object = None  # of this worker process


def _begin(shared: object) -> None:
    global _SHARED
    _SHARED = shared
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that collects


def _call(function: Callable[..., Any], *given: Any) -> Any:
    return function(_SHARED, *given)


@contextmanager
def _processes(shared: object, jobs: int) -> Iterator[Each]:
    """Processes are started anew rather than forked, which is safe on every system."""
    try:
        with ProcessPoolExecutor(jobs, multiprocessing.get_context("spawn"), _begin, (shared,)) as pool:
            try:
                yield lambda function, *each: pool.map(partial(_call, function), *each)
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise
    except BrokenExecutor:
        hint = "Run it again with fewer --jobs; each takes about 100 MB. With advisor[cluster] a worker may die."
        raise AdvisorError("a process died", hint) from None


# ---- a cluster


@contextmanager
def _cluster(shared: object, jobs: int, where: str) -> Iterator[Each]:
    try:
        import dask
        from distributed import Client, LocalCluster
    except ModuleNotFoundError as error:
        raise UsageError(
            f"'{error.name}' is not installed, which a cluster needs", "Type: pip install 'advisor[cluster]'"
        ) from None
    seconds = STARTING if where == LOCAL else SECONDS
    with dask.config.set({"distributed.scheduler.allowed-failures": DEATHS, "distributed.comm.timeouts.connect": f"{seconds}s"}):
        if where == LOCAL:
            with (
                LocalCluster(  # type: ignore[no-untyped-call]
                    n_workers=jobs,
                    threads_per_worker=1,
                    processes=True,
                    host="127.0.0.1",
                    dashboard_address="127.0.0.1:0",
                    silence_logs=50,
                ) as own,
                Client(own) as client,  # type: ignore[no-untyped-call]
            ):
                yield _each(client, shared)
            return
        try:
            client = Client(where, timeout=SECONDS)  # type: ignore[no-untyped-call]
        except (OSError, ValueError):
            hint = "Start one, or name it as tcp://COMPUTER:8786. For this computer's own: --cluster local"
            raise UsageError(f"no cluster answers at {where}", hint) from None
        with client:
            yield _each(client, shared)


def _each(client: Any, shared: object) -> Each:
    """`map` over a cluster. What is shared is made there from its bytes, so it can be made again where a worker died."""
    whole = client.submit(pickle.loads, pickle.dumps(shared), pure=False)

    def each(function: Callable[..., Any], *given: Iterable[Any]) -> Iterator[Any]:
        calls = [client.submit(function, whole, *values, pure=False) for values in zip(*given, strict=True)]
        for call in calls:
            yield call.result()

    return each
