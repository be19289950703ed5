"""A list made before comes in, its headings are given meanings that are remembered, and how its rows came out is kept."""

import uuid
from collections.abc import Mapping
from typing import Any

from witnessmark.records.actions.saying import NotAllowed, Result, say
from witnessmark.records.list_store import keep_list
from witnessmark.records.models import Act, HeadingMeans, ListIn, Person


def list_comes_in(*, by: Person, act_id: uuid.UUID, data: bytes, name: str) -> Result:
    """Keep a list as it came; nothing of it is read into the record yet."""
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was kept.")
    name = " ".join(name.replace("\0", "").split())[:200] or "list"
    sha256 = keep_list(data, name)

    def do(act: Act) -> Result:
        ListIn.objects.create(act=act, sha256=sha256, bytes=len(data), name=name)
        return {"list": str(act.pk)}

    return say("list_comes_in", by=by, act_id=act_id, said={"sha256": sha256, "name": name}, do=do)


def say_what_headings_mean(*, by: Person, act_id: uuid.UUID, form: str, means: Mapping[str, str]) -> Result:
    """Remember what headings mean in lists of a kind: heading as it is folded, and the column; empty leaves it out."""

    def do(act: Act) -> Result:
        rows = [HeadingMeans(form=form, heading=heading, column=column, act=act) for heading, column in means.items()]
        HeadingMeans.objects.bulk_create(
            rows, update_conflicts=True, unique_fields=["form", "heading"], update_fields=["column", "act"]
        )
        return {"form": form, "headings": len(rows)}

    return say("say_what_headings_mean", by=by, act_id=act_id, said={"form": form, "means": dict(means)}, do=do)


def take_list(
    *, by: Person, act_id: uuid.UUID, came: ListIn, read_as: Mapping[str, Any], report: Mapping[str, Any]
) -> Result:
    """Keep how a list was read and how its rows came out, once they are in."""

    def do(act: Act) -> Result:
        fresh = ListIn.objects.select_for_update().get(pk=came.pk)
        fresh.form, fresh.sheet = read_as["form"], read_as["sheet"]
        fresh.means, fresh.always = dict(read_as["means"]), dict(read_as["always"])
        fresh.report, fresh.taken_act = dict(report), act
        fresh.save()
        return {"list": str(came.pk), "counts": report["counts"]}

    said = {"list": came.pk, "read_as": dict(read_as), "counts": report["counts"]}
    return say("take_list", by=by, act_id=act_id, said=said, do=do)
