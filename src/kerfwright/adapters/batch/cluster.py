"""A batch on a Dask cluster that is there already: drawings go out as bytes, rows come back.

Dask runs whatever a client sends, so that a cluster is only for a network that is trusted; with
certificates its address begins with ``tls://``.
"""

from __future__ import annotations

import logging
import pkgutil
import time
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from typing import Any, Final

from kerfwright.adapters.batch.replies import answer_from, failed
from kerfwright.app.batch.course import Stop
from kerfwright.app.batch.records import Answer, Outcome, State, Task
from kerfwright.foundation.errors import KerfwrightError, MissingPackageError
from kerfwright.foundation.version import __version__

_PACKAGE: Final = "distributed"
_ANSWER_S: Final = 10.0
"""A scheduler on the same network answers within a fraction of a second."""
_GONE_S: Final = 15.0
_EMPTY_S: Final = 60.0
"""So long workers may be away, for a restart, before the batch is given up."""
_LOOK_S: Final = 0.05
_ASK_S: Final = 3.0
_AHEAD: Final = 2
"""Tasks for each thread of the cluster that are out at a time."""
_TRIES: Final = 2
_ON_THE_WAY: Final = "It is all kept; the same command goes on from there."


class ClusterError(KerfwrightError, ConnectionError):
    """A cluster does not answer, does not fit, or went away."""


def require_cluster() -> None:
    """Refuse to go on without Dask.

    Raises
    ------
    MissingPackageError
        Code ``batch-needs-dask``.
    """
    if find_spec(_PACKAGE) is None:
        raise MissingPackageError(
            "Dask is not installed",
            code="batch-needs-dask",
            remedy="pip install 'kerfwright[cluster]', or leave --cluster out.",
        )


def plan_on_cluster(
    tasks: Iterator[Task], stop: Stop, *, address: str, work: Callable[[Task], str]
) -> Iterator[tuple[Task, Answer]]:
    """Plan tasks on a cluster and yield what comes, in any order.

    Parameters
    ----------
    tasks : iterator of Task
        Read one by one, two for each thread of the cluster at most ahead of what came back.
    stop : callable
        Asked often; what is out is then called back.
    address : str
        Of the scheduler: ``tcp://10.0.0.5:8786``.
    work : callable
        Run by the workers; does not raise for a drawing.

    Raises
    ------
    MissingPackageError
        Code ``batch-needs-dask``.
    ClusterError
        Code ``cluster-silent``, ``cluster-empty``, ``cluster-other-version`` or ``cluster-gone``.
    """
    require_cluster()
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    client = _connected(address)
    try:
        _check_versions(client, address)
        yield from _Out(client=client, address=address, work=work).course(tasks, stop)
    finally:
        client.close(timeout=_ANSWER_S)


def _connected(address: str) -> Any:
    from distributed import Client

    try:
        return Client(  # type: ignore[no-untyped-call,unused-ignore]
            address, timeout=_ANSWER_S, set_as_default=False
        )
    except (OSError, ValueError) as fault:
        said = " ".join(str(fault).split())
        raise ClusterError(
            f"no Dask scheduler answers within {_ANSWER_S:g} s: {said or type(fault).__name__}",
            code="cluster-silent",
            where=address,
            remedy="Give the address that the scheduler says at its start, such as "
            "tcp://10.0.0.5:8786; or leave --cluster out.",
        ) from fault


def _check_versions(client: Any, address: str) -> None:
    """Refuse workers that would compute by other code, before a drawing goes out."""
    ours = client.run(pkgutil.resolve_name, _VERSION_NAME, on_error="return")
    if not ours:
        raise _empty(address)
    found = client.get_versions(check=False)
    here = _versions_of(found["client"], __version__)
    wrong = []
    for worker, version in sorted(ours.items()):
        has = None if isinstance(version, BaseException) else version
        there = _versions_of(found["workers"].get(worker) or {}, has)
        wrong += [
            f"{worker} has {there[what] or 'no'} {what}" + ("" if there[what] else " to be read")
            for what in here
            if there[what] != here[what]
        ]
    if wrong:
        same = ", ".join(f"{what} {version}" for what, version in here.items())
        more = f" and {len(wrong) - 3} more" if len(wrong) > 3 else ""
        raise ClusterError(
            f"the cluster differs: {'; '.join(wrong[:3])}{more}; here are {same}",
            code="cluster-other-version",
            where=address,
            remedy="Install the same on every worker, and start the workers again.",
        )


