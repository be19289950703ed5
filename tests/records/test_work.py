"""Background work: one worker a work, kept over killed workers, cancelled, tried again (facts of the table)."""

import os
import signal
import subprocess
import sys
import threading
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection, transaction
from django.utils import timezone

from tests.records.shop import make_shop
from witnessmark.records import work
from witnessmark.records.models import Work

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def done(monkeypatch):
    """Register a kind of work that writes its key down, or does what a test puts in."""
    keys: list[str] = []
    monkeypatch.setitem(work.HANDLERS, "note", lambda one: keys.append(one.key))
    return keys


def run_out(one: Work) -> None:
    Work.objects.filter(pk=one.pk).update(leased_until=timezone.now() - timedelta(seconds=1))


def test_work_is_done_once_and_in_order(done) -> None:
    for key in "abc":
        work.enqueue("note", key)
    while work.do_one():
        pass
    assert done == ["a", "b", "c"]
    assert set(Work.objects.values_list("state", "tries")) == {("done", 1)}


def test_the_same_key_waits_once_with_the_newest_words(done) -> None:
    first = work.enqueue("note", "a", {"n": 1})
    again = work.enqueue("note", "a", {"n": 2})
    assert first.pk == again.pk
    assert Work.objects.get().args == {"n": 2}


def test_work_asked_for_while_it_is_under_way_is_done_again_afterwards(done) -> None:
    work.enqueue("note", "a")
    under_way = work.lease()
    assert under_way is not None
    later = work.enqueue("note", "a")
    assert later.pk != under_way.id
    assert work.lease() is None, "one key is under way in one place only"
    work.fail(under_way, "no")
    # It could not go back to waiting beside the newer one, which does it.
    assert Work.objects.get(pk=under_way.id).state == "cancelled"
    assert work.do_one()
    assert not work.do_one()
    assert done == ["a"]


def test_an_unknown_kind_is_refused_and_never_taken(done) -> None:
    with pytest.raises(LookupError, match="no handler"):
        work.enqueue("sing", "a")
    Work.objects.create(kind="sing", key="a")
    assert work.lease() is None


def test_a_kind_has_one_handler(done) -> None:
    with pytest.raises(LookupError, match="has a handler already"):
        work.handles("note")(lambda one: None)


