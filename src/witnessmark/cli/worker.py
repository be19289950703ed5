"""`witnessmark worker [--once]`: do the waiting work; `witnessmark serve` starts one by itself.

Exit codes: 0 ended when told to (with --once: nothing is left to do), 2 could not run.
"""

import argparse
import os
import signal
import threading
import time

# How long an idle worker sleeps before it looks again.
PAUSE_S = 1.0
# How often an idle worker looks whether the record went on since the last plan.
LOOK_S = 10.0


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--once", action="store_true", help="do what waits now, then end")
    parser.add_argument("--parent", type=int, default=0, metavar="PID", help="end when this process no longer is")


def run(args: argparse.Namespace) -> int:
    """Do one after the other until told to end; the work in hand ends at its next word of progress, or is finished."""
    from witnessmark.cli.main import open_record, print_json

    told = threading.Event()
    signal.signal(signal.SIGTERM, lambda number, frame: told.set())
    if args.parent:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which ends its worker
    open_record()
    from django.db import OperationalError, close_old_connections

    import witnessmark.exchange.list_taking  # knowing it, the worker takes long lists in
    import witnessmark.records.actions.mat  # noqa: F401 -- knowing it, the worker reads pictures of the mat
    from witnessmark.records.watch import Watch
    from witnessmark.records.work import do_one

    done, watch, looked_at = 0, Watch(), time.monotonic()
    while not told.is_set() and (not args.parent or os.getppid() == args.parent):
        close_old_connections()
        try:
            worked = do_one(told.is_set)
            if not (worked or args.once) and time.monotonic() - looked_at > LOOK_S:
                looked_at = time.monotonic()
                watch.look()
        except OperationalError:
            if args.once:
                raise
            worked = False  # the database is busy or restarting; what was leased is taken again
        done += worked
        if not worked:
            if args.once:
                break
            told.wait(PAUSE_S)
    if args.json:
        print_json({"done": done})
    return 0
