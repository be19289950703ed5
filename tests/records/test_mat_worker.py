"""A picture of a mat is read by the worker as it is started by the server: a process of its own that saw no screen."""

import os
import subprocess
import sys
from pathlib import Path

ASK = """
import io, uuid
from PIL import Image
from witnessmark.cli.main import open_record
open_record(make=True)
from witnessmark.records.actions.mat import ask_for_reading
from witnessmark.records.models import Person, Role
out = io.BytesIO()
Image.new("RGB", (400, 300), "grey").save(out, "JPEG")
lead = Person.objects.create(name="Lead", role=Role.LEAD)
ask_for_reading(by=lead, act_id=uuid.uuid4(), data=out.getvalue(), name="mat.jpg")
"""
TOLD = """
from witnessmark.cli.main import open_record
open_record()
from witnessmark.records.models import Answer, Work
print(Work.objects.get(kind="read_mat").state, Answer.objects.get(kind="mat reading").result["refused"])
"""


def test_a_worker_by_itself_reads_what_waits(tmp_path: Path) -> None:
    of_its_own = os.environ | {"WITNESSMARK_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "witnessmark.settings"}
    of_its_own.pop("WITNESSMARK_DATABASE", None)

    def run(*words: str) -> str:
        done = subprocess.run([sys.executable, *words], env=of_its_own, capture_output=True, text=True, timeout=120)
        assert done.returncode == 0, done.stderr
        return done.stdout

    run("-c", ASK)
    run("-m", "witnessmark", "worker", "--once")
    assert run("-c", TOLD).startswith("done No mat is in the picture")