_VERSION_NAME: Final = "kerfwright.foundation.version:__version__"


def _versions_of(found: dict[str, Any], kerfwright: str | None) -> dict[str, str | None]:
    python = (found.get("host") or {}).get("python")
    return {
        "kerfwright": kerfwright,
        "Python": None if python is None else ".".join(str(python).split(".")[:2]),
        "distributed": (found.get("packages") or {}).get("distributed"),
    }


class _Out:
    """What is out on the cluster."""

    def __init__(self, *, client: Any, address: str, work: Callable[[Task], str]) -> None:
        self._client, self._address, self._work = client, address, work
        self._out: dict[Any, tuple[Task, int]] = {}
        self._last_seen = self._last_manned = self._last_asked = time.monotonic()
        self._room = self._threads()

    def course(self, tasks: Iterator[Task], stop: Stop) -> Iterator[tuple[Task, Answer]]:
        more: Task | None = next(tasks, None)
        while self._out or more is not None:
            while more is not None and len(self._out) < max(_AHEAD * self._room, _AHEAD):
                self._send(more, tries=1)
                more = next(tasks, None)
            back = [f for f in self._out if f.status != "pending"]
            if stop():
                self._client.cancel(list(self._out))
                back, more = [f for f in back if f.status == "finished"], None
                for future in [f for f in self._out if f not in back]:
                    del self._out[future]
            self._check_there()
            for future in back:
                task, tries = self._out.pop(future)
                answer = _answer(future)
                if answer is not None:
                    yield task, answer
                elif tries < _TRIES:
                    self._send(task, tries=tries + 1)
                else:
                    yield task, Answer(outcome=_lost())
            if not back:
                time.sleep(_LOOK_S)

    def _send(self, task: Task, *, tries: int) -> None:
        future = self._client.submit(self._work, task, pure=False)
        self._out[future] = task, tries

    def _check_there(self) -> None:
        """Give up where nobody is there any more."""
        while self._client.status != "running":
            # Until it is sure that the scheduler does not come back, nothing is lost.
            if time.monotonic() - self._last_seen > _GONE_S:
                raise self._gone()
            time.sleep(_LOOK_S)
        now = self._last_seen = time.monotonic()
        if now - self._last_asked > _ASK_S:
            self._last_asked = now
            self._room = self._threads()
            if self._room:
                self._last_manned = now
            elif now - self._last_manned > _EMPTY_S:
                raise _empty(self._address)

    def _threads(self) -> int:
        try:
            return sum(self._client.nthreads().values())
        except OSError as fault:
            raise self._gone() from fault

    def _gone(self) -> ClusterError:
        return ClusterError(
            "the Dask scheduler went away in the middle",
            code="cluster-gone",
            where=self._address,
            remedy=_ON_THE_WAY,
        )


def _answer(future: Any) -> Answer | None:
    """Return what a worker answered; None where it was lost with its task."""
    from distributed.scheduler import KilledWorker

    if future.status == "finished":
        return answer_from(future.result())
    if future.status != "error":
        return None
    fault = future.exception()
    if isinstance(fault, KilledWorker):
        return None
    return Answer(outcome=failed(f"a fault of a worker, {type(fault).__name__}: {fault}"))


def _lost() -> Outcome:
    return Outcome(
        state=State.LOST,
        reason="the cluster lost the worker that had it, twice",
        code="batch-worker-lost",
        remedy="Look at the workers; the same command tries again.",
    )


def _empty(address: str) -> ClusterError:
    return ClusterError(
        f"the cluster has no worker, or none for {_EMPTY_S:g} s",
        code="cluster-empty",
        where=address,
        remedy=f"Start workers. {_ON_THE_WAY}",
    )
