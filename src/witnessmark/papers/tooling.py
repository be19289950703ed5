"""The tooling list: every drill, cutter, die and set for the rivets that are still to be driven, once, with its rows."""

from dataclasses import dataclass

from witnessmark.calc.fasteners.tooling import ToolList
from witnessmark.calc.sources import source
from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.lookups.tooling import tools_wanted
from witnessmark.records.models import Aircraft


@dataclass(frozen=True)
class ToolPaper:
    """The list as it is printed; None where there is no aircraft."""

    stamp: Stamp
    found: ToolList | None


def gather(aircraft: Aircraft | None) -> ToolPaper:
    """Collect the tools from the record."""
    return ToolPaper(stamp_for(aircraft), tools_wanted(aircraft) if aircraft else None)


def pdf(data: ToolPaper) -> bytes:
    """Set the list, with room to tick what lies ready."""
    found = data.found
    tools = found.tools if found else ()
    title = "No row that was looked at waits for a rivet."
    if tools:
        title = f"Lay out {'one tool' if len(tools) == 1 else f'{len(tools)} tools'} for the rivets still to be driven."
    return typeset(
        "tooling.typ",
        {
            "title": title,
            "tools": [
                {
                    "what": tool.what,
                    "size": tool.size,
                    "codes": list(tool.for_codes),
                    "rows": list(tool.rows),
                    "holes": f"{tool.holes:,}",
                }
                for tool in tools
            ],
            "unsure": [c for c in found.cautions if not c.startswith("From memory")] if found and tools else [],
            "range": found.working.valid_range if found and tools else "",
            "sources": [source(key).printed() for key in found.sources] if found and tools else [],
        },
        data.stamp,
    )
