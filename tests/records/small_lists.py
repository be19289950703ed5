"""A small folder of lists for tests of loading: one of each thing that can be told apart."""

from pathlib import Path

LISTS = {
    "aircraft": "aircraft,maker,arrived_on,today,shop\nTestbird,Yard,2026-01-05,2026-05-12,Test Shop\n",
    "zones": "zone,name\n100,hull bottom\n200,cabin\n",
    "people": "name,role,craft\nAda,lead,lead\nBo,mechanic,sheet metal\nInga,inspector,inspection\nOwen,owner,\n",
    "vendors": "code,name,does,least_days,likely_days,most_days\nPL,Plater Lane,plating,5,10,30\n",
    "benches": "bench,what,capacity\nbench 1,sheet metal,1\n",
    "fasteners": "code,kind,diameter,pitch\nR-3,flush rivet,3.0 mm,\nB-8,bolt,M8,1.0\nS-5/32,screw,5/32,\n",
    "routes": (
        "route,step,name,who,hours_least,hours_likely,hours_most\n"
        "fitting,1,Clean,sheet metal,1,2,3\nfitting,2,Plate,PL,5,10,30\nfitting,3,Look,inspection,1,1,1\n"
    ),
    "places": (
        "mark,side,zone,name,capacity,wants,parent,known\n"
        "2-01,LR,100,Keel bolt,4,B-8,1-01,measured\n2-02,C,200,Radio lead,1,two leads,,drawn\n"
    ),
    "parts": (
        "part_no,name,zone,material,strength_mpa,qty,side,tag,mass_g,as_found,decision,route,step_done,where,set,note\n"
        "1-01,Keel bracket,100,steel,1100,1,LR,0001/0002,240,pitted,reuse,fitting,1,shelf A1,,\n"
        "1-02,Skin,100/200,dural,,1,L,0003,1200,,\"repair, doubler\",,,in place,,\n"
        "1-03,Seat pan,200,dural,,1,R,,900,,remake,,,missing,,\n"
        "1-04,Damper,200,rubber,,4,C,0005,330,,,,,PL,,\n"
        "1-05,Hinge,200,steel,,1,C,0006,100,,blend+measure,,,Bo,pair,\n"
    ),
    "bags": (
        "tag,what,count,fastener,mass_g,zone,goes_to,where,state,note\n"
        "B-001,keel bolts,8,B-8,400,100,2-01 L:4; 2-01 R:4,box 3,counted,\n"
    ),
    "seams": (
        "seam,row,side,zone,from_station,to_station,holes,pitch,edge,fastener,looked_at,note\n"
        "Keel seam,S-01,L,100,420,1260,12,3/4 in,9.5,R-3,yes,\nKeel seam,S-02,R,100,420,1260,6,20,9.5,R-3,under paint,\n"
    ),
    "stacks": "row,layer,name,part_no,material,thickness,known\nS-01,1,Skin,1-02,dural,1.2,measured\nS-01,2,Keel,,dural,0.080 in,drawn\n",
    "holes": "row,holes,state,measured,edge,layer,note\nS-01,\"1-9, 11\",riveted,,,,\nS-01,10,oversize,No. 30,7.2,Skin,\nS-01,12,open,,,,waits for the inspector\n",
    "findings": (
        "finding,on,what,seen_on,by,measured,state\n"
        "F-1,0001,Pitted,2026-02-03,Ada,0.4 mm,open\nF-2,1-03 R,Missing,2026-02-03,Bo,,decided\n"
        "F-3,S-01:10,Oversize,2026-02-04,Bo,,open\nF-4,zone 200,Damp,2026-02-04,Bo,,closed\n"
    ),
    "jobs": (
        "job,what,craft,hours_least,hours_likely,hours_most,bench,zone,after,not_before,priority,person\n"
        "look,Look at row S-02,sheet metal,0.5,1,2,bench 1,100,,2026-05-13,1,Bo\ndone,Bottom closed,milestone,0,0,0,,100,look,,,\n"
    ),
    "shipments": "shipment,vendor,process,sent_on,promised_on,back_on,tags,note\nSH-1,PL,zinc plate,2026-05-01,2026-05-20,,0005,\n",
    "orders": "order,vendor,what,fastener,count,ordered_on,promised_on,came_on,note\nO-1,PL,Rivets,R-3,500,2026-02-10,,,\n",
}  # fmt: skip


def write_lists(folder: Path, **changed: str | None) -> Path:
    """Write the small lists, some of them changed; None leaves a list out."""
    folder.mkdir(exist_ok=True)
    for name, text in {**LISTS, **changed}.items():
        if text is None:
            (folder / f"{name}.csv").unlink(missing_ok=True)
        else:
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder
