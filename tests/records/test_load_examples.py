"""The examples in the empty lists are a folder that loads: what they show works together."""

from pathlib import Path

import pytest
from PIL import Image

from witnessmark.exchange.load import load
from witnessmark.exchange.templates import FORMS, template
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Piece, Work

pytestmark = pytest.mark.django_db


def test_the_examples_load(tmp_path: Path) -> None:
    for form in FORMS:
        text = template(form)
        example = next(line for line in text.splitlines() if line.startswith("# For example")).split("): ", 1)[1]
        (tmp_path / form.file).write_text(f"{text}{example}\n", encoding="utf-8")
    (tmp_path / "photos").mkdir()
    Image.new("RGB", (40, 30), "grey").save(tmp_path / "photos" / "keel-1.jpg")
    report = load(tmp_path)
    assert [line.words for line in report.lines] == []
    assert report.counts == {"taken": 29, "changed": 0, "same": 0, "differs": 0, "refused": 0}
    assert set(Piece.objects.values_list("tag", flat=True)) == {"0001", "0002", "B-001", "M-S-001"}
    assert check_ledger().balanced
    # The jobs that come out of it are derived by the worker, asked for once.
    assert Work.objects.filter(kind="derive_jobs", state="waiting").count() == 1
    acts = Act.objects.count()
    assert load(tmp_path).counts["same"] == 29
    assert Act.objects.count() == acts == 29
