"""The tools that the rows still to be filled want, from the same roll-up as the order."""

from witnessmark.calc.fasteners.tooling import Drives, ToolList, tool_list
from witnessmark.records.lookups.catalogue import shapes_for
from witnessmark.records.lookups.receiving import heads_wanted
from witnessmark.records.lookups.seams import is_flush, is_inch, rows_seen
from witnessmark.records.models import Aircraft


def tools_wanted(aircraft: Aircraft) -> ToolList:
    """Every tool once, with the rows it is for; only rows that were looked at and have a length are counted."""
    measured = heads_wanted(aircraft)
    rows = [r for r in rows_seen(aircraft) if r.looked_at and r.to_order and r.size and r.length and r.grip]
    heads = {code: shape.head_mm for code, shape in shapes_for(row.size for row in rows).items()}
    return tool_list(
        [
            Drives(
                code=row.size.code,
                diameter_mm=row.size.nominal_mm,
                flush=is_flush(row.size),
                flush_deg=row.size.head_deg,
                head_mm=measured.get(row.place.pk) or heads.get(row.size.code),
                outer_sheet_mm=row.layers[0].thickness_mm,
                length_mm=row.length.stock_mm,
                grip_mm=row.grip.grip_mm,
                inch=is_inch(row.size),
                holes=row.to_order,
                rows=(row.name,),
            )
            for row in rows
            if row.size and row.length and row.grip
        ]
    )
