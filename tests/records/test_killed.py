"""What was acknowledged survives kill -9 (SQLite in its own folder; PostgreSQL is another process altogether)."""

import os
import signal
import subprocess
import sys
from pathlib import Path

WRITER = """
import sys, uuid, django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from tests.records.shop import make_shop, make_bag
from witnessmark.records.actions import custody
shop = make_shop()
bag = make_bag(shop, "L-1", shop.shelf, 100000)
for n in range(100000):
    act = uuid.uuid4()
    custody.lay_down(by=shop.lead, act_id=act, piece=bag, to=shop.box, at=shop.shelf, count=1)
    print(act, flush=True)
"""
READER = """
import sys, uuid, django
django.setup()
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Holding
found = check_ledger()
assert found.balanced, found.faults
acts = set(map(str, Act.objects.values_list("pk", flat=True)))
said = sys.stdin.read().split()
assert len(said) > 20
assert not set(said) - acts, "an acknowledged act is gone"
moved = Holding.objects.get(holder__name="box 7").count
assert len(said) <= moved <= len(said) + 1
print("kept", len(said))
"""


def test_acknowledged_acts_survive_a_kill(tmp_path: Path) -> None:
    here = Path(__file__).parents[2]
    env = {
        **os.environ,
        "WITNESSMARK_DATA": str(tmp_path / "data"),
        "WITNESSMARK_DATABASE": "",
        "DJANGO_SETTINGS_MODULE": "witnessmark.settings",
        "PYTHONPATH": f"{here / 'src'}{os.pathsep}{here}",
    }
    writer = subprocess.Popen([sys.executable, "-c", WRITER], env=env, stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    said = [writer.stdout.readline().strip() for _ in range(200)]
    writer.send_signal(signal.SIGKILL)
    said += [line.strip() for line in writer.stdout if len(line) == 37]
    writer.wait()
    done = subprocess.run(
        [sys.executable, "-c", READER], env=env, input="\n".join(said), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("kept")