def test_two_workers_never_do_one_work_at_once(monkeypatch) -> None:
    took: list[str] = []
    busy: set[str] = set()
    clashes: list[str] = []

    def slowly(one: work.Leased) -> None:
        if one.key in busy:
            clashes.append(one.key)
        busy.add(one.key)
        time.sleep(0.002)
        busy.discard(one.key)
        took.append(one.key)

    monkeypatch.setitem(work.HANDLERS, "note", slowly)
    for number in range(40):
        work.enqueue("note", str(number))
    gate = threading.Barrier(4)

    def worker() -> None:
        try:
            gate.wait()
            while work.do_one():
                pass
        finally:
            connection.close()

    threads = [threading.Thread(target=worker) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    while work.do_one():  # a worker may find nothing free while the others hold the last ones
        pass
    assert not clashes
    assert sorted(took, key=int) == [str(number) for number in range(40)]


def test_a_lease_that_ran_out_is_taken_again_and_the_old_worker_counts_no_more(done) -> None:
    one = work.enqueue("note", "a")
    dead = work.lease()
    assert dead is not None
    assert work.lease() is None
    run_out(one)
    new = work.lease()
    assert new is not None
    assert (new.id, new.tries) == (one.pk, 2)
    with pytest.raises(work.Stopped):
        dead.progress("half")
    work.fail(dead, "woke up")
    assert Work.objects.get().state == "leased"
    new.progress("half")
    assert Work.objects.get().progress == "half"


def test_work_that_kills_its_worker_is_given_up_after_the_third_time(done) -> None:
    one = work.enqueue("note", "a")
    for _ in range(3):
        assert work.lease() is not None
        run_out(one)
    assert work.lease() is None
    kept = Work.objects.get()
    assert (kept.state, kept.tries) == ("failed", 3)
    assert "died on it 3 times" in kept.error
    assert done == []


def test_failing_work_is_tried_three_times(monkeypatch) -> None:
    tried: list[int] = []

    def fails(one: work.Leased) -> None:
        tried.append(one.tries)
        raise ValueError("no such thing")

    monkeypatch.setitem(work.HANDLERS, "note", fails)
    work.enqueue("note", "a")
    while work.do_one():
        pass
    kept = Work.objects.get()
    assert tried == [1, 2, 3]
    assert (kept.state, kept.error) == ("failed", "ValueError: no such thing")


def test_waiting_work_is_cancelled_at_once(done) -> None:
    work.cancel(work.enqueue("note", "a"))
    assert not work.do_one()
    assert Work.objects.get().state == "cancelled"
    assert done == []


def test_running_work_ends_at_its_next_word_when_cancelled(monkeypatch) -> None:
    said: list[int] = []

    def counts(one: work.Leased) -> None:
        for number in range(10):
            one.progress(str(number))
            said.append(number)
            if number == 3:
                work.cancel(Work.objects.get(pk=one.id))

    monkeypatch.setitem(work.HANDLERS, "note", counts)
    work.enqueue("note", "a")
    assert work.do_one()
    assert said == [0, 1, 2, 3]
    assert Work.objects.get().state == "cancelled"


def test_a_worker_told_to_end_puts_its_work_back_uncounted(monkeypatch) -> None:
    monkeypatch.setitem(work.HANDLERS, "note", lambda one: one.progress("on"))
    work.enqueue("note", "a")
    assert work.do_one(lambda: True)
    kept = Work.objects.get()
    assert (kept.state, kept.tries, kept.leased_until) == ("waiting", 0, None)


def test_work_of_a_transaction_that_failed_never_was(done) -> None:
    with transaction.atomic():
        work.enqueue("note", "a")
        transaction.set_rollback(True)
    assert not work.do_one()


def test_jobs_are_derived_in_the_background() -> None:
    shop = make_shop()
    work.enqueue("derive_jobs", str(shop.aircraft.pk), {"aircraft": shop.aircraft.pk})
    work.enqueue("derive_jobs", "gone", {"aircraft": 999})
    while work.do_one():
        pass
    assert set(Work.objects.values_list("state", "error")) == {("done", "")}


KILLED = """
import os, signal, django
django.setup()
from witnessmark.records import work
work.HANDLERS["note"] = lambda one: os.kill(os.getpid(), signal.SIGKILL)
from django.core.management import call_command
call_command("migrate", verbosity=0)
work.enqueue("note", "a")
work.do_one()
"""
LATER = """
import django
from datetime import timedelta
django.setup()
from django.utils import timezone
from witnessmark.records import work
from witnessmark.records.models import Work
done = []
work.HANDLERS["note"] = lambda one: done.append(one.tries)
assert work.lease() is None, "the lease still runs"
Work.objects.filter(leased_until__lt=timezone.now() + work.LEASE).update(leased_until=timezone.now() - timedelta(seconds=1))
assert work.do_one()
print(done, Work.objects.get().state)
"""


def test_work_of_a_killed_process_is_done_by_the_next(tmp_path: Path) -> None:
    env = {
        **os.environ,
        "WITNESSMARK_DATA": str(tmp_path / "data"),
        "WITNESSMARK_DATABASE": "",
        "DJANGO_SETTINGS_MODULE": "witnessmark.settings",
        "PYTHONPATH": str(Path(__file__).parents[2] / "src"),
    }
    killed = subprocess.run([sys.executable, "-c", KILLED], env=env, capture_output=True, text=True, check=False)
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    later = subprocess.run([sys.executable, "-c", LATER], env=env, capture_output=True, text=True, check=False)
    assert later.stdout.strip() == "[2] done", later.stderr
