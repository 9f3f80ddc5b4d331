"""The same work by one process, by several and by a cluster: the same results in the same order."""

from __future__ import annotations

from pathlib import Path

import pytest
from deadly import deadly, square

from advisor import workers as module
from advisor.errors import AdvisorError, UsageError
from advisor.workers import workers

distributed = pytest.importorskip("distributed", reason="advisor[cluster] is not installed")
WANTED = [n * n + 5 for n in range(12)]


@pytest.mark.parametrize(("jobs", "cluster", "dask"), [(1, None, True), (2, None, False), (1, "local", True), (3, "local", True)])
def test_the_results_are_those_of_one_process(jobs: int, cluster: str | None, dask: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the order of the calls, for any number of workers and of either kind."""
    monkeypatch.setattr(module, "_has_dask", lambda: dask)
    with workers(5, jobs, cluster) as each:
        assert list(each(square, range(12))) == WANTED
        assert list(each(square, [])) == []


def test_a_cluster_that_stands_is_used_and_left_standing() -> None:
    """By its address; when the work is done it is there for the next."""
    with distributed.LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address="127.0.0.1:0") as standing:
        for _ in range(2):
            with workers(5, 1, standing.scheduler_address) as each:
                assert list(each(square, range(12))) == WANTED


def test_a_killed_worker_costs_time_only(tmp_path: Path) -> None:
    """Its call is done again by another, and nothing of the result is missing."""
    marker = tmp_path / "killed"
    with workers(str(marker), 2, "local") as each:
        assert list(each(deadly, range(8))) == [n * n for n in range(8)]
    assert marker.exists()


def test_a_killed_plain_process_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Plain processes cannot take over from one another: the way to those that can is told."""
    monkeypatch.setattr(module, "_has_dask", lambda: False)
    with pytest.raises(AdvisorError, match="a process died") as failure, workers(str(tmp_path / "killed"), 2) as each:
        list(each(deadly, range(8)))
    assert "advisor[cluster]" in failure.value.hint


def test_a_cluster_that_does_not_answer_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """An address without a cluster, and one that is none."""
    monkeypatch.setattr(module, "SECONDS", 1)
    for where in ("tcp://127.0.0.1:1", "nonsense://x"):
        with pytest.raises(UsageError, match=f"no cluster answers at {where}"), workers(5, 1, where):
            pass


def test_two_clusters_of_one_computer_stand_beside_each_other() -> None:
    """Two people, or a trial within a trial, need no free port of a certain number."""
    with workers(5, 1, "local") as first, workers(7, 1, "local") as second:
        assert list(first(square, [2])) == [9]
        assert list(second(square, [2])) == [11]


def test_a_computer_too_busy_for_a_cluster_uses_plain_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where its own workers do not answer the work is done all the same; a cluster that was asked for is an error."""

    def late(*_given: object, **_named: object) -> None:
        raise TimeoutError("no worker came")

    monkeypatch.setattr(distributed, "LocalCluster", late)
    with workers(5, 2) as each:
        assert list(each(square, range(12))) == WANTED
    with pytest.raises(AdvisorError, match="the cluster local did not start"), workers(5, 2, "local"):
        pass
