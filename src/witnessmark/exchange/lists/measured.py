"""Sizes measured in the shop: an old maker's own norm, loaded like any other list."""

from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import ListFile, Writer
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.survey import made_size
from witnessmark.records.models import Act, MeasuredSize

FIGURES = {
    "shank": "shank_mm",
    "head": "head_mm",
    "head_deg": "head_deg",
    "head_height": "head_height_mm",
    "pitch": "pitch_mm",
    "across_flats": "across_flats_mm",
}


def measured_sizes(f: ListFile) -> Writer:
    """Sizes by code; one that is there already stays as it is."""
    have = {size.code.casefold(): size for size in MeasuredSize.objects.all()}
    new: list[MeasuredSize] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["code"].casefold(), what=f"Size {c['code']}")
            try:
                made = made_size(
                    code=c["code"],
                    family=c["family"],
                    form=c["form"],
                    typed={what: c[column] for column, what in FIGURES.items() if c[column]},
                    measured_on=c["measured_on"] or "measured",
                )
            except Refused as refused:
                raise Wrong(str(refused).split(" Nothing was stored")[0].rstrip(".")) from None
            f.fit(MeasuredSize, {"code": made.code, "family": made.family, "measured_on": made.measured_on})
            before = have.get(made.code.casefold())
            if before is None:
                f.news(made.code, made.family, made.form, made.shank_mm, made.head_mm, made.head_deg, made.pitch_mm)
                new.append(made)
            elif (before.form, before.shank_mm, before.head_mm, before.head_deg, before.pitch_mm) != (
                made.form, made.shank_mm, made.head_mm, made.head_deg, made.pitch_mm
            ):  # fmt: skip
                f.differs(f"Size {made.code}", made.shank_mm, before.shank_mm, "Add the better one under another code.")

    def write(act: Act) -> None:
        for size in new:
            size.act = act
        MeasuredSize.objects.bulk_create(new)

    return write
